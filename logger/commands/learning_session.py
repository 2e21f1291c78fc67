"""The brewer led through known loads while an unknown instrument is listened to; what was heard is kept."""

from __future__ import annotations

import asyncio
import sys
import threading
import time
from collections import deque
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from drivers.errors import DeviceError
from drivers.learn.captures.capture import UNIT_OF, Arrival, Capture, Load, Quantity
from drivers.learn.captures.capture_file import write_capture
from drivers.learn.description.proving import Incremental
from drivers.learn.learning import Learned, learn
from drivers.learn.listening.listener import BluetoothEar, Ear, SerialEar, ear_for
from drivers.learn.listening.settling import has_settled, is_still
from logger.commands.signals import stopped_by_signals
from logger.errors import FailureError

if TYPE_CHECKING:
    from rich.console import Console

STEP_PATIENCE_S = 120.0

LOOKED_AT_EVERY_S = 0.7

SILENT_S = 10.0

MOST_LOADS, MOST_LOAD = 6, 1e6
HELD_S = 6.0
"""How long each load is listened to once it has settled: enough packets to tell chance from meaning."""

HOT = "Hot water scalds: stand the vessel where it cannot tip, and keep cables out of the way."


@dataclass(frozen=True, slots=True)
class Wanted:
    """What the brewer has asked for.

    :param loads: known loads in the order in which they are put on, g or °C
    :param commands: what may be written to the device, and nothing else
    :param held_s: how long each settled load is listened to
    :param watched_s: how long the live value is shown at the end
    """

    address: str
    name: str
    loads: tuple[float, ...]
    quantity: Quantity = "weight"
    commands: tuple[bytes, ...] = ()
    every_s: float | None = None
    write_to: str = ""
    capture: Path | None = None
    held_s: float = HELD_S
    watched_s: float = 0.0

    @property
    def unit(self) -> str:
        """G or °C."""
        return UNIT_OF[self.quantity]


class Listened:
    """What has been heard so far: arrivals, and the loads that have settled."""

    def __init__(self, ear: Ear, wanted: Wanted) -> None:
        self._ear, self._wanted = ear, wanted
        self.arrivals: list[Arrival] = []
        self.loads: list[Load] = []
        self._begun_s = time.monotonic()

    @property
    def now_s(self) -> float:
        """The present, on the clock of the arrivals."""
        return time.monotonic() - self._begun_s

    @property
    def capture(self) -> Capture:
        """All of it."""
        settings = self._ear.settings
        capture = Capture(
            self._ear.link, self._ear.streams, tuple(self.arrivals), tuple(self.loads), self._wanted.quantity,
            self._ear.written,
        )  # fmt: skip
        if self._ear.link == "ble":
            return capture
        return replace(capture, baud=settings.baud, parity=settings.parity, bytesize=settings.bytesize)

    async def take(self, within_s: float) -> None:
        """Take one arrival, or wait until the time is up."""
        arrival = await self._ear.next(within_s)
        if arrival is not None:
            self.arrivals.append(arrival)


async def learn_device(wanted: Wanted, console: Console) -> Learned:
    """Listen to a device while known loads are put on, and learn it; what was heard is kept in any case.

    :raises DeviceError: when it cannot be opened, or the link breaks
    :raises FailureError: when nothing arrives, or a load does not come
    """
    ear = ear_for(wanted.address, wanted.commands, wanted.every_s, wanted.write_to)
    async with stopped_by_signals() as stop, ear:
        listened = Listened(ear, wanted)
        _print_ear(ear, console)
        try:
            await _through_loads(listened, wanted, stop, console)
        finally:
            _keep(listened.capture, wanted, console)
        learned = learn(listened.capture, wanted.name)
        while learned.further_g is not None and console.is_terminal and len(listened.loads) < MOST_LOADS:
            load = await _further_load(listened, learned.further_g, wanted, stop, console)
            if load is None:
                break
            await _one_load(listened, load, wanted, stop, console)
            _keep(listened.capture, wanted, console)
            learned = learn(listened.capture, wanted.name)
        if learned.description is not None and wanted.watched_s > 0:
            await _watch(learned, ear, listened, wanted, stop, console)
    return learned


async def _through_loads(listened: Listened, wanted: Wanted, stop: asyncio.Event, console: Console) -> None:
    if wanted.quantity == "temperature":
        console.print(HOT)
    for load in wanted.loads:
        await _one_load(listened, load, wanted, stop, console)


async def _one_load(
    listened: Listened, load: float, wanted: Wanted, stop: asyncio.Event, console: Console
) -> None:
    """Ask for a load, wait until it has settled, and listen to it for a while."""
    console.print(_asked(load, wanted), highlight=False)
    asked_s = looked_s = listened.now_s
    before_s = listened.loads[-1].end_s if listened.loads else None
    while True:
        _stop_if(stop)
        await listened.take(0.2)
        now_s = listened.now_s
        _check_patience(listened, asked_s, now_s, load, wanted)
        if now_s - looked_s < LOOKED_AT_EVERY_S:
            continue
        looked_s = now_s
        is_serial = listened.capture.link == "serial"
        if before_s is None:
            settled = is_still(listened.arrivals, asked_s, now_s)
        else:
            settled = has_settled(listened.arrivals, before_s, now_s, is_serial=is_serial)
        if settled:
            break
    start_s = listened.now_s - 1.5
    until_s = listened.now_s + wanted.held_s
    while listened.now_s < until_s:
        _stop_if(stop)
        await listened.take(until_s - listened.now_s)
    listened.loads.append(Load(load, start_s, listened.now_s))
    console.print(f"  {load:g} {wanted.unit}: settled, heard.", highlight=False)


async def _further_load(
    listened: Listened, about: float, wanted: Wanted, stop: asyncio.Event, console: Console
) -> float | None:
    """Ask which load of about a size there is, meanwhile listening on; None where the brewer has none."""
    console.print(f"It is not clear yet. {further_words(about, wanted)}", highlight=False)
    while True:
        console.print(f"What will you take, in {wanted.unit}? It need not be that; Enter for nothing.")
        answer = _line_typed()
        while not answer.done():
            _stop_if(stop)
            await listened.take(0.2)
        text = answer.result().strip().replace(",", ".")
        if not text:
            return None
        try:
            load = float(text)
        except ValueError:
            load = float("nan")
        before = listened.loads[-1].value
        if abs(load) < MOST_LOAD and load != before:
            return load
        console.print(f"A number in {wanted.unit} is wanted, other than {before:g}.", highlight=False)


def _line_typed() -> asyncio.Future[str]:
    """Wait for a line of the keyboard while everything else goes on; empty when there is no more."""
    loop = asyncio.get_running_loop()
    answer: asyncio.Future[str] = loop.create_future()

    def keep(line: str) -> None:
        if not answer.done():
            answer.set_result(line)

    def read() -> None:
        line = sys.stdin.readline()
        with suppress(RuntimeError):  # it has ended meanwhile
            loop.call_soon_threadsafe(keep, line)

    # An ordinary thread would hold up the end of the program until Enter is pressed.
    threading.Thread(target=read, name="keyboard", daemon=True).start()
    return answer


def _asked(load: float, wanted: Wanted) -> str:
    if wanted.quantity == "temperature":
        return f"Bring the probe to {load:g} °C, and let it settle."
    return f"Have {load:g} g on the pan, and let it settle." if load else "Empty the pan, and let it settle."


def further_words(about: float, wanted: Wanted) -> str:
    """Say which further load would tell, and how one below zero is had."""
    what = "temperature" if wanted.quantity == "temperature" else "load"
    words = f"A {what} of about {about:g} {wanted.unit} would tell."
    if about < 0 and wanted.quantity == "weight":
        words += " For one below zero, tare with a vessel on the pan, and lift the vessel off."
    return words


def _stop_if(stop: asyncio.Event) -> None:
    if stop.is_set():
        raise typer.Exit(130)


def _check_patience(listened: Listened, asked_s: float, now_s: float, load: float, wanted: Wanted) -> None:
    if not listened.arrivals and now_s > SILENT_S:
        what = f"nothing has arrived for {SILENT_S:g} s"
        remedy = (
            "Switch it on and put something on it. Some devices send only after something was written to "
            "them: --write."
        )
        raise FailureError(wanted.address, what, remedy)
    if now_s - asked_s > STEP_PATIENCE_S:
        what = f"nothing that arrives has gone to a new level and stayed there for {STEP_PATIENCE_S:g} s"
        remedy = (
            f"If {load:g} {wanted.unit} is there, the device may send its weight only after something was "
            "written to it: give that with --write. What was heard is kept."
        )
        raise FailureError(wanted.address, what, remedy)


def _print_ear(ear: Ear, console: Console) -> None:
    if isinstance(ear, BluetoothEar):
        console.print(f"Listening to {len(ear.streams)} characteristics:", highlight=False)
        for stream in ear.streams:
            console.print(f"  {stream.uuid} ({', '.join(stream.properties)})", highlight=False)
        for refused in ear.refused:
            console.print(f"  not to {refused}", markup=False, highlight=False)
    elif isinstance(ear, SerialEar):
        settings = ear.settings
        sense = "" if ear.sense >= 0.5 else " (a guess: what arrives makes little sense at any speed)"
        parity = f", {settings.parity} parity" if settings.parity != "none" else ""
        console.print(f"Listening at {settings.baud} baud{parity}{sense}.", highlight=False)


def _keep(capture: Capture, wanted: Wanted, console: Console) -> None:
    if not capture.arrivals:
        return
    path = wanted.capture or Path(f"{wanted.name}.capture.jsonl")
    try:
        write_capture(path, capture, wanted.address)
    except OSError as error:
        raise FailureError(
            str(path), f"cannot be written: {error.strerror or error}", "Give --capture FILE."
        ) from error
    console.print(f"What was heard is kept in {path}.", markup=False, highlight=False)


async def _watch(
    learned: Learned, ear: Ear, listened: Listened, wanted: Wanted, stop: asyncio.Event, console: Console
) -> None:
    """Show the live value beside the raw bytes, so that a finger on the pan can be seen."""
    assert learned.description is not None
    console.print("Press a finger on the pan: the value must follow it.")
    incremental = Incremental(learned.description, listened.capture)
    shown_s, until_s, last = 0.0, listened.now_s + wanted.watched_s, deque[str](maxlen=1)
    while listened.now_s < until_s and not stop.is_set():
        try:
            arrival = await ear.next(0.2)
        except DeviceError:
            return
        if arrival is None:
            continue
        for _, value in incremental.push(arrival):
            if value is not None:
                last.append(f"{value:10.2f} {wanted.unit}   {arrival.data[:24].hex(' ')}")
        if last and listened.now_s - shown_s > 0.3:
            shown_s = listened.now_s
            console.print(last[0], highlight=False)
