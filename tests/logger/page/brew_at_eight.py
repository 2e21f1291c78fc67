"""A whole brew at eight times its speed; four look at it, one is cut off and one asleep for a while."""

from __future__ import annotations

import os
import re
import signal
import subprocess
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from playwright.sync_api import sync_playwright

from drivers.reading import JOURNAL_HEADER, journal_line
from drivers.simulated import PRESETS, read_plan, simulate
from tests.logger.commands.program import ROOT, command
from tests.logger.page.ports import free_port
from tests.logger.page.relay import Relay
from tests.logger.page.sleeper import Sleeper
from tests.logger.page.watching import DESK, Watcher, launched

SPEED, STILL_S = 8, 28.0
TARGET = """\
title   = "Three short pours"
method  = "pour-over"
dose_g  = 10.0
end     = "1:00"

[[stage]]
name     = "bloom"
start    = "0:00"
to_g     = 30
flow_g_s = 5.0

[[stage]]
name     = "pour 1"
start    = "0:16"
to_g     = 80
flow_g_s = 5.0

[[stage]]
name     = "pour 2"
start    = "0:36"
to_g     = 120
flow_g_s = 5.0
"""


class Recorder:
    """``evencup`` with a page, as a brewer starts it."""

    def __init__(self, here: Path, *arguments: str | Path, port: int | None = None) -> None:
        self.port = port or free_port()
        environment = {
            **{name: os.environ[name] for name in ("PATH", "HOME", "LANG") if name in os.environ},
            "EVENCUP_DATA": str(here / "data"),
            "EVENCUP_CONFIG": str(here / "config"),
            "EVENCUP_RUNTIME": str(here / "run"),
            "PYTHONPATH": str(ROOT),
            "PYTHONUNBUFFERED": "1",
        }
        self.process = subprocess.Popen(
            [*command(), *map(str, (*arguments, "--page-port", self.port))],
            cwd=here,
            env=environment,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        self.url = self._url()

    def _url(self) -> str:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            if match := re.search(r"https?://\S+", line):
                return match[0]
        _, err = self.process.communicate()
        raise AssertionError(f"no address was printed: {err}")

    def done(self) -> tuple[int, str, str]:
        """Wait for its end; give code and output."""
        out, err = self.process.communicate(timeout=60.0)
        return self.process.returncode, out, err

    def interrupt(self) -> tuple[int, str, str]:
        self.process.send_signal(signal.SIGINT)
        return self.done()

    def kill(self) -> None:
        if self.process.poll() is None:
            self.process.kill()
        self.process.communicate()


@dataclass
class Witnessed:
    """What was seen and heard.

    :param woken_s: when one tab fell asleep and when it was woken, on the readings' axis
    :param after_mending: the moment that the one who was cut off shows, and that the others do
    """

    recording: Path = Path()
    code: int = -1
    err: str = ""
    seen: dict[str, list[dict[str, Any]]] = field(default_factory=dict)
    spoken: dict[str, list[dict[str, Any]]] = field(default_factory=dict)
    tones: list[dict[str, Any]] = field(default_factory=list)
    troubles: dict[str, list[str]] = field(default_factory=dict)
    asked: list[str] = field(default_factory=list)
    said_asleep: list[str] = field(default_factory=list)
    woken_s: tuple[float, float] = (0.0, 0.0)
    after_cut: str = ""
    after_mending: tuple[float, float] = (0.0, 0.0)
    afterwards: str = ""


def brewed(here: Path, target: Path) -> Path:
    """Make a recording of a brew before which nothing happens for a while: browsers take their time."""
    brew = simulate(read_plan(target), 4, PRESETS["easy"])
    origin_s = brew.readings[0].time_s
    later = [replace(each, time_s=each.time_s - origin_s + STILL_S) for each in brew.readings]
    first = next(each for each in later if each.channel == "scale")
    still = [replace(first, time_s=number / 10) for number in range(int(10 * STILL_S))]
    made = here / "made"
    made.mkdir()
    lines = [JOURNAL_HEADER, *(journal_line(each) for each in (*still, *later)), ""]
    (made / "readings.csv").write_text("\n".join(lines), encoding="utf-8")
    return made


def witness(here: Path) -> Witnessed:
    """Let it all happen, once."""
    target = here / "three-short-pours.toml"
    target.write_text(TARGET, encoding="utf-8")
    found = Witnessed()
    port = free_port()
    with sync_playwright() as playwright, Relay(port) as relay:
        browser = launched(playwright, f"--host-resolver-rules=MAP localhost:{port} 127.0.0.1:{relay.port}")
        phone, bench = Watcher(browser), Watcher(browser, DESK)
        everyone = {"phone": phone, "bench": bench, "cut": Watcher(browser, dark=True)}
        asleep = Sleeper(browser, phone.page)
        device = f"playback:{brewed(here, target)}?speed={SPEED}"
        recorder = Recorder(here, "record", target, "--scale", device, port=port)
        try:
            _watch(everyone, asleep, recorder, relay, found)
        finally:
            recorder.kill()
            browser.close()
    return found


def _watch(
    everyone: dict[str, Watcher], asleep: Sleeper, recorder: Recorder, relay: Relay, found: Witnessed
) -> None:
    phone, cut = everyone["phone"], everyone["cut"]
    asleep.open(recorder.url)
    for name, watcher in everyone.items():
        local = recorder.url.replace("127.0.0.1", "localhost")
        watcher.open(local if name == "cut" else recorder.url + ("bench" if name == "bench" else ""))
    phone.until(lambda data: data.get("link") == "live")
    phone.page.mouse.click(195, 5)  # one touch, anywhere, for sound

    phone.until(lambda data: data["phase"] == "pause")
    relay.cut()
    slept_s = asleep.time_s
    asleep.freeze(True)
    cut.until(lambda data: data["link"] == "lost")
    found.after_cut = cut.page.inner_text("body")
    relay.mend()
    phone.until(lambda data: float(data["time"]) > slept_s + 24.0)
    asleep.freeze(False)
    found.woken_s = slept_s, phone.time_s()
    cut.until(lambda data: data["link"] == "live")
    found.after_mending = cut.time_s(), phone.time_s()

    phone.until(lambda data: data["phase"] == "done" and data["result"] == "true", 60.0)
    found.code, out, found.err = recorder.done()
    found.recording = Path(out.splitlines()[-1])
    phone.until(lambda data: data["link"] == "ended")
    found.afterwards = phone.page.inner_text("body")
    for name, watcher in everyone.items():
        found.seen[name], found.spoken[name] = watcher.seen, watcher.spoken
        found.troubles[name] = watcher.troubles
    found.seen["asleep"], found.said_asleep = asleep.seen, asleep.said
    found.tones, found.asked = phone.tones, phone.asked
