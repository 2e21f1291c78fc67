from __future__ import annotations

import json
import os
import stat
from pathlib import Path

import pytest

from logger.errors import FailureError
from logger.page.stations import announced, find_stations, forget, runtime_folder

posix = pytest.mark.skipif(os.name != "posix", reason="rights of files are POSIX")


@pytest.fixture(autouse=True)
def runtime(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "run" / "evencup"
    monkeypatch.setenv("EVENCUP_RUNTIME", str(folder))
    return folder


def test_a_recorder_is_found_while_it_runs_and_not_after() -> None:
    assert find_stations() == {}
    with announced("Four pours", "127.0.0.1", 8720, "token") as station:
        assert find_stations() == {station.name: station}
        with announced("The other one", "127.0.0.1", 8721, "another"):
            assert len(find_stations()) == 2
    assert find_stations() == {}


@posix
def test_only_its_user_can_read_the_token(runtime: Path) -> None:
    with announced("Four pours", "127.0.0.1", 8720, "token"):
        (file,) = runtime.iterdir()
        assert stat.S_IMODE(file.stat().st_mode) == 0o600
        assert stat.S_IMODE(runtime.stat().st_mode) == 0o700


@posix
def test_a_folder_that_others_can_write_to_is_not_trusted(runtime: Path) -> None:
    runtime.mkdir(parents=True)
    runtime.chmod(0o777)
    with pytest.raises(FailureError, match="can be written by others"):
        find_stations()
    with pytest.raises(FailureError, match="EVENCUP_RUNTIME"), announced("x", "127.0.0.1", 8720, "token"):
        pass


def test_a_file_where_the_folder_should_be_is_told(runtime: Path) -> None:
    runtime.parent.mkdir(parents=True)
    runtime.write_text("")
    with pytest.raises(FailureError, match="could not say there"), announced("x", "127.0.0.1", 1, "token"):
        pass


@pytest.mark.parametrize(
    "change",
    [{"port": "8720"}, {"port": 0}, {"port": 70000}, {"name": "../other"}, {"token": None}, {"more": 1}],
)
def test_a_file_that_says_nonsense_is_passed_over(runtime: Path, change: dict[str, object]) -> None:
    with announced("Four pours", "127.0.0.1", 8720, "token"):
        (file,) = runtime.iterdir()
        file.write_text(json.dumps(json.loads(file.read_text()) | change))
        (runtime / "torn.station.json").write_text('{"name": "to')
        assert find_stations() == {}


def test_what_a_killed_recorder_left_behind_can_be_removed() -> None:
    with announced("Four pours", "127.0.0.1", 8720, "token") as station:
        forget(station)
        assert find_stations() == {}


def test_without_the_variable_it_is_the_users_own_folder(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("EVENCUP_RUNTIME")
    assert "evencup" in str(runtime_folder())
