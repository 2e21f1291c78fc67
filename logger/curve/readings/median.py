"""The median of a few values, in a tenth of the time that the general one takes for them."""

from __future__ import annotations

import numpy as np

from logger.curve.brew import Floats

_FEW = 64


def median(values: Floats) -> float:
    """The middle value; of an even number the mean of the two in the middle, as ``np.median`` has it.

    :param values: finite, shape (n,), n at least 1
    """
    half = values.size // 2
    if values.size > _FEW:
        # Where many are alike, parting them at one place alone takes ten times as long on some processors.
        parted = np.partition(values, (half - 1, half))
        below, middle = parted[half - 1 : half + 1].tolist()
    else:
        ordered = sorted(values.tolist())
        below, middle = ordered[half - 1], ordered[half]
    return float(middle if values.size % 2 else 0.5 * (below + middle))
