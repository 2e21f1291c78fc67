"""The terminal while a brew runs: one word, one number, the clock, the pace; and nothing to press.

On a terminal they are drawn over each other, as large as it allows; elsewhere (a pipe, a file) a plain line
is written when something has changed that is worth one.
"""

from __future__ import annotations

from types import TracebackType
from typing import TYPE_CHECKING, Self

from logger.show.large_type import LINES, large
from logger.show.terminal import ALARM, is_plain, print_words
from logger.show.wording import clock, event_words

if TYPE_CHECKING:
    from rich.console import Console, RenderableType
    from rich.live import Live

    from logger.curve import Change
    from logger.show.guide import Guide

_DRAWN_EVERY_S = 0.1
_LARGE_COLUMNS, _LARGE_LINES = 80, 2 * LINES + 6
_BAR_CELLS = 21


class LiveScreen:
    """Use it as ``with LiveScreen(console) as screen: screen.show(guide, time_s)``."""

    def __init__(self, console: Console) -> None:
        self._console = console
        self._live: Live | None = None
        self._drawn_s = float("-inf")

    def __enter__(self) -> Self:
        if self._console.is_terminal:
            from rich.live import Live

            self._live = Live(console=self._console, auto_refresh=False, transient=True)
            self._live.__enter__()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._live is not None:
            self._live.__exit__(kind, error, trace)

    def show(self, moment: Guide, now_s: float) -> None:
        """Draw a moment, at most ten times a second.

        :param now_s: the wall clock that the screen runs by
        """
        if self._live is None or now_s - self._drawn_s < _DRAWN_EVERY_S:
            return
        self._drawn_s = now_s
        self._live.update(drawn(moment, self._console), refresh=True)

    def say(self, change: Change, start_s: float | None) -> None:
        """Write a line about something that has become known; above the moment, or by itself.

        :param start_s: the first water, from which the clock counts; None before
        """
        self.tell(change_words(change, start_s))

    def tell(self, text: str) -> None:
        """Write a line, if there is anything in it."""
        if text:
            print_words(self._console, text)


def drawn(moment: Guide, console: Console) -> RenderableType:
    """Draw a moment: word and clock, number, pace; large where the window has room."""
    from rich.text import Text

    plain = is_plain(console)
    style = ALARM if moment.word in ("pour", "stop") else "bold"
    number, caption = number_words(moment)
    pace = f"{pace_words(moment)}   {pace_bar(moment, plain)}".strip()
    text = Text(no_wrap=True, overflow="crop")
    if console.width < _LARGE_COLUMNS or console.height < _LARGE_LINES:
        text.append(f"{moment.word.upper()}   {clock(moment.clock_s)}\n", style)
        return text.append(f"{number} {caption}\n", "bold").append(pace)
    word = large(moment.word.upper(), plain)
    for left, right in zip(word, large(clock(moment.clock_s), plain), strict=True):
        text.append(f"  {left}", style).append(f"{right:>{_LARGE_COLUMNS - len(left) - 4}}\n", "bold")
    text.append("\n")
    for line in large(number, plain):
        text.append(f"  {line}\n", "bold")
    return text.append(f"\n  {caption}\n\n", "bold").append(f"  {pace}")


def number_words(moment: Guide) -> tuple[str, str]:
    """The one number that matters now, and what it says: grams to go, or seconds until something is due."""
    if moment.in_s is not None:
        then = f"then to {moment.stage.to_g:.0f} g" if moment.stage else "then the brew is over"
        return (f"{moment.in_s:.0f}", f"s, {then}") if moment.in_s > 0 else _grams(moment, "g to pour now")
    if moment.to_go_g is None or moment.word == "done":
        return f"{moment.poured_g:.1f}", "g in all"
    return _grams(moment, "g to go")


def _grams(moment: Guide, caption: str) -> tuple[str, str]:
    to_go_g = round(moment.to_go_g or 0.0)
    return (f"{to_go_g}", caption) if to_go_g >= 0 else (f"{-to_go_g}", "g too much")


def pace_words(moment: Guide) -> str:
    """Too fast or too slow, in words."""
    if moment.flow_g_s <= 0.0:
        return ""
    advice = {"slower": "pour slower", "faster": "pour faster", "good": "good pace", "": ""}[moment.pace]
    return f"{moment.flow_g_s:.1f} g/s  {advice}".rstrip()


def pace_bar(moment: Guide, plain: bool = False) -> str:
    """Too fast or too slow, as a bar: the plan in the middle, its tolerance within the inner marks."""
    planned = moment.stage.planned_flow_g_s if moment.stage else None
    if moment.stage is None or planned is None or moment.flow_g_s <= 0.0:
        return ""
    middle, quarter = _BAR_CELLS // 2, _BAR_CELLS // 4
    off = (moment.flow_g_s - planned) / max(moment.stage.tolerance.flow_g_s, 0.1)
    cells = ["-" if plain else "─"] * _BAR_CELLS
    cells[middle - quarter] = cells[middle + quarter] = "|" if plain else "│"
    cells[min(max(round(middle + quarter * off), 0), _BAR_CELLS - 1)] = "#" if plain else "█"
    return f"slow {''.join(cells)} fast"


def change_words(change: Change, start_s: float | None) -> str:
    """One line for what has become known; empty for what is not worth one."""
    event, pour = change.event, change.pour
    if change.kind == "pour-ended" and pour is not None:
        lasted_s = pour.end_s - pour.start_s
        return (
            f"{_at(pour.start_s, start_s)}  poured {pour.poured_g:.1f} g in {lasted_s:.1f} s, "
            f"{pour.to_g:.1f} g in all"
        )
    if change.kind == "pour-withdrawn" and pour is not None:
        return f"{_at(pour.start_s, start_s)}  those {pour.poured_g:.1f} g were no water after all"
    if change.kind == "event" and event is not None and event.kind not in ("knock", "stir"):
        return f"{_at(event.start_s, start_s)}  {event_words(event.kind)}"
    return ""


def _at(time_s: float, start_s: float | None) -> str:
    """When, on the brew's clock; nothing while that has not begun."""
    return f"{'' if start_s is None else clock(time_s - start_s):>6}"
