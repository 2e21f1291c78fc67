from __future__ import annotations

import sys
from pathlib import Path

import pytest

from drivers import hid_scale, open_device
from drivers.hid_ports import hid_scales
from drivers.transports.hid_module import load_hid, udev_rule
from tests.peers.hid_scales import HidScaleStandIn, PluggedIn

PAGE = Path(__file__).parents[2] / "docs" / "modbus-and-hid.md"


def test_weighing_devices_have_an_address_to_paste():
    keyboard = HidScaleStandIn(vendor=1, usage_page=1)
    scale, other = HidScaleStandIn(), HidScaleStandIn(product=0x1111, serial="A 1&2")
    found = hid_scales(PluggedIn(keyboard, scale, other))
    assert [(one.usb_id, one.address, one.description) for one in found] == [
        ("1234:1111", "hid:1234:1111?serial=A%201%262", "Bench scale"),
        ("1234:5678", "hid:1234:5678", "Bench scale"),
    ]
    assert all(open_device(one.address) for one in found)
    assert not any(one.problem or one.fix for one in found)


def test_a_device_with_several_parts_is_listed_once():
    assert len(hid_scales(PluggedIn(HidScaleStandIn(path=b"1"), HidScaleStandIn(path=b"2")))) == 1


@pytest.mark.skipif(sys.platform != "linux", reason="udev is Linux's")
def test_a_device_that_may_not_be_opened_has_a_fix():
    (found,) = hid_scales(PluggedIn(HidScaleStandIn(path=b"/dev/hidraw-nosuch")))
    assert found.problem == "this user may not open it"
    assert udev_rule(0x1234, 0x5678) in found.fix


def test_without_the_package_there_is_nothing():
    assert hid_scales(lambda: None) == []


@pytest.mark.skipif(load_hid() is None, reason="pip install hidapi")
def test_the_real_package_lists_what_is_there():
    for found in hid_scales():
        assert found.address.startswith("hid:")
        assert bool(found.problem) == bool(found.fix)


def test_the_page_explains_options_and_rule():
    page = PAGE.read_text(encoding="utf-8")
    assert udev_rule(0x1234, 0x5678) in page
    assert all(f"| `{option}` |" in page for option in hid_scale._OPTIONS)
