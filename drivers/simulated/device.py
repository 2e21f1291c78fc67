"""A simulated brew as a device: ``simulated:target.toml?seed=3&level=medium&speed=8``.

Options: ``seed`` (default 0), ``level`` (clean, easy, medium or hard; default medium), ``speed`` (simulated
seconds per second of the wall clock, or ``max``; default 1), ``rate_hz`` and ``step_g`` (another scale for
the same brew), ``server=yes`` (a second scale under the server of a pour-over; the rest of the brew stays as
it is without), ``tau_s`` (how slowly that bed drains: the head falls to 37 % in so many seconds; drawn
otherwise). Channels: the scale under the name asked for; for pour-over and immersion ``kettle`` and
``slurry`` besides; ``server`` where it was asked for.

The readings' time axis is never compressed: it begins at the monotonic clock's time when the brew starts
and goes on in simulated seconds, whatever the speed.
"""

from __future__ import annotations

import asyncio
import math
import time
from collections.abc import AsyncIterator, Awaitable, Callable
from dataclasses import replace
from pathlib import Path
from types import TracebackType
from typing import Self

import numpy as np

from drivers.address import Address
from drivers.device import ChannelNames
from drivers.errors import AddressError, DeviceDeniedError, DeviceNotFoundError
from drivers.reading import GRAM, Reading
from drivers.simulated.brew import SERVER, simulate
from drivers.simulated.conditions import PRESETS, Conditions
from drivers.simulated.percolation import Percolation
from drivers.simulated.plan import Plan, PlanError, read_plan
from drivers.simulated.scale import to_step
from drivers.simulated.truth import SimulatedBrew

OPTIONS = ("seed", "level", "speed", "rate_hz", "step_g", "server", "tau_s")

_FASTEST = 1000.0
_MANY = 64  # readings in a row without giving way to the rest of the program

Clock = Callable[[], float]
Sleep = Callable[[float], Awaitable[object]]


class SimulatedDevice:
    """Gives the readings of one simulated brew, in their own time or faster, and ends with it.

    :param address: as the user wrote it
    :param target: the target file to brew after
    :param conditions: of hand, bench and instruments
    :param level: the name of those conditions, for the record
    :param speed: simulated seconds per second of the clock; infinity for as fast as possible
    :param percolation: the bed of a pour-over whose server stands on a scale of its own, or None
    :param clock: monotonic, seconds
    :param sleep: waits for a number of seconds
    """

    can_tare = True

    def __init__(
        self,
        address: str,
        target: Path,
        seed: int = 0,
        conditions: Conditions = PRESETS["medium"],
        *,
        level: str = "medium",
        speed: float = 1.0,
        percolation: Percolation | None = None,
        names: ChannelNames | None = None,
        clock: Clock = time.monotonic,
        sleep: Sleep = asyncio.sleep,
    ) -> None:
        self._address, self._target, self._seed = address, target, seed
        self._conditions, self._level, self._speed = conditions, level, speed
        self._percolation = percolation
        self._names = names or ChannelNames()
        self._clock, self._sleep = clock, sleep
        self._plan: Plan | None = None
        self._brew: SimulatedBrew | None = None
        self._closed = True
        self._shown_g = 0.0
        self._zero_g = 0.0
        self._tares = 0

    @property
    def address(self) -> str:
        """The address as the user wrote it."""
        return self._address

    @property
    def paced(self) -> float:
        """Simulated seconds per second of the clock; infinity for as fast as possible."""
        return self._speed

    @property
    def brew(self) -> SimulatedBrew | None:
        """The brew and its truth, once the device is open."""
        return self._brew

    async def __aenter__(self) -> Self:
        """Read the target and simulate the brew.

        :raises DeviceNotFoundError: when the target file is not there
        :raises DeviceDeniedError: when it may not be read
        :raises AddressError: when it cannot be brewed
        """
        self._plan = self._read_plan()
        if self._percolation and self._plan.method != "pour-over":
            why = f"{self._target} is no pour-over: nothing drips from a bed into a server"
            raise AddressError(self._address, why, "Leave server=yes out.")
        self._brew = simulate(
            self._plan,
            self._seed,
            self._conditions,
            weight_channel=self._names.weight,
            percolation=self._percolation,
        )
        self._closed = False
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """End the brew."""
        self._closed = True

    def __aiter__(self) -> AsyncIterator[Reading]:
        """Give the readings, each when it is due."""
        if self._brew is None:
            raise RuntimeError("open the device first: async with device")
        return self._readings(self._brew)

    async def tare(self) -> None:
        """Take what the scale shows now as its zero from here on."""
        self._zero_g += self._shown_g
        self._shown_g = 0.0
        self._tares += 1

    def facts(self) -> dict[str, object]:
        """What was simulated, and on which instrument."""
        facts: dict[str, object] = {
            "driver": "simulated",
            "target": self._target.name,
            "seed": self._seed,
            "level": self._level,
            "tares": self._tares,
        }
        if self._plan and self._brew:
            facts["title"] = self._plan.title
            facts["instrument"] = self._brew.truth.instrument.facts()
        return facts

    async def _readings(self, brew: SimulatedBrew) -> AsyncIterator[Reading]:
        start_s = self._clock()
        at_once = 0
        for reading in brew.readings:
            wait_s = start_s + reading.time_s / self._speed - self._clock()
            at_once = 0 if wait_s > 0 else at_once + 1
            if wait_s > 0 or at_once % _MANY == 0:
                await self._sleep(max(wait_s, 0.0))
            if self._closed:
                return
            yield self._as_shown(reading, start_s)

    def _as_shown(self, reading: Reading, start_s: float) -> Reading:
        value = reading.value
        if reading.unit == GRAM and reading.channel == self._names.weight and self._brew:
            step_g = self._brew.truth.instrument.step_g
            value = float(to_step(np.array([value - self._zero_g]), step_g)[0]) if self._tares else value
            self._shown_g = value
        return replace(reading, time_s=start_s + reading.time_s, value=value)

    def _read_plan(self) -> Plan:
        try:
            return read_plan(self._target)
        except PlanError as error:
            raise AddressError(self._address, str(error), "Mend the target file and try again.") from None
        except (FileNotFoundError, NotADirectoryError):
            raise DeviceNotFoundError(
                self._address,
                f"there is no target file {self._target}",
                "Name a target file that exists, relative to this folder or in full.",
            ) from None
        except OSError as error:
            raise DeviceDeniedError(
                self._address,
                f"the target file {self._target} cannot be read ({error.strerror or error})",
                "Name a target file that you may read.",
            ) from None


def open_simulated(address: Address, names: ChannelNames) -> SimulatedDevice:
    """Make the device for an address such as ``simulated:target.toml?seed=3&speed=max``.

    :raises AddressError: for an unknown option, or one out of range
    """
    address.only(OPTIONS)
    level = address.choice("level", "medium", tuple(PRESETS))
    seed = address.number("seed", 0.0, at_least=0, at_most=2**53)
    if not seed.is_integer():
        raise AddressError(address.text, f"seed={address.options['seed']} is no whole number", "Give seed=3.")
    conditions = PRESETS[level]
    if "rate_hz" in address.options:
        rate_hz = address.number("rate_hz", 10.0, at_least=0.5, at_most=100.0)
        conditions = replace(conditions, rate_hz=(rate_hz,))
    if "step_g" in address.options:
        step_g = address.number("step_g", 0.1, at_least=0.001, at_most=10.0)
        conditions = replace(conditions, step_g=(step_g,))
    return SimulatedDevice(
        address.text,
        Path(address.target),
        int(seed),
        conditions,
        level=level,
        speed=_speed(address),
        percolation=_percolation(address, names),
        names=names,
    )


def _percolation(address: Address, names: ChannelNames) -> Percolation | None:
    """The bed that was asked for, if any."""
    if address.choice("server", "no", ("yes", "no")) == "no":
        if "tau_s" in address.options:
            raise AddressError(address.text, "tau_s is that of a bed over a server", "Add server=yes.")
        return None
    if names.weight == SERVER:
        why = f"the scale under everything cannot be called {SERVER}, too"
        raise AddressError(address.text, why, "Leave the name out, or server=yes.")
    if "tau_s" not in address.options:
        return Percolation()
    tau_s = address.number("tau_s", 15.0, at_least=1.0, at_most=300.0)
    return Percolation(tau_s=(tau_s, tau_s), clog=(0.0, 0.0))


def _speed(address: Address) -> float:
    if address.options.get("speed") == "max":
        return math.inf
    return address.number("speed", 1.0, at_least=0.01, at_most=_FASTEST)
