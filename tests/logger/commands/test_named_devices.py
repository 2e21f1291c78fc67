from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers import AddressError
from drivers.reading import is_channel_name
from logger.commands.named_devices import named_devices, split_name
from logger.errors import BadInputError

SPLIT = {
    "serial:/dev/ttyUSB0?baud=9600": (None, "serial:/dev/ttyUSB0?baud=9600"),
    "server=serial:/dev/ttyUSB0?baud=9600": ("server", "serial:/dev/ttyUSB0?baud=9600"),
    "cup-2=playback:a=b": ("cup-2", "playback:a=b"),
    "playback:a=b": (None, "playback:a=b"),
    "scale": (None, "scale"),
}


@pytest.mark.parametrize("text", SPLIT)
def test_a_name_stands_before_the_address(text: str) -> None:
    assert split_name(text) == SPLIT[text]


@given(st.text(max_size=20))
def test_any_text_is_taken_apart_or_refused(text: str) -> None:
    try:
        name, address = split_name(text)
    except BadInputError as error:
        assert "cannot be a channel's name" in str(error)
    else:
        assert (f"{name}={address}" if name is not None else address) == text
        assert name is None or is_channel_name(name)


def channels(scales: list[str], thermometers: list[str]) -> list[str]:
    """The names that the devices' channels would get, by what their messages call them."""
    return [device._names.weight for device in named_devices(scales, thermometers)]  # type: ignore[attr-defined]


def test_unnamed_scales_are_numbered() -> None:
    one = "simulated:x.toml"
    assert channels([one, one, f"cup={one}", one], []) == ["scale", "scale2", "cup", "scale3"]
    assert channels([one, f"scale={one}"], []) == ["scale2", "scale"]


def test_an_address_that_makes_no_sense_is_refused_before_anything_is_opened() -> None:
    with pytest.raises(AddressError, match="boud"):
        named_devices(["serial:/dev/ttyUSB0?boud=1"], [])
