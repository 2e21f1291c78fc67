"""How late, how costly and how steady the live page is; a program, not a test.

``python tests/benchmarks/live_page.py --seconds 120`` has a stand-in balance send 20 lines a second through a
pseudo-terminal, records it with a page, looks at that page in headless Chromium, and prints: how long it took
from each line's departure to the frame that shows it, what the recorder cost without and with eight viewers,
how late readings arrived meanwhile, and what the page's memory did.

Departure is stamped by the instrument before the line enters the terminal, the frame by a task that runs
right after it was painted; both by clocks of one machine.
"""

from __future__ import annotations

import argparse
import os
import re
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from playwright.sync_api import sync_playwright

ROOT = Path(__file__).parents[2]
if str(ROOT) not in sys.path:
    sys.path.insert(0, str(ROOT))

from tests.logger.page.watching import Watcher, launched  # noqa: E402
from tests.peers.balance import Balance  # noqa: E402
from tests.peers.pty_instrument import PtyInstrument  # noqa: E402

RATE_HZ, STILL_S, POUR_S, REST_S, FLOW_G_S = 20, 6.0, 8.0, 7.0, 4.0
WINDOW_S = 15.0

_PAINTED = """
window.painted = [];
addEventListener("DOMContentLoaded", () => {
  const after = new MessageChannel();
  let last = null;
  after.port1.onmessage = () => painted.push([last, performance.timeOrigin + performance.now()]);
  new MutationObserver(() => {
    last = Number(document.body.dataset.time);
    after.port2.postMessage(0);
  }).observe(document.body, { attributes: true, attributeFilter: ["data-time"] });
});
"""

_VIEWERS = """
import socket, sys, threading
port, token, count = int(sys.argv[1]), sys.argv[2], int(sys.argv[3])
def look():
    with socket.create_connection(("127.0.0.1", port)) as link:
        link.sendall(f"GET /{token}/stream HTTP/1.1\\r\\nHost: 127.0.0.1:{port}\\r\\n\\r\\n".encode())
        while link.recv(65536): pass
threads = [threading.Thread(target=look) for _ in range(count)]
for thread in threads: thread.start()
for thread in threads: thread.join()
"""


def target_text(seconds: float) -> str:
    """A plan of many pours, as long as the run."""
    count = int(seconds / (POUR_S + REST_S))
    stages = "".join(
        f'[[stage]]\nname = "pour {number + 1}"\nstart = {number * (POUR_S + REST_S):g}\n'
        f"to_g = {(number + 1) * POUR_S * FLOW_G_S:g}\nflow_g_s = {FLOW_G_S:g}\n"
        for number in range(count)
    )
    return f'title = "Pours without end"\nmethod = "pour-over"\ndose_g = 15\n{stages}'


def weights_g(seconds: float) -> Iterator[float]:
    """What the balance shows: still, then pours and rests."""
    weight_g = 0.0
    for number in range(int((STILL_S + seconds) * RATE_HZ)):
        at_s = number / RATE_HZ - STILL_S
        if at_s >= 0.0 and at_s % (POUR_S + REST_S) < POUR_S:
            weight_g += FLOW_G_S / RATE_HZ
        yield round(weight_g, 1)


class Stamped(PtyInstrument):
    """An instrument that writes down when each line leaves it."""

    def __init__(self, log: Path) -> None:
        super().__init__()
        self._log = log.open("w", encoding="ascii", buffering=1)

    def write(self, data: bytes) -> None:
        """Stamp, then send."""
        self._log.write(f"{time.monotonic()!r}\n")
        super().write(data)


def be_the_balance(weights: Path, log: Path) -> None:
    """Print the port, and send the weights once somebody has opened it."""
    with Stamped(log) as instrument:
        print(instrument.port, flush=True)  # noqa: T201
        lines = Balance().lines(map(float, weights.read_text().split()))
        instrument.send_lines(lines, RATE_HZ, settle_s=1.0)


class Recorder:
    """``evencup record --page`` fed by the balance."""

    def __init__(self, here: Path, seconds: float) -> None:
        self.here, self.log = here, here / "sent"
        (here / "target.toml").write_text(target_text(seconds), encoding="utf-8")
        (here / "weights").write_text("\n".join(map(str, weights_g(seconds))), encoding="ascii")
        balance = [sys.executable, __file__, "--be-the-balance", str(here / "weights"), str(self.log)]
        self.balance = subprocess.Popen(balance, stdout=subprocess.PIPE, text=True)
        assert self.balance.stdout is not None
        port = self.balance.stdout.readline().strip()
        variables = ("EVENCUP_DATA", "EVENCUP_CONFIG", "EVENCUP_RUNTIME")
        kept = os.environ | {name: str(here / name) for name in variables} | {"PYTHONUNBUFFERED": "1"}
        record = [sys.executable, "-m", "logger.commands.main", "record", str(here / "target.toml")]
        record += ["--scale", f"serial:{port}", "--page", "--for", str(STILL_S + seconds)]
        self.process = subprocess.Popen(record, cwd=ROOT, env=kept, stdout=subprocess.PIPE, text=True)
        assert self.process.stdout is not None
        found = re.search(r"http://127.0.0.1:(\d+)/([\w-]+)/", self.process.stdout.readline())
        assert found
        self.url, self.port, self.token = found[0], found[1], found[2]

    def cpu_s(self) -> float:
        """Processor time so far, of all its threads."""
        fields = Path(f"/proc/{self.process.pid}/stat").read_text().rsplit(")", 1)[1].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")

    def cost_percent(self, over_s: float) -> float:
        """Share of one core, over some time from now."""
        before_s, start_s = self.cpu_s(), time.monotonic()
        time.sleep(over_s)
        return 100.0 * (self.cpu_s() - before_s) / (time.monotonic() - start_s)

    @contextmanager
    def viewers(self, count: int) -> Iterator[None]:
        looking = subprocess.Popen([sys.executable, "-c", _VIEWERS, self.port, self.token, str(count)])
        try:
            time.sleep(1.0)
            yield
        finally:
            looking.kill()
            looking.wait()

    def end(self) -> Path:
        self.process.terminate()
        out, _ = self.process.communicate(timeout=30)
        self.balance.kill()
        self.balance.communicate()
        return Path(out.splitlines()[-1])


def arrivals(recording: Path, log: Path) -> list[tuple[float, float]]:
    """Departure on the monotonic clock and time in the recording, of each reading."""
    sent = [float(line) for line in log.read_text().split()]
    rows = (recording / "readings.csv").read_text(encoding="utf-8").splitlines()[1:]
    return list(zip(sent, [float(row.split(",")[0]) for row in rows], strict=False))


def latencies_ms(painted: list[list[float]], sent: list[tuple[float, float]]) -> list[float]:
    """From a line's departure to the frame that showed it; moments between two readings are left out."""
    to_wall_ms = 1000.0 * (time.time() - time.monotonic())
    left_ms = {round(time_s, 3): 1000.0 * sent_s + to_wall_ms for sent_s, time_s in sent}
    return [at_ms - left_ms[time_s] for time_s, at_ms in painted if time_s in left_ms]


def summary(values: list[float]) -> str:
    cuts = statistics.quantiles(values, n=100)
    places = (("median", 49), ("95 %", 94), ("99 %", 98))
    shares = ", ".join(f"{name} {cuts[place]:.1f}" for name, place in places)
    return f"{shares}, most {max(values):.1f} (n = {len(values)})"


def memory(watcher: Watcher) -> dict[str, float]:
    """What the page holds, garbage taken out."""
    session = watcher.context.new_cdp_session(watcher.page)
    session.send("HeapProfiler.collectGarbage")
    session.send("Performance.enable")
    found = {each["name"]: each["value"] for each in session.send("Performance.getMetrics")["metrics"]}
    session.detach()
    return {name: found[name] for name in ("JSHeapUsedSize", "Nodes", "JSEventListeners")}


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--seconds", type=float, default=120.0, help="how long to look")
    parser.add_argument("--every", type=float, default=60.0, help="seconds between two looks at the memory")
    parser.add_argument("--view", choices=["", "bench"], default="", help="the brewer's or the coach's")
    parser.add_argument("--be-the-balance", nargs=2, type=Path, help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.be_the_balance:
        be_the_balance(*options.be_the_balance)
        return
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        recorder = Recorder(Path(folder), options.seconds + 40.0)
        time.sleep(STILL_S)
        windows = {"alone": time.monotonic()}
        alone = recorder.cost_percent(WINDOW_S)
        with recorder.viewers(8):
            windows["with 8 viewers"] = time.monotonic()
            watched = recorder.cost_percent(WINDOW_S)
        browser = launched(playwright)
        watcher = Watcher(browser)
        watcher.page.add_init_script(_PAINTED)
        watcher.open(recorder.url + options.view)
        painted = _looked_at(watcher, options.seconds, options.every)
        browser.close()
        recording = recorder.end()
        sent = arrivals(recording, recorder.log)
        first_s = min(time_s - sent_s for sent_s, time_s in sent)
        shown_ms = latencies_ms(painted, sent)
        print(f"recorder alone: {alone:.1f} % of a core; with 8 viewers: {watched:.1f} %")  # noqa: T201
        for name, from_s in windows.items():
            within = [each for each in sent if from_s <= each[0] < from_s + WINDOW_S]
            late_ms = [1000.0 * (time_s - sent_s - first_s) for sent_s, time_s in within]
            print(f"line's departure to the journal, beyond the fastest, {name}, ms: {summary(late_ms)}")  # noqa: T201
        print(f"line's departure to painted frame, ms: {summary(shown_ms)}")  # noqa: T201
        third = len(shown_ms) // 3
        for name, part in (("first", shown_ms[:third]), ("last", shown_ms[-third:])):
            print(f"  {name} third: {summary(part)}")  # noqa: T201


def _looked_at(watcher: Watcher, seconds: float, every_s: float) -> list[Any]:
    """Look on, and print what the page holds from time to time; give the frames."""
    painted: list[Any] = []
    start_s = time.monotonic()
    while (left_s := start_s + seconds - time.monotonic()) > 0.0:
        watcher.page.wait_for_timeout(1000.0 * min(every_s, left_s))
        painted += watcher.page.evaluate("painted.splice(0)")
        watcher.page.evaluate("seen.splice(0)")
        held = memory(watcher)
        print(  # noqa: T201
            f"{time.monotonic() - start_s:6.0f} s: heap {held['JSHeapUsedSize'] / 1e6:.2f} MB, "
            f"{held['Nodes']:.0f} nodes, {held['JSEventListeners']:.0f} listeners",
            flush=True,
        )
    return painted


if __name__ == "__main__":
    main()
