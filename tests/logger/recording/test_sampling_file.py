"""When readings were taken, kept beside their arrivals."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from pathlib import Path
from types import TracebackType
from typing import Self

import numpy as np
import pytest

from drivers.reading import Reading
from logger.curve.readings.sampling import sampling_times
from logger.recording import Meta, Recorder, Recording


class Bursting:
    """A scale that sends four readings at once, taken 0.1 s apart; and a probe with a clock of its own."""

    address = "test:bursting"
    can_tare = False
    paced = float("inf")

    async def __aenter__(self) -> Self:
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        return None

    async def __aiter__(self) -> AsyncIterator[Reading]:
        for number in range(200):
            arrival_s = 50.0 + (number // 4 * 4 + 3) * 0.1
            yield Reading("scale", arrival_s, float(number), "g")
            if number % 4 == 3:
                taken_s = 50.0 + number * 0.1
                late_s = 0.02 if number % 8 == 3 else 0.3
                yield Reading("kettle", taken_s + late_s, 90.0, "°C", device_time_s=taken_s - 40.0)

    async def tare(self) -> None:
        raise AssertionError

    def facts(self) -> dict[str, object]:
        return {}


def recorded(into: Path) -> Recording:
    async def record() -> Path:
        async with Recorder([Bursting()], sampling_times=sampling_times) as recorder:
            return (await recorder.record_one(into, Meta())).path

    return Recording.open(asyncio.run(record()))


def test_arrivals_stay_and_sampling_stands_beside(tmp_path: Path) -> None:
    recording = recorded(tmp_path)
    arrived_s, weight_g = recording.arrays("scale")
    taken_s, same_g = recording.sampled("scale")
    assert np.array_equal(weight_g, same_g)
    assert np.unique(np.diff(arrived_s).round(6)).tolist() == [0.0, 0.4]
    assert np.diff(taken_s)[4:] == pytest.approx(0.1, abs=1e-6)
    assert (recording.path / "sampling.csv").read_text().count("\n") == len(recording.readings) + 1


def test_a_devices_own_clock_is_used(tmp_path: Path) -> None:
    recording = recorded(tmp_path)
    taken_s, _ = recording.sampled("kettle")
    arrived_s, _ = recording.arrays("kettle")
    assert np.diff(arrived_s).std() > 0.1
    assert np.diff(taken_s) == pytest.approx(0.4, abs=1e-3)


def test_a_file_that_does_not_fit_is_not_believed(tmp_path: Path) -> None:
    recording = recorded(tmp_path)
    (recording.path / "sampling.csv").write_text("sampled_s\n1.0\n")
    again = Recording.open(recording.path)
    assert again.sampled_s is None
    assert again.problems == ("sampling.csv has changed since the recording was closed",)
    assert np.array_equal(again.sampled("scale")[0], again.arrays("scale")[0])


def test_a_changed_digit_is_noticed(tmp_path: Path) -> None:
    recording = recorded(tmp_path)
    assert recording.problems == ()
    file = recording.path / "sampling.csv"
    text = file.read_text()
    file.write_text(text[:-2] + ("1" if text[-2] != "1" else "2") + "\n")
    again = Recording.open(file)
    assert (again.sampled_s, again.problems) == (
        None,
        ("sampling.csv has changed since the recording was closed",),
    )


def test_a_file_that_is_gone_or_cannot_be_read_is_said(tmp_path: Path) -> None:
    file = recorded(tmp_path).path / "sampling.csv"
    file.unlink()
    again = Recording.open(file.parent)
    assert (again.sampled_s, again.problems) == (None, ("sampling.csv is missing",))
    file.mkdir()
    again = Recording.open(file.parent)
    assert again.sampled_s is None
    assert [problem[:27] for problem in again.problems] == ["sampling.csv cannot be read"]


def test_a_recording_that_never_had_one_has_no_problem(tmp_path: Path) -> None:
    async def record() -> Path:
        async with Recorder([Bursting()]) as recorder:
            return (await recorder.record_one(tmp_path, Meta())).path

    recording = Recording.open(asyncio.run(record()))
    assert not (recording.path / "sampling.csv").exists()
    assert (recording.sampled_s, recording.problems) == (None, ())


def test_both_tables_are_a_data_package(tmp_path: Path) -> None:
    frictionless = pytest.importorskip("frictionless", reason="pip install frictionless")
    report = frictionless.Package(str(recorded(tmp_path).path / "datapackage.json")).validate()
    assert report.valid, report.flatten(["rowNumber", "fieldNumber", "note"])
    assert len(report.tasks) == 2


def test_arithmetic_that_fails_costs_no_brew(tmp_path: Path) -> None:
    def broken(arrival_s: object, device_time_s: object) -> np.ndarray:
        raise ZeroDivisionError

    async def record() -> Path:
        async with Recorder([Bursting()], sampling_times=broken) as recorder:
            return (await recorder.record_one(tmp_path, Meta())).path

    recording = Recording.open(asyncio.run(record()))
    assert recording.meta.complete
    assert recording.sampled_s is None
    assert len(recording.readings) == 250
