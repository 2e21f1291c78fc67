"""What the guide says aloud while a brew runs, in which words and how loud: the ``[calls]`` of a target."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Literal, get_args

CallKind = Literal["next", "count", "start", "slower", "faster", "soon", "stop", "change", "done", "warning"]
"""``next``: what the coming pour goes to, a little before it. ``count``: the last seconds before it.
``start``: pour now. ``slower``, ``faster``: the stream is off. ``soon``: an espresso stops in a moment.
``stop``: let go. ``change``: the plan has changed. ``done``: the verdict. ``warning``: before the brew."""

CALL_KINDS: tuple[CallKind, ...] = get_args(CallKind)

GRAMS = "{grams}"
"""Stands in ``Words.to`` for the weight."""


@dataclass(frozen=True, slots=True)
class Words:
    """The brewer's own words, on the screen and aloud.

    :param to: what a pour goes to; ``{grams}`` in it becomes the weight
    :param soon: before an espresso is to be stopped
    :param change: when the plan has changed
    """

    ready: str = "ready"
    pour: str = "pour"
    slower: str = "slower"
    faster: str = "faster"
    stop: str = "stop"
    wait: str = "wait"
    done: str = "done"
    to: str = "to {grams}"
    soon: str = "nearly"
    change: str = "new plan"


WORDS = tuple(field.name for field in fields(Words))


@dataclass(frozen=True, slots=True)
class Calls:
    """How the guide sounds.

    :param volume: 0 (silent) to 1
    :param language: of the words, as a BCP 47 tag ("en", "de-AT"): which voice speaks them
    :param voice: the name of one voice of the browser's own, or empty for its usual one
    :param tones: whether to give tones
    :param speech: whether to speak
    :param count_s: how many of the last seconds before a pour are counted; 0 for none
    :param say: which calls to give
    """

    volume: float = 0.8
    language: str = "en"
    voice: str = ""
    tones: bool = True
    speech: bool = True
    count_s: int = 3
    say: tuple[CallKind, ...] = CALL_KINDS
    words: Words = Words()
