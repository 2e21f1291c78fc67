"""``evencup devices``: what is connected, with the address to use."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from rich.table import Table

    from drivers.ports import SerialPortFound

EXAMPLE = "Example: evencup devices"

NONE_FOUND = "No serial port was found. Plug the scale in and look again; is its cable one that carries data?"
WITHOUT_HARDWARE = (
    "Without hardware: --scale 'simulated:TARGET?seed=3' or --scale 'playback:RECORDING?speed=8'"
)


def list_devices(
    json: Annotated[bool, typer.Option("--json", help="Print one line of JSON for each.")] = False,
) -> None:
    """List what is connected, with the address to paste and what to do where it cannot be opened."""
    import json as json_format
    from dataclasses import asdict

    from rich.console import Console

    from drivers.ports import serial_ports

    found = serial_ports()
    if json:
        for port in found:
            typer.echo(json_format.dumps(asdict(port)))
        return
    console = Console(highlight=False)
    console.print(_table(found) if found else NONE_FOUND)
    for port in found:
        if port.problem:
            console.print(f"{port.port}: {port.problem}. {port.fix}", markup=False)
    console.print(WITHOUT_HARDWARE, markup=False)


def _table(found: list[SerialPortFound]) -> Table:
    from rich import box
    from rich.table import Table

    table = Table("address", "what it says it is", "USB", box=box.SIMPLE)
    for port in found:
        table.add_row(port.address, port.description, port.usb_id)
    return table
