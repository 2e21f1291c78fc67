"""The settings of bench and venue, written by hand."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logger.cup.settings import Settings, read_settings, save_venue
from logger.errors import BadInputError

WRITTEN = """\
# Mine
[venue]
altitude_m = 1500      # the hall

[refractometer]
corrected           = false
accuracy_percent    = 0.02
brix_coefficient    = 0.83
brix_coefficient_sd = 0.01
"""


def test_without_a_file_the_usual_holds(tmp_path: Path) -> None:
    assert read_settings(tmp_path / "settings.toml") == Settings()
    assert Settings().boils_c is None


def test_what_was_written_is_read(tmp_path: Path) -> None:
    path = tmp_path / "settings.toml"
    path.write_text(WRITTEN, encoding="utf-8")
    settings = read_settings(path)
    assert settings == Settings(1500.0, None, False, 0.02, 0.83, 0.01)
    # Boiling point at 1500 m by the packages iapws and CoolProp: 94.98 °C.
    assert settings.boils_c == pytest.approx(94.98, abs=0.005)


def test_a_barometer_goes_before_the_altitude() -> None:
    # 850 hPa: 95.125 °C, by iapws.
    assert Settings(altitude_m=0.0, pressure_hpa=850.0).boils_c == pytest.approx(95.125, abs=1e-3)


def test_the_venue_is_kept_and_the_rest_left_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "conf" / "settings.toml"
    save_venue(path, altitude_m=300.0, pressure_hpa=None)
    assert read_settings(path).altitude_m == 300.0
    path.write_text(WRITTEN, encoding="utf-8")
    save_venue(path, altitude_m=None, pressure_hpa=845.0)
    assert read_settings(path) == Settings(None, 845.0, False, 0.02, 0.83, 0.01)
    assert "# Mine" in path.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[venue]\naltitude_m = 9000\n", "line 2, venue, altitude_m: 9000 is not between -500 and 5000"),
        (
            "[venue]\naltitude = 900\n",
            "line 2, venue, altitude: there is no such field here. Did you mean",
        ),
        ('[refractometer]\ncorrected = "yes"\n', "true or false belongs"),
        ("altitude_m = 900\n", "altitude_m belongs under [venue]."),
        ("[venue\n", "line 1"),
    ],
)
def test_every_mistake_is_named_with_its_line(tmp_path: Path, text: str, words: str) -> None:
    path = tmp_path / "settings.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(BadInputError) as refused:
        read_settings(path)
    assert words in str(refused.value)
    assert str(path) in str(refused.value)


@given(st.binary(max_size=200))
def test_any_file_is_read_or_refused(tmp_path_factory: pytest.TempPathFactory, data: bytes) -> None:
    path = tmp_path_factory.mktemp("conf") / "settings.toml"
    path.write_bytes(data)
    try:
        settings = read_settings(path)
    except BadInputError:
        return
    assert settings.brix_coefficient > 0
