"""What the bed did, in words: the same on the page and in the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from logger.curve.bed.drawdown import DRY_FLOW_G_S
from logger.show.words.wording import amount, grams, sentence, short_clock

if TYPE_CHECKING:
    from logger.compare.beds import BedChange
    from logger.curve import Bed, Drawdown, Stretch, Tail

BED_CAPTION = (
    "Where water in and beverage out stand far apart, the bed is full: then the percolation flow should be "
    "at its highest, and one that is lower than after the pour before is that of a bed that clogs."
)
SOAKS = "the coffee still soaks, which reads as slower than it is"

_NOTICEABLE = 0.1
"""A smaller change may be that of the last drops, which come more slowly than the head falls."""


def bed_sentences(bed: Bed, drawdown: Drawdown | None, start_s: float) -> list[str]:
    """Say what the bed held, when it ran dry and how freely it let the water through.

    :param start_s: where shown times count from
    """
    if bed.why:
        return [f"The bed: cannot be told, {bed.why}."]
    said = [_balance(bed, start_s)]
    if drawdown is not None:
        said.append(drawdown_sentence(drawdown, start_s))
    said += [_resistance(bed.stretches)] if len(bed.stretches) > 1 else []
    said += [
        f"The server or the dripper was lifted at {short_clock(since_s - start_s)}, for "
        f"{amount(until_s - since_s, 's')}: nothing was measured meanwhile."
        for since_s, until_s in bed.lifts_s
        if until_s < float("inf")
    ]
    return [one for one in said if one]


def drawdown_sentence(drawdown: Drawdown, start_s: float) -> str:
    """Say when the bed ran dry, what says so, and how slowly."""
    tail = f" {_tail_words(drawdown.tail)}" if drawdown.tail else ""
    if drawdown.dry_s is None or drawdown.lasts_s is None:
        return f"Drawdown: its end cannot be told, {drawdown.why}.{tail}"
    at = f"{amount(drawdown.lasts_s, 's', 0)} after the last pour, at {short_clock(drawdown.dry_s - start_s)}"
    if drawdown.by == "flow":
        return f"Drawdown: the flow fell below {DRY_FLOW_G_S:g} g/s {at}.{tail}"
    bound = "at the latest " if drawdown.at_latest else ""
    because = {
        "lift": "when dripper or server was lifted",
        "mark": "as the brewer marked when it was served" if drawdown.at_latest else "as the brewer marked",
    }[drawdown.by or "mark"]
    return f"Drawdown: dry {bound}{at}, {because}.{tail}"


def change_sentence(change: BedChange) -> str:
    """Say how the bed's resistance changed from practice to practice."""
    taus = ", ".join(
        f"{amount(tau_s, 's')} ({brew.recording.name})"
        for brew, tau_s in zip(change.brews, change.taus_s, strict=True)
    )
    by = f"{change.change_s:+.1f} ±{2.0 * change.change_sd_s:.1f} s from the first to the last"
    if not change.is_sure:
        return f"The bed's resistance, tau: {taus}; {by}: no more than the fits are unsure of."
    slower = (
        "a finer grind, more fines or more coffee"
        if change.change_s > 0
        else "a coarser grind or less coffee"
    )
    return f"The bed's resistance, tau: {taus}; {by}: as {slower} would do."


def stretch_rows(stretches: tuple[Stretch, ...], start_s: float) -> list[tuple[str, ...]]:
    """Table the stretches: after which pour, from when to when, what came through, tau, and a remark."""
    return [
        (
            str(stretch.after_pour),
            short_clock(stretch.start_s - start_s),
            short_clock(stretch.end_s - start_s),
            grams(stretch.passed_g),
            _tau_words(stretch.tail) if stretch.tail else "cannot be told",
            _remark(stretch),
        )
        for stretch in stretches
    ]


STRETCH_HEADS = ("after pour", "from", "to", "came through", "tau", "")


def _balance(bed: Bed, start_s: float) -> str:
    water_g = float(bed.water_g[bed.time_s <= (bed.end_s or 0.0)][-1])
    held_g, sd_g = bed.held_end_g or 0.0, bed.held_sd_g or 0.0
    per_dose = f", {bed.held_per_dose:.2f} g for each g of coffee" if bed.held_per_dose is not None else ""
    words = (
        f"The bed: {grams(water_g)} in, {grams(water_g - held_g)} out, {grams(held_g)} held "
        f"(±{2.0 * sd_g:.1f}{per_dose})"
    )
    if bed.first_drip_s is not None:
        words += f"; first drip at {short_clock(bed.first_drip_s - start_s)}"
    if bed.drip_off_g is not None and bed.drip_off_g >= 0.5:
        words += f"; {grams(bed.drip_off_g)} had not dripped off yet"
    return f"{words}."


def _tail_words(tail: Tail) -> str:
    return f"Without a pour the head fell to 37 % in tau = {_tau_words(tail)}."


def _tau_words(tail: Tail) -> str:
    return f"{amount(tail.tau_s, 's')} ±{max(2.0 * tail.tau_sd_s, 0.1):.1f}"


def _resistance(stretches: tuple[Stretch, ...]) -> str:
    """Say whether the bed clogged, from the first stretch with soaked coffee to the last."""
    told = [
        (stretch.after_pour, stretch.tail) for stretch in stretches if stretch.tail and stretch.after_pour > 1
    ]
    if len(told) < 2:
        return ""
    (first_pour, first), (last_pour, last) = told[0], told[-1]
    change = last.tau_s / first.tau_s - 1.0
    sd = (last.unsure**2 + first.unsure**2) ** 0.5
    words = (
        f"tau from {_tau_words(first)} after pour {first_pour} to {_tau_words(last)} after pour {last_pour}"
    )
    if abs(change) < max(2.0 * sd, _NOTICEABLE):
        return sentence(f"{words}: the bed stayed as it was.")
    if change < 0:
        return sentence(f"{words}: the bed opened by {-100.0 * change:.0f} %.")
    return sentence(f"{words}: the bed clogged by {100.0 * change:.0f} %, as fines do that settle.")


def _remark(stretch: Stretch) -> str:
    if stretch.why:
        return stretch.why
    remarks = [SOAKS] if stretch.after_pour == 1 else []
    if stretch.end_from == "held":
        remarks.append("its end from the water held when the brew was over")
    return "; ".join(remarks)
