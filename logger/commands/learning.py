"""An unknown instrument, learned: leads through the known loads, keeps what was heard, says what it means."""

from __future__ import annotations

import asyncio
import json
import time
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import quote

import typer

from drivers.errors import DeviceError
from drivers.learn.capture import Arrival, Capture, Load, Quantity
from drivers.learn.capture_file import read_capture, write_capture
from drivers.learn.learning import FEWEST_LOADS, Learned, learn
from drivers.learn.listening import BluetoothEar, Ear, SerialEar, ear_for
from drivers.learn.proving import Incremental
from drivers.learn.settling import has_settled, is_still
from drivers.reading import is_channel_name
from logger.bench.named import NamedDevice, config_file, save_named
from logger.commands.signals import stopped_by_signals
from logger.errors import BadInputError, FailureError

if TYPE_CHECKING:
    from rich.console import Console

STEP_PATIENCE_S = 120.0
LOOKED_AT_EVERY_S = 0.7
SILENT_S = 10.0
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
        return "g" if self.quantity == "weight" else "°C"


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
        while learned.further_g is not None and console.is_terminal and len(listened.loads) < 6:
            console.print(
                f"Two readings are left. A load of about {learned.further_g:g} {wanted.unit} would decide."
            )
            await _one_load(listened, learned.further_g, wanted, stop, console)
            _keep(listened.capture, wanted, console)
            learned = learn(listened.capture, wanted.name)
        if learned.description is not None and wanted.watched_s > 0:
            await _watch(learned, ear, listened, wanted, stop, console)
    return learned


def learn_again(path: Path, wanted: Wanted) -> Learned:
    """Learn from a capture that was kept.

    :raises CaptureError: when the file is none
    :raises BadInputError: when there are more or fewer loads than in the file
    """
    capture = read_capture(path)
    if wanted.loads:
        if len(wanted.loads) != len(capture.loads):
            what = f"{len(wanted.loads)} are given, and the capture has {len(capture.loads)}"
            raise BadInputError("--loads", what, "Give one for each, or none to take those of the capture.")
        capture = capture.with_loads(wanted.loads)
    return learn(capture, wanted.name)


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


def _asked(load: float, wanted: Wanted) -> str:
    if wanted.quantity == "temperature":
        return f"Bring the probe to {load:g} °C, and let it settle."
    return f"Have {load:g} g on the pan, and let it settle." if load else "Empty the pan, and let it settle."


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


def save_learned(learned: Learned, name: str, address: str) -> Path:
    """Write the description beside the named devices, and keep the device under its name.

    :param address: of the device, without options; empty where there is none yet
    :returns: the description's file
    :raises BadInputError: when the name cannot be one
    """
    config = config_file()
    path = config.parent / f"{name}.toml"
    target = address.partition("?")[0] or "serial:PORT"
    device = NamedDevice(name, f"{target}?described={quote(str(path))}")
    save_named(config, device)
    path.write_text(learned.toml, encoding="utf-8", newline="\n")
    return path


def print_learned(learned: Learned, console: Console) -> None:
    """Say what was found, how sure it is and why."""
    for mistake in learned.mistakes:
        console.print(f"Look at what was typed: {mistake}", markup=False, highlight=False)
    console.print("Sure." if learned.is_sure else "Not sure.", highlight=False)
    for reason in learned.reasons:
        if reason not in learned.mistakes:
            console.print(f"  {reason}", markup=False, highlight=False)
    for finding in learned.findings:
        console.print(f"  Besides, {finding}.", markup=False, highlight=False)
    if learned.is_sure and learned.never_negative:
        console.print(
            "  Nothing below zero has been seen; how the device says that is taken to be the usual way."
        )
    if learned.further_g is not None:
        console.print(f"  A further load of about {learned.further_g:g} would decide.", highlight=False)


def checked_loads(text: str, quantity: Quantity) -> tuple[float, ...]:
    """Understand the loads that were given: ``0, 100, 250, 500``.

    :raises BadInputError: when they are none, too few, or all the same
    """
    try:
        loads = tuple(float(part) for part in text.replace(";", ",").split(",") if part.strip())
    except ValueError:
        loads = ()
    example = "0,100,250,500" if quantity == "weight" else "0.5,21,85"
    if not FEWEST_LOADS <= len(loads) <= 6 or not all(abs(load) < 1e6 for load in loads):
        raise BadInputError("--loads", f"{text!r} are not 3 to 6 numbers", f"Write --loads {example}.")
    if len(set(loads)) < FEWEST_LOADS or any(a == b for a, b in pairwise(loads)):
        what = "three different loads are needed, and no two alike in a row"
        raise BadInputError("--loads", what, f"Write --loads {example}.")
    return loads


def checked_command(text: str) -> bytes:
    """Understand bytes to be written: ``01 A0``, or text in quotes.

    :raises BadInputError: when they are none
    """
    if len(text) > 2 and text[0] == text[-1] == "'":
        return text[1:-1].encode().decode("unicode_escape").encode("latin-1")
    try:
        data = bytes.fromhex(text.replace("0x", " ").replace(",", " "))
    except ValueError:
        data = b""
    if not data:
        raise BadInputError(
            "--write", f"{text!r} are no bytes", 'Write --write "01 A0", or --write "\'R\\r\\n\'".'
        )
    return data


def asked_loads(quantity: Quantity, console: Console, given: Sequence[float] = ()) -> tuple[float, ...]:
    """Ask the brewer which loads are at hand."""
    if quantity == "temperature":
        console.print(
            "Three waters will do: ice water, room warm, hot; measure each with another thermometer."
        )
        console.print(HOT)
        text = typer.prompt("Which temperatures, in °C, in the order in which you will take them")
    else:
        console.print(
            "Check masses will do, or a glass of water weighed elsewhere. Begin with the empty pan: 0."
        )
        text = typer.prompt("Which loads, in g, in the order in which you will put them on")
    return checked_loads(text, quantity)


def learn_command(
    address: str,
    capture: Path | None,
    name: str,
    loads: str,
    console: Console,
    *,
    temperature: bool,
    write: Sequence[str],
    every_s: float | None,
    write_to: str,
    to: Path | None,
    hold_s: float,
    watch_s: float | None,
    as_json: bool,
) -> None:
    """Do what the command line says.

    :raises BadInputError: when it makes no sense
    :raises FailureError: when nothing could be learned
    """
    quantity: Quantity = "temperature" if temperature else "weight"
    if not is_channel_name(name):
        raise BadInputError(
            "--name", f"{name!r} cannot be a name", "Use letters, digits, - and _, at most 32."
        )
    if capture is None and not address:
        raise BadInputError("learn", "it has no address", "Name a device, or --from CAPTURE.")
    if every_s is not None and not write:
        raise BadInputError("--every", "nothing is to be written", "Say what with --write.")
    known = checked_loads(loads, quantity) if loads else ()
    if capture is None and not known:
        if not console.is_terminal:
            raise BadInputError("--loads", "it is missing", "Write --loads 0,100,250,500.")
        known = asked_loads(quantity, console)
    wanted = Wanted(
        address, name, known, quantity, tuple(checked_command(text) for text in write), every_s, write_to, to,
        hold_s, watch_s if watch_s is not None else 8.0 * console.is_terminal,
    )  # fmt: skip
    if capture is not None:
        learned = learn_again(capture, wanted)
    else:
        learned = asyncio.run(learn_device(wanted, console))
    _finish(learned, wanted, console, as_json=as_json)


def _finish(learned: Learned, wanted: Wanted, console: Console, *, as_json: bool) -> None:
    print_learned(learned, console)
    path = None
    if learned.description is not None and not learned.mistakes:
        path = save_learned(learned, wanted.name, wanted.address)
        console.print(f"The description is in {path}.", markup=False, highlight=False)
        use = "--thermometer" if wanted.quantity == "temperature" else "--scale"
        if wanted.address:
            console.print(f"Use it as: evencup record {use} {wanted.name}", highlight=False)
        else:
            console.print(f"Put its address into {config_file()} in place of serial:PORT.", markup=False)
    if as_json:
        typer.echo(json.dumps(_plain(learned, path)))
    if learned.description is None or learned.mistakes:
        remedy = (
            "Type the loads again with --loads and --from."
            if learned.mistakes
            else "Try again, with other loads."
        )
        what = "nothing could be learned" if not learned.mistakes else "a load was typed wrongly"
        raise FailureError(wanted.address or wanted.name, what, remedy)


def _plain(learned: Learned, path: Path | None) -> dict[str, object]:
    return {
        "sure": learned.is_sure,
        "description": learned.toml,
        "file": str(path) if path else None,
        "reasons": list(learned.reasons),
        "findings": list(learned.findings),
        "mistakes": list(learned.mistakes),
        "further_load": learned.further_g,
        "never_negative": learned.never_negative,
    }
