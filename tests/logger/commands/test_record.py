"""Recording from pseudo-terminals that other processes feed in real time.

The recorders are all started before the first test, so that nobody waits for them by turns.
"""

from __future__ import annotations

import json
import re
import resource
import signal
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from logger.recording import Recording
from tests.logger.commands.brewing import WATER_C, Brewing, start_all
from tests.logger.commands.program import TIMEOUT_S, Done, Evencup, command
from tests.logger.commands.small_brew import LIFTED_S, POURS, RATE_HZ, TARGET, VESSEL_G, shown_g

pytestmark = pytest.mark.long


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, Brewing]]:
    """Recorders with their instruments, by name."""
    brewings: dict[str, Brewing] = {}

    def new(name: str) -> Brewing:
        here = tmp_path_factory.mktemp(name)
        brewings[name] = Brewing(Evencup(here), here / "sent")
        return brewings[name]

    try:
        start_all(new)
        yield brewings
    finally:
        for brewing in brewings.values():
            brewing.clear()


def _sent_g(count: int) -> list[float]:
    """What a balance whose vessel stays on has sent: its weights, the last of them for ever."""
    weights = shown_g(LIFTED_S - 1.0, lifted_s=None)
    return [*weights, *[weights[-1]] * count][:count]


def _assert_closed(brewing: Brewing) -> None:
    """The balance stops by itself as soon as nobody has its port open."""
    assert brewing.peers[0].wait(timeout=5.0) == 0


def test_for_ends_and_two_scales_have_their_names(bench: dict[str, Brewing]) -> None:
    done = bench["limited"].done()
    assert done.code == 0, done.err
    assert done.path.parent == Path("practice/evening")
    recording = Recording.open(bench["limited"].evencup.here / done.path)
    assert recording.meta.complete
    assert set(recording.channels()) == {"left", "server"}
    assert 3.5 <= recording.readings["time_s"].max() <= 4.2
    assert "Ended because the time was up: " in done.lines[-2]


@pytest.mark.parametrize(
    ("name", "code", "told"),
    [
        ("garbage", 2, ["bytes arrived in 5 s at 4800 baud and no line could be read", "Set baud="]),
        ("carats", 2, ["unit 'ct' is not one of g, kg, oz, lb", "Switch the device to grams."]),
        ("unplugged at once", 1, ["the link broke", "Check cable, plug and battery"]),
    ],
)
def test_what_gave_no_reading_leaves_nothing_behind(
    bench: dict[str, Brewing], name: str, code: int, told: list[str]
) -> None:
    done = bench[name].done()
    assert done.code == code
    assert "Traceback" not in done.err
    assert f"serial:{Path('/dev/pts')}/" in done.err
    for words in told:
        assert words in done.err
    assert list((bench[name].evencup.here / "practice").iterdir()) == []


def test_unplugged_before_a_brew_is_a_failure_that_keeps_what_came(bench: dict[str, Brewing]) -> None:
    done = bench["unplugged too soon"].done()
    assert done.code == 1
    assert "the link broke" in done.err
    recording = Recording.open(done.path)
    assert recording.meta.complete
    assert recording.arrays("scale")[1].tolist() == [0.0] * 20


@pytest.mark.parametrize(
    ("name", "number"),
    [("interrupted", signal.SIGINT), ("terminated", signal.SIGTERM), ("hung up", signal.SIGHUP)],
)
def test_a_signal_ends_a_recording_well(bench: dict[str, Brewing], name: str, number: int) -> None:
    if signal.getsignal(number) is signal.SIG_IGN:
        pytest.skip("run under nohup, which asks programs to outlive the window")
    brewing = bench[name]
    brewing.wait_for_lines(90)
    brewing.signal(number)
    stopped_s = time.monotonic()
    done = brewing.done()
    assert done.code == 0, done.err
    _assert_closed(brewing)
    recording = Recording.open(done.path)
    assert recording.meta.complete and recording.problems == ()
    assert "Ended because it was stopped: " in done.out
    assert "  0:00  poured 2" in done.out  # the bloom is over by then
    _, weights = recording.arrays("scale")
    sent = sum(sent_s < stopped_s - 0.2 for sent_s in brewing.sent_at_s())
    assert len(weights) >= sent
    assert weights.tolist() == _sent_g(len(weights))


def test_ctrl_c_while_waiting_leaves_nothing(bench: dict[str, Brewing]) -> None:
    brewing = bench["waiting"]
    brewing.wait_for_lines(20)
    brewing.signal(signal.SIGINT)
    done = brewing.done()
    assert (done.code, done.err) == (0, "")
    assert done.lines == ["Ready for the next brew. Ctrl-C ends."]
    assert not brewing.evencup.data.exists()
    _assert_closed(brewing)


def test_a_killed_recording_opens_with_every_line_up_to_half_a_second_before(
    bench: dict[str, Brewing],
) -> None:
    brewing = bench["killed"]
    brewing.wait_for_lines(120)
    brewing.signal(signal.SIGKILL)
    killed_s = time.monotonic()
    brewing.done()
    (folder,) = brewing.evencup.data.iterdir()
    recording = Recording.open(folder)
    assert not recording.meta.complete
    _, weights = recording.arrays("scale")
    sent = sum(sent_s < killed_s - 0.5 for sent_s in brewing.sent_at_s())
    assert sent >= 110
    assert len(weights) >= sent
    assert weights.tolist() == _sent_g(len(weights))

    report = brewing.evencup.ok("report", folder.name)
    assert "! cut off: the recording was never closed" in report.out
    assert "cut off" in brewing.evencup.ok("list").out
    line = json.loads(brewing.evencup.ok("report", folder.name, "--json").out)
    assert line["complete"] is False
    assert line["pours"][0]["poured_g"] == pytest.approx(POURS[0].grams, abs=0.3)


def test_unplugged_after_the_brew_is_told_and_no_failure(bench: dict[str, Brewing]) -> None:
    done = bench["unplugged"].done()
    assert done.code == 0
    assert "the link broke" in done.err and "Check cable, plug and battery" in done.err
    recording = Recording.open(done.path)
    assert recording.meta.complete
    assert recording.arrays("scale")[1].tolist() == shown_g(LIFTED_S - 1.0, None)
    assert "scale: the link is lost" in done.out


def test_a_whole_brew_is_written_down_and_ends_by_itself(bench: dict[str, Brewing]) -> None:
    brewing = bench["whole"]
    done = brewing.done()
    assert done.code == 0, done.err
    assert "Ended by itself: " in done.lines[-2]
    assert done.path.parent == brewing.evencup.data
    assert "two-small-pours" in done.path.name
    _assert_closed(brewing)

    recording = Recording.open(done.path)
    assert recording.meta.complete and recording.problems == ()
    assert recording.meta.target_text == TARGET
    time_s, weights = recording.arrays("scale")
    shown = shown_g(LIFTED_S + 3.0)
    shown += [shown[-1]] * (len(weights) - len(shown))  # the balance repeats the last one
    assert weights.tolist() == shown
    assert len(weights) == pytest.approx((time_s[-1] - time_s[0]) * RATE_HZ + 1, abs=3)
    lifted_s = time_s[0] + LIFTED_S
    assert lifted_s + 8.0 < time_s[-1] < lifted_s + 12.0  # a vessel off for 8 s is off for good
    water_c = recording.arrays("kettle")[1]
    assert set(water_c) == {WATER_C}
    assert len(water_c) == pytest.approx((time_s[-1] - time_s[0]) * 2, abs=4)


@pytest.fixture
def whole(bench: dict[str, Brewing]) -> Path:
    """The recording of the whole brew, once it is over."""
    return bench["whole"].done().path


def test_its_pours_are_those_that_were_poured(evencup: Evencup, whole: Path) -> None:
    report = json.loads(evencup.ok("report", whole, "--json").out)
    first_reading_s = Recording.open(whole).arrays("scale")[0][0]
    began_s = report["brew_start_s"] - first_reading_s
    assert len(report["pours"]) == len(POURS)
    for found, poured in zip(report["pours"], POURS, strict=True):
        assert found["start_s"] + began_s == pytest.approx(poured.start_s, abs=0.3)
        # A busy machine is late as well.
        assert found["end_s"] + began_s == pytest.approx(poured.end_s, abs=0.4)
        assert found["poured_g"] == pytest.approx(poured.grams, abs=0.3)
        assert found["temperature_c"] == {"kettle": WATER_C}
    lifted = [event for event in report["events"] if event["kind"] == "vessel-off"]
    assert len(lifted) == 1
    assert lifted[0]["start_s"] + began_s == pytest.approx(LIFTED_S, abs=0.5)
    assert lifted[0]["change_g"] == pytest.approx(-VESSEL_G - sum(p.grams for p in POURS), rel=0.01)


def test_its_report_shows_each_stage_against_the_target(evencup: Evencup, whole: Path) -> None:
    bloom, pour_1 = json.loads(evencup.ok("report", whole, "--json").out)["stages"]
    assert bloom["deviations"]["to_g"]["difference"] == pytest.approx(0.0, abs=0.3)
    assert bloom["deviations"]["water_c"]["difference"] == pytest.approx(WATER_C - 93.0)
    late_s = POURS[1].start_s - POURS[0].start_s - 6.0
    assert pour_1["deviations"]["start_s"]["difference"] == pytest.approx(late_s, abs=0.3)
    text = evencup.ok("report", whole).out.replace("\u00a0", " ")
    shown_late_s = re.search(r"pour 1 +start +0:06 ±3 +\S+ +([\d.]+) s late", text)
    assert shown_late_s and float(shown_late_s[1]) == pytest.approx(late_s, abs=0.3)


def test_what_was_said_live_is_said_again_by_replay(
    evencup: Evencup, bench: dict[str, Brewing], whole: Path
) -> None:
    """Word for word. A call may fall between two readings, by the wall's clock, which a replay at full speed
    has not: the second beside it may be the next one.
    """
    replayed = _followed(evencup.ok("replay", whole, "--speed", "max"))
    said = _followed(bench["whole"].done())
    assert [words for line in said for words in line.split("  ") if words.startswith("poured")]
    assert [CLOCK.sub("", line) for line in replayed] == [CLOCK.sub("", line) for line in said]
    for one, other in zip(replayed, said, strict=True):
        assert one == other or abs(_clock_s(one) - _clock_s(other)) <= 1


CLOCK = re.compile(r"^\s*(\d+):(\d\d)")


def _clock_s(line: str) -> int:
    found = CLOCK.match(line)
    assert found is not None, line
    return 60 * int(found[1]) + int(found[2])


def _followed(done: Done) -> list[str]:
    """What was said while it ran: all before the report."""
    return done.lines[: done.lines.index("Two small pours")]


def test_a_disk_that_takes_no_more_is_a_failure_that_keeps_what_it_took(
    evencup: Evencup, brewed: Path
) -> None:
    """The limit on the size of a file stands in for a full disk."""
    largest_bytes = 50_000
    done = subprocess.run(
        [*command(), "record", "--scale", f"playback:{brewed}?speed=max", "--into", "full"],
        cwd=evencup.here,
        env=evencup.environment(),
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (largest_bytes, largest_bytes)),
        capture_output=True,
        text=True,
        timeout=TIMEOUT_S,
    )
    assert done.returncode == 1
    assert "readings.csv: could not write the reading: File too large" in done.stderr
    assert "Traceback" not in done.stderr
    (folder,) = (evencup.here / "full").iterdir()
    assert largest_bytes - 100 < (folder / "readings.csv").stat().st_size <= largest_bytes
    kept, original = Recording.open(folder).readings, Recording.open(brewed).readings
    assert kept["value"].tolist() == original["value"].tolist()[: len(kept)]


def test_ctrl_c_ends_a_replay_with_the_report(evencup: Evencup, brewed: Path) -> None:
    running = evencup.start("replay", brewed, "--speed", "5")
    try:
        assert running.process.stdout is not None
        assert running.process.stdout.readline()  # it has begun
        running.process.send_signal(signal.SIGINT)
        stopped_s = time.monotonic()
        done = running.done()
    finally:
        running.stop()
    assert time.monotonic() - stopped_s < 10.0  # the brew would have gone on for half a minute
    assert (done.code, done.err) == (0, "")
    assert "whole brew" in done.out


def test_what_flows_after_the_call_is_kept_in_the_brewers_file(bench: dict[str, Brewing]) -> None:
    brewing = bench["whole"]
    brewing.done()
    (file,) = (brewing.evencup.data.parent / "hands").iterdir()
    assert file.name == "brewer.csv"
    header, *lines = file.read_text(encoding="utf-8").splitlines()
    assert header == "stopped,flow_g_s,after_g,lag_s,scale"
    assert len(lines) == 2 and all(line.startswith("pour,") for line in lines)
    assert all(",serial:/dev/pts/" in line for line in lines)
