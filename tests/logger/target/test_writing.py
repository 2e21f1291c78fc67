"""Targets written out and read again."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given, settings

from logger.target import Target, parse_target, write_target
from tests.logger.target.written_targets import TARGETS


def test_a_target_is_written_as_a_brewer_would(pour_over: str) -> None:
    text = write_target(parse_target(pour_over, ""))
    assert 'end     = "3:00"' in text
    assert 'start = "1:15"' in text
    assert "tolerance = { weight_g = 1.0 }" in text


@settings(deadline=None)  # other work may share the processor
@given(TARGETS)
def test_what_is_written_reads_as_the_same_target(target: Target) -> None:
    text = write_target(target)
    assert parse_target(text, "again") == replace(target, text=text)
