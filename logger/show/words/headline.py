"""The words at the top of a report, page and terminal alike: what it is, how it went, what to change."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from logger.show.words.wording import clock, grams, sentence, when

if TYPE_CHECKING:
    from datetime import tzinfo

    from logger.compare import Brew

NO_BREW = "No brew was found in this recording."
NO_BREW_HINT = (
    "The weight never rose as it does when water or espresso arrives. Either nothing was poured, or the "
    "scale's readings are too few. The readings themselves are kept as they came."
)
NO_TARGET = "No target was given for this brew, so nothing is judged."
CAUTION = (
    "Water near boiling and steam scald, and hot glass can crack: pour away from your other hand, keep "
    "cables and the scale's supply dry. The rules of the house and the venue come first."
)


def title_of(brew: Brew) -> str:
    """Name the brew: its own title, else the target's, else the recording's folder."""
    target_title = brew.comparison.target.title if brew.comparison else ""
    return brew.recording.meta.title or target_title or brew.recording.name


def facts_of(brew: Brew, zone: tzinfo | None = None) -> list[str]:
    """Say what was brewed and when, one fact each."""
    meta = brew.recording.meta
    facts = [when(meta.started, zone)]
    if brew.analysis.method:
        facts.append(brew.analysis.method)
    if meta.coffee:
        facts.append(meta.coffee)
    if meta.dose_g is not None:
        facts.append(f"dose {grams(meta.dose_g)}")
    if meta.grind:
        facts.append(f"grind {meta.grind}")
    return facts


def verdict_of(brew: Brew) -> str:
    """Say in one sentence how the brew went."""
    if brew.analysis.start_s is None:
        return NO_BREW
    return sentence(brew.comparison.verdict) if brew.comparison else poured_in_all(brew)


def poured_in_all(brew: Brew) -> str:
    """Say what arrived, in how many pours and how long it took."""
    analysis = brew.analysis
    count = len(analysis.pours)
    pours = "1 pour" if count == 1 else f"{count} pours"
    what = "yield" if analysis.method == "espresso" else "water"
    sentence = f"{grams(analysis.total_g)} {what}, {pours}"
    if analysis.start_s is None or analysis.end_s is None:
        return f"{sentence}."
    return f"{sentence}, done after {clock(analysis.end_s - analysis.start_s)}."


def device_words(device: Mapping[str, Any]) -> str:
    """Name a device: its name where it has one, its address, and its channels."""
    name, address, channels = device.get("name"), device.get("address"), device.get("channels")
    words = " at ".join(str(word) for word in (name, address) if word) or "of unknown address"
    if isinstance(channels, Sequence) and not isinstance(channels, str) and channels:
        words += f", {'channel' if len(channels) == 1 else 'channels'} {', '.join(map(str, channels))}"
    return words
