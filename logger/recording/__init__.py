"""The journal, the recordings on disk, and what goes in and out of them.

The public names are loaded when first used: pandas is heavy, and a recorder has no need of it.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from logger.recording.csv_import import Imported, import_csv
    from logger.recording.descriptor import Meta
    from logger.recording.export import export_csv, export_parquet, export_recording
    from logger.recording.journal import Journal
    from logger.recording.recorder import DevicesError, Finished, Listener, LostDevice, Recorder, record
    from logger.recording.recording import Recording
    from logger.recording.store import Summary, data_folder, find, new_folder

_PUBLIC = {
    "DevicesError": "recorder",
    "Finished": "recorder",
    "Imported": "csv_import",
    "Journal": "journal",
    "Listener": "recorder",
    "LostDevice": "recorder",
    "Meta": "descriptor",
    "Recorder": "recorder",
    "Recording": "recording",
    "Summary": "store",
    "data_folder": "store",
    "export_recording": "export",
    "export_csv": "export",
    "export_parquet": "export",
    "find": "store",
    "import_csv": "csv_import",
    "new_folder": "store",
    "record": "recorder",
}

__all__ = [
    "DevicesError",
    "Finished",
    "Imported",
    "Journal",
    "Listener",
    "LostDevice",
    "Meta",
    "Recorder",
    "Recording",
    "Summary",
    "data_folder",
    "export_csv",
    "export_parquet",
    "export_recording",
    "find",
    "import_csv",
    "new_folder",
    "record",
]


def __getattr__(name: str) -> Any:
    if name not in _PUBLIC:
        raise AttributeError(f"module 'logger.recording' has no attribute {name!r}")
    return getattr(import_module(f"logger.recording.{_PUBLIC[name]}"), name)
