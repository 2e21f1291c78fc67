"""What the thermometers say, in words and rows: the same on the page and in the terminal."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from logger.show.words.wording import NBSP, amount, sentence, short_clock

if TYPE_CHECKING:
    from logger.compare.thermometers import BrewTemperature, ContactEnd, Place, RoomBy
    from logger.curve.temperature.contact import ContactTemperature
    from logger.curve.temperature.cooling import Cooling, CoolingLack
    from logger.curve.temperature.probe_out import ProbeOut
    from logger.curve.temperature.thermometer import Lack, TemperatureAt

_MOST_TOLD = 6

POUR_HEADS = ("pour", "at its start", "at its end")

_LACKS: dict[Lack, str] = {
    "": "",
    "no-reading": "no reading nearby",
    "probe-out": "probe out of the water",
    "never-in-water": "probe never in the water",
}
_NOT_COOLED: dict[CoolingLack, str] = {
    "": "",
    "no-readings": "there are too few readings in one water",
    "too-short": "one water was seen for too short a time",
    "heated": "it was heated",
    "too-little-drop": "it fell too little to tell",
    "room-unknown": "the room's temperature is not known, and the fall too short to show it",
    "no-warmer": "it was no warmer than the room",
}
_ENDS: dict[ContactEnd, str] = {
    "dry": "the water had left the coffee",
    "lifted": "it was lifted off",
    "readings": "the readings ended",
    "last water": "the last water",
}
_ROOM_BY: dict[RoomBy, str] = {
    "": "",
    "room": ", by the channel of the room",
    "probe": ", as the probe showed before it was put in",
}


def temperature_sentences(thermometers: Mapping[str, BrewTemperature], start_s: float) -> list[str]:
    """Say what each thermometer tells of the brew.

    :param start_s: where shown times count from
    """
    said = []
    for name, one in thermometers.items():
        never = any(stretch.kind == "never" for stretch in one.probe.out)
        if never:
            said.append(sentence(f"{name}: the probe was never in the water."))
            continue
        told = [_at_pours(one, start_s), _contact(one.contact, one.contact_end, start_s), _cooled(one)]
        said += [sentence(f"{name}: {words}.") for words in told if words]
        said += [sentence(f"{name}: {words}.") for words in _all_out(one, start_s)]
        if one.probe.lag is not None:
            lag = one.probe.lag
            lasts = f"{amount(lag.lag_s, 's')} ±{max(2.0 * lag.uncertainty_s, 0.1):.1f}"
            words = f"{name}: by its rise when it was put in, the probe lags by {lasts}; that is taken out."
            said.append(sentence(words))
    return said


def pour_rows(one: BrewTemperature) -> list[tuple[str, str, str]]:
    """Table a kettle at each pour's start and end."""
    return [
        (str(number), _value(at_start), _value(at_end))
        for number, (at_start, at_end) in enumerate(one.at_pours, 1)
    ]


def _value(at: TemperatureAt) -> str:
    if at.value_c is None or at.uncertainty_c is None:
        return _LACKS[at.lack]
    return f"{amount(at.value_c, '°C')} ±{max(2.0 * at.uncertainty_c, 0.1):.1f}"


def _at_pours(one: BrewTemperature, start_s: float) -> str:
    """The kettle at the pours' starts, how sure the least sure of them is, and where there is none."""
    starts = [at_start for at_start, _ in one.at_pours]
    if not starts:
        return ""
    if all(at.value_c is None for at in starts):
        return f"no temperature at any pour's start, {_LACKS[starts[0].lack]}"
    values = ", ".join("?" if at.value_c is None else f"{at.value_c:.1f}" for at in starts)
    sure_c = max(2.0 * max(at.uncertainty_c or 0.0 for at in starts), 0.1)
    started = "pour started" if len(starts) == 1 else "pours started"
    words = f"{values}{NBSP}°C ±{sure_c:.1f} when the {started}"
    # By the clock: a pour's number and its stage's name may be two different things.
    lacking = [
        f"at {short_clock(at.time_s - start_s)} {_LACKS[at.lack]}" for at in starts if at.value_c is None
    ]
    return "; ".join([words, *lacking])


def _contact(contact: ContactTemperature | None, ended_by: ContactEnd, start_s: float) -> str:
    if contact is None:
        return ""
    if contact.mean_c is None or contact.least_c is None:
        return f"no temperature over the contact time, {_LACKS[contact.lack]}"
    since_s, until_s = contact.since_s or contact.from_s, contact.until_s
    at_s = contact.least_at_s or since_s
    sure_c = max(2.0 * (contact.uncertainty_c or 0.0), 0.1)
    words = (
        f"{amount(contact.mean_c, '°C')} ±{sure_c:.1f} on average, {amount(contact.least_c, '°C')} at the "
        f"lowest ({short_clock(at_s - start_s)}), from {short_clock(since_s - start_s)} until "
        f"{_ENDS[ended_by]} at {short_clock(until_s - start_s)}"
    )
    return words if contact.seen > 0.95 else f"{words}; seen for {100.0 * contact.seen:.0f} % of that time"


def _cooled(one: BrewTemperature) -> str:
    cooled = one.cooled
    if cooled.rate_c_min is None:
        return ""
    changed = "cooled" if cooled.rate_c_min >= 0 else "warmed"
    words = f"it {changed} by {amount(abs(cooled.rate_c_min), '°C')} a minute"
    if cooled.rate_uncertainty_c_min is not None:
        words += f" ±{max(2.0 * cooled.rate_uncertainty_c_min, 0.1):.1f}"
    return f"{words}; {_constant(cooled, one.room_by)}"


def _constant(cooled: Cooling, room_by: RoomBy) -> str:
    if cooled.k_per_min is None or cooled.room_c is None:
        return f"no cooling constant, {_NOT_COOLED[cooled.lack]}"
    sure = cooled.k_uncertainty_per_min
    room = ", fitted" if cooled.room_from == "fitted" else _ROOM_BY[room_by]
    return (
        f"cooling constant {cooled.k_per_min:.4f}{'' if sure is None else f' ±{2.0 * sure:.4f}'} a minute "
        f"towards {amount(cooled.room_c, '°C')}{room}"
    )


def _all_out(one: BrewTemperature, start_s: float) -> list[str]:
    """Where the probe was out of the water, one by one; many, as a loose plug makes them, are counted."""
    out = one.probe.out
    if len(out) <= _MOST_TOLD:
        return [_out(one.place, stretch, start_s) for stretch in out]
    lasts_s = sum(stretch.end_s - stretch.start_s for stretch in out)
    return [
        f"the probe was out of the water {len(out)} times, {amount(lasts_s, 's', 0)} in all: "
        "look at its plug and its cable"
    ]


def _out(place: Place, stretch: ProbeOut, start_s: float) -> str:
    since, until = short_clock(stretch.start_s - start_s), short_clock(stretch.end_s - start_s)
    settled = short_clock(stretch.settled_s - start_s)
    if stretch.kind == "before" and place == "slurry":
        return f"the water reached the probe at {until}, and it had come up at {settled}"
    if stretch.kind == "before":
        return f"the probe came into the water at {until}"
    if stretch.kind == "left":
        return f"the probe was out of the water from {since} to the end of the readings"
    return f"the probe was out of the water from {since} to {until}, and right again at {settled}"
