"""Devices described by a small file, for hardware that follows no standard."""

from drivers.described.description import Description
from drivers.described.mistakes import DescriptionError
from drivers.described.reading import check_description, described_by, read_description

__all__ = ["Description", "DescriptionError", "check_description", "described_by", "read_description"]
