"""The console of a command that has more to do than to print."""

from __future__ import annotations

import os
import sys

from rich.console import Console


class SteadyConsole(Console):
    """A console that goes quiet when its reader has gone: a closed pipe must not end a brew."""

    def on_broken_pipe(self) -> None:
        """Say no more, here or elsewhere on standard output."""
        self.quiet = True
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
        os.close(nowhere)
