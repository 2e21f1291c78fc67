"""The registry of drivers, and drivers of other packages."""

from __future__ import annotations

import importlib
import shutil
from pathlib import Path

import pytest

from drivers import CELSIUS, AddressError, ChannelNames, known_schemes, open_device
from drivers.device import DRIVERS

PACKAGE = Path(__file__).with_name("sample_package")


@pytest.fixture
def sample_package(tmp_path, monkeypatch):
    """Install the sample driver as pip would: a module and its metadata on the path."""
    shutil.copy(PACKAGE / "evencup_sample.py", tmp_path)
    info = tmp_path / "evencup_sample-1.0.dist-info"
    info.mkdir()
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: evencup-sample\nVersion: 1.0\n")
    (info / "entry_points.txt").write_text("[evencup.drivers]\nsample = evencup_sample:open_sample\n")
    monkeypatch.syspath_prepend(tmp_path)
    importlib.invalidate_caches()


def test_an_unknown_scheme_lists_the_known_ones():
    with pytest.raises(AddressError) as caught:
        open_device("telepathy:me")
    for scheme in DRIVERS:
        assert f"{scheme}:" in caught.value.remedy


@pytest.mark.parametrize("place", DRIVERS.values(), ids=DRIVERS)
def test_every_registered_driver_is_there(place):
    module, _, name = place.partition(":")
    assert callable(getattr(importlib.import_module(module), name))


async def test_a_driver_of_another_package(sample_package):
    assert "sample" in known_schemes()
    async with open_device("sample:93.5", ChannelNames(temperature="kettle")) as device:
        (reading,) = [reading async for reading in device]
    assert (reading.channel, reading.value, reading.unit) == ("kettle", 93.5, CELSIUS)


def test_without_it_the_scheme_is_unknown():
    assert "sample" not in known_schemes()
