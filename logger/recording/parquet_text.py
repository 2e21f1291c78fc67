"""A Parquet file as rows of cells, for the import; and the place of what is known of the brew in it."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

from logger.errors import BadInputError
from logger.recording.csv_text import Row, Sheet
from logger.recording.descriptor import Meta
from logger.recording.descriptor_reader import parse_descriptor
from logger.recording.disk import unreadable

METADATA_KEY = b"evencup"
SUFFIX = ".parquet"


def read_parquet(path: Path) -> tuple[Sheet, Meta | None]:
    """Read a Parquet file as text, row for row, and what evencup put into its schema.

    :raises BadInputError: when it is missing or is no Parquet file
    """
    import pyarrow as pa
    import pyarrow.parquet as pq

    try:
        table = pq.read_table(path)
    except pa.ArrowException as error:
        raise BadInputError(str(path), "is not a Parquet file", "Export it again.") from error
    except OSError as error:
        raise unreadable(path, error) from error
    columns = [[_text(value) for value in column.to_pylist()] for column in table.columns]
    cells = zip(*columns, strict=True)
    rows = [Row(1, list(table.column_names)), *(Row(n, list(row)) for n, row in enumerate(cells, start=2))]
    known = (table.schema.metadata or {}).get(METADATA_KEY)
    return Sheet(rows, "Parquet", ""), parse_descriptor(path, known).meta if known else None


def _text(value: Any) -> str:
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return ""
    return repr(value) if isinstance(value, float) else str(value)
