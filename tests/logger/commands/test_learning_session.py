"""A further load: the brewer says what was really taken, and is listened to meanwhile."""

from __future__ import annotations

import asyncio
import io
import sys
from dataclasses import replace

import pytest

from drivers.learn import Load
from logger.commands.learning_session import Wanted, _further_load, further_words

WANTED = Wanted("serial:/dev/none", "bench", (0.0, 100.0, 250.0))


class Listening:
    """Counts how often it was listened while the brewer thought."""

    def __init__(self) -> None:
        self.loads, self.taken = [Load(250.0, 24.0, 36.0)], 0

    async def take(self, within_s: float) -> None:
        self.taken += 1
        await asyncio.sleep(0.001)


def asked(monkeypatch: pytest.MonkeyPatch, typed: str) -> tuple[float | None, str, Listening]:
    from rich.console import Console

    console, listening = Console(file=io.StringIO(), width=100), Listening()
    monkeypatch.setattr(sys, "stdin", io.StringIO(typed))

    async def ask() -> float | None:
        return await _further_load(listening, 320.0, WANTED, asyncio.Event(), console)  # type: ignore[arg-type]

    return asyncio.run(ask()), console.file.getvalue(), listening  # type: ignore[attr-defined]


def test_what_is_typed_counts_and_not_what_was_asked_for(monkeypatch):
    load, said, listening = asked(monkeypatch, "287.5\n")
    assert load == 287.5
    assert "about 320 g" in said
    assert listening.taken


@pytest.mark.parametrize("typed", ["\n", ""], ids=["enter", "the keyboard has gone"])
def test_who_has_no_such_load_is_let_go(monkeypatch, typed):
    assert asked(monkeypatch, typed)[0] is None


@pytest.mark.parametrize("first", ["a jug", "nan", "250", "1e9"])
def test_what_is_no_other_load_is_asked_for_again(monkeypatch, first):
    load, said, _ = asked(monkeypatch, f"{first}\n287,5\n")
    assert load == 287.5
    assert "other than 250" in said


def test_a_load_below_zero_is_asked_for_with_its_unit_and_how_it_is_had():
    assert further_words(320.0, WANTED) == "A load of about 320 g would tell."
    assert "about -350 g would tell" in further_words(-350.0, WANTED)
    assert "lift the vessel off" in further_words(-350.0, WANTED)


def test_of_a_thermometer_a_further_bath_is_asked_for_in_its_own_unit():
    said = further_words(-5.0, replace(WANTED, quantity="temperature"))
    assert said == "A temperature of about -5 °C would tell."
