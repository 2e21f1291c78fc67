"""What the devices say beside the weight: whether they are heard at all, and whether the water is ready."""

from __future__ import annotations

import math
from dataclasses import dataclass

from logger.compare.thermometers import OTHER_NAMES, WATER_NAMES
from logger.guide.cue import DeviceState, Water

STALE_AFTER_S = 1.5
"""Without a reading for so long, and for several times its own pace, a channel is stale."""

PACES = 4.0


@dataclass(slots=True)
class _Channel:
    heard_s: float
    pace_s: float = 0.0
    lost: bool = False


class Channels:
    """How every channel's readings come in."""

    def __init__(self) -> None:
        self._channels: dict[str, _Channel] = {}

    def heard(self, channel: str, time_s: float) -> None:
        """A reading with a value came."""
        known = self._channels.get(channel)
        if known is None:
            self._channels[channel] = _Channel(time_s)
            return
        if not known.lost:
            # Slowly down and quickly up: a radio's bursts make the longest wait its pace.
            waited_s = max(time_s - known.heard_s, 0.0)
            if waited_s < 10 * STALE_AFTER_S:
                known.pace_s = max(waited_s, 0.9 * known.pace_s)
        known.heard_s, known.lost = time_s, False

    def lost(self, channel: str, time_s: float) -> None:
        """The link is down."""
        self._channels.setdefault(channel, _Channel(time_s)).lost = True

    def states(self, time_s: float) -> tuple[DeviceState, ...]:
        """How all of them stand now, in the order in which they were first heard."""
        return tuple(_state(name, channel, time_s) for name, channel in self._channels.items())

    def is_fresh(self, channel: str, time_s: float) -> bool:
        """Whether what a channel said last still holds."""
        known = self._channels.get(channel)
        return known is not None and _state(channel, known, time_s).state == "fresh"


def _state(name: str, channel: _Channel, time_s: float) -> DeviceState:
    silent_s = max(time_s - channel.heard_s, 0.0)
    if channel.lost:
        return DeviceState(name, "lost", silent_s)
    patience_s = max(STALE_AFTER_S, PACES * channel.pace_s)
    return DeviceState(name, "stale" if silent_s > patience_s else "fresh", silent_s)


class Kettle:
    """The thermometers, and whether the water is as the next pour wants it."""

    def __init__(self) -> None:
        self._shown_c: dict[str, float] = {}

    def push(self, channel: str, water_c: float) -> None:
        """Take what a thermometer shows; what is no temperature is passed over."""
        if math.isfinite(water_c):
            self._shown_c[channel] = water_c

    def water(
        self, channels: Channels, time_s: float, wanted_c: float | None, tolerance_c: float
    ) -> tuple[Water, ...]:
        """What all show, the one in the water first.

        :param wanted_c: what the coming pour asks for, as far as it can be had here; or None
        """
        main = self._main()
        order = sorted(self._shown_c, key=lambda name: name != main)
        return tuple(
            _water(name, self._shown_c[name], wanted_c, tolerance_c)
            if name == main and channels.is_fresh(name, time_s)
            else Water(name, self._shown_c[name])
            for name in order
        )

    def _main(self) -> str | None:
        """The thermometer in the water as it is poured: by its name, or the only one."""
        for name in WATER_NAMES:
            if name in self._shown_c:
                return name
        names = list(self._shown_c)
        return names[0] if len(names) == 1 and names[0] not in OTHER_NAMES else None


def _water(channel: str, water_c: float, wanted_c: float | None, tolerance_c: float) -> Water:
    if wanted_c is None:
        return Water(channel, water_c)
    off_c = water_c - wanted_c
    if abs(off_c) <= tolerance_c:
        return Water(channel, water_c, wanted_c, True, "ready")
    which = "hot" if off_c > 0 else "cool"
    return Water(channel, water_c, wanted_c, False, f"{abs(off_c):.1f} °C too {which}")
