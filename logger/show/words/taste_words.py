"""How calls, cups and tasters agree, and which figures go with which taste: rows and sentences."""

from __future__ import annotations

from typing import TYPE_CHECKING

from logger.cup.agreeing import LEAST_CUPS
from logger.cup.patterns import LEAST_CUPS as LEAST_TO_RANK
from logger.cup.patterns import least_cups
from logger.show.words.wording import sentence

if TYPE_CHECKING:
    from collections.abc import Sequence

    from logger.cup.agreeing import Agreement, CallAgreement, TasterAgreement
    from logger.cup.patterns import GoesWith

CALL_HEADS = ("attribute", "cups", "tasted less called", "usual miss", "rank agreement")
TASTER_HEADS = ("attribute", "cups", "between tasters", "alpha")
PATTERN_HEADS = ("figure", "taste", "rank correlation", "cups", "chance", "more cups wanted")
_MOST_PATTERNS = 8


def call_rows(agreement: Agreement) -> list[tuple[str, ...]]:
    """Table how each attribute that was called was found."""
    return [
        (
            one.attribute,
            str(one.n),
            _mean_words(one),
            f"{one.typical:.1f}",
            _more(one.n) if one.n < LEAST_CUPS else "all alike" if one.rank is None else f"{one.rank:+.2f}",
        )
        for one in agreement.calls
    ]


def taster_rows(agreement: Agreement) -> list[tuple[str, ...]]:
    """Table how far tasters of the same cup lie apart."""
    return [
        (one.attribute, str(one.n), f"{one.typical:.1f} apart", _alpha_words(one))
        for one in agreement.tasters
    ]


def agreement_sentences(agreement: Agreement) -> list[str]:
    """Say what the tables have no place for: words, order, and what may be concluded."""
    said = []
    kept, of = agreement.in_order
    if of:
        said.append(
            f"Of two attributes that were called unlike, {kept} of {of} pairs were tasted in the order "
            f"called; by "
            "chance it would be half."
        )
    for one in agreement.words:
        if one.overlap is not None:
            said.append(
                f"{sentence(one.kind)} words called and found overlap by {100 * one.overlap:.0f} % (both "
                f"by either, "
                f"{_cups(one.n)})."
            )
        if one.tasters_overlap is not None:
            said.append(
                f"{sentence(one.kind)} words of two tasters overlap by {100 * one.tasters_overlap:.0f} % "
                f"({_cups(one.n_tasters)})."
            )
    off = [call for call in agreement.calls if call.between and (call.between[0] > 0 or call.between[1] < 0)]
    for call in off:
        way = "more" if call.mean > 0 else "less"
        said.append(
            f"The cups have {way} {call.attribute} than is called, by {abs(call.mean):.1f} on average "
            f"({_cups(call.n)}): call it {'higher' if call.mean > 0 else 'lower'}."
        )
    return said


def pattern_rows(patterns: Sequence[GoesWith]) -> list[tuple[str, ...]]:
    """Table the clearest pairs of figure and taste."""
    return [
        (
            one.figure,
            one.taste,
            f"{one.rho:+.2f}",
            str(one.n),
            f"{one.p_of_all:.3f}" if one.p_of_all < 0.1 else f"{one.p_of_all:.2f}",
            "none" if one.is_claimed else "no trend" if one.cups_wanted is None else str(one.cups_more),
        )
        for one in patterns[:_MOST_PATTERNS]
    ]


def pattern_sentence(patterns: Sequence[GoesWith], n_tasted: int) -> str:
    """Say what may be claimed of figures and tastes, and how many more cups it takes."""
    if not n_tasted:
        return ""
    if not patterns:
        more = max(LEAST_TO_RANK - n_tasted, 1)
        return (
            f"Which figures go with which taste cannot be asked yet: {_cups(n_tasted)} tasted, at least "
            f"{LEAST_TO_RANK} with figures that differ are needed ({more} more)."
        )
    tried, n = len(patterns), max(one.n for one in patterns)
    claimed = [one for one in patterns if one.is_claimed]
    if claimed:
        words = "; ".join(
            f"{one.taste} {'rises' if one.rho > 0 else 'falls'} with {one.figure} ({one.rho:+.2f}, "
            f"{_cups(one.n)})"
            for one in claimed
        )
        return (
            f"{sentence(words)}. {tried} pairs were tried, and that is taken into account; what goes "
            f"together need "
            "not be cause and effect."
        )
    least = least_cups(tried)
    if n < least:
        return (
            f"Nothing can be claimed of which figures go with which taste: among {tried} pairs it takes "
            f"at least "
            f"{least} cups before any order could not be chance; these are {n} ({least - n} more)."
        )
    first = patterns[0]
    wanted = f": about {first.cups_more} more cups before it can be claimed" if first.cups_wanted else ""
    return (
        f"No figure goes with a taste beyond chance in {_cups(n)} ({tried} pairs were tried). Closest is "
        f"{first.taste} with {first.figure}{wanted}."
    )


def _mean_words(one: CallAgreement) -> str:
    if one.between is None:
        return f"{one.mean:+.1f}"
    return f"{one.mean:+.1f} ({one.between[0]:+.1f} to {one.between[1]:+.1f})"


def _alpha_words(one: TasterAgreement) -> str:
    if one.n < LEAST_CUPS:
        return _more(one.n)
    if one.alpha is None:
        return "all alike"
    between = f" ({one.between[0]:.2f} to {one.between[1]:.2f})" if one.between else ""
    return f"{one.alpha:.2f}{between}"


def _more(n: int) -> str:
    return f"wants {LEAST_CUPS - n} more"


def _cups(n: int) -> str:
    return "1 cup" if n == 1 else f"{n} cups"
