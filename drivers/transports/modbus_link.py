"""Requests to one Modbus unit and its answers, over a serial line (RTU) or TCP; pymodbus does the frames.

One request is under way at a time. A serial line has no transaction numbers, so an answer that comes too late
would pass for the answer to the next request: before each request the line is given its silent interval,
in which whatever still arrives is dropped, and after a request without answer it is left alone once more for
as long as an answer may take. Connecting again is not done here.
"""

from __future__ import annotations

import asyncio
import logging
import socket
import time
from collections.abc import Awaitable, Callable

from pymodbus import FramerType
from pymodbus.client import AsyncModbusSerialClient, AsyncModbusTcpClient
from pymodbus.exceptions import ConnectionException, ModbusException
from pymodbus.pdu import ModbusPDU

from drivers.errors import DeviceError, DeviceNotFoundError
from drivers.transports.modbus_settings import LinkSettings, Place
from drivers.transports.serial_failures import LINK_FAILURES, lost_error, opening_error
from drivers.transports.serial_port import SerialPort

# Without a handler anywhere, Python would print the library's warnings over the brewer's screen.
logging.getLogger("pymodbus").addHandler(logging.NullHandler())

OPEN_TIMEOUT_S = 10.0
_MARGIN_S = 1.0  # beyond pymodbus' own limit, which is the one that should act
_NEVER = 1_000_000_000

_READ_CODES = {"coil": 1, "discrete": 2, "holding": 3, "input": 4}
_WRITE_CODES = {"coil": 5, "holding": 6}

_Client = AsyncModbusSerialClient | AsyncModbusTcpClient


class NoAnswerError(Exception):
    """The link is open and no readable answer came in time."""


class RefusedError(Exception):
    """The unit answered that it cannot.

    :param code: MODBUS Application Protocol V1.1b3, section 7
    """

    def __init__(self, code: int) -> None:
        self.code = code
        super().__init__(f"exception {code}")


class ModbusLink:
    """The way to one unit.

    :param address: as the user wrote it, for messages
    """

    def __init__(self, address: str, settings: LinkSettings) -> None:
        self._address, self._settings = address, settings
        self._client: _Client | None = None
        self._lock = asyncio.Lock()
        self._quiet_at_s = 0.0
        self.arrived_s = 0.0
        """When the last bytes arrived, on the monotonic clock."""
        self.damaged = 0
        """Frames that could not be understood although they looked whole."""

    async def open(self) -> None:
        """Open the port, or connect.

        :raises DeviceError: not found, denied, in use, nothing listens there
        """
        client = self._client = self._make_client()
        before = _cancellations()
        try:
            async with asyncio.timeout(OPEN_TIMEOUT_S):
                connected = await client.connect()
                await asyncio.sleep(0)
                await asyncio.sleep(0)  # pymodbus starts to listen two turns of the loop later
            _not_cancelled_since(before)
        except LINK_FAILURES as error:
            self._abandon(client)
            raise self._opening_error(error) from error
        except BaseException:
            self._abandon(client)
            raise
        if not connected:
            self._abandon(client)
            raise await self._why_not()

    async def close(self) -> None:
        """Close the link; without effect when it is closed already."""
        client, self._client = self._client, None
        if client is not None:
            client.close()
            await asyncio.sleep(0)  # a TCP socket is closed in the next turn of the loop

    async def read(self, place: Place, count: int) -> list[int] | list[bool]:
        """Read registers, or bits.

        :raises DeviceLostError: when the link is gone
        :raises NoAnswerError: when no readable answer comes
        :raises RefusedError: when the unit says that it cannot
        """
        unit = self._settings.unit

        def request(client: _Client) -> Awaitable[ModbusPDU]:
            read = {
                "coil": client.read_coils,
                "discrete": client.read_discrete_inputs,
                "holding": client.read_holding_registers,
                "input": client.read_input_registers,
            }[place.kind]
            return read(place.number, count=count, device_id=unit)

        answer = await self._ask(request, _READ_CODES[place.kind])
        if place.is_bits:
            if len(answer.bits) < count:
                raise NoAnswerError(f"{len(answer.bits)} bits came where {count} were asked for")
            return list(answer.bits[:count])
        if len(answer.registers) != count:
            raise NoAnswerError(f"{len(answer.registers)} registers came where {count} were asked for")
        return list(answer.registers)

    async def write(self, place: Place, value: int) -> None:
        """Set one coil, or one holding register.

        :raises DeviceLostError: when the link is gone
        :raises NoAnswerError: when no readable answer comes
        :raises RefusedError: when the unit says that it cannot
        """
        unit = self._settings.unit

        def request(client: _Client) -> Awaitable[ModbusPDU]:
            if place.is_bits:
                return client.write_coil(place.number, bool(value), device_id=unit)
            return client.write_register(place.number, value, device_id=unit)

        await self._ask(request, _WRITE_CODES[place.kind])

    async def _ask(self, request: Callable[[_Client], Awaitable[ModbusPDU]], code: int) -> ModbusPDU:
        async with self._lock:
            await asyncio.sleep(self._pause_s())
            client = self._client
            if client is None or not client.connected:
                raise lost_error(self._address, self._settings.url)
            before = _cancellations()
            self._quiet_at_s = time.monotonic() + 2 * self._settings.timeout_s
            try:
                async with asyncio.timeout(self._settings.timeout_s + _MARGIN_S):
                    answer = await request(client)
            except (ModbusException, TimeoutError) as error:
                _not_cancelled_since(before)
                if isinstance(error, ConnectionException) or not client.connected:
                    raise lost_error(self._address, self._settings.url) from error
                raise NoAnswerError("no answer") from error
            _not_cancelled_since(before)
            self._quiet_at_s = 0.0
        if answer.isError():
            raise RefusedError(getattr(answer, "exception_code", 0))
        if answer.function_code != code:
            raise NoAnswerError(f"function {answer.function_code} answered where {code} was asked for")
        return answer

    def _pause_s(self) -> float:
        """How long to leave the line alone; what arrives meanwhile is dropped."""
        silent_s = self._settings.silent_interval_s
        return max(silent_s, self._quiet_at_s - time.monotonic()) if self._settings.rtu else 0.0

    def _make_client(self) -> _Client:
        settings = self._settings
        client: _Client
        if settings.host:
            client = AsyncModbusTcpClient(
                settings.host,
                port=settings.port,
                framer=FramerType.RTU if settings.rtu else FramerType.SOCKET,
                timeout=settings.timeout_s,
                retries=0,
                reconnect_delay=0,
            )
        else:
            client = AsyncModbusSerialClient(
                settings.url,
                baudrate=settings.serial.baud,
                bytesize=settings.serial.bytesize,
                parity=settings.serial.parity,
                stopbits=settings.serial.stopbits,  # type: ignore[arg-type]  # goes to pyserial, which takes 1.5
                timeout=settings.timeout_s,
                retries=0,
                reconnect_delay=0,
            )
        client.set_max_no_responses(_NEVER)  # when to give up is the driver's to say
        self._listen_in(client)
        return client

    def _listen_in(self, client: _Client) -> None:
        """Stamp what arrives, and keep frames that make no sense from ending pymodbus' reader."""
        understand = client.ctx.callback_data

        def arrived(data: bytes, addr: tuple[object, ...] | None = None) -> int:
            self.arrived_s = time.monotonic()
            try:
                return understand(data, addr)
            except ModbusException:
                self.damaged += 1
                return len(data)

        client.ctx.callback_data = arrived  # type: ignore[method-assign]  # it has no other place to do this

    def _abandon(self, client: _Client) -> None:
        """Close after what pymodbus has put off to the next turn of the loop."""
        self._client = None
        asyncio.get_running_loop().call_soon(client.close)

    async def _why_not(self) -> DeviceError:
        """Find out why it did not open: pymodbus only says that it did not."""
        settings = self._settings
        try:
            async with asyncio.timeout(OPEN_TIMEOUT_S):
                if settings.host:
                    await _try_network(settings.host, settings.port, settings.timeout_s)
                else:
                    port = SerialPort(self._address, settings.url, settings.serial)
                    await port.open()
                    await port.close()
        except DeviceError as error:
            return error
        except OSError as error:
            return self._opening_error(error)
        return DeviceNotFoundError(
            self._address, f"{settings.url} did not open at the first attempt", "Try again."
        )

    def _opening_error(self, error: Exception) -> DeviceError:
        # The cause of a time limit is the cancellation that it works by, which says nothing.
        cause = TimeoutError() if isinstance(error, TimeoutError) else error
        return opening_error(self._address, self._settings.url, cause)


async def _try_network(host: str, port: int, timeout_s: float) -> None:
    """Connect to the first address of a host, so that there is one error and not a list of them."""
    async with asyncio.timeout(timeout_s):
        found = await asyncio.get_running_loop().getaddrinfo(host, port, type=socket.SOCK_STREAM)
        _, writer = await asyncio.open_connection(*found[0][4][:2])
    writer.close()
    await asyncio.sleep(0)


def _cancellations() -> int:
    task = asyncio.current_task()
    return task.cancelling() if task else 0


def _not_cancelled_since(before: int) -> None:
    """Raise what ``asyncio.wait_for`` has swallowed.

    Before Python 3.12 it returns a result that arrives in the same turn of the loop as the cancellation,
    and pymodbus waits with it (https://github.com/python/cpython/issues/86296).

    :raises asyncio.CancelledError: when the task has been cancelled meanwhile
    """
    if _cancellations() > before:
        raise asyncio.CancelledError
