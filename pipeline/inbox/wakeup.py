"""A bell that wakes whoever waits; it may be rung from any thread, and by a signal's handler.

An Event would not do: the handler runs on the thread that waits, and could wait for ever for itself
to let go of the event's lock. A SimpleQueue is made for that.
"""

from __future__ import annotations

from queue import Empty, SimpleQueue


class Bell:
    """Stays rung until somebody waits for it or clears it."""

    def __init__(self) -> None:
        self._rung: SimpleQueue[None] = SimpleQueue()

    def ring(self) -> None:
        """Wake who waits, or who waits next."""
        if self._rung.empty():
            self._rung.put(None)

    @property
    def rung(self) -> bool:
        """Whether it rang since somebody last waited for it; it stays rung."""
        return not self._rung.empty()

    def wait(self, seconds: float) -> bool:
        """Wait until it rings, at most so long; whether it rang."""
        try:
            self._rung.get(timeout=max(seconds, 0.0))
        except Empty:
            return False
        return True

    def clear(self) -> None:
        """What rang until now no longer counts."""
        while not self._rung.empty():
            self.wait(0.0)
