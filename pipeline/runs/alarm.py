"""A command of the site's own that hears of trouble in a watch: it may send a message, and never stops the work."""

from __future__ import annotations

import logging
import subprocess
from collections.abc import Sequence

log = logging.getLogger("vatting")

SECONDS = 10.0
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
        try:
            subprocess.run(
                self.command,
                input=(trouble or OVER) + "\n",
                text=True,
                encoding="utf-8",
                timeout=SECONDS,
                check=True,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
            )
        except (OSError, subprocess.SubprocessError) as error:
            log.warning("the command of watch.on_trouble did not work: %s", error)
