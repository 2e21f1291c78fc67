"""What is read from packets, as arrays."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from drivers.learn.packets.arrays import changes_of, without_single


def test_a_single_packet_astray_is_taken_out_as_a_median_filter_does():
    """``scipy.signal.medfilt`` is the reference."""
    values = np.array([10.0, 10.1, 900.0, 10.2, 10.4, 10.3])
    assert without_single(values).tolist() == signal.medfilt(values, 3)[1:-1].tolist()
    assert without_single(values).max() < 11.0


def test_a_single_value_astray_is_no_change():
    assert changes_of(np.array([1.0, 1.0, 9.0, 1.0, 2.0, 2.0, 2.0])).tolist() == [1.0]


@pytest.mark.parametrize("count", range(4))
def test_too_few_values_do_not_change(count: int):
    assert changes_of(np.arange(count, dtype=np.float64)).size == 0
