"""Links to devices that go and come back while somebody looks on."""

from __future__ import annotations

from drivers.reading import Reading, Status
from drivers.supervised import Patience

SHORT_PATIENCE = Patience(give_up_s=15.0)
"""For a device at the bench with somebody before it: who waits wants to know, and can begin again."""


class Links:
    """Says once that a link is lost, and once that it is back."""

    def __init__(self) -> None:
        self._lost = set[str]()

    def push(self, reading: Reading) -> str | None:
        """Take one reading; give what there is to say of its channel's link, None when there is nothing."""
        is_lost, was_lost = reading.status is Status.LOST, reading.channel in self._lost
        if is_lost and not was_lost:
            self._lost.add(reading.channel)
            return f"{reading.channel}: the link is lost"
        if was_lost and not is_lost:
            self._lost.discard(reading.channel)
            return f"{reading.channel}: the link is back"
        return None
