"""A description written, and held against its capture."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from drivers.described import Description, DescriptionError, described_by
from drivers.learn.captures.capture import Capture
from drivers.learn.checks.check import as_far_as_seen, with_either
from drivers.learn.description.findings import Finding, findings
from drivers.learn.description.proving import Proof, near, prove
from drivers.learn.description.writing import toml_of
from drivers.learn.description.writing_lines import lines_toml
from drivers.learn.numbers.fitting import Fit
from drivers.learn.outside.framed import Outside, outside_of
from drivers.learn.outside.turning import turned_to_marks
from drivers.learn.packets.line_makes import LineMake
from drivers.learn.streams import Packets
from drivers.learn.weight.choosing import settled

_EITHER = "byte {} is a sum or an exclusive or of the others: what fits either is read"


@dataclass(frozen=True, slots=True)
class Written:
    """A description, and what the capture makes of it.

    :param text: the TOML
    :param others: what else the packets hold
    """

    text: str
    description: Description
    others: Sequence[Finding]
    proof: Proof


def written_as(name: str, capture: Capture, one: Fit, outside: Outside, *, is_joined: bool) -> Written:
    """Write a description, and read the capture by it.

    :raises DescriptionError: where it says what no description may
    """
    others: list[Finding] = []
    if isinstance(one.kind.make, LineMake):
        text = lines_toml(name, capture, one, one.kind.make, is_joined=is_joined)
    else:
        others = findings(one, outside)
        fields = [each.field for each in others if each.field]
        frames = one.kind.frames
        check = outside.check and with_either(as_far_as_seen(outside.check, frames), frames)
        if check is not None and check.or_kinds:
            others.append(Finding(_EITHER.format(check.at)))
        text = toml_of(name, capture, one, replace(outside, check=check), fields, is_joined=is_joined)
    description = described_by(text, name)
    return Written(text, description, others, prove(description, capture, near(one)))


def written_if_told(
    name: str, capture: Capture, stream: Packets, one: Fit, outside: Outside
) -> Written | None:
    """Write a description of a stream's frames; None where it says what none may, as not where one begins."""
    if stream.joined is not None and outside.is_told_nowhere:
        return None
    try:
        is_joined = capture.link == "ble" and stream.joined is not None
        return written_as(name, capture, one, outside, is_joined=is_joined)
    except DescriptionError:
        return None


def read_by_marks(
    name: str, capture: Capture, stream: Packets, one: Fit
) -> tuple[Fit, Outside, Written] | None:
    """Read frames from bytes that stay inside of them, where nothing tells where they begin.

    Their check is another one's then, and is left out.
    """
    loads, quantity = capture.loads, capture.quantity
    by_marks = turned_to_marks(one, loads, quantity)
    if by_marks is None:
        return None
    one = settled(by_marks, loads, quantity)
    outside = replace(outside_of(one, None, stream.joined.data if stream.joined else None), check=None)
    written = written_if_told(name, capture, stream, one, outside)
    return (one, outside, written) if written is not None else None
