from __future__ import annotations

import json
from pathlib import Path
from typing import NoReturn

import pytest

from logger.compare import Brew
from logger.show.plain_data.json_line import json_line, report_json
from tests.logger.show.conftest import ranged


def _refuse(constant: str) -> NoReturn:
    raise AssertionError(f"{constant} is no JSON (RFC 8259, section 6)")


def _read(brew: Brew) -> dict[str, object]:
    line = json_line(brew)
    assert "\n" not in line
    assert line.isascii()
    return dict(json.loads(line, parse_constant=_refuse))


def test_a_report_is_one_line_of_strict_json(brew: Brew) -> None:
    data = _read(brew)
    assert data["total_g"] == 298.8
    assert data["end_s"] == 184.0
    assert data["brew_start_s"] == 12.0
    assert data["pours"][1]["start_s"] == 46.3
    assert data["stages"][1]["deviations"]["to_g"] == {
        "wanted": 140.0,
        "window": None,
        "actual": 144.2,
        "difference": 4.2,
        "tolerance": 3.0,
        "inside": False,
        "why": "",
    }


def test_ranges_count_from_the_brews_start_like_the_times_they_are_of(brew: Brew) -> None:
    data = _read(ranged(brew))
    assert data["drift_g"] == -0.6
    assert data["pours"][1]["start_between_s"] == [46.1, 46.4]
    assert data["pours"][1]["end_between_s"] == [60.2, 60.9]
    assert data["pours"][1]["poured_between_g"] == [90.3, 90.9]
    assert _read(brew)["pours"][1]["start_between_s"] is None


def test_what_was_not_measured_is_null(brew: Brew) -> None:
    data = _read(brew)
    water = data["stages"][3]["deviations"]["water_c"]
    assert water["actual"] is None
    assert water["difference"] is None
    assert water["inside"] is None
    assert data["pours"][3]["temperature_c"]["kettle"] is None


def test_the_water_of_a_pour_is_the_mean_of_its_readings(brew: Brew) -> None:
    # by hand: the kettle reads 94 - 0.028 t each second; the first pour holds the readings at 12 to 21 s
    first = report_json(brew)["pours"][0]["temperature_c"]["kettle"]
    assert first == pytest.approx(94 - 0.028 * (12 + 21) / 2)


def test_without_a_target_nothing_is_judged(untargeted_brew: Brew) -> None:
    data = _read(untargeted_brew)
    assert data["stages"] is None
    assert data["verdict"] is None
    assert len(data["pours"]) == 4


def test_without_a_brew_there_are_no_times(no_brew: Brew) -> None:
    data = _read(no_brew)
    assert data["method"] is None
    assert data["brew_start_s"] is None
    assert data["end_s"] is None
    assert data["pours"] == []


def test_every_report_has_the_same_keys_in_the_same_order(brew: Brew, no_brew: Brew, shot: Brew) -> None:
    assert list(report_json(brew)) == list(report_json(no_brew)) == list(report_json(shot))


def test_every_key_is_in_the_guide(brew: Brew) -> None:
    guide = (Path(__file__).parents[4] / "docs" / "read-a-report.md").read_text(encoding="utf-8")
    missing = sorted(key for key in _keys(report_json(brew)) if f"`{key}`" not in guide)
    assert missing == []


def _keys(data: object) -> set[str]:
    if isinstance(data, list):
        return set().union(*(_keys(one) for one in data))
    if not isinstance(data, dict):
        return set()
    named_by_user = {"kettle", "slurry"}
    return (set(data) | set().union(*(_keys(one) for one in data.values()))) - named_by_user
