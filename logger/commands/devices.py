"""``evencup devices``: what is connected; watch one, test a scale, check a description."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from logger.show.terminal.devices_table import DeviceFound

EXAMPLE = "Example: evencup devices --bluetooth 8"

app = typer.Typer(
    help="List what is connected, with the address to use; watch, test or describe a device.",
    epilog=EXAMPLE,
    context_settings={"help_option_names": ["-h", "--help"]},
)

Address = Annotated[
    str, typer.Argument(metavar="ADDRESS", help="An address, or the name of a device of yours.")
]


@app.callback(invoke_without_command=True)
def list_devices(
    context: typer.Context,
    bluetooth_s: Annotated[
        float, typer.Option("--bluetooth", metavar="SECONDS", help="How long to listen; 0 not to.", min=0.0)
    ] = 4.0,
    json: Annotated[bool, typer.Option("--json", help="Print one line of JSON for each.")] = False,
) -> None:
    """List what is connected, with the address to paste and what to do where it cannot be opened."""
    import json as json_format
    from dataclasses import asdict

    from rich.console import Console

    from logger.bench.named import config_file, named_devices
    from logger.show.terminal.devices_table import print_devices

    if context.invoked_subcommand is not None:
        return
    named = named_devices(config_file())
    found = _found(bluetooth_s, quiet=json)
    if not json:
        print_devices(found, list(named.values()), Console())
        return
    for device in named.values():
        typer.echo(json_format.dumps({"kind": "named", **asdict(device)}, default=str))
    for each in found:
        typer.echo(json_format.dumps(asdict(each)))


def _found(bluetooth_s: float, *, quiet: bool) -> list[DeviceFound]:
    """Look at every way in which a device can be connected."""
    import asyncio

    from rich.console import Console

    from drivers.bluetooth_scan import scan_bluetooth
    from drivers.hid_ports import hid_scales
    from drivers.ports import serial_ports
    from logger.show.terminal.devices_table import of_bluetooth, of_hid, of_serial

    found = [*map(of_serial, serial_ports()), *map(of_hid, hid_scales())]
    if bluetooth_s > 0.0:
        notices = Console(stderr=True, quiet=quiet)
        with notices.status(f"listening for Bluetooth devices for {bluetooth_s:.0f} s"):
            found += map(of_bluetooth, asyncio.run(scan_bluetooth(bluetooth_s)))
    return found


@app.command(epilog="Example: evencup devices check my-scale.toml")
def check(
    files: Annotated[list[Path], typer.Argument(metavar="FILE...", help="Descriptions of devices.")],
) -> None:
    """Name file, line and field of every mistake in a description of a device."""
    from drivers.described import check_description, read_description

    mistakes = [str(mistake) for file in files for mistake in check_description(file)]
    for mistake in mistakes:
        typer.echo(mistake, err=True)
    if mistakes:
        raise typer.Exit(2)
    for file in files:
        typer.echo(f"{file}: {read_description(file).name}: in order")


@app.command(epilog="Example: evencup devices watch 'serial:/dev/ttyUSB0?baud=9600'")
def watch(
    address: Address,
    for_s: Annotated[
        float | None, typer.Option("--for", metavar="SECONDS", help="Stop then; else Ctrl-C ends.", min=0.5)
    ] = None,
) -> None:
    """Show live values, rate and jitter of a device; nothing is recorded."""
    import asyncio

    from rich.console import Console

    from logger.commands.watching import watch_device

    asyncio.run(watch_device(address, for_s, Console()))


@app.command(epilog="Example: evencup devices test serial:/dev/ttyUSB0 --mass 100 --mass 200 --save bench")
def test(
    address: Address,
    mass_g: Annotated[
        list[float],
        typer.Option("--mass", metavar="G", help="A known mass; may be given again.", min=0.1, max=50000.0),
    ],
    rounds: Annotated[
        int, typer.Option("--rounds", help="How many times each is put on.", min=1, max=10)
    ] = 3,
    save: Annotated[
        str | None, typer.Option("--save", metavar="NAME", help="Keep the result with this device of yours.")
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print the result as one line of JSON.")] = False,
) -> None:
    """Examine a scale with known masses: errors, repeatability, linearity, drift, noise, response time.

    A known mass of water will do: a glass that was weighed on a better scale. Put each on when asked, and
    take it off when asked; the scale's own display says when it has settled.
    """
    import asyncio

    from rich.console import Console

    from logger.commands.testing import test_scale

    asyncio.run(test_scale(address, mass_g, rounds, save, Console(stderr=json), as_json=json))


@app.command(epilog="Example: evencup devices learn ble:AA:BB:CC:DD:EE:FF --loads 0,100,250,500 --name bench")
def learn(
    address: Annotated[
        str, typer.Argument(metavar="[ADDRESS]", help="ble: or serial:; not needed with --from.")
    ] = "",
    capture: Annotated[
        Path | None, typer.Option("--from", metavar="CAPTURE", help="Learn again from what was kept.")
    ] = None,
    name: Annotated[
        str, typer.Option("--name", metavar="NAME", help="Keep the device by this name.")
    ] = "learned",
    loads: Annotated[
        str,
        typer.Option(
            "--loads", metavar="G,G,...", help="Known loads in the order of putting them on, g or °C."
        ),
    ] = "",
    temperature: Annotated[
        bool, typer.Option("--temperature", help="A thermometer: the loads are °C.")
    ] = False,
    write: Annotated[
        list[str] | None, typer.Option("--write", metavar="HEX", help="Bytes to write once it is open.")
    ] = None,
    every_s: Annotated[
        float | None,
        typer.Option(
            "--every", metavar="SECONDS", help="Write the last of them again and again.", min=0.05, max=3600.0
        ),
    ] = None,
    write_to: Annotated[
        str,
        typer.Option(
            "--write-to", metavar="UUID", help="The characteristic to write to, where several can be."
        ),
    ] = "",
    to: Annotated[
        Path | None, typer.Option("--capture", metavar="FILE", help="Where to keep what is heard.")
    ] = None,
    hold_s: Annotated[
        float,
        typer.Option(
            "--hold", metavar="SECONDS", help="How long each load is listened to.", min=1.0, max=120.0
        ),
    ] = 6.0,
    watch_s: Annotated[
        float | None,
        typer.Option(
            "--watch", metavar="SECONDS", help="How long the live value is shown at the end.", min=0.0
        ),
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print the result as one line of JSON.")] = False,
) -> None:
    """Work out what an unknown scale or thermometer sends, from loads whose weight you know.

    It listens to everything the device sends, says what to put on, and writes nothing to the device unless
    --write says so: an unknown command can change a device's settings.
    """
    from rich.console import Console

    from logger.commands.learning import learn_command

    learn_command(
        address, capture, name, loads, Console(stderr=json), temperature=temperature, write=write or [],
        every_s=every_s, write_to=write_to, to=to, hold_s=hold_s, watch_s=watch_s, as_json=json,
    )  # fmt: skip
