from __future__ import annotations

import asyncio
import os
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logger.commands.keys import keys_to, split_keys


def test_arrows_have_names() -> None:
    assert split_keys(" q\x1b[A\x1b[D") == [" ", "q", "up", "left"]


@given(st.text(max_size=20))
def test_whatever_is_typed_nothing_of_it_is_lost_or_doubled(text: str) -> None:
    back = {"up": "\x1b[A", "down": "\x1b[B", "right": "\x1b[C", "left": "\x1b[D"}
    assert "".join(back.get(key, key) for key in split_keys(text)) == text


async def test_without_a_terminal_there_are_no_keys(monkeypatch: pytest.MonkeyPatch) -> None:
    with open(os.devnull) as nothing:  # noqa: ASYNC230, PTH123
        monkeypatch.setattr(sys, "stdin", nothing)
        with keys_to(lambda _: None) as are_there:
            assert not are_there


@pytest.mark.skipif(os.name != "posix", reason="pseudo-terminals need POSIX")
async def test_keys_come_one_at_a_time_and_the_terminal_is_as_before(monkeypatch: pytest.MonkeyPatch) -> None:
    import termios

    master, slave = os.openpty()
    before = termios.tcgetattr(slave)
    pressed: list[str] = []
    with os.fdopen(slave, "r") as terminal:
        monkeypatch.setattr(sys, "stdin", terminal)
        with keys_to(pressed.append) as are_there:
            assert are_there
            os.write(master, b" \x1b[C")
            async with asyncio.timeout(5.0):
                while len(pressed) < 2:  # noqa: ASYNC110  # a terminal has no event for us
                    await asyncio.sleep(0.01)
        assert termios.tcgetattr(slave) == before
    os.close(master)
    assert pressed == [" ", "right"]
