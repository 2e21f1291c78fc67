"""The terminal while a brew runs: one large word, one number, the clock, the pace; and nothing to press.

On a terminal the lines are drawn over each other; elsewhere (a pipe, a file) a plain line is written when
something has changed that is worth one.
"""

from __future__ import annotations

from types import TracebackType
from typing import TYPE_CHECKING, Self

from logger.show.guide import Guide
from logger.show.wording import clock, event_words

if TYPE_CHECKING:
    from rich.console import Console, RenderableType
    from rich.live import Live

    from logger.curve import Change

_DRAWN_EVERY_S = 0.1


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
        self._live.update(drawn(moment), refresh=True)

    def say(self, change: Change, start_s: float | None) -> None:
        """Write a line about something that has become known; above the moment, or by itself."""
        if text := change_words(change, start_s or 0.0):
            self._console.print(text, highlight=False, markup=False)


def drawn(moment: Guide) -> RenderableType:
    """Draw a moment as four lines: word, grams, clock, pace."""
    from rich.panel import Panel
    from rich.text import Text

    text = Text(justify="center")
    text.append(f"{moment.word.upper()}\n", "bold reverse" if moment.word in ("pour", "stop") else "bold")
    text.append(f"{grams_words(moment)}\n", "bold")
    text.append(f"{clock(moment.clock_s)}   {pace_words(moment)}".rstrip())
    return Panel(text, width=44, padding=(1, 2))


def grams_words(moment: Guide) -> str:
    """What is left to pour, or when to go on."""
    if moment.word in ("wait", "pour") and moment.in_s is not None and moment.stage is not None:
        when = f"in {moment.in_s:.0f} s" if moment.in_s > 0 else "now"
        return f"to {moment.stage.to_g:.0f} g {when}"
    if moment.to_go_g is None:
        return f"{moment.poured_g:.1f} g"
    return f"{max(moment.to_go_g, 0.0):.0f} g to go"


def pace_words(moment: Guide) -> str:
    """Too fast or too slow, in words."""
    if moment.flow_g_s <= 0.0:
        return ""
    advice = {"slower": "pour slower", "faster": "pour faster", "good": "good pace", "": ""}[moment.pace]
    return f"{moment.flow_g_s:.1f} g/s  {advice}".rstrip()


def change_words(change: Change, start_s: float) -> str:
    """One line for what has become known; empty for what is not worth one."""
    if change.kind == "pour-ended" and change.pour is not None:
        pour = change.pour
        return (
            f"{clock(pour.start_s - start_s):>6}  poured {pour.poured_g:.1f} g in "
            f"{pour.end_s - pour.start_s:.1f} s, {pour.to_g:.1f} g in all"
        )
    if change.kind == "event" and change.event is not None and change.event.kind not in ("knock", "stir"):
        return f"{clock(change.event.start_s - start_s):>6}  {event_words(change.event.kind)}"
    return ""
