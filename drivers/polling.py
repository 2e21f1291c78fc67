"""What is written to a device by the clock: requests for a reading, and what keeps it awake.

One request is outstanding at a time: the next one waits for the answer, or for the answer's deadline. Time
comes in as an argument.
"""

from __future__ import annotations

from dataclasses import dataclass

ANSWER_S = 1.0
"""A device that has not answered by then has not heard, or will not."""


@dataclass(frozen=True, slots=True)
class Repeated:
    """Bytes that are written again and again."""

    data: bytes
    every_s: float


class Polling:
    """When to write what.

    :param poll: asks for a reading; None where the device sends by itself
    :param keep_alive: what keeps the device sending
    :param now_s: the time at which the link was opened
    """

    def __init__(self, poll: Repeated | None, keep_alive: Repeated | None, now_s: float = 0.0) -> None:
        self._poll, self._keep_alive = poll, keep_alive
        self.requests = 0
        self.unanswered = 0
        self.begin(now_s)

    def begin(self, now_s: float) -> None:
        """Start again, with a link that has just been opened; what has been counted stays."""
        self._poll_s = now_s
        self._awake_s = now_s + (self._keep_alive.every_s if self._keep_alive else 0.0)
        self._answer_due_s: float | None = None

    def due(self, now_s: float) -> list[tuple[str, bytes]]:
        """Give what is to be written now, with a word for it, and take it for written."""
        out = []
        if self._keep_alive is not None and now_s >= self._awake_s:
            out.append(("keep-alive command", self._keep_alive.data))
            self._awake_s = now_s + self._keep_alive.every_s
        if self._poll is not None and now_s >= self._request_s:
            self.unanswered += self._answer_due_s is not None
            self.requests += 1
            out.append(("request", self._poll.data))
            self._answer_due_s = now_s + ANSWER_S
            # In step with the clock; after a pause from now on, so that requests never come in a burst.
            kept_step = now_s < self._poll_s + self._poll.every_s
            self._poll_s = (self._poll_s if kept_step else now_s) + self._poll.every_s
        return out

    def answered(self) -> None:
        """Note that the device has answered, whatever it said."""
        self._answer_due_s = None

    @property
    def next_s(self) -> float | None:
        """When something is due next; None where nothing ever is."""
        times = []
        if self._keep_alive is not None:
            times.append(self._awake_s)
        if self._poll is not None:
            times.append(self._request_s)
        return min(times, default=None)

    @property
    def _request_s(self) -> float:
        return self._poll_s if self._answer_due_s is None else max(self._poll_s, self._answer_due_s)
