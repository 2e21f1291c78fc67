"""An unknown instrument, learned: what the command line says, what is said of it, and where it is kept."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import quote

import typer

from drivers.learn.captures.capture import Quantity
from drivers.learn.captures.capture_file import read_capture
from drivers.learn.learning import FEWEST_LOADS, Learned, learn
from drivers.reading import is_channel_name
from logger.bench.named import NamedDevice, config_file, save_named
from logger.commands.learning_session import HOT, MOST_LOAD, MOST_LOADS, Wanted, further_words, learn_device
from logger.errors import BadInputError, FailureError

if TYPE_CHECKING:
    from rich.console import Console


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


def print_learned(learned: Learned, wanted: Wanted, console: Console) -> None:
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
        console.print(f"  {further_words(learned.further_g, wanted)}", highlight=False)


def checked_loads(text: str, quantity: Quantity) -> tuple[float, ...]:
    """Understand the loads that were given: ``0, 100, 250, 500``.

    :raises BadInputError: when they are none, too few, or all the same
    """
    try:
        loads = tuple(float(part) for part in text.replace(";", ",").split(",") if part.strip())
    except ValueError:
        loads = ()
    example = "0,100,250,500" if quantity == "weight" else "0.5,21,85"
    if not FEWEST_LOADS <= len(loads) <= MOST_LOADS or not all(abs(load) < MOST_LOAD for load in loads):
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
    print_learned(learned, wanted, console)
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
