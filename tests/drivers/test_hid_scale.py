"""The driver of USB scales, with recorded reports: there is no such device in a test."""

from __future__ import annotations

import asyncio
import math
import sys
import time

import pytest

from drivers import (
    AddressError,
    DeviceDeniedError,
    DeviceError,
    DeviceLostError,
    DeviceNotFoundError,
    DeviceSilentError,
    DeviceUnreadableError,
    Status,
    hid_scale,
    open_device,
)
from drivers.address import parse_address
from drivers.transports import hid
from drivers.transports.hid_module import HidName, load_hid, udev_rule
from tests.drivers.listening import take, until
from tests.peers.hid_scales import DESCRIPTOR, HidScaleStandIn, PluggedIn

# USB-IF, HID Point of Sale Usage Tables, weighing devices: status, unit, scaling, weight (low byte first).
# 20 g and 645.2 oz are published examples, there without a status.
STABLE_20_G = "04 04 02 00 14 00"
STABLE_33_3_G = "04 04 02 FF 4D 01"
MOVING_33_3_G = "04 03 02 FF 4D 01"
STABLE_645_2_OZ = "04 04 0B FF 34 19"
UNDER_ZERO_1_2_G = "04 05 02 FF 0C 00"
OVER_LIMIT = "04 06 02 FF 00 00"
TAEL = "04 04 05 00 01 00"


@pytest.fixture
def stand_in():
    return HidScaleStandIn()


def listen(*devices, options: str = "", **more):
    address = parse_address(f"hid:1234:5678{options}")
    name = HidName(0x1234, 0x5678, address.options.get("serial", ""))
    return hid_scale.HidScale(address, name, "server", load=PluggedIn(*devices), **more)


async def test_weights_as_the_standard_sends_them(stand_in):
    async with listen(stand_in) as scale:
        start_s = time.monotonic()
        stand_in.send(STABLE_20_G, MOVING_33_3_G, STABLE_33_3_G, UNDER_ZERO_1_2_G, OVER_LIMIT)
        readings = await asyncio.wait_for(take(scale, 5), 5)
    assert [(r.value, r.status) for r in readings[:4]] == [
        (20.0, Status.STABLE),
        (33.3, Status.MOVING),
        (33.3, Status.STABLE),
        (-1.2, Status.UNKNOWN),
    ]
    assert readings[4].status is Status.OVERLOAD
    assert math.isnan(readings[4].value)
    assert {(r.channel, r.unit) for r in readings} == {("server", "g")}
    times_s = [reading.time_s for reading in readings]
    assert times_s == sorted(times_s)
    assert start_s <= times_s[0] <= times_s[-1] <= time.monotonic()


async def test_the_step_comes_from_scaling_and_unit(stand_in):
    async with listen(stand_in) as scale:
        assert scale.steps == {}
        stand_in.send(STABLE_33_3_G)
        await asyncio.wait_for(take(scale, 1), 5)
        assert scale.steps == {"server": 0.1}
        stand_in.send(STABLE_645_2_OZ)
        await asyncio.wait_for(take(scale, 1), 5)
        # NIST SP 811 (2008), B.8: an ounce is 28.349 523 125 g.
        assert scale.steps["server"] == pytest.approx(2.8349523125)


async def test_the_descriptor_says_where_the_weight_is():
    """The same scale, with gram and ounce listed before all other units."""
    reordered = DESCRIPTOR.replace(bytes.fromhex("09 51 09 52"), bytes.fromhex("09 52 09 5B"))
    plain, other = HidScaleStandIn(), HidScaleStandIn(descriptor=reordered)
    values = []
    for stand_in in (plain, other):
        async with listen(stand_in) as scale:
            stand_in.send("04 04 01 00 14 00")
            values += [reading.value for reading in await asyncio.wait_for(take(scale, 1), 5)]
            assert scale.facts()["layout_from"] == "descriptor"
    assert values == [0.02, 20.0]


async def test_without_a_descriptor_the_common_order_is_read():
    stand_in = HidScaleStandIn(descriptor=None)
    async with listen(stand_in) as scale:
        stand_in.send(STABLE_20_G)
        (reading,) = await asyncio.wait_for(take(scale, 1), 5)
        assert scale.facts()["layout_from"] == "standard"
    assert reading.value == 20.0


async def test_reports_that_cannot_be_read_are_counted(stand_in):
    async with listen(stand_in) as scale:
        stand_in.send("04 04", "07 00 00 00 00 00", STABLE_20_G)
        (reading,) = await asyncio.wait_for(take(scale, 1), 5)
    facts = scale.facts()
    assert reading.value == 20.0
    assert (facts["reports_read"], facts["reports_rejected"]) == (1, 2)
    assert (facts["driver"], facts["product"]) == ("hid", "Bench scale")


async def test_a_report_without_any_weight_is_no_scale(stand_in, monkeypatch):
    monkeypatch.setattr(hid_scale, "GARBAGE_S", 0.0)
    async with listen(stand_in) as scale:
        stand_in.send("01 00")
        with pytest.raises(DeviceUnreadableError, match="none holds a weight"):
            await asyncio.wait_for(take(scale, 1), 5)


async def test_a_unit_of_many_meanings_is_told(stand_in, monkeypatch):
    monkeypatch.setattr(hid_scale, "GARBAGE_S", 0.0)
    async with listen(stand_in) as scale:
        stand_in.send(TAEL)
        with pytest.raises(DeviceUnreadableError, match="tael") as caught:
            await asyncio.wait_for(take(scale, 1), 5)
    assert caught.value.remedy == "Switch the scale to grams."


async def test_unplugging_is_a_lost_link_after_all_readings(stand_in):
    values = []
    async with listen(stand_in) as scale:
        stand_in.send(STABLE_20_G, STABLE_33_3_G)
        stand_in.unplug()
        with pytest.raises(DeviceLostError, match="the link broke"):
            async for reading in scale:
                values.append(reading.value)  # noqa: PERF401  # the error must not lose them
        with pytest.raises(DeviceLostError):  # and stays one
            await asyncio.wait_for(take(scale, 1), 5)
    assert values == [20.0, 33.3]
    assert stand_in.opened == 0


async def test_reports_that_nobody_takes_are_dropped_and_counted(stand_in, monkeypatch):
    monkeypatch.setattr(hid, "_WAITING_REPORTS", 2)
    async with listen(stand_in) as scale:
        stand_in.send(STABLE_20_G, STABLE_33_3_G, STABLE_20_G, STABLE_20_G)
        await until(lambda: scale.facts()["reports_dropped"] == 2)
        readings = await asyncio.wait_for(take(scale, 2), 5)
        stand_in.send(UNDER_ZERO_1_2_G)  # there is room again
        readings += await asyncio.wait_for(take(scale, 1), 5)
    assert [reading.value for reading in readings] == [20.0, 33.3, -1.2]
    async with scale:
        assert scale.facts()["reports_dropped"] == 2


async def test_silence_is_an_error(stand_in):
    async with listen(stand_in, silent_s=0.2) as scale:
        with pytest.raises(DeviceSilentError, match=r"nothing has arrived for 0\.2 s"):
            await asyncio.wait_for(take(scale, 1), 5)


async def test_tare_sends_the_report_of_the_address(stand_in):
    async with listen(stand_in, tare=b"\x02\x01") as scale:
        assert scale.can_tare
        await scale.tare()
    assert stand_in.written == [b"\x02\x01"]


async def test_tare_after_unplugging(stand_in):
    async with listen(stand_in, tare=b"\x02\x01") as scale:
        stand_in.unplug()
        with pytest.raises(DeviceLostError):
            await take(scale, 1)
        with pytest.raises(DeviceLostError):
            await scale.tare()


async def test_a_scale_without_tare_says_so(stand_in):
    async with listen(stand_in) as scale:
        assert not scale.can_tare
        with pytest.raises(DeviceError, match="no tare command"):
            await scale.tare()


# Finding and opening


async def test_the_serial_number_chooses_among_several():
    one, two = HidScaleStandIn(serial="A1", path=b"1"), HidScaleStandIn(serial="A2", path=b"2")
    async with listen(one, two, options="?serial=A2") as scale:
        assert (one.opened, two.opened) == (0, 1)
        two.send(STABLE_20_G)
        assert (await asyncio.wait_for(take(scale, 1), 5))[0].value == 20.0
    with pytest.raises(AddressError, match=r"2 such devices .* \?serial=A1, \?serial=A2"):
        async with listen(one, two):
            pass
    with pytest.raises(DeviceNotFoundError, match=r"with the serial number A3.*A1, A2"):
        async with listen(one, two, options="?serial=A3"):
            pass


async def test_the_weighing_part_of_a_device_with_several_is_opened():
    keys, weights = HidScaleStandIn(usage_page=1, path=b"keys"), HidScaleStandIn(path=b"weights")
    async with listen(keys, weights):
        assert (keys.opened, weights.opened) == (0, 1)


async def test_no_such_device():
    with pytest.raises(DeviceNotFoundError, match="no USB device 1234:5678 is connected"):
        async with listen(HidScaleStandIn(product=0x9999)):
            pass


@pytest.mark.skipif(sys.platform != "linux", reason="udev is Linux's")
async def test_a_device_of_root_alone_shows_the_rule():
    with pytest.raises(DeviceDeniedError, match="may not open it") as caught:
        async with listen(HidScaleStandIn(may_be_opened=False)):
            pass
    assert udev_rule(0x1234, 0x5678) in caught.value.remedy
    assert 'ATTRS{idVendor}=="1234"' in caught.value.remedy


async def test_the_package_is_missing():
    device = hid_scale.HidScale(parse_address("hid:1:2"), HidName(1, 2), "scale", load=lambda: None)
    with pytest.raises(DeviceNotFoundError, match=r"pip install 'evencup\[hid\]'"):
        async with device:
            pass


@pytest.mark.skipif(load_hid() is None, reason="pip install hidapi")
async def test_the_real_package_without_the_device():
    with pytest.raises(DeviceNotFoundError, match="no USB device fffe:fffd is connected"):
        async with open_device("hid:fffe:fffd"):
            pass


# Lifetime


async def test_cancelling_closes_the_device(stand_in):
    task = asyncio.create_task(_listen_for_ever(stand_in))
    while not stand_in.opened:  # noqa: ASYNC110  # it happens in the reader's thread
        await asyncio.sleep(0.005)
    task.cancel()
    with pytest.raises(asyncio.CancelledError):
        await task
    assert stand_in.opened == 0


async def _listen_for_ever(stand_in):
    async with listen(stand_in) as scale:
        async for _ in scale:
            pass


async def test_cancelling_a_half_open_device_closes_it(stand_in):
    task = asyncio.create_task(listen(stand_in).__aenter__())
    await asyncio.sleep(0)
    task.cancel()
    with pytest.raises(asyncio.CancelledError):
        await task
    await asyncio.sleep(0.3)
    assert stand_in.opened == 0


async def test_a_device_can_be_entered_again(stand_in):
    scale = listen(stand_in)
    for _ in range(3):
        async with scale:
            stand_in.send(STABLE_20_G)
            assert (await asyncio.wait_for(take(scale, 1), 5))[0].value == 20.0
        assert stand_in.opened == 0
    assert scale.facts()["reports_read"] == 3


async def test_closing_without_opening_and_twice_is_harmless(stand_in):
    scale = listen(stand_in)
    await scale.__aexit__(None, None, None)
    async with scale:
        assert stand_in.opened == 1
    await scale.__aexit__(None, None, None)
    assert stand_in.opened == 0


# Addresses


@pytest.mark.parametrize(
    ("address", "what"),
    [
        ("hid:scale", "not a vendor and a product"),
        ("hid:12345:1", "not a vendor and a product"),
        ("hid:1234:5678?speed=1", "unknown option 'speed'"),
        ("hid:1234:5678?silent_s=0", "silent_s=0"),
        ("hid:1234:5678?tare=020", "tare=020 is not a report"),
        ("hid:1234:5678?tare=xy", "tare=xy is not a report"),
    ],
)
def test_what_makes_no_sense_is_refused(address, what):
    with pytest.raises(AddressError, match=r"hid:") as caught:
        open_device(address)
    assert what in caught.value.what


def test_an_address_is_understood():
    device = open_device("hid:0abc:DEF?serial=A1&tare=0201")
    assert device.can_tare
    assert device.address == "hid:0abc:DEF?serial=A1&tare=0201"
