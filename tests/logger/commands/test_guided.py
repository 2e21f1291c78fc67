"""Guidance in the real program: on a terminal that is one, and what it keeps of a brewer's hand."""

from __future__ import annotations

import fcntl
import os
import pty
import re
import struct
import subprocess
import termios
from pathlib import Path

import pytest

from drivers.reading import CELSIUS, Reading
from logger.commands.hands import hand_file, keep_outcomes, read_hand
from logger.errors import BadInputError
from logger.guide import Hand, Outcome
from logger.recording import Journal
from logger.show.terminal.large_type import large
from tests.logger.commands.program import Evencup, command
from tests.logger.commands.small_brew import LIFTED_S, RATE_HZ, TARGET, shown_g

SPEED = 8


def played(evencup: Evencup) -> tuple[str, str]:
    """A target, and the address of a small brew that is played back faster than it was."""
    folder = evencup.here / "played"
    folder.mkdir()
    with Journal(folder / "readings.csv") as journal:
        for number, weight_g in enumerate(shown_g(LIFTED_S - 1.0)):
            if number % 10 == 0:
                journal.append(Reading("kettle", number / RATE_HZ, 89.0, CELSIUS))
            journal.append(Reading("scale", number / RATE_HZ, weight_g, "g"))
    (evencup.here / "target.toml").write_text(TARGET, encoding="utf-8")
    return "target.toml", f"playback:{folder}?speed={SPEED}"


def on_a_terminal(evencup: Evencup, *args: str, lines: int, columns: int) -> str:
    """Run the program on a pseudo-terminal of its own; give all that was written to it."""
    mother, child = pty.openpty()
    fcntl.ioctl(child, termios.TIOCSWINSZ, struct.pack("HHHH", lines, columns, 0, 0))
    environment = {**evencup.environment(), "TERM": "xterm-256color"}
    environment.pop("COLUMNS")
    process = subprocess.Popen(
        [*command(), *args], cwd=evencup.here, env=environment, stdin=child, stdout=child, stderr=child
    )
    os.close(child)
    written = bytearray()
    try:
        while piece := os.read(mother, 65536):
            written += piece
    except OSError:
        pass  # the program has closed its side
    finally:
        os.close(mother)
    assert process.wait(30.0) == 0, written.decode("utf-8", "replace")
    return written.decode("utf-8")


def test_on_a_terminal_the_word_is_large_and_the_bell_rings(evencup: Evencup) -> None:
    target, scale = played(evencup)
    written = on_a_terminal(evencup, "record", target, "--scale", scale, lines=30, columns=100)
    seen = re.sub(r"\x1b\[[0-9;?]*[a-zA-Z]", "", written)
    for word in ("READY", "POUR", "STOP", "WAIT"):
        assert large(word)[0] in seen, word
    assert "g to go" in seen and "s, then to 60 g" in seen
    assert "kettle 89.0 °C  4.0 °C too cool" in seen
    assert written.count("\a") == 3  # stop the bloom, begin pour 1, stop it
    assert re.search(r"poured (20\.[01]|19\.9) g", seen) and seen.rstrip().splitlines()[-1].startswith(
        str(evencup.data)
    )
    assert "Traceback" not in seen


def test_in_a_pipe_the_same_is_said_in_plain_lines(evencup: Evencup) -> None:
    target, scale = played(evencup)
    done = evencup.ok("record", target, "--scale", scale)
    assert "\a" not in done.out and "\x1b" not in done.out
    said = [line[8:] for line in done.lines if re.match(r" {2}\d:\d\d  ", line)]
    called = [line for line in said if not line.startswith("poured")]
    assert re.fullmatch(r"in [123] s pour 1 to 60 g", called.pop(1))
    assert called[:3] == ["stop", "pour: pour 1 to 60 g", "stop"]


def test_what_this_place_cannot_give_is_said_before_and_not_counted(evencup: Evencup) -> None:
    target, scale = played(evencup)
    config = evencup.here / "config"
    config.mkdir()
    (config / "settings.toml").write_text("[venue]\naltitude_m = 3000\n", encoding="utf-8")
    done = evencup.ok("record", target, "--scale", scale)
    said = " ".join(done.out.split())
    assert "Water boils at 90.0 °C here: the 93 °C of the target cannot be had." in said
    assert said.index("Water boils") < said.index("poured")
    assert "had water" not in said
    # The recording keeps the place: wherever it is looked at later, that is no miss either.
    (config / "settings.toml").unlink()
    told = " ".join(evencup.ok("report", done.lines[-1]).out.split())
    assert "Water boiled at 90.0 °C there: the 93 °C of the target could not be had" in told
    again = evencup.ok("replay", done.lines[-1], "--speed", "max").out
    assert "had water" not in told + again


def test_a_brew_that_nobody_poured_teaches_nothing_of_a_hand(evencup: Evencup) -> None:
    target, scale = played(evencup)
    evencup.ok("record", target, "--scale", scale)
    assert not (evencup.data.parent / "hands").exists()


def test_a_hand_is_read_back_and_the_oldest_calls_go(tmp_path: Path) -> None:
    file = tmp_path / "hands" / "ann.csv"
    assert read_hand(file, "serial:a") == Hand((), "serial:a")
    outcomes = [Outcome("pour", 5.0, float(number % 5), 0.3, "serial:a") for number in range(200)]
    for outcome in outcomes:
        keep_outcomes(file, [outcome])
    keep_outcomes(file, [])
    assert read_hand(file, "serial:a").outcomes == tuple(outcomes[-60:])
    assert len(file.read_text(encoding="utf-8").splitlines()) == 121


def test_each_brewer_has_a_file(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("EVENCUP_DATA", str(tmp_path / "recordings"))
    assert hand_file("Ann B.") == tmp_path / "hands" / "ann-b.csv"
    with pytest.raises(BadInputError, match="is no name"):
        hand_file("???")


@pytest.mark.parametrize("content", [b"\xff\xfe\x00", b"what is this\n1;2;3\n"])
def test_a_damaged_file_says_what_to_do(tmp_path: Path, content: bytes) -> None:
    file = tmp_path / "brewer.csv"
    file.write_bytes(content)
    with pytest.raises(BadInputError, match="delete it: it is learned again"):
        read_hand(file, "")
