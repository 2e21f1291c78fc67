"""How a Modbus unit is reached, and where something stands in it."""

from __future__ import annotations

from dataclasses import dataclass

from drivers.transports.serial_port import PortSettings


@dataclass(frozen=True, slots=True)
class Place:
    """Where something stands in a unit.

    :param kind: ``coil``, ``discrete``, ``holding`` or ``input``
    :param number: the protocol's own, counted from zero
    """

    kind: str
    number: int

    @property
    def is_bits(self) -> bool:
        """Whether there are single bits, not registers of sixteen."""
        return self.kind in ("coil", "discrete")

    def __str__(self) -> str:
        return f"{self.kind} {'' if self.is_bits else 'register '}{self.number}"


@dataclass(frozen=True, slots=True)
class LinkSettings:
    """How a unit is reached.

    :param url: ``/dev/ttyUSB1``, ``COM3``, ``tcp://host:502``, ``rtu+tcp://host:4000``
    :param host: empty for a serial port
    :param rtu: whether frames are those of a serial line
    :param timeout_s: how long an answer may take
    """

    url: str
    host: str
    port: int
    rtu: bool
    serial: PortSettings
    unit: int
    timeout_s: float

    @property
    def silent_interval_s(self) -> float:
        """The pause before a frame: 3.5 characters of 11 bits, 1.75 ms above 19,200 baud.

        MODBUS over Serial Line V1.02, 2.5.1.1. On a network there is no such thing as a pause.
        """
        if not self.rtu:
            return 0.0
        baud = 9600 if self.host else self.serial.baud
        return 0.00175 if baud > 19_200 else 3.5 * 11 / baud
