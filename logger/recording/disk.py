"""Files that are whole or absent, and what a disk refuses, in words."""

from __future__ import annotations

import contextlib
import errno
import os
import tempfile
from collections.abc import Iterator
from pathlib import Path

from logger.errors import BadInputError, EvencupError, FailureError

_REMEDIES = {
    errno.ENOSPC: "Free some space there, or choose another folder.",
    errno.EDQUOT: "Free some space there, or choose another folder.",
    errno.EFBIG: "Choose another folder: this one does not take larger files.",
    errno.EACCES: "Choose a folder that you may write to.",
    errno.EPERM: "Choose a folder that you may write to.",
    errno.EROFS: "Choose a folder that can be written to.",
    errno.ENOTDIR: "Choose a folder, not a file.",
    errno.ENAMETOOLONG: "Choose a shorter name.",
}


def refusal(path: Path, doing: str, error: OSError) -> FailureError:
    """Put into words that the disk did not do what it was asked to.

    :param doing: what was tried, an infinitive: ``write the reading``
    """
    reason = error.strerror or type(error).__name__
    remedy = _REMEDIES.get(error.errno or 0, "Check the disk and the folder's permissions.")
    return FailureError(str(path), f"could not {doing}: {reason}", remedy)


def unreadable(path: Path, error: OSError) -> EvencupError:
    """Put into words that a file which the user named cannot be read."""
    reason = error.strerror or type(error).__name__
    return BadInputError(str(path), f"cannot be read: {reason}", "Check its name, and that you may read it.")


@contextlib.contextmanager
def replacing(path: Path) -> Iterator[Path]:
    """Give a temporary path beside ``path``; put it in the place of ``path`` when the block went well.

    Whoever looks at ``path``, also after a power cut, finds the old file or the new one, never half of it.

    :raises FailureError: when the disk refuses
    """
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
        os.close(handle)
    except OSError as error:
        raise refusal(path, "write the file", error) from error
    part = Path(name)
    try:
        yield part
        part.chmod(0o666 & ~_umask())
        sync_file(part)
        part.replace(path)
        sync_folder(path.parent)
    except OSError as error:
        raise refusal(path, "write the file", error) from error
    finally:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)


def sync_file(path: Path) -> None:
    """Wait until a file's bytes are on the disk."""
    with path.open("rb+") as file:
        os.fsync(file.fileno())


def sync_folder(path: Path) -> None:
    """Wait until a folder's list of names is on the disk, where the system can do that at all."""
    with contextlib.suppress(OSError):
        # Windows cannot open a folder; some network file systems refuse to sync one.
        handle = os.open(path, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _umask() -> int:
    # There is no way to ask without setting it. 0o077 in between is the careful direction.
    mask = os.umask(0o077)
    os.umask(mask)
    return mask
