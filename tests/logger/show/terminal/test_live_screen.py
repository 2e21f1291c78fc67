"""The screen while a brew runs: what it draws on a terminal, and the plain lines elsewhere."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.console import Console

from logger.curve import Event, Pour
from logger.curve.live.while_it_runs import Change
from logger.guide import Call, Cue, DeviceState, PlanChange, Sound, StageCue, Verdict, Water
from logger.show.terminal.large_type import LINES, large
from logger.show.terminal.live_screen import LiveScreen, beside, drawn, number_words, pace_bar, pace_line
from logger.show.words.change_words import change_words

BLOOM = StageCue(1, "bloom", 0.0, 9.0, 0.0, 45.0, 5.0)
POUR_1 = StageCue(2, "pour 1", 40.0, 56.0, 45.0, 140.0)
POURING = Cue(19.4, "pouring", "pour", "pour", 7.0, 21.0, 5.0, 24.0, rate=0.0, stage=BLOOM)
WAITING = Cue(42.4, "pause", "wait", "wait", 30.0, 45.0, to_go_g=95.0, stage=POUR_1, next_in_s=10.4)
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


def rendered(cue: Cue, console: Console) -> list[str]:
    with console.capture() as capture:
        console.print(drawn(cue, console))
    return capture.get().splitlines()


def plain_console(width: int = 100, height: int = 30) -> Console:
    return Console(file=io.StringIO(), width=width, height=height)


def called(cue: Cue, *calls: Call) -> Cue:
    return replace(cue, calls=calls)


def test_elsewhere_than_on_a_terminal_plain_lines_say_the_same() -> None:
    console = plain_console()
    change = PlanChange(1, 31.0, "bloom ended 12 g high: pour 1 to 146 g.")
    with LiveScreen(console) as screen:
        for _ in range(50):
            screen.show(replace(WAITING, phase="waiting", clock_s=0.0, warnings=("Water boils at 95 °C.",)))
        for _ in range(50):
            screen.show(called(POURING, Call(1, 19.3, "stop", "stop")))
        screen.tell(change_words(POURED, 12.4))
        screen.show(replace(called(WAITING, Call(2, 42.4, "next", "to one forty")), change=change))
        screen.show(called(replace(WAITING, clock_s=40.0, time_s=52.4), Call(3, 52.4, "start", "pour")))
        screen.tell("scale: the link is lost")
    assert written(console).splitlines() == [
        "Water boils at 95 °C.",
        "  0:07  stop",
        "  0:00  poured 45.3 g in 9.2 s, 45.3 g in all",
        "  0:31  bloom ended 12 g high: pour 1 to 146 g.",
        "  0:30  in 10 s pour 1 to 140 g",
        "  0:40  pour: pour 1 to 140 g",
        "scale: the link is lost",
    ]


def test_on_a_terminal_the_moment_is_drawn_ten_times_a_second_and_a_new_word_at_once() -> None:
    console, now_s = terminal(), [0.0]
    with LiveScreen(console, now=lambda: now_s[0]) as screen:
        screen.show(POURING)
        once = written(console)
        now_s[0] = 0.05
        screen.show(replace(POURING, to_go_g=23.0))
        assert written(console) == once
        now_s[0] = 0.11
        screen.show(replace(POURING, to_go_g=23.0))
        assert written(console) != once
        screen.show(WAITING)
        assert "g to go" in once and "s, then to 140 g" in written(console)
        screen.tell(change_words(POURED, 12.4))
    assert "poured 45.3 g in 9.2 s" in written(console)


@pytest.mark.parametrize(
    ("sound", "bell", "rings"),
    [(Sound(), True, 2), (Sound(volume=0.0), True, 0), (Sound(tones=False), True, 0), (Sound(), False, 0)],
)
def test_the_bell_rings_for_what_is_to_be_done_at_once_and_once(sound: Sound, bell: bool, rings: int) -> None:
    console = terminal()
    with LiveScreen(console, bell=bell) as screen:
        for _ in range(20):
            screen.show(replace(called(POURING, Call(1, 19.3, "next"), Call(2, 19.4, "start")), sound=sound))
        screen.show(replace(called(POURING, Call(2, 19.4, "start"), Call(3, 19.4, "stop")), sound=sound))
        screen.show(replace(called(POURING, Call(4, 3.0, "stop")), sound=sound))  # seen too late
    assert written(console).count("\a") == rings


def test_the_next_brew_counts_its_calls_anew() -> None:
    console = terminal()
    with LiveScreen(console) as screen:
        for brew in (1, 2):
            screen.show(replace(called(POURING, Call(1, 19.4, "start", "pour")), brew=brew))
    assert written(console).count("\a") == 2


def test_the_four_things_and_nothing_else() -> None:
    lines = rendered(POURING, plain_console())
    for line, word, clock in zip(lines, large("POUR"), large("0:07"), strict=False):
        assert line.startswith(f"  {word}") and line.rstrip().endswith(clock.rstrip())
    number = [line.strip() for line in lines[LINES + 1 : 2 * LINES + 1]]
    assert number == [line.strip() for line in large("24")]
    assert [line.strip() for line in lines[2 * LINES + 1 :] if line.strip()] == [
        "g to go",
        "5.0 g/s   slow ─────│────█────│───── fast",
    ]


@pytest.mark.parametrize(("width", "height"), [(60, 30), (100, 12), (20, 3)])
def test_a_small_window_gets_small_type(width: int, height: int) -> None:
    lines = rendered(POURING, plain_console(width, height))
    assert lines[0].startswith("POUR   0:07") and lines[1].startswith("24 g to go")


@pytest.mark.parametrize("word", ["gießen", "注水", "an-halten"])
def test_a_word_of_other_letters_gets_small_type(word: str) -> None:
    assert rendered(replace(POURING, word_text=word), plain_console())[0].startswith(word.upper())


def test_large_type_is_read_from_a_metre_and_a_half() -> None:
    """A rule of thumb for signs (from memory): a letter as high as 1/200 of the distance is read at ease."""
    line_mm = 3.0  # of eight-point type with its spacing, about the smallest in use
    assert LINES * line_mm > 1500 / 200


@given(
    st.sampled_from(["ready", "pour", "slower", "faster", "wait", "stop", "done"]),
    st.sampled_from(["waiting", "pouring", "pause", "drawdown", "done"]),
    st.floats(0, 3599),
    st.floats(0, 2000),
    st.none() | st.floats(-500, 2000),
    st.none() | st.floats(-600, 3600),
    st.none() | st.floats(-1, 1),
)
def test_every_moment_fits_into_eighty_columns(
    word: str,
    phase: str,
    clock_s: float,
    poured_g: float,
    to_go_g: float | None,
    in_s: float | None,
    rate: float | None,
) -> None:
    cue = Cue(0.0, phase, word, word, clock_s, poured_g, 6.0, to_go_g, None, rate, BLOOM, in_s)  # type: ignore[arg-type]  # sampled
    console = plain_console(80, 24)
    assert all(len(line.rstrip()) <= 80 for line in rendered(cue, console))
    assert len(rendered(cue, console)) <= 24


NUMBERS = {
    "to go": (replace(POURING, to_go_g=23.6), ("24", "g to go")),
    "too much": (replace(POURING, to_go_g=-2.6), ("3", "g too much")),
    "just right": (replace(POURING, to_go_g=-0.2), ("0", "g to go")),
    "until the next pour": (WAITING, ("10", "s, then to 140 g")),
    "late": (replace(WAITING, next_in_s=-7.0), ("95", "g to pour now")),
    "until the end": (
        replace(WAITING, phase="drawdown", stage=None, to_go_g=None, next_in_s=50.0),
        ("50", "s, then the brew is over"),
    ),
    "over": (Cue(0.0, "done", "done", "done", 160.0, 240.1), ("240.1", "g in all")),
    "shot over": (Cue(0.0, "done", "done", "done", 28.0, 36.4, to_go_g=-0.4), ("36.4", "g in all")),
    "an espresso": (replace(POURING, shot=True, stage=None), ("24", "g to go, 21.0 g in the cup")),
    "no target": (Cue(0.0, "pause", "wait", "wait", 20.0, 45.0), ("45.0", "g in all")),
}


@pytest.mark.parametrize("name", NUMBERS)
def test_the_one_number(name: str) -> None:
    cue, words = NUMBERS[name]
    assert number_words(cue) == words


def test_pace_as_a_number_and_as_a_bar() -> None:
    assert pace_line(replace(POURING, flow_g_s=9.9, rate=1.0)) == "9.9 g/s   slow ─────│─────────│────█ fast"
    assert pace_bar(1.0, plain=True) == "slow -----|---------|----# fast"
    assert pace_bar(0.5) == "slow ─────│─────────█───── fast"
    assert pace_line(replace(POURING, rate=None)) == "5.0 g/s" and pace_line(WAITING) == ""


def test_what_stands_beside_while_no_water_runs() -> None:
    waiting = replace(
        WAITING,
        water=(Water("kettle", 89.6, 94.0, False, "4.4 °C too cool"), Water("room", 21.0)),
        devices=(DeviceState("scale", "fresh"), DeviceState("kettle", "stale", 7.2)),
    )
    assert beside(waiting) == [
        "kettle: nothing for 7 s",
        "kettle 89.6 °C  4.4 °C too cool",
        "room 21.0 °C",
    ]
    assert beside(replace(waiting, phase="pouring")) == ["kettle: nothing for 7 s"]
    lost = replace(POURING, devices=(DeviceState("scale", "lost", 3.0),))
    assert beside(lost) == ["scale: the link is lost"]
    done = Cue(0.0, "done", "done", "done", verdict=Verdict("2 of 3 stages inside.", "Stop sooner."))
    assert beside(done) == ["2 of 3 stages inside.", "Stop sooner."]


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
    assert all(
        len({len(line) for line in large(text)}) == 1
        for text in ("READY", "SLOWER", "FASTER", "STOP", "0:59", "240.1")
    )
    assert all(large(chr(letter)) for letter in range(ord("A"), ord("Z") + 1))
