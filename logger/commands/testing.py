"""A scale examined at the bench: says what to put on, waits until it has settled, and says what it found."""

from __future__ import annotations

import asyncio
import json
import math
from collections.abc import Sequence
from dataclasses import asdict
from datetime import date
from typing import TYPE_CHECKING, Any

import typer

from drivers.reading import GRAM
from logger.bench.examination import NEAR_G, NEAR_SHARE, Examination, examine
from logger.bench.named import NamedDevice, config_file, find_named, save_named
from logger.bench.plateaus import SHORTEST_S, find_plateaus
from logger.commands.links import SHORT_PATIENCE, Links
from logger.commands.named_devices import device_at
from logger.commands.signals import stopped_by_signals
from logger.errors import FailureError

if TYPE_CHECKING:
    from rich.console import Console

    from drivers import Device

STEP_PATIENCE_S = 120.0
LOOKED_AT_EVERY_S = 0.5


class Steps:
    """Where the examination stands: which load comes next, and whether it has settled.

    :param masses_g: the known masses
    :param rounds: how many times each is put on
    """

    def __init__(self, masses_g: Sequence[float], rounds: int) -> None:
        in_turn = [mass for _ in range(rounds) for mass in sorted(masses_g)]
        self._loads_g = [0.0, *(load for mass in in_turn for load in (mass, 0.0))]
        self.time_s: list[float] = []
        self.weight_g: list[float] = []
        self._done = 0
        self._zero_g = 0.0
        self._since_s = -math.inf
        self._looked_s = -math.inf

    @property
    def wanted_g(self) -> float | None:
        """The load that should be on the pan now; None when all is done."""
        return self._loads_g[self._done] if self._done < len(self._loads_g) else None

    def push(self, time_s: float, weight_g: float) -> bool:
        """Take one reading; say whether the load that was wanted has settled, so that the next one is."""
        self.time_s.append(time_s)
        self.weight_g.append(weight_g)
        wanted_g = self.wanted_g
        if wanted_g is None or time_s - self._looked_s < LOOKED_AT_EVERY_S:
            return False
        self._looked_s = time_s
        import numpy as np

        recent = slice(max(len(self.time_s) - 400, 0), None)
        plateaus = find_plateaus(np.array(self.time_s[recent]), np.array(self.weight_g[recent]))
        if not plateaus or plateaus[-1].end_s < time_s - 0.5:
            return False
        last = plateaus[-1]
        settled = last.end_s - max(last.start_s, self._since_s) >= SHORTEST_S
        net_g = last.level_g - (self._zero_g if self._done else 0.0)
        near = abs(net_g - wanted_g) <= max(NEAR_SHARE * wanted_g, NEAR_G)
        if not (settled and (near or not self._done)):
            return False
        if wanted_g == 0.0:
            self._zero_g = last.level_g
        self._done, self._since_s = self._done + 1, time_s
        return True


async def test_scale(
    address: str,
    masses_g: Sequence[float],
    rounds: int,
    save: str | None,
    console: Console,
    *,
    as_json: bool,
) -> None:
    """Lead through an examination, print what was found, and keep it where that was asked for.

    :raises DeviceError: when the scale cannot be opened, or stays away
    :raises FailureError: when a load did not come, or the scale had no more to give
    """
    steps = Steps(masses_g, rounds)
    async with stopped_by_signals() as stop, device_at(address, patience=SHORT_PATIENCE) as device:
        await _lead(device, steps, stop, console)
    import numpy as np

    found = examine(np.array(steps.time_s), np.array(steps.weight_g), masses_g)
    if as_json:
        typer.echo(json.dumps(plain(found)))
    else:
        _print(found, console)
    if save is not None:
        _save(save, address, found)
        console.print(f"Kept as {save!r} in {config_file()}. Use it as: evencup record --scale {save}")


async def _lead(device: Device, steps: Steps, stop: asyncio.Event, console: Console) -> None:
    console.print("Empty the pan, and let it settle.")
    patience = asyncio.timeout(STEP_PATIENCE_S)
    try:
        async with patience:
            await _through(device, steps, stop, console, patience)
    except TimeoutError:
        if not patience.expired():
            raise
        raise FailureError(
            device.address,
            f"{_wanted(steps)} did not come within {STEP_PATIENCE_S:.0f} s",
            "Begin again.",
        ) from None
    if steps.wanted_g is not None:
        raise FailureError(
            device.address, f"it had no more to give before {_wanted(steps)} came", "Begin again."
        )


async def _through(
    device: Device, steps: Steps, stop: asyncio.Event, console: Console, patience: asyncio.Timeout
) -> None:
    """Ask for load after load until all have come, or the device has no more to give."""
    links = Links()
    async for reading in device:
        if stop.is_set():
            raise typer.Exit(130)
        if news := links.push(reading):
            console.print(news, markup=False, highlight=False)
        if reading.unit != GRAM or not reading.status.has_value:
            continue
        if not steps.push(reading.time_s, reading.value):
            continue
        patience.reschedule(asyncio.get_running_loop().time() + STEP_PATIENCE_S)
        wanted_g = steps.wanted_g
        if wanted_g is None:
            return
        console.print(f"Put on {wanted_g:g} g." if wanted_g else "Take it off.", highlight=False)


def _wanted(steps: Steps) -> str:
    return f"a load of {steps.wanted_g:g} g" if steps.wanted_g else "an empty pan at rest"


def plain(found: Examination) -> dict[str, Any]:
    """Give an examination as plain data; what was not measured is None."""
    data = asdict(found)
    data["response_s"] = found.response.delay_s if found.response else None
    data["response_order"] = found.response.order if found.response else None
    del data["response"]
    data["loads"] = [
        {**asdict(load), "error_g": load.error_g, "range_g": load.range_g} for load in found.loads
    ]
    return {key: _number(value) for key, value in data.items()}


def _number(value: Any) -> Any:
    if isinstance(value, list):
        return [{key: _number(item) for key, item in entry.items()} for entry in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value


def _print(found: Examination, console: Console) -> None:
    from rich import box
    from rich.table import Table

    table = Table("mass", "times", "error", "repeats within", "allowed in service", "", box=box.SIMPLE)
    for load in found.loads:
        inside = abs(load.error_g) <= load.allowed_g
        table.add_row(
            f"{load.mass_g:g} g",
            str(len(load.shown_g)),
            f"{load.error_g:+.2f} g",
            "-" if math.isnan(load.range_g) else f"{load.range_g:.2f} g",
            f"±{load.allowed_g:.2f} g",
            "inside" if inside else "outside",
        )
    console.print(table)
    lines = [
        f"Step {found.step_g:g} g, noise {found.noise_g:.3f} g (standard deviation of one reading).",
        f"{found.rate_hz:.1f} readings a second, {1000 * found.jitter_s:.0f} ms jitter between arrivals.",
        f"Response {found.response.delay_s:.2f} s (order {found.response.order})."
        if found.response
        else "The response time could not be seen: put loads on and take them off in one go.",
        f"Shows {found.slope:.5f} g for each gram." if math.isfinite(found.slope) else "",
        f"Off a straight line by up to {found.nonlinearity_g:.2f} g."
        if math.isfinite(found.nonlinearity_g)
        else "",
        f"Zero moved by {found.zero_drift_g:+.2f} g from first to last."
        if math.isfinite(found.zero_drift_g)
        else "",
        "Limits as OIML R 76 allows a class III scale of this step in service. This is a look at one scale "
        "on one bench, and no verification.",
    ]
    for line in filter(None, lines):
        console.print(line, highlight=False)


def _save(name: str, address: str, found: Examination) -> None:
    if ":" not in address:
        address = find_named(config_file(), address).address
    device = NamedDevice(
        name,
        address,
        response_s=round(found.response.delay_s, 3) if found.response else None,
        step_g=found.step_g or None,
        noise_g=round(found.noise_g, 4) if math.isfinite(found.noise_g) else None,
        tested=date.today(),
    )
    save_named(config_file(), device)
