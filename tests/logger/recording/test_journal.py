from __future__ import annotations

import errno
import math
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.reading import JOURNAL_HEADER, Reading, Status, parse_journal_line
from logger.errors import FailureError
from logger.recording import Journal, Recording

finite = st.floats(allow_nan=False, allow_infinity=False)
any_reading = st.builds(
    Reading,
    channel=st.from_regex(r"[A-Za-z0-9][A-Za-z0-9_-]{0,31}", fullmatch=True),
    time_s=st.floats(min_value=-1e6, max_value=1e9).map(lambda value: round(value, 6)),
    value=st.floats(allow_nan=True, allow_infinity=False),
    unit=st.sampled_from(["g", "°C"]),
    status=st.sampled_from(list(Status)),
    device_time_s=st.none() | finite,
)


def same(left: Reading, right: Reading) -> bool:
    values = left.value == right.value or (math.isnan(left.value) and math.isnan(right.value))
    return values and (left.channel, left.time_s, left.unit, left.status, left.device_time_s) == (
        right.channel,
        right.time_s,
        right.unit,
        right.status,
        right.device_time_s,
    )


@given(st.lists(any_reading, max_size=30))
@settings(max_examples=60, deadline=None)
def test_what_was_appended_opens_again_digit_for_digit(tmp_path_factory, written):
    folder = tmp_path_factory.mktemp("journal")
    with Journal(folder / "readings.csv") as journal:
        for reading in written:
            journal.append(reading)
    rows = Recording.open(folder).readings
    read = [
        Reading(c, t, v, u, Status(s), None if math.isnan(d) else d)
        for t, c, v, u, s, d in rows.itertuples(index=False)
    ]
    assert len(read) == len(written)
    assert all(map(same, read, written))


def test_the_header_is_the_first_line_before_any_reading(tmp_path):
    with Journal(tmp_path / "readings.csv"):
        assert (tmp_path / "readings.csv").read_text() == JOURNAL_HEADER + "\n"


def test_a_line_is_with_the_system_as_soon_as_append_returns(tmp_path):
    path = tmp_path / "readings.csv"
    with Journal(path) as journal:
        journal.append(Reading("scale", 0.5, 18.2, "g", Status.STABLE))
        assert path.read_text().splitlines()[1] == "0.5,scale,18.2,g,stable,"


def test_an_existing_file_is_never_written_into(tmp_path):
    path = tmp_path / "readings.csv"
    path.write_text("somebody's data")
    with pytest.raises(FailureError, match=r"readings\.csv: exists already"):
        Journal(path)
    assert path.read_text() == "somebody's data"


def test_a_missing_folder_is_said(tmp_path):
    with pytest.raises(FailureError, match="could not create the journal"):
        Journal(tmp_path / "nowhere" / "readings.csv")


def test_a_number_of_numpy_is_written_as_a_number(tmp_path):
    with Journal(tmp_path / "readings.csv") as journal:
        journal.append(Reading("scale", np.float64(1.5), np.float64(18.2), "g"))
    assert (tmp_path / "readings.csv").read_text().splitlines()[1] == "1.5,scale,18.2,g,,"


def test_an_infinite_value_becomes_an_error_without_value(tmp_path):
    with Journal(tmp_path / "readings.csv") as journal:
        journal.append(Reading("scale", 1.0, math.inf, "g", Status.STABLE, math.inf))
    assert (tmp_path / "readings.csv").read_text().splitlines()[1] == "1.0,scale,,g,error,"


@pytest.mark.parametrize("reading", [Reading("a,b", 0.0, 1.0, "g"), Reading("scale", math.nan, 1.0, "g")])
def test_what_could_not_be_read_back_is_refused(tmp_path, reading):
    with Journal(tmp_path / "readings.csv") as journal, pytest.raises(ValueError, match="is not a"):
        journal.append(reading)


class FullDisk:
    """A file on a disk with room for so many bytes."""

    def __init__(self, file, room: int) -> None:
        self._file, self._room = file, room

    def __getattr__(self, name):
        return getattr(self._file, name)

    def write(self, data: bytes) -> int:
        if not self._room:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        part = bytes(data[: self._room])
        self._room -= len(part)
        return self._file.write(part)


def test_a_full_disk_is_said_and_leaves_whole_lines(tmp_path):
    path = tmp_path / "readings.csv"
    journal = Journal(path)
    journal.append(Reading("scale", 0.0, 1.0, "g"))
    journal._file = FullDisk(journal._file, 10)
    with pytest.raises(FailureError, match=r"No space left on device\. Free some space"):
        journal.append(Reading("scale", 0.1, 1.0, "g"))
    journal.close()
    assert path.read_text() == f"{JOURNAL_HEADER}\n0.0,scale,1.0,g,,\n"


WRITE_FOR_EVER = """
import sys
from pathlib import Path
from drivers.reading import Reading
from logger.recording import Journal

journal = Journal(Path(sys.argv[1]))
number = 0
while True:
    journal.append(Reading("scale", number / 10, float(number), "g"))
    # Only a reading that append() has returned for is told to the parent.
    sys.stdout.buffer.write(b"%d\\n" % number)
    sys.stdout.buffer.flush()
    number += 1
"""


@pytest.mark.skipif(os.name != "posix", reason="needs SIGKILL")
def test_a_killed_process_loses_nothing_that_it_had_appended(tmp_path):
    path = tmp_path / "readings.csv"
    child = subprocess.Popen(
        [sys.executable, "-c", WRITE_FOR_EVER, str(path)], stdout=subprocess.PIPE, cwd=Path.cwd()
    )
    with child:
        assert child.stdout is not None
        told = [child.stdout.readline() for _ in range(500)]
        child.send_signal(signal.SIGKILL)
        told += child.stdout.read().splitlines(keepends=True)
    last_told = int([line for line in told if line.endswith(b"\n")][-1])
    _, values = Recording.open(tmp_path).arrays("scale")
    assert values.tolist() == [float(n) for n in range(len(values))]
    assert len(values) > last_told >= 499


FILL_THE_DISK = """
import resource, sys
from pathlib import Path
from drivers.reading import Reading
from logger.errors import FailureError
from logger.recording import Journal

resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000))
journal = Journal(Path(sys.argv[1]))
try:
    for number in range(1000):
        journal.append(Reading("scale", number / 10, float(number), "g"))
except FailureError as error:
    print(error)
journal.close()
"""


@pytest.mark.skipif(os.name != "posix", reason="needs a limit on the size of files")
def test_where_the_system_refuses_in_mid_line_the_file_ends_with_a_whole_one(tmp_path):
    path = tmp_path / "readings.csv"
    done = subprocess.run(
        [sys.executable, "-c", FILL_THE_DISK, str(path)], capture_output=True, text=True, check=True
    )
    assert "could not write the reading" in done.stdout
    lines = path.read_bytes().split(b"\n")
    assert lines[-1] == b""
    assert 950 < path.stat().st_size <= 1000
    assert parse_journal_line(lines[-2].decode()).value == len(lines) - 3


def test_sync_after_close_and_a_second_close_do_nothing(tmp_path):
    path = tmp_path / "readings.csv"
    journal = Journal(path)
    journal.append(Reading("scale", 0.0, 1.0, "g"))
    journal.close()
    written = path.read_bytes()
    journal.sync()
    journal.close()
    assert path.read_bytes() == written
    assert written.count(b"\n") == 2  # the header and the reading


def test_appending_is_quick_enough_for_a_thousand_readings_a_second(tmp_path):
    with Journal(tmp_path / "readings.csv") as journal:
        start = time.perf_counter()
        for number in range(1000):
            journal.append(Reading("scale", number / 1000, 1.0, "g"))
        assert time.perf_counter() - start < 0.5
