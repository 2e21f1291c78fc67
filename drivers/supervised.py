"""A device that comes back: one way of dealing with a lost link, for every driver.

When the link breaks or falls silent, each channel gets a reading of status ``lost``, and the device is made
and opened again from its address, after waits that grow, are bounded, and differ by chance, so that two
devices do not knock at the same moment. While it stays away, a further ``lost`` reading follows each failed
attempt: whoever records knows that somebody is still trying. When it is back, readings go on.

What could not be opened in the first place is the user's to put right and is raised as it is.
"""

from __future__ import annotations

import asyncio
import contextlib
import math
import random
import time
from collections.abc import AsyncIterator, Awaitable, Callable, Mapping
from dataclasses import dataclass, field
from types import TracebackType
from typing import Literal, Self

from drivers.device import ChannelNames, Device, open_device
from drivers.errors import DeviceError, DeviceLostError
from drivers.reading import Reading, Status, Unit

CLOSING_S = 10.0


@dataclass(frozen=True, slots=True)
class Patience:
    """How often and for how long a lost device is called back.

    :param first_s: wait before the first attempt
    :param longest_s: no wait is longer
    :param jitter: each wait differs from its length by up to this share
    :param give_up_s: a device that was away for so long is given up
    """

    first_s: float = 0.5
    longest_s: float = 15.0
    jitter: float = 0.25
    give_up_s: float = 600.0

    def wait_s(self, attempt: int, chance: float) -> float:
        """The wait before an attempt.

        :param attempt: counted from 0 since data last came
        :param chance: a random number from 0 to 1
        """
        length_s = min(self.first_s * 2.0 ** min(attempt, 16), self.longest_s)
        return length_s * (1.0 + self.jitter * (2.0 * chance - 1.0))


@dataclass(slots=True)
class Outage:
    """One stretch without the device, on its time axis.

    :param until_s: when data came again; None while it is away
    """

    since_s: float
    why: str
    until_s: float | None = None
    attempts: int = 0


@dataclass(slots=True)
class _Seen:
    """What is known of the channels so far."""

    units: dict[str, Unit] = field(default_factory=dict)
    last_s: float = -math.inf


class Supervised:
    """Stands before a device and opens it again when it is lost; itself a device.

    :param address: as the user wrote it
    :param names: for channels that the device does not name
    :param known: what else should stand in the recording of this device: its name, its response time
    :param opener: makes the device, not opened yet
    :param clock: the host's monotonic clock
    :param sleep: waits
    :param chance: gives a random number from 0 to 1
    """

    def __init__(
        self,
        address: str,
        names: ChannelNames | None = None,
        patience: Patience | None = None,
        *,
        known: Mapping[str, object] | None = None,
        opener: Callable[[str, ChannelNames | None], Device] = open_device,
        clock: Callable[[], float] = time.monotonic,
        sleep: Callable[[float], Awaitable[object]] = asyncio.sleep,
        chance: Callable[[], float] = random.random,
    ) -> None:
        self._address, self._names, self._opener = address, names, opener
        self._patience, self._known = patience or Patience(), dict(known or {})
        self._clock, self._sleep, self._chance = clock, sleep, chance
        self._device = opener(address, names)
        # What a device counts is nought before it is opened; what it merely says (a baud rate) is not.
        self._counters = [name for name, value in self._device.facts().items() if _is_nought(value)]
        self._earlier: dict[str, int] = {}
        self._seen = _Seen()
        self.outages: list[Outage] = []

    @property
    def address(self) -> str:
        """The address as the user wrote it."""
        return self._address

    @property
    def can_tare(self) -> bool:
        """Whether the device can set itself to zero."""
        return self._device.can_tare

    @property
    def paced(self) -> float:
        """Seconds of the readings' axis per second of the wall clock."""
        return self._device.paced

    @property
    def state(self) -> Literal["linked", "lost"]:
        """Whether data is coming, so far as is known."""
        return "lost" if self.outages and self.outages[-1].until_s is None else "linked"

    @property
    def battery_percent(self) -> int | None:
        """What is left in the device's battery, where it says so."""
        return getattr(self._device, "battery_percent", None)

    @property
    def steps(self) -> Mapping[str, float]:
        """The step of each channel's display, as far as it is known."""
        return getattr(self._device, "steps", {})

    async def __aenter__(self) -> Self:
        """Open the device for the first time.

        :raises DeviceError: as the driver says it
        """
        await self._device.__aenter__()
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Close the device."""
        await self._device.__aexit__(kind, error, trace)

    async def tare(self) -> None:
        """Set the scale to zero.

        :raises DeviceError: when the device cannot, or is away
        """
        await self._device.tare()

    def facts(self) -> dict[str, object]:
        """What the driver says, its counters summed over all openings, and every outage."""
        facts = {**self._device.facts(), **self._known}
        for name, count in self._earlier.items():
            own = facts.get(name)
            facts[name] = count + (own if isinstance(own, int) else 0)
        if self.outages:
            facts["outages"] = [
                {"since_s": o.since_s, "until_s": o.until_s, "why": o.why, "attempts": o.attempts}
                for o in self.outages
            ]
        return facts

    async def __aiter__(self) -> AsyncIterator[Reading]:
        """Give readings until the device has no more, across any number of losses.

        :raises DeviceLostError: when it has been away for longer than there is patience
        """
        while True:
            try:
                async for reading in self._device:
                    self._note(reading)
                    yield reading
                return
            except DeviceError as error:
                # A device that has worked will work again, whatever it says for now; one that never has is
                # the user's to put right.
                if not self._seen.units:
                    raise
                loss: DeviceError = error
            async for lost in self._call_back(loss):
                yield lost

    def _note(self, reading: Reading) -> None:
        self._seen.units[reading.channel] = reading.unit
        self._seen.last_s = reading.time_s
        if self.outages and self.outages[-1].until_s is None:
            self.outages[-1].until_s = reading.time_s

    async def _call_back(self, loss: DeviceError) -> AsyncIterator[Reading]:
        """Open the device again; every channel is lost once at the loss and once at each failed attempt."""
        if not self.outages or self.outages[-1].until_s is not None:
            self.outages.append(Outage(self._now_s(), loss.what))
        outage, first = self.outages[-1], loss
        for reading in self._lost():
            yield reading
        while True:
            await self._put_away()
            left_s = outage.since_s + self._patience.give_up_s - self._now_s()
            if left_s <= 0.0:
                raise self._given_up(outage, first)
            # The last attempt falls on the limit: no wait runs past it.
            await self._sleep(min(self._patience.wait_s(outage.attempts, self._chance()), left_s))
            outage.attempts += 1
            try:
                self._device = self._opener(self._address, self._names)
                await self._device.__aenter__()
            except DeviceError as error:
                loss = error
                for reading in self._lost():
                    yield reading
                continue
            return

    def _lost(self) -> list[Reading]:
        at_s = max(self._now_s(), self._seen.last_s)
        return [
            Reading(channel, at_s, math.nan, unit, Status.LOST) for channel, unit in self._seen.units.items()
        ]

    def _now_s(self) -> float:
        return self._clock()

    async def _put_away(self) -> None:
        """Close what is left of the device, and keep its counters."""
        facts = self._device.facts()
        for name in self._counters:
            value = facts.get(name)
            if isinstance(value, int):
                self._earlier[name] = self._earlier.get(name, 0) + value
        # A link that is gone may not even close; the next opening must not wait for it.
        with contextlib.suppress(DeviceError, TimeoutError):
            async with asyncio.timeout(CLOSING_S):
                await self._device.__aexit__(None, None, None)

    def _given_up(self, outage: Outage, loss: DeviceError) -> DeviceLostError:
        away_s = self._now_s() - outage.since_s
        return DeviceLostError(
            self._address,
            f"{loss.what}, and did not come back within {away_s:.0f} s ({outage.attempts} attempts)",
            loss.remedy,
        )


def _is_nought(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and value == 0
