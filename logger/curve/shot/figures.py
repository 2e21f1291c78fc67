"""One espresso in figures."""

from __future__ import annotations

from dataclasses import dataclass

from logger.curve.brew import Pour


@dataclass(frozen=True, slots=True)
class ShotFigures:
    """One espresso; times on the analysis' axis, None where a figure cannot be told.

    :param pump_s: when the pump was started, as marked
    :param first_drip_s: the first espresso that the scale can see
    :param full_s: when the full flow was reached
    :param full_uncertainty_s: its standard uncertainty; None where no ramp was seen
    :param full_flow_g_s: that flow
    :param stop_s: when the flow was cut: the bend from the full stream into the after-drip
    :param stop_uncertainty_s: its standard uncertainty
    :param end_s: when the stream fell below 0.1 g/s
    :param yield_at_stop_g: in the cup at the stop
    :param yield_at_stop_uncertainty_g: its standard uncertainty: that of the scale, and of the stop's time
    :param yield_at_rest_g: in the cup when nothing dripped any more, or the last that was seen
    :param rest_seen: whether that was at rest
    :param yield_uncertainty_g: standard uncertainty of the yield at rest, by the scale's step and scatter
    :param peak_flow_g_s: the steepest two seconds
    :param pours: the stretches of flow that it is made of; several where it was cut and went on
    :param remarks: why a figure is missing or not what one would take it for, a sentence each
    """

    pump_s: float | None
    first_drip_s: float
    full_s: float | None
    full_uncertainty_s: float | None
    full_flow_g_s: float | None
    stop_s: float | None
    stop_uncertainty_s: float | None
    end_s: float
    yield_at_stop_g: float | None
    yield_at_stop_uncertainty_g: float | None
    yield_at_rest_g: float
    rest_seen: bool
    yield_uncertainty_g: float
    peak_flow_g_s: float | None
    pours: tuple[Pour, ...]
    remarks: tuple[str, ...] = ()

    @property
    def pre_infusion_s(self) -> float | None:
        """From the pump's start to the first drip."""
        return None if self.pump_s is None else self.first_drip_s - self.pump_s

    @property
    def ramp_s(self) -> float | None:
        """From the first drip to the full flow."""
        return None if self.full_s is None else self.full_s - self.first_drip_s

    @property
    def shot_time_s(self) -> float | None:
        """From the pump's start to the stop."""
        return None if self.pump_s is None or self.stop_s is None else self.stop_s - self.pump_s

    @property
    def extraction_s(self) -> float | None:
        """From the first drip to the stop."""
        return None if self.stop_s is None else self.stop_s - self.first_drip_s

    @property
    def after_drip_s(self) -> float | None:
        """From the stop until the stream fell below 0.1 g/s."""
        return None if self.stop_s is None or not self.rest_seen else max(self.end_s - self.stop_s, 0.0)

    @property
    def after_drip_g(self) -> float | None:
        """What came after the stop, as far as it was seen."""
        if self.yield_at_stop_g is None:
            return None
        return max(self.yield_at_rest_g - self.yield_at_stop_g, 0.0)

    @property
    def average_flow_g_s(self) -> float | None:
        """The yield at the stop by the time from the first drip to it."""
        if self.yield_at_stop_g is None or not self.extraction_s:
            return None
        return self.yield_at_stop_g / self.extraction_s
