"""What can stop a command, each said in words to whoever ran it.

VattingError
    SettingsError    site.toml cannot be used
    PluginError      a built-in plugin, or the way plugins fit together, is broken: nothing can run
    BookError        the book cannot be used
        BookOutdated     it was made by another version or other kinds, and is to be made anew
            BookDamaged      it cannot be read, and is to be made anew
        BookHeld         another process works on it
    WrongOutputs     the outputs are not those of the inbox, or not the ones that were opened
    JournalBroken    the journal or an original is not what it was
    BackupError      a backup cannot be made there, or is none
    KeyRefused       a key to sign with cannot be made or used
    OutputError      a file that a command was asked for cannot be written there
    NotKnown         nothing is called what a command was asked for
"""

from __future__ import annotations

from collections.abc import Iterable


class VattingError(Exception):
    """The message says what is wrong, where, and how to mend it."""


class SettingsError(VattingError):
    """site.toml cannot be used."""


class PluginError(VattingError):
    """A built-in plugin, or the way plugins fit together, is broken; ``plugins`` are those it is about."""

    def __init__(self, message: str, plugins: Iterable[str] = ()) -> None:
        super().__init__(message)
        self.plugins = frozenset(plugins)


class BookError(VattingError):
    """The book cannot be used."""


class BookOutdated(BookError):
    """The book was made by another version or other kinds."""


class BookDamaged(BookOutdated):
    """The book cannot be read."""


class BookHeld(BookError):
    """Another process works on the book."""


class WrongOutputs(VattingError):
    """The outputs are not those of the inbox, or not the ones that were opened."""


class JournalBroken(VattingError):
    """The journal or an original is not what it was."""


class BackupError(VattingError):
    """A backup cannot be made there, or what should be one is none."""


class OutputError(VattingError):
    """A file that a command was asked for cannot be written there."""


class KeyRefused(VattingError):
    """A key to sign with cannot be made or used."""


class NotKnown(VattingError, LookupError):
    """Nothing is called what a command was asked for."""
