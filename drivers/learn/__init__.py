"""Work out what an unknown instrument sends, from known weights; bytes and arrays in, a description out."""

from drivers.learn.captures.capture import Arrival, Capture, Load, Stream, Written
from drivers.learn.captures.capture_file import CaptureError, read_capture, write_capture
from drivers.learn.learning import Learned, learn

__all__ = [
    "Arrival", "Capture", "CaptureError", "Learned", "Load", "Stream", "Written", "learn", "read_capture",
    "write_capture",
]  # fmt: skip
