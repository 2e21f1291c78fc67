"""A target file as a brewer writes it."""

from __future__ import annotations

import pytest

POUR_OVER = """\
title   = "Three pours for the morning bench"
method  = "pour-over"        # or "immersion", "espresso"
dose_g  = 15.0
water_c = 94.0
end     = "3:00"             # the bed is dry

[tolerance]
start_s  = 3.0
weight_g = 3.0

[[stage]]
name     = "bloom"
start    = "0:00"
to_g     = 45.0              # what the scale shows
flow_g_s = 5.0

[[stage]]
name  = "pour 1"
start = "0:45"
to_g  = 140

[[stage]]
name       = "pour 2"
start      = 75
to_g       = 250.0
duration_s = 18
tolerance  = { weight_g = 1.0 }
"""

ESPRESSO = """\
title  = "The shot of the set"
method = "espresso"
dose_g = 18.0
[shot]
yield_g    = 36.0
time       = ["0:25", "0:30"]
first_drip = ["0:05", "0:08"]
"""


@pytest.fixture
def pour_over() -> str:
    return POUR_OVER


@pytest.fixture
def espresso() -> str:
    return ESPRESSO
