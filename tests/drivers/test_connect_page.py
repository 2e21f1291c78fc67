"""What docs/connect.md says about patterns and options is what the code does."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from drivers import serial_options
from drivers.decoders.pattern_lines import PatternLines
from drivers.decoders.pattern_words import FIELDS

PAGE = (Path(__file__).parents[2] / "docs" / "connect.md").read_text(encoding="utf-8")
EXAMPLES = PAGE.partition("| the device prints | the pattern |")[2].partition("The rules:")[0]


@pytest.mark.parametrize(
    ("line", "pattern"), re.findall(r"^\| `(.+?)` \| `(.+?)` \|$", EXAMPLES, re.MULTILINE)
)
def test_every_example_line_follows_its_pattern(line, pattern):
    decoded = PatternLines(pattern).decode(f"{line}\r\n".encode())
    assert decoded.lines == 1, decoded.last_rejected
    assert decoded.measurements[0].value == 12.3


def test_every_field_word_is_explained():
    assert all(f"`{word}`" in PAGE for word in FIELDS)


def test_every_option_is_explained():
    assert all(f"\n| `{option}` |" in PAGE for option in serial_options.OPTIONS)
