"""``evencup record --watch``: brew after brew, from an evening that is played back faster than it was."""

from __future__ import annotations

from pathlib import Path

import pytest

from drivers.reading import Reading
from logger.compare import assess
from logger.recording import Journal, Recording
from tests.logger.commands.program import Evencup
from tests.logger.commands.small_brew import LIFTED_S, POURS, RATE_HZ, TARGET, VESSEL_G, shown_g

BREW_S = LIFTED_S + 20.0
"""A brew, and the empty scale until the next."""


def evening(brews: int) -> list[float]:
    """An empty scale; then brew after brew: the vessel put on, water, the vessel lifted."""
    weights = [0.0] * round(20 * RATE_HZ)
    for _ in range(brews):
        brew = shown_g(BREW_S)
        weights += [weight + VESSEL_G for weight in [0.0] * round(4 * RATE_HZ) + brew]
    return [round(weight, 1) for weight in weights]


def write_evening(folder: Path, brews: int) -> Path:
    folder.mkdir()
    with Journal(folder / "readings.csv") as journal:
        for number, weight_g in enumerate(evening(brews)):
            journal.append(Reading("scale", number / RATE_HZ, weight_g, "g"))
    return folder


@pytest.mark.parametrize("speed", ["max", "10"])
def test_each_brew_becomes_a_recording_of_its_own(evencup: Evencup, tmp_path: Path, speed: str) -> None:
    played = write_evening(tmp_path / "evening", brews=2)
    (tmp_path / "target.toml").write_text(TARGET, encoding="utf-8")
    done = evencup.ok("record", "target.toml", "--watch", "--scale", f"playback:{played}?speed={speed}")
    assert done.lines.count("Ready for the next brew. Ctrl-C ends.") == 3
    folders = sorted(evencup.data.iterdir())
    assert [line for line in done.lines if line.startswith(str(evencup.data))] == [str(f) for f in folders]
    assert len(folders) == 2
    for folder in folders:
        recording = Recording.open(folder)
        assert recording.meta.complete
        _, weights = recording.arrays("scale")
        assert weights.max() == pytest.approx(VESSEL_G + sum(pour.grams for pour in POURS), abs=0.2)
        poured_g = [pour.poured_g for pour in assess(recording).analysis.pours]
        assert poured_g == pytest.approx([pour.grams for pour in POURS], abs=0.3)


def test_the_recording_begins_before_the_vessel_was_put_on(evencup: Evencup, tmp_path: Path) -> None:
    played = write_evening(tmp_path / "evening", brews=1)
    done = evencup.ok("record", "--watch", "--scale", f"playback:{played}?speed=max")
    assert "vessel on" in done.out
    (folder,) = evencup.data.iterdir()
    _, weights = Recording.open(folder).arrays("scale")
    assert weights[: round(2 * RATE_HZ)].tolist() == [0.0] * round(2 * RATE_HZ)
    empty = [weight for weight in weights if weight == 0.0]
    assert len(empty) < 11 * RATE_HZ + 20 * RATE_HZ  # the pre-roll holds ten seconds; then the lifted end


def test_an_evening_without_a_brew_is_a_failure_that_says_so(evencup: Evencup, tmp_path: Path) -> None:
    played = write_evening(tmp_path / "evening", brews=0)
    done = evencup.run("record", "--watch", "--scale", f"playback:{played}?speed=max")
    assert done.code == 1
    assert "no brew began" in done.err and "Traceback" not in done.err
    assert not evencup.data.exists()
