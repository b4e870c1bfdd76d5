"""Runs a command of the site's own, a program and its arguments without a shell, with a text on its input."""

from __future__ import annotations

import subprocess
from collections.abc import Sequence

SECONDS = 10.0


def run_command(command: Sequence[str], text: str) -> str:
    """Run a command; gives what went wrong, in words, else nothing. It has ten seconds, and its words are lost."""
    try:
        subprocess.run(
            list(command),
            input=text,
            text=True,
            encoding="utf-8",
            timeout=SECONDS,
            check=True,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
    except (OSError, subprocess.SubprocessError, ValueError) as error:
        return str(error)
    return ""
