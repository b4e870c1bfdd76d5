"""A command of the site's own that hears of trouble in a watch: it may send a message, and never stops the work."""

from __future__ import annotations

import logging
from collections.abc import Sequence

from pipeline.common.site_commands import run_command

log = logging.getLogger("vatting")

OVER = "The trouble is over; files are taken again."


class Alarm:
    """Runs ``command`` (program and arguments, no shell) with what is wrong, or that it is over, on its input."""

    def __init__(self, command: Sequence[str] = ()) -> None:
        self.command = list(command)
        self._said = ""

    def tell(self, trouble: str) -> None:
        """Tell of trouble once, and once that it is over (empty). What the command does wrong is only logged."""
        if not self.command or trouble == self._said:
            return
        self._said = trouble
        wrong = run_command(self.command, (trouble or OVER) + "\n")
        if wrong:
            log.warning("the command of watch.on_trouble did not work: %s", wrong)
