"""What is said of an error, and the code that the program ends with."""

from __future__ import annotations

import errno

BAD_INPUT, FAILURE, INTERRUPTED = 2, 1, 130

_UNUSABLE = (FileNotFoundError, IsADirectoryError, NotADirectoryError, PermissionError)

_OUTPUT_REFUSED = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO)


def told(error: Exception) -> tuple[str, int] | None:
    """Give the message and the code of an error for the user; None for a fault of the program."""
    from drivers.errors import DeviceError
    from logger.errors import EvencupError

    if isinstance(error, EvencupError | DeviceError):
        return str(error), BAD_INPUT if error.is_bad_input else FAILURE
    if isinstance(error, OSError) and error.filename is not None:
        # A file or folder that was named, looked at where nobody expected it to be refused.
        words = f"{error.filename}: {error.strerror}. Check its name, and that you may use it."
        return words, BAD_INPUT if isinstance(error, _UNUSABLE) else FAILURE
    if is_output_refused(error):
        assert isinstance(error, OSError)
        return f"the output could not be written: {error.strerror}. Send it elsewhere.", FAILURE
    return None


def is_output_refused(error: Exception) -> bool:
    """Whether the program's own output could not be written; files that are written have a name."""
    return isinstance(error, OSError) and error.filename is None and error.errno in _OUTPUT_REFUSED
