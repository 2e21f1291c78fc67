"""Two scales from the bench to the report: recorded, reported, drawn, compared."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.logger.commands.program import Evencup

pytestmark = pytest.mark.long


@pytest.fixture
def practised(evencup: Evencup, three_pours: Path) -> list[Path]:
    """Two brews with a server on a scale of its own; the second bed drains more slowly."""
    into = evencup.here / "practice"
    for tau_s in (14, 19):
        address = f"simulated:{three_pours}?seed=2&level=easy&server=yes&tau_s={tau_s}&speed=max"
        evencup.ok("record", three_pours, "--scale", address, "--into", into)
    return sorted(into.iterdir(), key=lambda folder: (len(folder.name), folder.name))


def test_two_scales_are_recorded_and_the_bed_is_reported(evencup: Evencup, practised: list[Path]) -> None:
    done = evencup.ok("report", *practised)
    text = " ".join(done.out.replace("\u00a0", " ").split())
    assert text.count("The bed: ") == 2
    assert "finer grind, more fines or more coffee would do" in text

    told = evencup.ok("report", "--json", "--html", "--to", evencup.here, *practised)
    lines = [json.loads(line) for line in told.out.splitlines()]
    taus_s = [line["drawdown"]["tau_s"] for line in lines]
    assert taus_s == pytest.approx([14.0, 19.0], rel=0.03)
    for line in lines:
        assert line["bed"]["arrangement"] == "everything-server"
        assert line["total_g"] == pytest.approx(240.0, abs=8.0)
        assert line["bed"]["held_per_dose"] == pytest.approx(2.1, abs=0.5)

    page = evencup.here / f"{practised[0].name}.html"
    assert "Where water in and beverage out stand far apart" in page.read_text(encoding="utf-8")
