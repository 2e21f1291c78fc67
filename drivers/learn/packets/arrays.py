"""The arrays that packets come in: their bytes row by row, their times, and hex digits looked up."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

Frames = NDArray[np.uint8]

HEX_OF = np.full(256, 99, dtype=np.int64)
"""The digit that each byte of text is, 0 to F; 99 for none."""
