"""The terminal while a brew runs: one word, one number, the clock, the pace; and nothing to press.

On a terminal they are drawn over each other, as large as it allows, and the bell rings where something is to
be done at once; elsewhere (a pipe, a file) a plain line is written when something is worth one.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from types import TracebackType
from typing import TYPE_CHECKING, Self

from logger.show.terminal.large_type import LINES, large
from logger.show.terminal.text import ALARM, is_plain, print_words, said
from logger.show.words.wording import clock

if TYPE_CHECKING:
    from rich.console import Console, RenderableType
    from rich.live import Live

    from logger.guide import Call, Cue

_DRAWN_EVERY_S = 0.1
_LARGE_COLUMNS, _LARGE_LINES = 80, 2 * LINES + 6
_BAR_CELLS = 21
_OLD_S = 1.0
_RINGS = ("start", "stop")
_WRITTEN = ("next", "start", "slower", "faster", "stop")


class LiveScreen:
    """A :class:`logger.guide.CueListener`: ``with LiveScreen(console) as screen: screen.show(cue)``.

    :param bell: whether to ring the terminal's bell for "start" and "stop": not where a page does it
    :param now: the wall clock that the screen runs by, seconds
    """

    def __init__(
        self, console: Console, *, bell: bool = True, now: Callable[[], float] = time.monotonic
    ) -> None:
        self._console, self._bell, self._now = console, bell, now
        self._live: Live | None = None
        self._drawn_s = float("-inf")
        self._given = self._change = 0
        self._brew: int | None = None
        self._word = ""
        self._warned = set[str]()

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
            self._live = None

    def show(self, cue: Cue) -> None:
        """Draw a moment, ten times a second and whenever the word is another; ring, and write what is new."""
        if cue.brew != self._brew:
            self._brew, self._given, self._change = cue.brew, 0, 0
        self._write_news(cue)
        for call in cue.calls:
            if call.id > self._given:
                self._given = call.id
                self._give(call, cue)
        now_s = self._now()
        if self._live is None or (cue.word == self._word and now_s - self._drawn_s < _DRAWN_EVERY_S):
            return
        self._drawn_s, self._word = now_s, cue.word
        self._live.update(drawn(cue, self._console), refresh=True)

    def tell(self, text: str) -> None:
        """Write a line, if there is anything in it; above the moment, or by itself."""
        if text:
            print_words(self._console, text)

    def _write_news(self, cue: Cue) -> None:
        """What to know before the brew, and each change of the plan."""
        for warning in cue.warnings:
            if warning not in self._warned:
                self._warned.add(warning)
                self.tell(warning)
        if cue.change is not None and cue.change.id > self._change:
            self._change = cue.change.id
            self.tell(f"{clock(cue.change.clock_s):>6}  {cue.change.text}")

    def _give(self, call: Call, cue: Cue) -> None:
        """Ring for a call on a terminal; elsewhere write it down."""
        if cue.time_s - call.time_s > _OLD_S:
            return
        if not self._console.is_terminal:
            if call.kind in _WRITTEN:
                self.tell(f"{clock(cue.clock_s):>6}  {call_words(call, cue)}")
        elif self._bell and call.kind in _RINGS and cue.sound.tones and cue.sound.volume > 0.0:
            self._console.bell()


def call_words(call: Call, cue: Cue) -> str:
    """Write a call: the word, and the number that belongs to it."""
    if call.kind in ("next", "start") and cue.stage is not None:
        what = f"{cue.stage.name} to {cue.stage.to_g:.0f} g"
        if call.kind == "next" and cue.next_in_s is not None:
            return f"in {cue.next_in_s:.0f} s {what}"
        return f"{call.text}: {what}"
    return call.text


def drawn(cue: Cue, console: Console) -> RenderableType:
    """Draw a moment: word and clock, number, pace; large where the window has room."""
    from rich.text import Text

    plain = is_plain(console)
    style = ALARM if cue.word in ("pour", "stop", "slower", "faster") else "bold"
    number, caption = number_words(cue)
    below = [line for line in (pace_line(cue, plain), *beside(cue)) if line]
    text = Text(no_wrap=True, overflow="crop")
    if not _has_room(console, cue.word_text):
        text.append(f"{said(cue.word_text.upper(), plain)}   {clock(cue.clock_s)}\n", style)
        return text.append(f"{number} {said(caption, plain)}\n", "bold").append(said_lines(below, plain, ""))
    word = large(cue.word_text.upper(), plain)
    for left, right in zip(word, large(clock(cue.clock_s), plain), strict=True):
        text.append(f"  {left}", style).append(f"{right:>{_LARGE_COLUMNS - len(left) - 4}}\n", "bold")
    text.append("\n")
    for line in large(number, plain):
        text.append(f"  {line}\n", "bold")
    return text.append(f"\n  {said(caption, plain)}\n\n", "bold").append(said_lines(below, plain, "  "))


def _has_room(console: Console, word: str) -> bool:
    """Whether word and clock fit beside each other in large type; a word of other letters has none."""
    if console.width < _LARGE_COLUMNS or console.height < _LARGE_LINES:
        return False
    try:
        return len(large(word.upper())[0]) + len(large("00:00")[0]) + 6 <= _LARGE_COLUMNS
    except KeyError:
        return False


def said_lines(lines: list[str], plain: bool, indent: str) -> str:
    """Put lines under each other."""
    return "\n".join(f"{indent}{said(line, plain)}" for line in lines)


def number_words(cue: Cue) -> tuple[str, str]:
    """The one number that matters now, and what it says: grams to go, or seconds until something is due."""
    if cue.phase in ("pause", "drawdown") and cue.next_in_s is not None:
        then = f"then to {cue.stage.to_g:.0f} g" if cue.stage else "then the brew is over"
        return (f"{cue.next_in_s:.0f}", f"s, {then}") if cue.next_in_s > 0 else _grams(cue, "g to pour now")
    if cue.to_go_g is None or cue.word == "done":
        return f"{cue.poured_g:.1f}", "g in all"
    in_cup = f", {cue.poured_g:.1f} g in the cup" if cue.shot and cue.phase != "waiting" else ""
    return _grams(cue, f"g to go{in_cup}")


def _grams(cue: Cue, caption: str) -> tuple[str, str]:
    to_go_g = round(cue.to_go_g or 0.0)
    return (f"{to_go_g}", caption) if to_go_g >= 0 else (f"{-to_go_g}", "g too much")


def pace_line(cue: Cue, plain: bool = False) -> str:
    """Too fast or too slow, as a number and a bar: the plan in the middle, its tolerance within the marks."""
    if cue.flow_g_s <= 0.0:
        return ""
    return f"{cue.flow_g_s:.1f} g/s   {pace_bar(cue.rate, plain)}".rstrip()


def pace_bar(rate: float | None, plain: bool = False) -> str:
    """The bar alone.

    :param rate: -1 (too slow) to 1 (too fast), or None: no bar
    """
    if rate is None:
        return ""
    middle, quarter = _BAR_CELLS // 2, _BAR_CELLS // 4
    cells = ["-" if plain else "─"] * _BAR_CELLS
    cells[middle - quarter] = cells[middle + quarter] = "|" if plain else "│"
    cells[min(max(round(middle + middle * rate), 0), _BAR_CELLS - 1)] = "#" if plain else "█"
    return f"slow {''.join(cells)} fast"


def beside(cue: Cue) -> list[str]:
    """What stands below while no water runs: temperatures, and always a device that is not heard."""
    silent = [state for state in cue.devices if state.state != "fresh"]
    lines = [f"{state.channel}: {_silent(state.state, state.silent_s)}" for state in silent]
    if cue.phase in ("waiting", "pause"):
        lines += [f"{water.channel} {water.water_c:.1f} °C  {water.text}".rstrip() for water in cue.water]
    if cue.phase == "waiting":
        lines += list(cue.warnings)
    if cue.verdict is not None:
        lines += [cue.verdict.text, cue.verdict.change]
    return lines


def _silent(state: str, silent_s: float) -> str:
    return "the link is lost" if state == "lost" else f"nothing for {silent_s:.0f} s"
