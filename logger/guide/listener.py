"""Who is told: the terminal, the page, whatever else shows a brew while it runs."""

from __future__ import annotations

from typing import Protocol

from logger.guide.cue import Cue


class CueListener(Protocol):
    """Something that shows or says cues. It must not block, and must not raise."""

    def show(self, cue: Cue) -> None:
        """Take the newest cue: one for each reading of the scale, and some in between."""

    def tell(self, text: str) -> None:
        """Take one line about something that has become known: a pour is over, a link is lost."""
