"""An unknown scale, learned as a brewer does it: the real program, a real port, a real bus."""

from __future__ import annotations

import json
import signal
import struct
import subprocess
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.logger.commands.program import Evencup, command
from tests.peers.bluez import Bluez

pytestmark = pytest.mark.long

A = "C0:FF:EE:00:00:07"
SERVICE = "5d3a0001-1b2c-4d5e-8f90-a1b2c3d4e5f6"
WEIGHT = "5d3a0002-1b2c-4d5e-8f90-a1b2c3d4e5f6"
OTHER = "5d3a0003-1b2c-4d5e-8f90-a1b2c3d4e5f6"
COMMANDS = "5d3a0004-1b2c-4d5e-8f90-a1b2c3d4e5f6"
LOADS = "0,100,250"


class Scale:
    """A pan whose load a test changes, and what stands in the frames meanwhile."""

    def __init__(self) -> None:
        self.on_pan_g = self._shown_g = 0.0
        self._number = 0
        self._sent: int | None = None

    def tenths(self) -> int:
        self._shown_g += (self.on_pan_g - self._shown_g) * 0.5
        self._number += 1
        return round(self._shown_g * 10) + (self._number % 3 == 0) - (self._number % 5 == 0)

    def serial_frame(self) -> bytes:
        body = bytes([0xA9, 0x5E, self._number % 256]) + struct.pack(">h", self.tenths()) + b"\x58"
        return body + bytes([-sum(body) % 256])

    def new_frame(self) -> bytes:
        """Give a frame where the weight is another one than in the last; nothing at rest."""
        self._shown_g += (self.on_pan_g - self._shown_g) * 0.3
        tenths, before = round(self._shown_g * 10), self._sent
        self._sent = tenths
        body = bytes([0xA9, 0x5E]) + struct.pack(">h", tenths) + b"\x58"
        return body + bytes([-sum(body) % 256]) if tenths != before else b""

    def packet(self) -> bytes:
        return struct.pack("<BiH", 0x21, self.tenths(), self._number % 65536)


class Learning:
    """``evencup devices learn`` at work, with hands that put on what it asks for."""

    def __init__(self, evencup: Evencup, scale: Scale, *args: str) -> None:
        self.process = subprocess.Popen(
            [*command(), "devices", "learn", *args],
            cwd=evencup.here, env=evencup.environment(PYTHONUNBUFFERED="1"), stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
        )  # fmt: skip
        self.lines: list[str] = []
        self._scale = scale
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            text = line.decode().rstrip()
            self.lines.append(text)
            if text.startswith("Have "):
                self._scale.on_pan_g = float(text.split()[1])

    def done(self, meanwhile: Callable[[], None], within_s: float = 50.0) -> str:
        """Do something again and again until the program has ended; give what it said."""
        until_s = time.monotonic() + within_s
        while self.process.poll() is None:
            assert time.monotonic() < until_s, self.lines
            meanwhile()
            time.sleep(0.045)
        self._reader.join(5)
        return "\n".join(self.lines)

    def stop(self) -> None:
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait()
        self._reader.join(5)
        assert self.process.stdout is not None
        self.process.stdout.close()


@pytest.fixture
def learning() -> Iterator[list[Learning]]:
    running: list[Learning] = []
    yield running
    for one in running:
        one.stop()


@pytest.fixture
def bluez() -> Iterator[Bluez]:
    with Bluez() as one:
        yield one


@pytest.fixture
def instrument():
    pty_instrument = pytest.importorskip("tests.peers.pty_instrument", reason="pseudo-terminals need POSIX")
    with pty_instrument.PtyInstrument() as one:
        yield one


def test_a_serial_scale_is_learned_and_then_read_by_its_name(evencup, instrument, learning):
    scale = Scale()

    def send() -> None:
        if instrument.listened_to():
            instrument.write(scale.serial_frame())

    args = (f"serial:{instrument.port}", "--loads", LOADS, "--hold", "1", "--name", "bench")
    one = Learning(evencup, scale, *args)
    learning.append(one)
    said = one.done(send)
    assert one.process.returncode == 0, said
    assert "Sure." in said
    assert (evencup.here / "bench.capture.jsonl").exists()
    description = (evencup.here / "config" / "bench.toml").read_text(encoding="utf-8")
    assert 'kind = "serial-frames"' in description
    assert 'kind = "lrc"' in description
    watched = subprocess.Popen(
        [*command(), "devices", "watch", "bench", "--for", "2"], cwd=evencup.here, env=evencup.environment(),
        stdout=subprocess.PIPE, stdin=subprocess.DEVNULL,
    )  # fmt: skip
    try:
        until_s = time.monotonic() + 20
        while watched.poll() is None and time.monotonic() < until_s:
            send()
            time.sleep(0.045)
        out = watched.communicate(timeout=10)[0].decode()
    finally:
        watched.kill()
        watched.wait()
    assert "250." in out or "249.9" in out

    again = evencup.ok("devices", "learn", "--from", "bench.capture.jsonl", "--name", "again", "--json")
    assert json.loads(again.out)["sure"]


def test_a_scale_that_sends_only_as_the_weight_changes_is_learned(evencup, instrument, learning):
    scale = Scale()

    def send() -> None:
        if instrument.listened_to() and (frame := scale.new_frame()):
            instrument.write(frame)

    args = (f"serial:{instrument.port}?baud=9600", "--loads", LOADS, "--hold", "3", "--name", "quiet")
    one = Learning(evencup, scale, *args)
    learning.append(one)
    said = one.done(send)
    assert said.count("settled, heard") == 3, said
    assert one.process.returncode == 0, said
    assert "Sure." in said
    capture = (evencup.here / "quiet.capture.jsonl").read_text(encoding="utf-8").splitlines()
    assert sum('"data"' in line for line in capture) < 100


def test_a_bluetooth_scale_is_learned_from_all_that_it_sends(evencup, bluez, learning):
    scale = Scale()
    characteristics = {
        WEIGHT: {"flags": ["notify"]},
        OTHER: {"flags": ["notify"]},
        COMMANDS: {"flags": ["write"]},
    }
    bluez.tell("device", A, name="Unknown", services={SERVICE: characteristics})
    evencup.env["DBUS_SYSTEM_BUS_ADDRESS"] = bluez.address

    def send() -> None:
        bluez.tell("notify", A, WEIGHT, [scale.packet().hex()])
        bluez.tell("notify", A, OTHER, [bytes([77, int(time.monotonic()) % 256]).hex()])

    one = Learning(evencup, scale, f"ble:{A}", "--loads", LOADS, "--hold", "1", "--name", "radio")
    learning.append(one)
    said = one.done(send)
    assert one.process.returncode == 0, said
    assert "Listening to 2 characteristics" in said
    assert "Sure." in said
    assert bluez.tell("written", A, COMMANDS) == []  # it writes nothing unless it is told to
    capture = (evencup.here / "radio.capture.jsonl").read_text(encoding="utf-8")
    assert A.lower() not in capture.lower()
    description = (evencup.here / "config" / "radio.toml").read_text(encoding="utf-8")
    assert WEIGHT in description
    assert OTHER not in description


def test_ctrl_c_leaves_the_capture(evencup, instrument, learning):
    scale, sent = Scale(), []

    def send() -> None:
        if instrument.listened_to():
            instrument.write(scale.serial_frame())
        if not sent and any(line.startswith("Have 100") for line in one.lines):
            sent.append(one.process.send_signal(signal.SIGINT))

    address = f"serial:{instrument.port}?baud=9600"
    one = Learning(evencup, scale, address, "--loads", LOADS, "--hold", "1", "--capture", "kept.jsonl")
    learning.append(one)
    said = one.done(send)
    assert one.process.returncode == 130, said
    assert "Traceback" not in said
    kept = (evencup.here / "kept.jsonl").read_text(encoding="utf-8")
    assert '"load": 0.0' in kept


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (["learn"], "it has no address"),
        (["learn", "ble:AA:BB:CC:DD:EE:FF"], "--loads: it is missing"),
        (["learn", "ble:AA:BB:CC:DD:EE:FF", "--loads", "1,x"], "are not 3 to 6 numbers"),
        (["learn", "ble:AA:BB:CC:DD:EE:FF", "--loads", "0,5,5,9"], "no two alike"),
        (["learn", "hid:1234:5678", "--loads", LOADS], "only ble: and serial:"),
        (["learn", "serial:/dev/x", "--loads", LOADS, "--write", "zz"], "are no bytes"),
        (["learn", "serial:/dev/x", "--loads", LOADS, "--every", "1"], "nothing is to be written"),
        (["learn", "--from", "none.jsonl"], "cannot be read"),
        (["learn", "--from", "none.jsonl", "--name", "a b"], "cannot be a name"),
    ],
)
def test_what_cannot_be_is_told(evencup: Evencup, args: list[str], said: str):
    done = evencup.run("devices", *args)
    assert done.code == 2, done.err
    assert said in done.err
    assert "Traceback" not in done.err


def test_swapped_loads_of_a_capture_are_told(evencup: Evencup, tmp_path: Path):
    from drivers.learn import write_capture
    from tests.drivers.learn.hearing import capture_of
    from tests.drivers.learn.test_learning import simple

    write_capture(evencup.here / "one.jsonl", capture_of(*simple()))
    done = evencup.run("devices", "learn", "--from", "one.jsonl", "--loads", "0,250,100,500")
    assert done.code == 1
    assert "swapped" in done.out
    assert "typed wrongly" in done.err
    assert "Traceback" not in done.err
