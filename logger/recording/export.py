"""Recordings for other programs: CSV and Parquet, one reading a row or one channel a column."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pandas as pd

from drivers.reading import CELSIUS, GRAM, Status
from logger.errors import BadInputError
from logger.recording.descriptor import Descriptor, descriptor_json
from logger.recording.disk import replacing
from logger.recording.parquet_text import METADATA_KEY
from logger.recording.recording import Recording
from logger.recording.store import slug

_UNIT_ENDINGS = {GRAM: "g", CELSIUS: "c"}
_WITH_VALUE = [status.value for status in Status if status.has_value]


def export_recording(
    recording: Recording, path: str | Path, *, wide: bool = False, force: bool = False
) -> Path:
    """Write a recording in the format that the file's name ends in.

    :param wide: one column per channel, named with its unit (``scale_g``), on the union of all times;
        otherwise one reading a row
    :param force: write over a file that is there
    :raises BadInputError: when no format has that ending, the folder is missing, or the file is there
    :raises FailureError: when the disk refuses; nothing is then written
    """
    path = Path(path)
    write = WRITERS.get(path.suffix.lower())
    if write is None:
        raise BadInputError(
            str(path), f"no format ends in {path.suffix!r}", f"Known endings are: {', '.join(WRITERS)}."
        )
    return _write(write, recording, path, wide=wide, force=force)


def export_csv(recording: Recording, path: str | Path, *, wide: bool = False, force: bool = False) -> Path:
    """Write a recording as CSV, whatever the file's ending: see :func:`export_recording`."""
    return _write(_write_csv, recording, Path(path), wide=wide, force=force)


def export_parquet(
    recording: Recording, path: str | Path, *, wide: bool = False, force: bool = False
) -> Path:
    """Write a recording as Parquet, with its meta data in the schema: see :func:`export_recording`."""
    return _write(_write_parquet, recording, Path(path), wide=wide, force=force)


def wide_frame(recording: Recording) -> pd.DataFrame:
    """One row for each time, one column for each channel; empty where a channel has no value then.

    A channel that has two readings at one time keeps both, on two rows.
    """
    readings = recording.readings
    has_value = readings["status"].isin(_WITH_VALUE)
    rows = pd.DataFrame(
        {
            "time_s": readings["time_s"],
            "column": readings["channel"] + "_" + readings["unit"].map(_UNIT_ENDINGS),
            "value": readings["value"].where(has_value),
        }
    )
    rows["repeat"] = rows.groupby(["time_s", "column"], sort=False).cumcount()
    wide = rows.pivot(index=["time_s", "repeat"], columns="column", values="value").sort_index()
    wide = wide[list(rows["column"].unique())]
    return wide.reset_index().drop(columns="repeat").rename_axis(columns=None)


def _write(write: Writer, recording: Recording, path: Path, *, wide: bool, force: bool) -> Path:
    if path.exists() and not force:
        raise BadInputError(str(path), "exists already", "Choose another name, or say --force.")
    if not path.parent.is_dir():
        raise BadInputError(str(path), "its folder does not exist", "Make it, or choose another.")
    frame = wide_frame(recording) if wide else recording.readings
    with replacing(path) as part:
        write(recording, frame, part)
    return path


def _write_csv(recording: Recording, frame: pd.DataFrame, path: Path) -> None:
    frame.to_csv(path, index=False, encoding="utf-8", lineterminator="\n")


def _write_parquet(recording: Recording, frame: pd.DataFrame, path: Path) -> None:
    import pyarrow as pa
    import pyarrow.parquet as pq

    table = pa.Table.from_pandas(frame, preserve_index=False)
    descriptor = descriptor_json(slug(recording.name), Descriptor(recording.meta))
    metadata = {**(table.schema.metadata or {}), METADATA_KEY: descriptor}
    pq.write_table(table.replace_schema_metadata(metadata), path)


Writer = Callable[[Recording, pd.DataFrame, Path], None]

WRITERS: dict[str, Writer] = {".csv": _write_csv, ".parquet": _write_parquet}
