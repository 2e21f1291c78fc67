"""An espresso in words and rows: the same on the page and in the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from logger.show.words.wording import NBSP, amount, grams, short_clock

if TYPE_CHECKING:
    from collections.abc import Sequence

    from logger.curve.shot.figures import ShotFigures

SHOT_HEADS = ("figure", "was", "")
CANNOT = "cannot be told"


def shot_rows(shot: ShotFigures, start_s: float) -> list[tuple[str, str, str]]:
    """Table an espresso: figure, value, and what it is or how sure.

    :param start_s: where shown times count from
    """
    pump = f"{short_clock(shot.pump_s - start_s)}" if shot.pump_s is not None else "not marked"
    sure_s = "" if shot.stop_uncertainty_s is None else f"±{2.0 * shot.stop_uncertainty_s:.1f}{NBSP}s"
    drip = f"{amount(shot.pre_infusion_s, 's')} after the pump" if shot.pre_infusion_s is not None else ""
    took = f"{amount(shot.shot_time_s, 's')} from the pump" if shot.shot_time_s is not None else ""
    stop_g, stop_sd_g = shot.yield_at_stop_g, shot.yield_at_stop_uncertainty_g
    return [
        ("pump", pump, ""),
        ("first drip", short_clock(shot.first_drip_s - start_s), drip),
        ("full flow", _after(shot.ramp_s, "at once", "s after the first drip"), _flow(shot.full_flow_g_s)),
        ("stop", _clock(shot.stop_s, start_s), ", ".join(one for one in (sure_s, took) if one)),
        (
            "yield at the stop",
            CANNOT if stop_g is None else grams(stop_g),
            "" if stop_sd_g is None else f"±{2.0 * stop_sd_g:.1f}{NBSP}g",
        ),
        (
            "after-drip",
            CANNOT if shot.after_drip_g is None else grams(shot.after_drip_g),
            f"in {amount(shot.after_drip_s, 's')}" if shot.after_drip_s is not None else "",
        ),
        ("yield at rest", grams(shot.yield_at_rest_g), "" if shot.rest_seen else "the last that was seen"),
        ("average flow", _flow(shot.average_flow_g_s) or CANNOT, "first drip to stop"),
        ("peak flow", _flow(shot.peak_flow_g_s) or CANNOT, "over two seconds"),
    ]


def shot_sentences(shots: Sequence[ShotFigures], start_s: float) -> list[str]:
    """Say each espresso in one sentence, and what has to be said of it besides.

    :param start_s: where shown times count from
    """
    said = []
    for place, shot in enumerate(shots, 1):
        name = "The shot" if len(shots) == 1 else f"Shot {place}"
        said += [f"{name}: {_told(shot, start_s)}.", *shot.remarks]
    return said


def _told(shot: ShotFigures, start_s: float) -> str:
    parts = []
    if shot.pre_infusion_s is not None:
        parts.append(f"first drip {amount(shot.pre_infusion_s, 's')} after the pump's start")
    if shot.ramp_s is not None and shot.full_flow_g_s is not None:
        when = f"{amount(shot.ramp_s, 's')} after the first drip" if shot.ramp_s > 0 else "at once"
        parts.append(f"full flow of {_flow(shot.full_flow_g_s)} {when}")
    if shot.stop_s is not None and shot.yield_at_stop_g is not None:
        sure = f" ±{2.0 * shot.stop_uncertainty_s:.1f}{NBSP}s" if shot.stop_uncertainty_s is not None else ""
        pump = f" ({amount(shot.shot_time_s, 's')} from the pump)" if shot.shot_time_s is not None else ""
        at = short_clock(shot.stop_s - start_s)
        parts.append(f"stopped at {at}{sure}{pump} with {grams(shot.yield_at_stop_g)} in the cup")
    if shot.after_drip_g is not None:
        parts.append(f"{grams(shot.after_drip_g)} dripped after")
    parts.append(f"{grams(shot.yield_at_rest_g)} {'at rest' if shot.rest_seen else 'at the last'}")
    if shot.average_flow_g_s is not None and shot.peak_flow_g_s is not None:
        parts.append(f"{_flow(shot.average_flow_g_s)} on average, {_flow(shot.peak_flow_g_s)} at the peak")
    return "; ".join(parts)


def _clock(time_s: float | None, start_s: float) -> str:
    return CANNOT if time_s is None else short_clock(time_s - start_s)


def _after(lasts_s: float | None, none: str, words: str) -> str:
    if lasts_s is None:
        return CANNOT
    return f"{lasts_s:.1f}{NBSP}{words}" if lasts_s > 0 else none


def _flow(flow_g_s: float | None) -> str:
    return "" if flow_g_s is None else amount(flow_g_s, "g/s")
