"""Made-up instruments that were once read surely and wrongly, each for a reason of its own."""

from __future__ import annotations

from types import ModuleType

import pytest

from tests.drivers.learn import (
    contrary_instruments,
    fielded_instruments,
    layered_instruments,
    random_instruments,
    shuffled_instruments,
)
from tests.drivers.learn.hearing import learned_from

ONCE_WRONG = [
    pytest.param(layered_instruments, 198_001_445, id="a bit of a temperature was a sign, in a bump"),
    pytest.param(fielded_instruments, 198_000_080, id="a quieter copy that settles nearly alike"),
    pytest.param(shuffled_instruments, 198_000_007, id="grams beside ounces in finer steps"),
    pytest.param(random_instruments, 198_001_190, id="the lower byte of a sum was the weight"),
    pytest.param(shuffled_instruments, 198_001_355, id="a float had the lower half of a copy"),
    pytest.param(shuffled_instruments, 198_001_136, id="a sign below digits was two digits"),
    pytest.param(shuffled_instruments, 198_100_112, id="digits before the number were its own"),
    pytest.param(random_instruments, 198_000_069, id="an end like the beginning was cut off"),
    pytest.param(random_instruments, 198_001_307, id="a copy that is on its way told a factor"),
    pytest.param(fielded_instruments, 198_110_235, id="a sum to nought was right above nought only"),
    pytest.param(fielded_instruments, 198_110_052, id="a word behind was taken before a byte above"),
    pytest.param(fielded_instruments, 198_110_115, id="digits that check masses have not shown"),
    pytest.param(fielded_instruments, 198_110_073, id="a sign seen once, and in a copy as well"),
    pytest.param(fielded_instruments, 198_110_292, id="a flag of the sign that came once"),
    pytest.param(shuffled_instruments, 198_800_279, id="frames began with the upper byte of a voltage"),
    pytest.param(fielded_instruments, 198_800_361, id="whole grams beside digits that went below nought"),
    pytest.param(shuffled_instruments, 198_700_103, id="an exclusive or held from a temperature on"),
    pytest.param(shuffled_instruments, 198_700_174, id="frames began before the end of the one before"),
    pytest.param(shuffled_instruments, 198_700_397, id="a byte of flags was an end"),
    pytest.param(shuffled_instruments, 198_700_244, id="frames began with the last byte of a header"),
    pytest.param(layered_instruments, 198_600_425, id="a bit of a temperature that goes by one was a sign"),
    pytest.param(layered_instruments, 199_100_019, id="another bit of a temperature was a sign"),
    pytest.param(shuffled_instruments, 198_700_344, id="the last bit of a temperature was a sign"),
    pytest.param(
        shuffled_instruments, 198_700_416, id="a text was left out for its digits with a wrong sign"
    ),
    pytest.param(fielded_instruments, 198_600_180, id="a cyclic check saw nothing of two copies"),
    pytest.param(fielded_instruments, 198_700_319, id="digits that stay were the lowest ones"),
    pytest.param(shuffled_instruments, 198_800_247, id="a lowest byte was anything"),
    pytest.param(shuffled_instruments, 199_100_167, id="frames began with an upper byte of a clock"),
    pytest.param(shuffled_instruments, 198_400_018, id="frames began with the uppermost byte of a clock"),
    pytest.param(fielded_instruments, 199_300_050, id="a flag of the sign came in the first packet"),
    pytest.param(layered_instruments, 199_300_189, id="a knock showed a sign bit, once"),
    pytest.param(fielded_instruments, 198_700_096, id="grams that damage seemed to tell from ounces"),
    pytest.param(layered_instruments, 200_000_410, id="grams that finer ounces round to"),
    pytest.param(random_instruments, 199_300_040, id="upper bytes of counts, one digit of them round"),
    pytest.param(shuffled_instruments, 199_300_022, id="counts in a float, nearly tenths"),
    pytest.param(fielded_instruments, 200_000_234, id="damage shortened what a check covers"),
    pytest.param(fielded_instruments, 200_000_353, id="a byte of a copy that lags cost less"),
    pytest.param(random_instruments, 200_000_253, id="a clock's upper byte named the messages"),
    pytest.param(shuffled_instruments, 200_000_321, id="a clock's upper byte marked the frames"),
    pytest.param(shuffled_instruments, 200_000_758, id="a charge was the last digit"),
    pytest.param(fielded_instruments, 200_001_008, id="ounces that only a finer copy showed below nought"),
    pytest.param(layered_instruments, 200_001_021, id="a copy's upper byte named the messages"),
    pytest.param(shuffled_instruments, 200_001_169, id="a temperature's upper byte was the weight's"),
    pytest.param(shuffled_instruments, 200_001_283, id="nearly quarters, by light loads"),
    pytest.param(layered_instruments, 200_002_129, id="halves of two copies that are always the same"),
    pytest.param(shuffled_instruments, 200_001_314, id="nearly whole grams above a byte of their own"),
    pytest.param(layered_instruments, 200_002_124, id="digits began as the frames do, and a sum held"),
    pytest.param(layered_instruments, 200_000_685, id="an exclusive or held from another weight on"),
    pytest.param(shuffled_instruments, 201_000_088, id="flags were as the only byte of a header was"),
    pytest.param(shuffled_instruments, 200_000_774, id="what names messages was left out of a header"),
    pytest.param(shuffled_instruments, 200_000_310, id="the first byte of two alike was a header's last"),
    pytest.param(shuffled_instruments, 202_000_172, id="a header's first byte was the last of a frame"),
    pytest.param(shuffled_instruments, 202_000_246, id="flags and a header were the end of a frame"),
    pytest.param(fielded_instruments, 201_000_063, id="the upper byte of a slow copy was the weight's"),
    pytest.param(layered_instruments, 205_000_216, id="the upper byte of coarse grams was the weight's"),
    pytest.param(layered_instruments, 205_000_030, id="a sign that came once was the highest byte"),
    pytest.param(random_instruments, 200_001_055, id="a sign that a knock showed was the highest byte"),
    pytest.param(layered_instruments, 202_000_007, id="a bit of a clock was a sign before the loads"),
    pytest.param(shuffled_instruments, 205_000_160, id="damage turned a bit of a charge, near nought"),
    pytest.param(random_instruments, 205_000_191, id="noise made a lowest byte nearly anything"),
    pytest.param(fielded_instruments, 205_000_125, id="a counter was the check of its copy"),
    pytest.param(shuffled_instruments, 206_000_311, id="a check in front left out a charge"),
    pytest.param(fielded_instruments, 206_000_153, id="a first byte stood in the weight as well"),
    pytest.param(shuffled_instruments, 199_300_025, id="lines behind broken ones were lost"),
    pytest.param(shuffled_instruments, 202_000_099, id="lines with a minus behind broken ones were lost"),
    pytest.param(fielded_instruments, 322_001_080, id="noughts of a float in no steps were below nought"),
    pytest.param(fielded_instruments, 322_000_288, id="the same, by a bit of a temperature"),
    pytest.param(fielded_instruments, 322_000_113, id="a copy in tenths was hundredths of a second late"),
    pytest.param(contrary_instruments, 322_001_125, id="upper bits of a step below nought went further"),
    pytest.param(fielded_instruments, 322_000_126, id="a float in hundredths rested at whole grams"),
    pytest.param(
        shuffled_instruments, 200_000_753, id="what frames begin with was the end of the one before"
    ),
    pytest.param(shuffled_instruments, 206_000_227, id="a line feed behind an end began the next frame"),
    pytest.param(
        shuffled_instruments, 310_000_136, id="a few frames behind damage were worth all others late"
    ),
    pytest.param(shuffled_instruments, 205_000_144, id="frames began behind a value that follows a header"),
    pytest.param(shuffled_instruments, 210_000_110, id="a temperature was a header's last byte"),
    pytest.param(
        shuffled_instruments, 323_000_014, id="a charge that a check covers was what frames begin with"
    ),
    pytest.param(shuffled_instruments, 200_000_592, id="frames went on from a float's highest byte"),
    pytest.param(random_instruments, 323_000_051, id="a check seemed to be ahead of the weight"),
    pytest.param(layered_instruments, 323_001_006, id="the upper byte of a sum was the weight's highest"),
    pytest.param(random_instruments, 323_001_154, id="an exclusive or of a copy held above nought only"),
    pytest.param(random_instruments, 323_001_035, id="a check looked like a number that goes on upwards"),
]


@pytest.mark.parametrize(("module", "seed"), ONCE_WRONG)
def test_an_instrument_that_was_read_wrongly_is_so_no_more(module: ModuleType, seed: int):
    verdict, learned = learned_from(module, seed, 4)
    assert verdict != "wrong", learned.toml
