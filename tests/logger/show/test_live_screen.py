"""The screen while a brew runs: what it draws on a terminal, and the plain lines elsewhere."""

from __future__ import annotations

import io

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.console import Console

from logger.curve import Event, Pour
from logger.curve.live import Change
from logger.show.guide import Guide
from logger.show.large_type import LINES, large
from logger.show.live_screen import LiveScreen, change_words, drawn, number_words, pace_bar, pace_words
from logger.target import Stage

BLOOM = Stage("bloom", 0.0, 45.0, flow_g_s=5.0)
POURING = Guide("pour", 7.0, 21.0, BLOOM, 24.0, flow_g_s=5.0, pace="good")
WAITING = Guide("wait", 30.0, 45.0, Stage("pour 1", 40.0, 140.0, 45.0), 95.0, 10.4)
POURED = Change("pour-ended", 21.6, Pour(12.4, 21.6, 0.0, 45.3, 45.3, 4.9, 5.6))


class Terminal(io.StringIO):
    encoding = "utf-8"

    def isatty(self) -> bool:
        return True


def terminal(width: int = 100, height: int = 30) -> Console:
    return Console(file=Terminal(), force_terminal=True, width=width, height=height)


def written(console: Console) -> str:
    file = console.file
    assert isinstance(file, io.StringIO)
    return file.getvalue()


def rendered(moment: Guide, console: Console) -> list[str]:
    with console.capture() as capture:
        console.print(drawn(moment, console))
    return capture.get().splitlines()


def plain_console(width: int = 100, height: int = 30) -> Console:
    return Console(file=io.StringIO(), width=width, height=height)


def test_elsewhere_than_on_a_terminal_only_plain_lines_are_written() -> None:
    console = plain_console()
    with LiveScreen(console) as screen:
        for number in range(50):
            screen.show(POURING, number / 10)
        screen.say(POURED, 12.4)
        screen.tell("scale: the link is lost")
    assert written(console) == "  0:00  poured 45.3 g in 9.2 s, 45.3 g in all\nscale: the link is lost\n"


def test_on_a_terminal_the_moment_is_drawn_at_most_ten_times_a_second() -> None:
    console = terminal()
    with LiveScreen(console) as screen:
        screen.show(POURING, 0.0)
        once = written(console)
        screen.show(POURING, 0.05)
        assert written(console) == once
        screen.show(WAITING, 0.11)
        assert written(console) != once
        assert "good pace" in once and "s, then to 140 g" in written(console)
        screen.say(POURED, 12.4)
    assert "poured 45.3 g in 9.2 s" in written(console)


def test_the_four_things_and_nothing_else() -> None:
    lines = rendered(POURING, plain_console())
    for line, word, clock in zip(lines, large("POUR"), large("0:07"), strict=False):
        assert line.startswith(f"  {word}") and line.rstrip().endswith(clock.rstrip())
    number = [line.strip() for line in lines[LINES + 1 : 2 * LINES + 1]]
    assert number == [line.strip() for line in large("24")]
    assert [line.strip() for line in lines[2 * LINES + 1 :] if line.strip()] == [
        "g to go",
        "5.0 g/s  good pace   slow ─────│────█────│───── fast",
    ]


@pytest.mark.parametrize(("width", "height"), [(60, 30), (100, 12), (20, 3)])
def test_a_small_window_gets_small_type(width: int, height: int) -> None:
    lines = rendered(POURING, plain_console(width, height))
    assert lines[0].startswith("POUR   0:07") and lines[1].startswith("24 g to go")


def test_large_type_is_read_from_a_metre_and_a_half() -> None:
    """A rule of thumb for signs (from memory): a letter as high as 1/200 of the distance is read at ease."""
    line_mm = 3.0  # of eight-point type with its spacing, about the smallest in use
    assert LINES * line_mm > 1500 / 200


@given(
    st.sampled_from(["ready", "pour", "wait", "stop", "done"]),
    st.floats(0, 3599),
    st.floats(0, 2000),
    st.none() | st.floats(-500, 2000),
    st.none() | st.floats(-600, 3600),
)
def test_every_moment_fits_into_eighty_columns(
    word: str, clock_s: float, poured_g: float, to_go_g: float | None, in_s: float | None
) -> None:
    moment = Guide(word, clock_s, poured_g, BLOOM, to_go_g, in_s, 6.0, "slower")  # type: ignore[arg-type]  # sampled
    console = plain_console(80, 24)
    assert all(len(line.rstrip()) <= 80 for line in rendered(moment, console))
    assert len(rendered(moment, console)) <= 24


NUMBERS = {
    "to go": (Guide("pour", 7.0, 21.4, BLOOM, 23.6), ("24", "g to go")),
    "too much": (Guide("stop", 11.0, 47.6, BLOOM, -2.6), ("3", "g too much")),
    "just right": (Guide("stop", 11.0, 45.2, BLOOM, -0.2), ("0", "g to go")),
    "until the next pour": (WAITING, ("10", "s, then to 140 g")),
    "late": (Guide("pour", 47.0, 45.0, WAITING.stage, 95.0, -7.0), ("95", "g to pour now")),
    "until the end": (Guide("wait", 100.0, 240.0, in_s=50.0), ("50", "s, then the brew is over")),
    "over": (Guide("done", 160.0, 240.1), ("240.1", "g in all")),
    "shot over": (Guide("done", 28.0, 36.4, None, -0.4), ("36.4", "g in all")),
    "no target": (Guide("wait", 20.0, 45.0), ("45.0", "g in all")),
}


@pytest.mark.parametrize("name", NUMBERS)
def test_the_one_number(name: str) -> None:
    moment, words = NUMBERS[name]
    assert number_words(moment) == words


def test_pace_in_words_and_as_a_bar() -> None:
    fast = Guide("pour", 7.0, 21.0, BLOOM, 24.0, flow_g_s=9.9, pace="slower")
    assert pace_words(fast) == "9.9 g/s  pour slower"
    assert pace_bar(fast) == "slow ─────│─────────│────█ fast"
    assert pace_bar(fast, plain=True) == "slow -----|---------|----# fast"
    assert pace_bar(WAITING) == "" and pace_words(WAITING) == ""


def test_lines_on_the_brews_clock_and_before_it_has_begun() -> None:
    assert change_words(POURED, 12.4) == "  0:00  poured 45.3 g in 9.2 s, 45.3 g in all"
    put_on = Change("event", 3.0, event=Event("vessel-on", 2.5, 3.0, 412.0))
    assert change_words(put_on, None) == "        vessel on"
    gap = Change("event", 40.0, event=Event("gap", 37.4, 40.0, 0.0))
    assert change_words(gap, 12.4).startswith("  0:25  ")


def test_what_was_no_water_after_all_is_taken_back_aloud() -> None:
    dose = Change("pour-withdrawn", 8.0, Pour(8.0, 10.0, 0.0, 15.0, 15.0, 7.5, 9.0))
    assert change_words(dose, None) == "        those 15.0 g were no water after all"


@pytest.mark.parametrize("kind", ["knock", "stir"])
def test_a_knock_is_not_worth_a_line(kind: str) -> None:
    assert change_words(Change("event", 3.0, event=Event(kind, 2.5, 3.0, 0.0)), None) == ""  # type: ignore[arg-type]  # one of them


def test_large_letters() -> None:
    assert large("1:2", plain=True) == (
        "  ##        ######",
        "####    ##      ##",
        "  ##        ######",
        "  ##    ##  ##    ",
        "######      ######",
    )
    assert all(len({len(line) for line in large(text)}) == 1 for text in ("READY", "STOP", "0:59", "240.1"))
