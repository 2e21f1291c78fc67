"""How good the hand, how quiet the bench, how good the instruments: everything a brew depends on.

A pair is a range from which one value is drawn for each brew; a longer tuple is a choice of one; a
``chance`` is a probability; a ``share`` is a fraction of all readings.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

Range = tuple[float, float]
Counts = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Conditions:
    """The conditions of a simulated brew. The defaults are those of ``clean``: the plan itself, unspoilt.

    The hand:

    :param start_error_s: standard deviation of the start of a pour
    :param weight_error_g: standard deviation of the weight at which a pour is stopped
    :param flow_error: standard deviation of the logarithm of a pour's flow
    :param wobble: relative standard deviation of the flow within a pour
    :param ramp_s: how long the stream takes to reach its flow, and to stop
    :param shortest_pause_s: what the hand needs between two pours at the least
    :param dribble_g_s: flow at which the spout goes on when the hand has stopped
    :param drop_g: mass of one drop; a thin stream lands drop by drop; 0 for a smooth one
    :param halving_chance: that one pour loses about half of its flow on the way
    :param short_pause_chance: that one pause shrinks to ``short_pause_s``
    :param fall_m: height from which the stream falls, which decides how hard it presses on the pan

    The espresso machine:

    :param shot_ramp_s: from the first drip to the full stream
    :param shot_rise: how much faster the stream is at the end than at the beginning, relative
    :param after_drip_s: time constant of the stream when the pump has stopped
    :param pump_g: how much the pump shakes the pan

    The bench:

    :param lead_s: waiting before each move on the bench
    :param vessel_chance: that the recording begins with an empty pan
    :param dose_chance: that coffee is dosed on the scale (never for espresso)
    :param dollops: in how many portions
    :param knocks: how many knocks
    :param knock_g: how hard
    :param knock_anywhere: also in the middle of a pour
    :param stir_chance: that the bed is stirred or the vessel swirled
    :param stir_g: how hard that moves the pan
    :param lid_chance: that a lid is put on an immersion
    :param lift_chance: that something is taken off at the end while the recording runs
    :param mid_tare_chance: that somebody tares between two pours
    :param evaporation_g_s: loss to the air from the first water on
    :param drift_g_min: drift of the scale, either way

    The scale and its radio:

    :param rate_hz: readings a second
    :param step_g: step of the display; 0 for none
    :param lag_s: time constant of the scale's filter
    :param second_lag_chance: that a second filter of the same kind follows
    :param noise_g: standard deviation of one reading
    :param jitter_share: how unsteady the scale's sampling is, as a share of the time between readings
    :param clock_ppm: how wrong the scale's clock runs, either way
    :param tare_delay_s: from the touch to the zero
    :param burst: how many readings are packed into one message
    :param connection_s: time between two chances to send
    :param latency_s: the least time from scale to host
    :param drop_share: readings that never arrive
    :param doubled_share: readings that arrive twice
    :param gaps: how many times the link is silent
    :param gap_s: for how long
    :param device_clock: whether readings carry the scale's own time

    Temperatures:

    :param thermometers: whether kettle and slurry are measured (never for espresso)
    :param room_c: the room
    :param probe_lag_s: time constant of a probe
    :param probe_noise_c: standard deviation of one temperature
    :param water_error_c: standard deviation of the kettle's temperature when the brew starts
    """

    start_error_s: float = 0.0
    weight_error_g: float = 0.0
    flow_error: float = 0.0
    wobble: float = 0.0
    ramp_s: Range = (0.0, 0.0)
    shortest_pause_s: float = 0.0
    dribble_g_s: Range = (0.0, 0.0)
    drop_g: float = 0.0
    halving_chance: float = 0.0
    short_pause_chance: float = 0.0
    short_pause_s: Range = (2.0, 3.5)
    fall_m: Range = (0.0, 0.0)

    shot_ramp_s: Range = (0.0, 0.0)
    shot_rise: Range = (0.0, 0.0)
    after_drip_s: Range = (0.0, 0.0)
    pump_g: Range = (0.0, 0.0)

    lead_s: Range = (3.0, 3.0)
    vessel_chance: float = 0.0
    dose_chance: float = 0.0
    dollops: Counts = (1, 1)
    knocks: Counts = (0, 0)
    knock_g: Range = (5.0, 40.0)
    knock_anywhere: bool = False
    stir_chance: float = 0.0
    stir_g: Range = (2.0, 20.0)
    lid_chance: float = 0.0
    lift_chance: float = 0.0
    mid_tare_chance: float = 0.0
    evaporation_g_s: Range = (0.0, 0.0)
    drift_g_min: float = 0.0

    rate_hz: tuple[float, ...] = (10.0,)
    step_g: tuple[float, ...] = (0.01,)
    lag_s: Range = (0.0, 0.0)
    second_lag_chance: float = 0.0
    noise_g: Range = (0.0, 0.0)
    jitter_share: float = 0.0
    clock_ppm: float = 0.0
    tare_delay_s: Range = (0.0, 0.0)
    burst: tuple[int, ...] = (1,)
    connection_s: Range = (0.0, 0.0)
    latency_s: Range = (0.0, 0.0)
    drop_share: float = 0.0
    doubled_share: float = 0.0
    gaps: Counts = (0, 0)
    gap_s: Range = (1.0, 3.0)
    device_clock: bool = False

    thermometers: bool = True
    room_c: float = 22.0
    probe_lag_s: Range = (0.0, 0.0)
    probe_noise_c: float = 0.0
    water_error_c: float = 0.0


CLEAN = Conditions()

EASY = replace(
    CLEAN,
    start_error_s=0.4,
    weight_error_g=0.8,
    flow_error=0.06,
    wobble=0.05,
    ramp_s=(0.3, 0.6),
    shortest_pause_s=5.0,
    fall_m=(0.005, 0.03),
    shot_ramp_s=(2.0, 3.5),
    shot_rise=(0.1, 0.3),
    after_drip_s=(0.4, 0.8),
    lead_s=(2.0, 4.0),
    vessel_chance=0.5,
    lift_chance=0.5,
    evaporation_g_s=(0.0, 0.001),
    step_g=(0.1,),
    rate_hz=(10.0, 20.0),
    lag_s=(0.1, 0.3),
    noise_g=(0.01, 0.03),
    jitter_share=0.02,
    tare_delay_s=(0.1, 0.3),
    latency_s=(0.01, 0.03),
    probe_lag_s=(0.5, 1.5),
    probe_noise_c=0.03,
    water_error_c=0.5,
)

MEDIUM = replace(
    EASY,
    start_error_s=0.7,
    weight_error_g=1.5,
    flow_error=0.12,
    wobble=0.10,
    ramp_s=(0.3, 1.0),
    shortest_pause_s=4.0,
    dribble_g_s=(0.0, 0.4),
    drop_g=0.05,
    fall_m=(0.01, 0.12),
    shot_ramp_s=(2.5, 5.0),
    shot_rise=(0.1, 0.5),
    after_drip_s=(0.5, 1.2),
    pump_g=(0.05, 0.4),
    lead_s=(1.5, 5.0),
    vessel_chance=1.0,
    dose_chance=1.0,
    dollops=(1, 3),
    knocks=(0, 2),
    stir_chance=0.6,
    lid_chance=0.25,
    lift_chance=0.85,
    evaporation_g_s=(0.0005, 0.005),
    drift_g_min=0.2,
    rate_hz=(4.0, 5.0, 8.0, 10.0, 16.0, 20.0, 50.0),
    step_g=(0.01, 0.02, 0.05, 0.1),
    lag_s=(0.15, 0.8),
    noise_g=(0.02, 0.12),
    jitter_share=0.08,
    clock_ppm=3000.0,
    tare_delay_s=(0.1, 0.6),
    burst=(1, 1, 2, 3, 4),
    connection_s=(0.0075, 0.12),
    latency_s=(0.01, 0.06),
    drop_share=0.005,
    probe_lag_s=(0.8, 4.0),
    water_error_c=1.0,
)

HARD = replace(
    MEDIUM,
    start_error_s=1.0,
    weight_error_g=2.0,
    flow_error=0.18,
    wobble=0.16,
    shortest_pause_s=2.0,
    halving_chance=0.6,
    short_pause_chance=0.6,
    fall_m=(0.02, 0.18),
    shot_ramp_s=(3.0, 7.0),
    dollops=(1, 5),
    knocks=(1, 4),
    knock_g=(5.0, 80.0),
    knock_anywhere=True,
    stir_chance=0.8,
    mid_tare_chance=0.5,
    evaporation_g_s=(0.001, 0.01),
    drift_g_min=0.4,
    step_g=(0.01, 0.1, 0.1, 0.5, 1.0),
    second_lag_chance=0.6,
    noise_g=(0.04, 0.12),
    jitter_share=0.15,
    burst=(1, 2, 3, 4, 6),
    connection_s=(0.0075, 0.3),
    drop_share=0.05,
    doubled_share=0.03,
    gaps=(1, 3),
)

PRESETS: Mapping[str, Conditions] = {"clean": CLEAN, "easy": EASY, "medium": MEDIUM, "hard": HARD}
