"""The driver for scales, weighing transmitters and temperature controllers with Modbus registers.

``modbus:/dev/ttyUSB1?unit=1&weight=holding:0:int32:0.01`` for a serial line (RTU),
``modbus:tcp://192.168.1.20?unit=1&temperature=input:10:int16:0.1`` for a network. A unit only speaks when it
is asked, so the driver asks for each channel in turn, every ``every_ms``. ``modbus_options`` and
``modbus_channels`` read the address, ``decoders.registers`` the registers; this module keeps the rounds and
says when a unit is lost.
"""

from __future__ import annotations

import asyncio
import math
import time
from collections.abc import AsyncIterator, Mapping
from types import TracebackType
from typing import Self, cast

from drivers.address import Address
from drivers.decoders.registers import bits_of
from drivers.device import ChannelNames
from drivers.errors import DeviceError, DeviceLostError, DeviceSilentError, DeviceUnreadableError
from drivers.modbus_channels import RegisterChannel
from drivers.modbus_options import ModbusOptions, modbus_options
from drivers.reading import CELSIUS, Reading, Status
from drivers.transports.modbus_link import ModbusLink, NoAnswerError, RefusedError
from drivers.transports.modbus_settings import Place

LOST_AFTER = 5
"""Rounds in a row without one answer, after which a unit that has answered before is lost."""

HOPELESS_AFTER = 3
"""Failures in a row of a channel that has never given anything."""

_ABSOLUTE_ZERO_C = -273.15

# MODBUS Application Protocol V1.1b3, section 7: what a gateway says for a unit behind it that is silent.
_GATEWAY_CODES = (10, 11)
_FINAL_CODES = (1, 2, 3)


def open_modbus(address: Address, names: ChannelNames) -> ModbusDevice:
    """Make the device of a ``modbus:`` address, not opened yet.

    :raises AddressError: when an option is unknown or makes no sense
    """
    return ModbusDevice(address, modbus_options(address, names))


class ModbusDevice:
    """A unit whose registers are read again and again."""

    def __init__(self, address: Address, options: ModbusOptions) -> None:
        self._address, self._options = address, options
        self._link = ModbusLink(address.text, options.link)
        self._given = dict.fromkeys((channel.channel for channel in options.channels), 0)
        self._failed_in_a_row = dict.fromkeys(self._given, 0)
        self._requests = self._failures = 0
        self._last_failure = ""

    @property
    def address(self) -> str:
        """The address as the user wrote it."""
        return self._address.text

    @property
    def can_tare(self) -> bool:
        """Whether the address says what to write for a tare."""
        return self._options.tare is not None

    @property
    def paced(self) -> float:
        """Hardware keeps the time of the wall clock."""
        return 1.0

    @property
    def steps(self) -> Mapping[str, float]:
        """The step of each channel's value in g or °C; floats have none that shows."""
        steps = ((channel.channel, channel.step) for channel in self._options.channels)
        return {name: step for name, step in steps if step is not None}

    async def __aenter__(self) -> Self:
        """Open the link."""
        await self._link.open()
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Close the link."""
        await self._link.close()

    async def __aiter__(self) -> AsyncIterator[Reading]:
        """Give the readings, each with the arrival time of its answer.

        :raises DeviceLostError: when the link broke, or the unit has stopped answering
        :raises DeviceSilentError: when it has not answered for ``silent_s``, or from the start
        :raises DeviceUnreadableError: when the unit says from the start that a channel cannot be read
        """
        heard_s = due_s = time.monotonic()
        empty_rounds = 0
        while True:
            answered = False
            for channel in self._options.channels:
                if (reading := await self._poll(channel)) is not None:
                    answered = True
                    yield reading
            now_s = time.monotonic()
            if answered:
                heard_s, empty_rounds = now_s, 0
            else:
                empty_rounds += 1
                self._raise_if_gone(empty_rounds, now_s - heard_s)
            due_s = max(due_s + self._options.every_s, now_s)
            await asyncio.sleep(due_s - now_s)

    async def tare(self) -> None:
        """Write what the address says for a tare."""
        write = self._options.tare
        if write is None:
            raise DeviceError(
                self.address,
                "this device has no tare command",
                "Press the tare key, or add what to write to the address: &tare=coil:5.",
            )
        try:
            await self._link.write(write.place, write.value)
        except (NoAnswerError, RefusedError) as error:
            what, remedy = self._explain(write.place, error)
            raise DeviceError(self.address, f"the tare failed: {what}", remedy) from error

    def facts(self) -> dict[str, object]:
        """What should be kept about the device in the recording."""
        link = self._options.link
        return {
            "driver": "modbus",
            "frames": "rtu" if link.rtu else "tcp",
            **({} if link.host else {"baud": link.serial.baud}),
            "unit": link.unit,
            "requests": self._requests,
            "requests_failed": self._failures,
            "frames_damaged": self._link.damaged,
            "last_failure": self._last_failure,
        }

    async def _poll(self, channel: RegisterChannel) -> Reading | None:
        """Ask for one channel; None where nothing came.

        :raises DeviceError: when it has never come and is not going to
        """
        self._requests += 1
        try:
            reading = await self._read(channel)
        except (NoAnswerError, RefusedError) as error:
            self._note(channel, error)
            if _is_silence(error):
                return None
            return Reading(channel.channel, self._link.arrived_s, math.nan, channel.unit, Status.ERROR)
        self._given[channel.channel] += 1
        self._failed_in_a_row[channel.channel] = 0
        return reading

    async def _read(self, channel: RegisterChannel) -> Reading:
        words = cast(list[int], await self._link.read(channel.place, channel.quantity.words))
        arrived_s = self._link.arrived_s
        status = await self._status(channel)
        value = _value(channel, words)
        if math.isnan(value) and status.has_value:
            status = Status.ERROR
        elif not status.has_value:
            value = math.nan
        return Reading(channel.channel, arrived_s, value, channel.unit, status)

    async def _status(self, channel: RegisterChannel) -> Status:
        place, bits = channel.status_at, channel.status_bits
        if place is None or bits is None:
            return Status.UNKNOWN
        count = bits.highest + 1 if place.is_bits else bits.highest // 16 + 1
        answer = await self._link.read(place, count)
        return bits.status(cast(list[bool], answer) if place.is_bits else bits_of(answer))

    def _note(self, channel: RegisterChannel, error: NoAnswerError | RefusedError) -> None:
        """Count a failure; the last straw for a channel that has never given anything is an error."""
        self._failures += 1
        self._failed_in_a_row[channel.channel] += 1
        self._last_failure, remedy = self._explain(channel.place, error)
        if self._given[channel.channel]:
            return
        hopeless = self._failed_in_a_row[channel.channel] >= HOPELESS_AFTER
        if _is_silence(error) and hopeless:
            # Not "unreadable": a unit behind a gateway may be switched off for a while, and come back.
            raise DeviceSilentError(self.address, self._last_failure, remedy) from error
        if isinstance(error, RefusedError) and (hopeless or error.code in _FINAL_CODES):
            raise DeviceUnreadableError(self.address, self._last_failure, remedy) from error

    def _raise_if_gone(self, empty_rounds: int, silence_s: float) -> None:
        unit, failure = self._options.link.unit, self._last_failure
        if silence_s >= self._options.silent_s:
            raise DeviceSilentError(
                self.address,
                f"nothing readable has come for {silence_s:.1f} s ({failure})",
                "Check power and cable of the unit; if it answers seldom, add a longer silent_s=.",
            )
        if empty_rounds >= LOST_AFTER and any(self._given.values()):
            raise DeviceLostError(
                self.address,
                f"unit {unit} has stopped answering, {empty_rounds} times in a row ({failure})",
                "Check power and cable of the unit, then connect again.",
            )

    def _explain(self, place: Place, error: NoAnswerError | RefusedError) -> tuple[str, str]:
        """Say what happened and what to check."""
        link = self._options.link
        if isinstance(error, NoAnswerError):
            what = f"unit {link.unit} gave no readable answer for {place} ({error})"
            if not link.rtu or link.host:
                return what, "Check unit= and that the device is switched on behind this network port."
            return what, (
                f"Check that it is switched on, unit=, baud= (now {link.serial.baud}), parity= and "
                "stopbits=, and that the two wires of the line are not swapped."
            )
        what, remedy = _REFUSALS.get(
            error.code, ("answered {place} with exception {code}", "Look it up in the device's manual.")
        )
        return f"unit {link.unit} {what.format(place=place, code=error.code)}", remedy


_REFUSALS = {
    1: (
        "does not offer this kind of request for {place} (exception 1)",
        "Look in the device's manual whether it is holding:, input:, coil: or discrete:.",
    ),
    2: (
        "has no {place}, or not as many registers from there (exception 2)",
        "Check number and type. Numbers count from zero: what a manual calls 40001 is holding:0, "
        "and 30001 is input:0.",
    ),
    3: ("does not take the request for {place} (exception 3)", "Check number and type of the register."),
    4: (
        "reports a failure for {place}, or there is no such unit (exception 4)",
        "Check unit=, and the device itself: a sensor may be unplugged.",
    ),
    6: ("is busy and does not give {place} (exception 6)", "Ask less often: every_ms=1000."),
    10: ("cannot be reached by the gateway (exception 10)", "Check unit= and the gateway's settings."),
    11: (
        "does not answer the gateway (exception 11)",
        "Check unit=, and power and cable of the unit behind the gateway.",
    ),
}


def _is_silence(error: NoAnswerError | RefusedError) -> bool:
    """Say whether the unit itself has said nothing."""
    return isinstance(error, NoAnswerError) or error.code in _GATEWAY_CODES


def _value(channel: RegisterChannel, words: list[int]) -> float:
    """Give the value in g or °C; NaN where there is none, or none that can be."""
    quantity = channel.quantity.value(words)
    if quantity is None:
        return math.nan
    try:
        value = float(quantity * channel.unit_of.factor + channel.unit_of.plus)
    except OverflowError:
        return math.nan
    return math.nan if channel.unit == CELSIUS and value < _ABSOLUTE_ZERO_C else value
