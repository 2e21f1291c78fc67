"""What is true of this bench and this venue whatever is brewed: ``settings.toml`` in the configuration
folder.

.. code-block:: toml

    [venue]
    altitude_m = 1500

    [refractometer]
    corrected           = true     # it corrects for the sample's temperature by itself
    accuracy_percent    = 0.03     # as its sheet says, to either side
    brix_coefficient    = 0.85     # per cent of solids for each °Bx of coffee
    brix_coefficient_sd = 0.02
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import ClassVar

from drivers.toml_form import TomlForm, kind_of
from drivers.toml_mistakes import (
    Mistake,
    Remark,
    UnreadableTomlError,
    load_toml,
    message_parts,
    placed,
    toml_text,
)
from logger.bench.named import config_file
from logger.cup.boiling import HIGHEST_M, HIGHEST_PA, LOWEST_M, LOWEST_PA, boiling_point_at_c, boiling_point_c
from logger.errors import BadInputError

FILE = "settings.toml"

BRIX_COEFFICIENT, BRIX_COEFFICIENT_SD = 0.85, 0.02
"""Per cent of solids for each °Bx: 0.85 is common; a regression gave 0.8491 ±0.0043 (quantitativecafe.com,
June 2022), other data 0.83 to 0.90 (towardsdatascience.com, July 2022), of which the standard uncertainty is
made. The same refractive index belongs to 11 % more solids of robusta than of arabica (Illy and Viani, table
8.1): measure your own."""

_PLAUSIBLE: Mapping[str, tuple[float, float]] = {
    "altitude_m": (LOWEST_M, HIGHEST_M),
    "pressure_hpa": (LOWEST_PA / 100.0, HIGHEST_PA / 100.0),
    "accuracy_percent": (0.0, 5.0),
    "brix_coefficient": (0.5, 1.2),
    "brix_coefficient_sd": (0.0, 0.3),
}


@dataclass(frozen=True, slots=True)
class Settings:
    """What is true of the bench and the venue; None where nothing was said.

    :param altitude_m: of the venue, above the sea
    :param pressure_hpa: of its air, as a barometer there shows it; goes before the altitude
    :param corrected: whether the refractometer corrects for the sample's temperature by itself
    :param accuracy_percent: how far it may be off, to either side, in per cent of solids
    """

    altitude_m: float | None = None
    pressure_hpa: float | None = None
    corrected: bool = True
    accuracy_percent: float | None = None
    brix_coefficient: float = BRIX_COEFFICIENT
    brix_coefficient_sd: float = BRIX_COEFFICIENT_SD

    @property
    def boils_c(self) -> float | None:
        """At which temperature water boils at the venue; None where nobody said how high it is."""
        if self.pressure_hpa is not None:
            return boiling_point_at_c(100.0 * self.pressure_hpa)
        return None if self.altitude_m is None else boiling_point_c(self.altitude_m)


def settings_file() -> Path:
    """Where the settings stand; it need not exist."""
    return config_file().with_name(FILE)


def read_settings(path: Path | None = None) -> Settings:
    """Read the settings; the usual ones where there is no file.

    :param path: the file; None for the user's own
    :raises BadInputError: with every mistake in it, each with its line
    """
    path = settings_file() if path is None else path
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        return Settings()
    except PermissionError as error:
        if not os.access(path.parent, os.X_OK):
            # A folder that this user may not look into holds no settings of theirs.
            return Settings()
        raise _unreadable(path, error) from error
    except OSError as error:
        raise _unreadable(path, error) from error
    try:
        document, places = load_toml(toml_text(data, str(path)), str(path))
    except UnreadableTomlError as error:
        raise _refused(path, [error.mistake]) from error
    remarks: list[Remark] = []
    settings = _settings(_Form(document, (), "", remarks))
    if remarks:
        raise _refused(path, [placed(remark, str(path), places) for remark in remarks])
    return settings


def save_venue(path: Path, *, altitude_m: float | None, pressure_hpa: float | None) -> None:
    """Write the venue into the file, all else and the comments left as they are.

    :raises BadInputError: when the file has mistakes
    :raises FailureError: when the disk refuses
    """
    import tomlkit

    from logger.recording.disk import replacing

    read_settings(path)
    document = tomlkit.parse(path.read_text(encoding="utf-8-sig")) if path.exists() else tomlkit.document()
    venue = document.setdefault("venue", tomlkit.table())
    for key, value in (("altitude_m", altitude_m), ("pressure_hpa", pressure_hpa)):
        if value is None:
            venue.pop(key, None)
        else:
            venue[key] = value
    path.parent.mkdir(parents=True, exist_ok=True)
    with replacing(path) as part:
        part.write_text(tomlkit.dumps(document), encoding="utf-8", newline="\n")


class _Form(TomlForm):
    fields: ClassVar[Mapping[str, tuple[str, ...]]] = {
        "": ("venue", "refractometer"),
        "venue": ("altitude_m", "pressure_hpa"),
        "refractometer": ("corrected", "accuracy_percent", "brix_coefficient", "brix_coefficient_sd"),
    }
    homes: ClassVar[Mapping[str, str]] = {"venue": "under [venue]", "refractometer": "under [refractometer]"}

    def within(self, key: str, example: str) -> float | None:
        """Read a number that must be plausible."""
        value = self.number(key, example=example)
        least, most = _PLAUSIBLE[key]
        if value is not None and (value < least or value > most):
            self.remark(key, f"{value:g} is not between {least:g} and {most:g}", f"Write {key} = {example}.")
        return value

    def truth(self, key: str, usual: bool) -> bool:
        """Read true or false."""
        value = self._table.get(key, usual)
        if not isinstance(value, bool):
            self.remark(
                key, f"{kind_of(value)} where true or false belongs", f"Write {key} = true, or false."
            )
            return usual
        return value


def _settings(form: _Form) -> Settings:
    venue, instrument = form.form("venue"), form.form("refractometer")
    altitude_m = venue.within("altitude_m", "1500") if venue else None
    pressure_hpa = venue.within("pressure_hpa", "845") if venue else None
    if instrument is None:
        return Settings(altitude_m, pressure_hpa)
    coefficient = instrument.within("brix_coefficient", "0.85")
    coefficient_sd = instrument.within("brix_coefficient_sd", "0.02")
    return Settings(
        altitude_m=altitude_m,
        pressure_hpa=pressure_hpa,
        corrected=instrument.truth("corrected", usual=True),
        accuracy_percent=instrument.within("accuracy_percent", "0.03"),
        brix_coefficient=BRIX_COEFFICIENT if coefficient is None else coefficient,
        brix_coefficient_sd=BRIX_COEFFICIENT_SD if coefficient_sd is None else coefficient_sd,
    )


def _unreadable(path: Path, error: OSError) -> BadInputError:
    reason = (error.strerror or str(error)).lower()
    return BadInputError(str(path), f"cannot be read: {reason}", "Check the file, and that you may read it.")


def _refused(path: Path, mistakes: list[Mistake]) -> BadInputError:
    return BadInputError(*message_parts(str(path), mistakes, "file"))
