"""The brewer's own instruments, by name."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logger.bench.named import NamedDevice, config_file, find_named, named_devices, save_named
from logger.errors import BadInputError

BENCH = NamedDevice("bench", "serial:/dev/ttyUSB0?baud=9600", 0.31, 0.1, 0.03, date(2026, 11, 25))


def test_what_was_saved_is_found(tmp_path: Path) -> None:
    save_named(tmp_path / "devices.toml", BENCH)
    assert find_named(tmp_path / "devices.toml", "bench") == BENCH


def test_other_devices_and_comments_stay(tmp_path: Path) -> None:
    path = tmp_path / "devices.toml"
    path.write_text('# mine\n[probe]\naddress = "serial:COM3?pattern=temperature"  # in the kettle\n')
    save_named(path, BENCH)
    text = path.read_text()
    assert "# mine" in text
    assert "# in the kettle" in text
    assert sorted(named_devices(path)) == ["bench", "probe"]


def test_saving_again_changes_what_is_known_and_nothing_else(tmp_path: Path) -> None:
    path = tmp_path / "devices.toml"
    save_named(path, BENCH)
    save_named(path, NamedDevice("bench", "serial:/dev/ttyUSB1", response_s=0.4))
    found = find_named(path, "bench")
    assert (found.address, found.response_s, found.step_g) == ("serial:/dev/ttyUSB1", 0.4, 0.1)


def test_an_unknown_name_is_answered_with_the_known_ones(tmp_path: Path) -> None:
    save_named(tmp_path / "devices.toml", BENCH)
    with pytest.raises(BadInputError, match=r"neither an address nor a device.*bench"):
        find_named(tmp_path / "devices.toml", "bensh")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("[bench\n", "no TOML"),
        ("[bench]\n", "no address"),
        ("bench = 3\n", "is no device"),
        ('[bench]\naddress = "serial:x"\nbaud = 9600\n', "'baud' is not known"),
        ('[bench]\naddress = "serial:x"\nresponse_s = -1\n', "response_s"),
        ('[bench]\naddress = "serial:x"\ntested = "today"\n', "no date"),
    ],
)
def test_a_file_that_cannot_be_is_told_by_place(tmp_path: Path, text: str, says: str) -> None:
    path = tmp_path / "devices.toml"
    path.write_text(text)
    with pytest.raises(BadInputError, match=says) as caught:
        named_devices(path)
    assert str(path) in str(caught.value)


def test_a_name_that_cannot_be_one_is_refused_before_anything_is_written(tmp_path: Path) -> None:
    with pytest.raises(BadInputError, match="cannot be a name"):
        save_named(tmp_path / "devices.toml", NamedDevice("my bench", "serial:x"))
    assert list(tmp_path.iterdir()) == []


def test_the_environment_may_name_another_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("EVENCUP_CONFIG", str(tmp_path))
    assert config_file() == tmp_path / "devices.toml"


@given(st.text(max_size=200))
def test_any_text_is_read_or_refused(tmp_path_factory: pytest.TempPathFactory, text: str) -> None:
    path = tmp_path_factory.getbasetemp() / "any.toml"
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    try:
        devices = named_devices(path)
    except BadInputError:
        return
    assert all(device.address for device in devices.values())
