"""Keys of the terminal, one at a time, without Enter; where there is no terminal there are none."""

from __future__ import annotations

import asyncio
import contextlib
import os
import sys
from collections.abc import Callable, Iterator

_NAMES = {"\x1b[A": "up", "\x1b[B": "down", "\x1b[C": "right", "\x1b[D": "left"}


@contextlib.contextmanager
def keys_to(take: Callable[[str], None]) -> Iterator[bool]:
    """Call ``take`` with each key while the block runs; needs a running event loop.

    :returns: whether there are keys at all: standard input is a terminal, on a system that can do it
    """
    try:
        import termios
        import tty
    except ImportError:  # Windows
        yield False
        return
    if sys.stdin is None or not sys.stdin.isatty():
        yield False
        return
    handle = sys.stdin.fileno()
    before = termios.tcgetattr(handle)
    loop = asyncio.get_running_loop()

    def arrived() -> None:
        data = os.read(handle, 64)
        if not data:
            loop.remove_reader(handle)
        for key in split_keys(data.decode("utf-8", "replace")):
            take(key)

    tty.setcbreak(handle)
    loop.add_reader(handle, arrived)
    try:
        yield True
    finally:
        loop.remove_reader(handle)
        termios.tcsetattr(handle, termios.TCSADRAIN, before)


def split_keys(text: str) -> list[str]:
    """Take what a terminal sent apart into keys; arrows by their names."""
    keys, rest = [], text
    while rest:
        length = 3 if rest.startswith("\x1b[") and len(rest) >= 3 else 1
        keys.append(_NAMES.get(rest[:length], rest[:length]))
        rest = rest[length:]
    return keys
