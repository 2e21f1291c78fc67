"""What a brew's thermometers say of it: the kettle at each pour, the slurry over the contact time."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from logger.curve import Analysis, Floats
from logger.curve.temperature.contact import ContactTemperature, contact_temperature
from logger.curve.temperature.cooling import Cooling
from logger.curve.temperature.probe_out import LEAST_WATER_C
from logger.curve.temperature.thermometer import TemperatureAt, Thermometer, Vessel, thermometer
from logger.target import Target, served_s

Place = Literal["kettle", "slurry"]
ContactEnd = Literal["dry", "lifted", "readings", "last water"]
RoomBy = Literal["room", "probe", ""]

WATER_NAMES = ("kettle", "thermometer")
SLURRY_NAMES = ("slurry", "bed")
ROOM_NAME = "room"
OTHER_NAMES = frozenset({*SLURRY_NAMES, ROOM_NAME, "server", "cup", "pitcher", "milk", "group"})
"""Channels that measure something else than the water as it is poured."""

_COOLER_C = 15.0
_ROOMS_C = (-10.0, 45.0)


@dataclass(frozen=True, slots=True)
class BrewTemperature:
    """One thermometer of a brew.

    :param place: what its probe hangs in
    :param probe: its readings, understood
    :param at_pours: for a kettle, at the start and the end of every pour
    :param contact: for a slurry, over the contact time
    :param contact_end: what ended the contact time: the bed ``dry`` (or so marked), something ``lifted`` off;
        where neither is known, the end of the ``readings`` for an immersion, else the ``last water``
    :param cooled: how its water cooled
    :param room_by: what the room's temperature is from: a channel called ``room``, a probe before it was put
        in; empty where it is not known
    """

    place: Place
    probe: Thermometer
    at_pours: tuple[tuple[TemperatureAt, TemperatureAt], ...]
    contact: ContactTemperature | None
    contact_end: ContactEnd
    cooled: Cooling
    room_by: RoomBy


def water_channel(temperatures: Mapping[str, tuple[Floats, Floats]]) -> str | None:
    """Which channel measures the water as it is poured; None where there is none or it is not clear."""
    for name in WATER_NAMES:
        if name in temperatures:
            return name
    names = list(temperatures)
    return names[0] if len(names) == 1 and names[0] not in OTHER_NAMES else None


def probe_of(series: tuple[Floats, Floats], vessel: Vessel, target: Target | None) -> Thermometer:
    """Understand one channel; a target that asks for cold water makes cold readings count as water.

    :raises ValueError: when its times are more than can be computed with
    """
    least_c = LEAST_WATER_C
    if target is not None:
        wanted_c = [target.water_c, *(stage.water_c for stage in target.stages)]
        least_c = min([least_c, *(one - _COOLER_C for one in wanted_c if one is not None)])
    time_s, value_c = series
    order = np.argsort(time_s, kind="stable")
    return thermometer(time_s[order], value_c[order], vessel=vessel, least_water_c=least_c)


def water_probe(temperatures: Mapping[str, tuple[Floats, Floats]], target: Target) -> Thermometer | None:
    """The thermometer in the water as it is poured; None where there is none, or it cannot be read."""
    channel = water_channel(temperatures)
    if channel is None:
        return None
    try:
        return probe_of(temperatures[channel], "kettle", target)
    except ValueError:
        return None


def thermometers_of(
    analysis: Analysis,
    temperatures: Mapping[str, tuple[Floats, Floats]],
    target: Target | None,
    dry_s: float | None,
) -> Mapping[str, BrewTemperature]:
    """Read every thermometer that hangs in the kettle or in the slurry.

    :param temperatures: by channel, times and values (°C), on the analysis' axis
    :param dry_s: when the bed had run dry, where that is known
    """
    if analysis.start_s is None or analysis.end_s is None:
        return {}
    probes: dict[str, tuple[Place, Thermometer]] = {}
    for name in temperatures:
        place = _place(name, temperatures)
        if place is None:
            continue
        try:
            probes[name] = place, probe_of(temperatures[name], place, target)
        except ValueError:
            continue  # its times are no times: nothing can be said of it
    room_c, room_by = _room(temperatures, [probe for _, probe in probes.values()])
    until_s, contact_end = _contact_end(analysis, dry_s)
    return {
        name: _read(analysis, place, probe, until_s, contact_end, room_c, room_by)
        for name, (place, probe) in probes.items()
    }


def _place(name: str, temperatures: Mapping[str, tuple[Floats, Floats]]) -> Place | None:
    if name in SLURRY_NAMES:
        return "slurry"
    return "kettle" if name == water_channel(temperatures) else None


def _read(
    analysis: Analysis,
    place: Place,
    probe: Thermometer,
    until_s: float,
    contact_end: ContactEnd,
    room_c: float | None,
    room_by: RoomBy,
) -> BrewTemperature:
    start_s, last_s = analysis.pours[0].start_s, analysis.pours[-1].end_s
    at_pours: tuple[tuple[TemperatureAt, TemperatureAt], ...] = ()
    contact = None
    if place == "kettle":
        at_pours = tuple((probe.at(pour.start_s), probe.at(pour.end_s)) for pour in analysis.pours)
    elif analysis.method != "espresso":
        contact = contact_temperature(probe, start_s, until_s)
    if place == "kettle":
        cooled = probe.cooled(room_c, start_s, last_s)
    else:
        cooled = probe.cooled(
            room_c, start_s, added_s=[(pour.start_s, pour.end_s) for pour in analysis.pours]
        )
    return BrewTemperature(place, probe, at_pours, contact, contact_end, cooled, room_by)


def _contact_end(analysis: Analysis, dry_s: float | None) -> tuple[float, ContactEnd]:
    last_s = analysis.pours[-1].end_s
    if dry_s is not None and math.isfinite(dry_s) and dry_s > last_s:
        return dry_s, "dry"
    lifted_s = served_s(analysis)
    if lifted_s is not None:
        return max(lifted_s, last_s), "lifted"
    if analysis.method == "immersion" and analysis.time_s.size:
        return max(float(analysis.time_s[-1]), last_s), "readings"
    return last_s, "last water"


def _room(
    temperatures: Mapping[str, tuple[Floats, Floats]], probes: list[Thermometer]
) -> tuple[float | None, RoomBy]:
    """The room's temperature: of a channel of that name, else what a probe showed before it was put in."""
    if ROOM_NAME in temperatures and temperatures[ROOM_NAME][1].size:
        return float(np.median(temperatures[ROOM_NAME][1])), "room"
    before_c = [probe.room_c for probe in probes if probe.room_c is not None]
    before_c = [one for one in before_c if _ROOMS_C[0] <= one <= _ROOMS_C[1]]
    return (min(before_c), "probe") if before_c else (None, "")
