import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from logger.curve.readings.median import median


@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=90))
def test_it_is_numpys(values: list[float]) -> None:
    assert median(np.array(values)) == np.median(values)
