"""What the thermometers say, as plain data for the line of JSON; ``docs/read-a-report.md`` has the keys."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from logger.show.plain_data.json_numbers import number

if TYPE_CHECKING:
    from logger.compare.thermometers import BrewTemperature
    from logger.curve.temperature.contact import ContactTemperature
    from logger.curve.temperature.cooling import Cooling
    from logger.curve.temperature.thermometer import TemperatureAt


def thermometers_json(
    thermometers: Mapping[str, BrewTemperature], start_s: float | None
) -> dict[str, dict[str, Any]]:
    """Give each thermometer by its channel; times count from the brew's start."""
    return {name: _one(one, start_s or 0.0) for name, one in thermometers.items()}


def _one(one: BrewTemperature, start_s: float) -> dict[str, Any]:
    lag = one.probe.lag
    return {
        "place": one.place,
        "lag_s": number(lag.lag_s if lag else None),
        "lag_uncertainty_s": number(lag.uncertainty_s if lag else None),
        "probe_out": [
            {
                "kind": stretch.kind,
                "start_s": number(stretch.start_s - start_s),
                "end_s": number(stretch.end_s - start_s),
                "settled_s": number(stretch.settled_s - start_s),
                "lowest_c": number(stretch.lowest_c),
            }
            for stretch in one.probe.out
        ],
        "at_pours": [{"start": _at(start), "end": _at(end)} for start, end in one.at_pours],
        "contact": None if one.contact is None else _contact(one.contact, one.contact_end, start_s),
        "cooling": _cooling(one.cooled, one.room_by, start_s),
    }


def _at(at: TemperatureAt) -> dict[str, Any]:
    return {
        "value_c": number(at.value_c),
        "uncertainty_c": number(at.uncertainty_c),
        "lag_taken_out": bool(at.lag_taken_out),
        "lack": at.lack,
    }


def _contact(contact: ContactTemperature, ended_by: str, start_s: float) -> dict[str, Any]:
    def since(time_s: float | None) -> float | None:
        return None if time_s is None else number(time_s - start_s)

    return {
        "from_s": since(contact.from_s),
        "since_s": since(contact.since_s),
        "until_s": since(contact.until_s),
        "until": ended_by,
        "mean_c": number(contact.mean_c),
        "uncertainty_c": number(contact.uncertainty_c),
        "least_c": number(contact.least_c),
        "least_at_s": since(contact.least_at_s),
        "seen": number(contact.seen),
        "lack": contact.lack,
    }


def _cooling(cooled: Cooling, room_by: str, start_s: float) -> dict[str, Any]:
    room_from = "" if cooled.room_c is None else room_by if cooled.room_from == "given" else "fitted"
    return {
        "since_s": None if cooled.since_s is None else number(cooled.since_s - start_s),
        "until_s": None if cooled.until_s is None else number(cooled.until_s - start_s),
        "rate_c_min": number(cooled.rate_c_min),
        "rate_uncertainty_c_min": number(cooled.rate_uncertainty_c_min),
        "k_per_min": number(cooled.k_per_min, 6),
        "k_uncertainty_per_min": number(cooled.k_uncertainty_per_min, 6),
        "room_c": number(cooled.room_c),
        "room_from": room_from,
        "lack": cooled.lack,
    }
