"""``evencup note``, ``cup`` and ``water``, as a brewer types them."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest

from logger.commands.main import main
from tests.logger.commands.program import Evencup


@pytest.fixture
def typed(
    evencup: Evencup, brewed: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
):
    """Type a line in this process: the code it ends with, what it prints, and what it complains of."""
    monkeypatch.chdir(evencup.here)
    for name, value in evencup.environment(COLUMNS="100").items():
        if name.startswith(("EVENCUP", "COLUMNS")):
            monkeypatch.setenv(name, value)

    def run(*words: str) -> tuple[int, str, str]:
        monkeypatch.setattr(
            sys, "argv", ["evencup", *(brewed.name if word == "REC" else word for word in words)]
        )
        with pytest.raises(SystemExit) as ended:
            main()
        out, err = capsys.readouterr()
        return int(ended.value.code or 0), out, err

    return run


def test_the_installed_program_notes_and_reports(evencup: Evencup, brewed: Path) -> None:
    before = {path.name: path.read_bytes() for path in brewed.iterdir()}
    done = evencup.ok(
        "note", brewed.name, "--strength", "1.35", "--beverage", "208.0", "--mark", "dry=2:30",
        "--tasted", "acidity=9 flavour=plum, dried fig", "--by", "AB",
    )  # fmt: skip
    assert "Strength 1.35 ±" in done.out and "Extraction " in done.out
    assert {path.name: path.read_bytes() for path in brewed.iterdir() if path.name in before} == before
    report = json.loads(evencup.ok("report", brewed.name, "--json").out)
    assert report["cup"]["strength_percent"]["value"] == 1.35
    assert report["drawdown"]["by"] == "mark" and report["drawdown"]["dry_s"] == pytest.approx(
        150.0, abs=0.01
    )


def test_notes_are_shown_and_the_later_one_counts(typed) -> None:
    assert "Nothing is noted of this brew yet" in typed("note", "REC")[1]
    typed("note", "REC", "--strength", "1.30")
    typed("note", "REC", "--strength", "1.35", "--strength", "1.37", "--text", "a little thin")
    code, out, _ = typed("note", "REC", "--json")
    given = json.loads(out)
    assert code == 0 and given["strength_percent"]["value"] == pytest.approx(1.36)
    assert [note["kind"] for note in given["noted"]] == ["strength", "text"]
    code, out, _ = typed("note", "REC", "--withdraw", "strength")
    assert code == 0 and "1.35" not in out and "a little thin" in out


def test_brix_goes_by_the_settings(typed, evencup: Evencup) -> None:
    folder = evencup.here / "config"
    folder.mkdir()
    text = "[refractometer]\nbrix_coefficient = 0.80\nbrix_coefficient_sd = 0.01\ncorrected = false\n"
    (folder / "settings.toml").write_text(text, encoding="utf-8")
    code, _, err = typed("note", "REC", "--brix", "1.60")
    assert code == 2 and "the sample's is not said" in err and "Add --sample 24.5" in err
    code, out, _ = typed("note", "REC", "--brix", "1.60", "--sample", "25", "--zero", "25", "--json")
    assert code == 0 and json.loads(out)["strength_percent"]["value"] == pytest.approx(1.28)


CASES = {
    "note REC --strength 1,35": ["--strength: '1,35' is no number", "with a point"],
    "note REC --strength 135": ["readings is not between 0 and 100", "as 1.35"],
    "note REC --strength 50": ["50 is no strength of a coffee", "as 1.35"],
    "note REC --strength 1.3 --brix 1.6": ["--brix: --strength is given too"],
    "note REC --sample 25": ["--sample: says something of a reading, and there is none", "--strength 1.35"],
    "note REC --strength 1.3 --brix-coefficient 0.8": ["no --brix is given"],
    "note REC --beverage lots": ["--beverage: 'lots' is no number"],
    "note REC --mark dry": ["--mark dry: the time is missing", "dry=2:58"],
    "note REC --mark dry=late": ["'late' is not a time"],
    "note REC --mark d*y=2:58": ["name is none: letters", "dry=2:58"],
    "note REC --mark dry=59:00": ["--mark dry: the recording runs from", "counted from the brew's start"],
    "note REC --tasted sour": ["--tasted: 'sour' is not said of anything", "acidity=9"],
    "note REC --called acidity=99": ["no number from 0 (not there) to 15"],
    "note REC --by AB": ["--by: nothing was called or tasted"],
    "note REC --withdraw strength": ["--withdraw strength: that is not noted", "Noted are: nothing yet."],
    "note nowhere --strength 1.3": ["nowhere: there is no such folder", "evencup list"],
    "cup nowhere": ["nowhere: there is no such folder"],
    "cup REC --html --to page.pdf": ["page.pdf: is not a name for a page"],
    "water --altitude 9000": ["an altitude is between -500 and 5000 m", "--altitude 1500"],
    "water --pressure 10": ["the air has between 500 and 1100 hPa"],
    "water --save": ["--save: there is nothing to keep", "--altitude 1500"],
    "target check three-pours.toml --altitude 9000": ["an altitude is between", "--altitude 1500"],
}


@pytest.mark.parametrize("line", CASES)
def test_bad_input(typed, three_pours: Path, brewed: Path, line: str) -> None:
    code, _, err = typed(*line.split())
    assert code == 2, err
    for words in CASES[line]:
        assert words in err
    assert not (brewed / "notes.jsonl").exists()


def test_nothing_is_noted_where_one_part_is_wrong(typed, brewed: Path) -> None:
    assert typed("note", "REC", "--strength", "1.35", "--mark", "dry=59:00")[0] == 2
    assert not (brewed / "notes.jsonl").exists()


def test_cups_side_by_side(typed, evencup: Evencup) -> None:
    typed("note", "REC", "--strength", "1.35", "--beverage", "208.0")
    code, out, _ = typed("cup", "REC")
    assert code == 0 and "Strength is noted of one cup." in out
    code, out, _ = typed("cup", "REC", "REC", "--html", "--json")
    assert code == 0 and len(json.loads(out)["cups"]) == 2
    assert "cup-percolation" in (evencup.here / "cups.html").read_text(encoding="utf-8")


def test_water_by_weight_and_volume(typed) -> None:
    # IAPWS-95, by the package iapws: 100 g are 103.81 mL at 93 °C and 100.18 mL at 20 °C.
    assert "100.0 g of water at 93 °C are 103.8 mL." in typed("water", "--grams", "100", "--celsius", "93")[1]
    given = json.loads(typed("water", "--millilitres", "100.18", "--json")[1])
    assert given["grams"] == pytest.approx(100.0, abs=0.005)
    assert given["boils_c"] is None


def test_the_venue_is_kept_and_targets_are_checked_against_it(typed, three_pours: Path) -> None:
    assert "cannot be had" not in typed("target", "check", str(three_pours))[1]
    code, out, _ = typed("target", "check", str(three_pours), "--altitude", "3000")
    assert code == 0 and "three-pours.toml, line 4, water_c: " in out
    # Boiling point at 3000 m by the packages iapws and CoolProp: 89.97 °C.
    assert "cannot be had at this venue, where water boils at 90.0 °C" in out
    assert "At 3000 m water boils at 90.0 °C" in typed("water", "--altitude", "3000", "--save")[1]
    assert "cannot be had at this venue" in typed("target", "check", str(three_pours))[1]
