"""The journal, the recordings on disk, and what goes in and out of them.

The public names are loaded when first used: pandas is heavy, and a recorder has no need of it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from logger.lazy import loaded_from

if TYPE_CHECKING:
    from logger.recording.csv_import import Imported, import_csv
    from logger.recording.descriptor import Meta
    from logger.recording.export import export_csv, export_parquet, export_recording
    from logger.recording.journal import Journal
    from logger.recording.recorder import DevicesError, Finished, Listener, LostDevice, Recorder, record
    from logger.recording.recording import Recording
    from logger.recording.store import Summary, data_folder, find, new_folder

_PUBLIC = {
    "DevicesError": "logger.recording.recorder",
    "Finished": "logger.recording.recorder",
    "Imported": "logger.recording.csv_import",
    "Journal": "logger.recording.journal",
    "Listener": "logger.recording.recorder",
    "LostDevice": "logger.recording.recorder",
    "Meta": "logger.recording.descriptor",
    "Recorder": "logger.recording.recorder",
    "Recording": "logger.recording.recording",
    "Summary": "logger.recording.store",
    "data_folder": "logger.recording.store",
    "export_recording": "logger.recording.export",
    "export_csv": "logger.recording.export",
    "export_parquet": "logger.recording.export",
    "find": "logger.recording.store",
    "import_csv": "logger.recording.csv_import",
    "new_folder": "logger.recording.store",
    "record": "logger.recording.recorder",
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

__getattr__ = loaded_from(__name__, _PUBLIC)
