"""What a bare sensor's signal is in °C and g: thermocouples, platinum resistors, thermistors, load cells.

Pure functions of numbers, for lines and registers that carry millivolts, ohms or counts. NaN goes through
as NaN, because a missing signal is no temperature; a signal outside the sensor's range raises ValueError,
because a broken wire or a short circuit must not become one.
"""

from drivers.sensors.load_cell import LoadCell, LoadCellFit, fit_load_cell
from drivers.sensors.rtd import PT100, PT1000, Rtd
from drivers.sensors.thermistor import Thermistor
from drivers.sensors.thermocouple import THERMOCOUPLES, Thermocouple

__all__ = [
    "PT100",
    "PT1000",
    "THERMOCOUPLES",
    "LoadCell",
    "LoadCellFit",
    "Rtd",
    "Thermistor",
    "Thermocouple",
    "fit_load_cell",
]
