"""Recorders at work in the background, each fed in real time by stand-in instruments in other processes."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from tests.logger.commands.program import ROOT, Done, Evencup, Running
from tests.logger.commands.small_brew import LIFTED_S, RATE_HZ, TARGET, shown_g

PEERS = ROOT / "tests" / "peers"
WATER_C = 92.5


@dataclass
class Brewing:
    """One recorder with the instruments that feed it."""

    evencup: Evencup
    log: Path
    peers: list[subprocess.Popen[str]] = field(default_factory=list)
    running: Running | None = None

    def peer(self, name: str, *options: object) -> str:
        """Start a stand-in instrument and give its port."""
        process = subprocess.Popen(
            [sys.executable, str(PEERS / f"{name}.py"), *map(str, options)], stdout=subprocess.PIPE, text=True
        )
        self.peers.append(process)
        assert process.stdout is not None
        return process.stdout.readline().strip()

    def balance(self, weights_g: list[float], *options: object) -> str:
        """Start a balance that logs when it sent each line."""
        file = self.log.with_suffix(".txt")
        file.write_text("\n".join(map(str, weights_g)), encoding="ascii")
        return self.peer("balance", "--rate", RATE_HZ, "--weights-from", file, "--log", self.log, *options)

    def sender(self, data: bytes, *options: object) -> str:
        """Start an instrument that sends bytes and is then unplugged."""
        file = self.log.with_suffix(".bin")
        file.write_bytes(data)
        return self.peer("sender", file, *options)

    def record(self, *args: str | Path) -> None:
        """Start recording; the balance's first line says that it has begun."""
        self.running = self.evencup.start("record", *args)
        if self.log.with_suffix(".txt").exists():
            self.wait_for_lines(1)

    def sent_at_s(self) -> list[float]:
        """When each line went off so far."""
        text = self.log.read_text(encoding="ascii") if self.log.exists() else ""
        return [float(line) for line in text[: text.rfind("\n") + 1].split()]

    def wait_for_lines(self, count: int) -> None:
        deadline_s = time.monotonic() + count / RATE_HZ + 30.0
        while len(self.sent_at_s()) < count:
            assert time.monotonic() < deadline_s, "the balance is not being listened to"
            time.sleep(0.05)

    def signal(self, number: int) -> None:
        assert self.running is not None
        os.kill(self.running.process.pid, number)

    def done(self) -> Done:
        assert self.running is not None
        return self.running.done()

    def clear(self) -> None:
        if self.running is not None:
            self.running.stop()
        for peer in self.peers:
            peer.kill()
            peer.communicate()


def start_all(new: Callable[[str], Brewing]) -> None:
    """Start everything that takes time: what each is for, its test says.

    One after the other, so that no recorder's beginning is in the way of what another one is timing.
    """
    weights = shown_g(LIFTED_S + 3.0)
    unlifted = shown_g(LIFTED_S - 1.0, lifted_s=None)
    whole = new("whole")
    target = whole.evencup.here / "two small pours.toml"
    target.write_text(TARGET, encoding="utf-8")
    kettle = whole.peer(
        "microcontroller", "--format", "{temperature:.1f}", "--temperature", WATER_C, "--rate", 2
    )
    scale = whole.balance(weights)
    whole.record(
        target, "--scale", f"serial:{scale}", "--thermometer", f"kettle=serial:{kettle}?pattern=temperature"
    )

    for name in ("killed", "interrupted", "terminated", "hung up"):
        brewing = new(name)
        brewing.record("--scale", f"serial:{brewing.balance(unlifted)}")
    unplugged = new("unplugged")
    unplugged.record("--patience", "0", "--scale", f"serial:{unplugged.balance(unlifted, '--once')}")
    no_brew = new("unplugged too soon")
    no_brew.record("--patience", "0", "--scale", f"serial:{no_brew.balance([0.0] * 20, '--once')}")
    silent = new("unplugged at once")
    silent.record("--scale", f"serial:{silent.sender(b'')}", "--into", "practice")

    limited = new("limited")
    ports = limited.balance([1.0]), limited.peer("balance", "--rate", 5)
    named = [f"left=serial:{ports[0]}", f"server=serial:{ports[1]}"]
    limited.record("--scale", named[0], "--scale", named[1], "--for", "4", "--into", "practice/evening")

    babble = np.random.default_rng(1).integers(0, 256, 32 * 120, dtype=np.uint8).tobytes()
    garbage = new("garbage")
    garbage.record("--scale", f"serial:{garbage.sender(babble)}?baud=4800", "--into", "practice")
    carats = new("carats")
    line = b"ST,GS,+    12.3 ct\r\n"
    carats.record(
        "--scale", f"serial:{carats.sender(line * 120, '--chunk', len(line))}", "--into", "practice"
    )

    waiting = new("waiting")
    waiting.record("--watch", "--scale", f"serial:{waiting.balance([0.0])}")
