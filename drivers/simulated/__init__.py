"""A brew that never happened, with the physics and the faults of a real one; also as a device.

:func:`simulate` gives the readings that a recorder would have got and, beside them, the truth.
"""

from drivers.simulated.brew import simulate
from drivers.simulated.conditions import CLEAN, EASY, HARD, MEDIUM, PRESETS, Conditions
from drivers.simulated.percolation import Percolation, TrueBed
from drivers.simulated.plan import Plan, PlanError, ShotPlan, Step, read_plan
from drivers.simulated.scale import Instrument
from drivers.simulated.truth import SimulatedBrew, TrueEvent, TruePour, Truth

__all__ = [
    "CLEAN",
    "EASY",
    "HARD",
    "MEDIUM",
    "PRESETS",
    "Conditions",
    "Instrument",
    "Percolation",
    "Plan",
    "PlanError",
    "ShotPlan",
    "SimulatedBrew",
    "Step",
    "TrueBed",
    "TrueEvent",
    "TruePour",
    "Truth",
    "read_plan",
    "simulate",
]
