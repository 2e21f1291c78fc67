"""A device while the recorder has it."""

from __future__ import annotations

import asyncio
import logging
import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from drivers.device import Device
from drivers.errors import DeviceError
from drivers.reading import Unit
from logger.errors import EvencupError
from logger.recording.take import LostDevice

log = logging.getLogger(__name__)


class DevicesError(EvencupError):
    """One or more devices could not be opened; all of them are closed again.

    :param errors: one for each device that could not be opened
    """

    def __init__(self, errors: Sequence[DeviceError], of: int) -> None:
        self.errors = tuple(errors)
        self.is_bad_input = all(error.is_bad_input for error in errors)
        lines = "".join(f"\n  {error}" for error in errors)
        number = "the device" if of == 1 else f"{len(errors)} of {of} devices"
        super().__init__(number, f"could not be opened:{lines}", "")
        self.args = (f"{number} could not be opened:{lines}",)


@dataclass(eq=False)
class Port:
    """A device while the recorder has it.

    :param opened: done as soon as the device is open, or with the error that it is not
    :param channels: those seen so far, with their units
    :param last_s: time of its latest reading
    :param ended: it has no more to give
    """

    device: Device
    opened: asyncio.Future[None]
    channels: dict[str, Unit] = field(default_factory=dict)
    last_s: float = -math.inf
    ended: bool = False
    lost: LostDevice | None = None

    @property
    def is_unpaced(self) -> bool:
        """Whether it runs as fast as it can."""
        return math.isinf(self.device.paced)

    @property
    def is_live(self) -> bool:
        """Whether its time is the wall clock's."""
        return self.device.paced == 1

    def lose(self, error: Exception) -> None:
        """Note that it is gone, and why."""
        address = self.device.address
        if isinstance(error, DeviceError):
            self.lost = LostDevice(address, str(error), error.is_bad_input)
        else:
            # A driver's fault must not end the brew for the other devices.
            log.error("%s: the driver failed", address, exc_info=error)
            self.lost = LostDevice(address, f"{address}: the driver failed: {error!r}. Please report it.")

    def facts(self) -> dict[str, Any]:
        """What the recording keeps about it."""
        facts = {"address": self.device.address, "channels": list(self.channels), **self._own_facts()}
        return facts | ({"lost": self.lost.message} if self.lost else {})

    def _own_facts(self) -> dict[str, object]:
        try:
            return self.device.facts()
        except Exception as error:
            # The recording must be closed, whatever a driver does.
            log.error("%s: the driver has no facts", self.device.address, exc_info=error)
            return {}


def line_counters(devices: Sequence[dict[str, Any]]) -> dict[str, int]:
    """Pick out of the devices' facts what became of the lines (or frames) that they sent."""
    return {
        f"{name}.{facts['address']}": value
        for facts in devices
        for name, value in facts.items()
        if name.startswith("lines") and isinstance(value, int)
    }
