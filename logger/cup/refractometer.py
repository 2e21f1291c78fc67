"""The strength of a cup from what a refractometer showed, and what it is not known to."""

from __future__ import annotations

import math
from statistics import fmean, stdev
from typing import TYPE_CHECKING

from logger.cup.known import Known, Source, combined, rectangular, rounded_to
from logger.cup.refraction import CORRECTION_DOUBT, REFERENCE_C, temperature_correction_bx
from logger.cup.settings import BRIX_COEFFICIENT, BRIX_COEFFICIENT_SD

if TYPE_CHECKING:
    from logger.recording import Recording
    from logger.recording.note_kinds import StrengthNote

USUAL_ACCURACY, USUAL_ACCURACY_SHARE = 0.03, 0.01
"""How far an instrument may be off, to either side: 0.03 % of solids, or a hundredth of a strong reading,
whichever is more. Common practice for instruments made for coffee; the sheet of yours knows better."""

_THERMOMETER_C = 0.5
_UNKNOWN_C = 5.0
"""How far from the zero's temperature a sample may be of which nobody noted it (common practice: a bench)."""

# One source for all cups: their difference does not hang on the coefficient as their strengths do.
_COEFFICIENT = Source("the Brix coefficient")


def strength_of(note: StrengthNote) -> Known:
    """The strength, per cent of the liquid's mass.

    The mean of the readings, with their scatter as far as so few tell it, the display's step, the
    instrument's accuracy, the correction for temperature where it does none itself, and for °Bx the
    coefficient.
    """
    shown = _shown(note)
    if not note.corrected:
        shown = _with_temperature(note, shown)
    if note.unit == "%":
        return shown
    coefficient = BRIX_COEFFICIENT if note.coefficient is None else note.coefficient
    doubt = BRIX_COEFFICIENT_SD if note.coefficient_sd is None else note.coefficient_sd
    return combined(lambda bx, k: bx * k, shown, Known(coefficient, {_COEFFICIENT: doubt}))


def strength_percent(recording: Recording) -> float | None:
    """The strength that was noted of a recording, per cent; None where none was."""
    note = recording.noted.strength
    return None if note is None else strength_of(note).value


def _shown(note: StrengthNote) -> Known:
    """The mean of what was shown, in its own unit."""
    n = len(note.readings)
    mean = fmean(note.readings)
    accuracy = note.accuracy
    if accuracy is None:
        accuracy = max(USUAL_ACCURACY, USUAL_ACCURACY_SHARE * mean)
    shown = Known(mean, {Source("the instrument's accuracy"): rectangular(accuracy)})
    shown = shown.plus(Source("the display's step"), rounded_to(note.step))
    if n < 2:
        return shown
    return shown.plus(Source("the scatter of the readings", dof=n - 1.0), stdev(note.readings) / math.sqrt(n))


def _with_temperature(note: StrengthNote, shown: Known) -> Known:
    """Correct for the sample's temperature; where it is not known, say how far that may be off."""
    zero_c = REFERENCE_C if note.zero_c is None else note.zero_c
    per_unit = 1.0 if note.unit == "°Bx" else BRIX_COEFFICIENT
    if note.sample_c is None:
        off = per_unit * abs(temperature_correction_bx(shown.value / per_unit, zero_c + _UNKNOWN_C, zero_c))
        return shown.plus(Source("the sample's temperature"), rectangular(off))
    correction = Known(
        note.sample_c,
        {Source("the sample's temperature"): rectangular(_THERMOMETER_C)},
    )
    corrected = combined(
        lambda reading, celsius: (
            reading + per_unit * temperature_correction_bx(reading / per_unit, celsius, zero_c)
        ),
        shown,
        correction,
    )
    return corrected.plus(
        Source("the temperature correction"), CORRECTION_DOUBT * abs(corrected.value - shown.value)
    )
