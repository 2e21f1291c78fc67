"""Output that goes into a pipe, a file, or a terminal that knows ASCII alone."""

from __future__ import annotations

import os
import pty
import select
import subprocess
import time
from pathlib import Path

import pytest

from logger.recording import Recording
from tests.logger.commands.program import TIMEOUT_S, Evencup, command

pytestmark = pytest.mark.long

LINES = {
    "report": "report REC",
    "report as JSON": "report REC --json",
    "list": "list",
    "overlay": "overlay three-pours.toml REC REC",
    "replay": "replay REC --speed max",
    "draw": "target draw three-pours.toml",
    "check": "target check three-pours.toml",
    "devices": "devices",
    "help": "record --help",
    "record": "record three-pours.toml --scale playback:REC?speed=max",
}


@pytest.fixture
def named(evencup: Evencup, three_pours: Path, brewed: Path) -> Evencup:
    """A recording called REC, in a data folder and beside the target."""
    brewed.rename(evencup.data / "REC")
    (evencup.here / "REC").symlink_to(evencup.data / "REC")
    return evencup


@pytest.mark.parametrize("name", LINES)
def test_a_pipe_gets_plain_lines_and_ascii_is_no_trouble(named: Evencup, name: str) -> None:
    done = named.ok(*LINES[name].split(), PYTHONIOENCODING="ascii")
    assert done.out
    assert "\x1b" not in done.out and "\r" not in done.out and "\b" not in done.out
    assert done.out.isascii()
    assert not done.err


@pytest.mark.parametrize("name", ["report", "report as JSON", "replay", "draw", "help"])
def test_a_reader_that_has_seen_enough(named: Evencup, name: str) -> None:
    """As in ``evencup report REC | head -1``, with a reader that is gone at once."""
    reading, writing = os.pipe()
    os.close(reading)
    done = subprocess.run(
        [*command(), *LINES[name].split()],
        cwd=named.here,
        env=named.environment(),
        stdin=subprocess.DEVNULL,
        stdout=writing,
        stderr=subprocess.PIPE,
        text=True,
        timeout=TIMEOUT_S,
    )
    os.close(writing)
    assert "Traceback" not in done.stderr and "Exception" not in done.stderr, done.stderr
    assert done.returncode in (0, 1)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="a device that is always full is Linux's own")
@pytest.mark.parametrize("buffered", [True, False])
@pytest.mark.parametrize("name", ["report", "report as JSON", "list", "draw", "help"])
def test_output_onto_a_full_disk_is_one_line(named: Evencup, name: str, buffered: bool) -> None:
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [*command(), *LINES[name].split()],
            cwd=named.here,
            env=named.environment(PYTHONUNBUFFERED="" if buffered else "1"),
            stdin=subprocess.DEVNULL,
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            timeout=TIMEOUT_S,
        )
    assert done.returncode == 1
    assert done.stderr.startswith("evencup: the output could not be written: No space left on device")
    assert len(done.stderr.splitlines()) == 1


def test_a_brew_is_recorded_to_its_end_without_a_reader(named: Evencup) -> None:
    before = set(named.data.iterdir())
    test_a_reader_that_has_seen_enough(named, "record")
    (made,) = set(named.data.iterdir()) - before
    recording = Recording.open(made)
    assert recording.meta.complete
    original = Recording.open(named.data / "REC").arrays("scale")[1]
    assert recording.arrays("scale")[1].tolist() == original[: len(recording.arrays("scale")[1])].tolist()
    assert recording.readings["time_s"].max() > 150.0


def in_a_terminal(evencup: Evencup, line: str, **env: str) -> tuple[int, str]:
    """Run in a pseudo-terminal of 100 columns and 30 lines; give the code and what was drawn."""
    mother, child = pty.openpty()
    process = subprocess.Popen(
        [*command(), *line.split()],
        cwd=evencup.here,
        env={**evencup.environment(TERM="xterm-256color", **env), "COLUMNS": "100", "LINES": "30"},
        stdin=child,
        stdout=child,
        stderr=child,
    )
    os.close(child)
    drawn, deadline_s = b"", time.monotonic() + TIMEOUT_S
    while time.monotonic() < deadline_s:
        if select.select([mother], [], [], 0.1)[0]:
            try:
                drawn += os.read(mother, 65536)
            except OSError:  # the program has gone
                break
    os.close(mother)
    return process.wait(timeout=10.0), drawn.decode("utf-8")


def test_a_terminal_gets_the_large_screen(named: Evencup) -> None:
    code, drawn = in_a_terminal(named, "replay REC --speed 200")
    assert code == 0
    assert "\x1b[" in drawn
    assert "██████" in drawn and "g to go" in drawn and "s, then to 140 g" in drawn


def test_no_color_is_respected(named: Evencup) -> None:
    code, coloured = in_a_terminal(named, "report REC")
    assert code == 0 and "\x1b[1;36m" in coloured
    code, plain = in_a_terminal(named, "report REC", NO_COLOR="1")
    assert code == 0 and not any(f"3{colour}m" in plain for colour in range(8))


def test_a_terminal_without_unicode(named: Evencup) -> None:
    code, drawn = in_a_terminal(named, "replay REC --speed 500", PYTHONIOENCODING="ascii")
    assert code == 0
    assert drawn.isascii() and "######" in drawn
