from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

from rich.console import Console

from logger.compare import Brew
from logger.recording import Summary
from logger.show.terminal.recordings_table import print_recordings


def _printed(summaries: list[Summary]) -> str:
    file = io.StringIO()
    print_recordings(summaries, Console(file=file, width=100))
    return file.getvalue()


def test_each_recording_is_a_line_with_what_to_call_it_by(brew: Brew) -> None:
    meta = brew.recording.meta
    summaries = [
        Summary(Path("2026-11-25-a"), meta, 191.2),
        Summary(Path("2026-11-24-b"), replace(meta, complete=False), 61.0, "cut off: the last line is torn"),
        Summary(
            Path("2026-11-23-c"), replace(meta, started=None), None, "readings.csv is missing", damaged=True
        ),
    ]
    lines = _printed(summaries).splitlines()
    assert lines[2].split() == [*["2026-11-25-a", "3:11", "Morning", "practice,", "brew", "4"]]
    assert lines[3].rstrip().endswith("cut off")
    assert lines[4].rstrip().endswith("damaged")
    assert lines[-1] == "! 2026-11-23-c: readings.csv is missing"


def test_an_empty_folder_says_how_to_begin() -> None:
    assert _printed([]) == "There is no recording here yet. To make one: evencup record\n"
