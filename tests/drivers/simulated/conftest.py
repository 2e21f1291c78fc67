"""Three plans: a pour-over in three pours, an espresso, an immersion."""

import pytest

from drivers.simulated import Plan, read_plan

POUR_OVER = """
title = "Practice filter"
method = "pour-over"
dose_g = 15.0
water_c = 94.0
end = "3:00"

[[stage]]
name = "bloom"
start = "0:00"
to_g = 45

[[stage]]
name = "pour 1"
start = "0:45"
to_g = 150

[[stage]]
name = "pour 2"
start = "1:15"
to_g = 250
flow_g_s = 5.0
"""

ESPRESSO = """
title = "Practice espresso"
method = "espresso"
dose_g = 18.0

[shot]
yield_g = 36.0
time = ["0:25", "0:30"]
first_drip = ["0:05", "0:08"]
"""

IMMERSION = """
title = "Practice immersion"
method = "immersion"
dose_g = 20.0
end = "4:00"

[[stage]]
name = "fill"
start = 0
to_g = 300
duration_s = 25
"""


@pytest.fixture(scope="session")
def pour_over() -> Plan:
    return read_plan(POUR_OVER)


@pytest.fixture(scope="session")
def espresso() -> Plan:
    return read_plan(ESPRESSO)


@pytest.fixture(scope="session")
def immersion() -> Plan:
    return read_plan(IMMERSION)


@pytest.fixture(scope="session", params=["pour-over", "espresso", "immersion"])
def plan(request: pytest.FixtureRequest) -> Plan:
    texts = {"pour-over": POUR_OVER, "espresso": ESPRESSO, "immersion": IMMERSION}
    return read_plan(texts[request.param])
