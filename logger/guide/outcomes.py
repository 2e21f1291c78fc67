"""The outcomes of calls to stop as an open text: CSV, one call a line, the newest last.

A brewer may open it in a spreadsheet, and delete what should not be learned from.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Sequence

from logger.guide.hand import Outcome

HEADER = ("stopped", "flow_g_s", "after_g", "lag_s", "scale")


def outcomes_text(outcomes: Sequence[Outcome]) -> str:
    """Write outcomes as the lines of a file, without its header."""
    out = io.StringIO()
    lines = csv.writer(out, lineterminator="\n")
    for each in outcomes:
        numbers = (f"{number:.3f}" for number in (each.flow_g_s, each.after_g, each.lag_s))
        lines.writerow((each.kind, *numbers, each.scale))
    return out.getvalue()


def read_outcomes(text: str) -> tuple[tuple[Outcome, ...], int]:
    """Read a file of outcomes.

    :returns: those that can be read, and how many lines cannot
    """
    outcomes, unread = [], 0
    for line in text.replace("\r\n", "\n").split("\n"):
        outcome = _outcome(line)
        if outcome is not None:
            outcomes.append(outcome)
        elif line.strip() and line.strip() != ",".join(HEADER):
            unread += 1
    return tuple(outcomes), unread


def _outcome(line: str) -> Outcome | None:
    try:
        row = next(csv.reader([line]), [])
    except csv.Error:
        return None
    if len(row) != len(HEADER) or row[0] not in ("pour", "shot"):
        return None
    try:
        flow_g_s, after_g, lag_s = (float(cell) for cell in row[1:4])
    except ValueError:
        return None
    if not all(math.isfinite(number) for number in (flow_g_s, after_g, lag_s)):
        return None
    return Outcome("pour" if row[0] == "pour" else "shot", flow_g_s, after_g, lag_s, row[4])
