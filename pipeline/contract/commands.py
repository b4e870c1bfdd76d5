"""What a command is that a plugin adds to ``vatting``."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from importlib import metadata
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import click


ENGINE_COMMANDS = (
    *(
        "backup",
        "check",
        "doctor",
        "explain",
        "key",
        "new-plugin",
        "rebuild",
        "restore",
        "run",
        "settings",
        "sheet",
        "sign",
    ),
    *("stages", "try-plugin", "verify", "watch"),
)
"""The engine's own; no plugin may add one of these names."""


@dataclass(frozen=True)
class Command:
    """One command: its ``name``, one line of ``help``, and how to get it when it is called.

    A name of two words, ``sheet KIND``, is that command's form for one kind, called by options of its own.

    ``load`` takes nothing and returns a click command or group. Import inside it, so that listing the
    commands loads nothing heavy.
    """

    name: str
    help: str
    load: Callable[[], click.Command]

    def __post_init__(self) -> None:
        if (
            not re.fullmatch(r"[a-z][a-z0-9-]*( [a-z][a-z0-9_-]*)?", self.name)
            or not self.help
            or not callable(self.load)
        ):
            raise ValueError(
                f"command {self.name!r} wants a name in small letters, a line of help, and load as a function"
            )


@cache
def name_and_version(distribution: metadata.Distribution) -> tuple[str, str]:
    """What an installed distribution is called, and its version; each is looked up once for all its entry points."""
    about = distribution.metadata
    return about["Name"], about["Version"]
