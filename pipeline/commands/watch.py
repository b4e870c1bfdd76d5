"""``vatting watch``."""

from __future__ import annotations

import sys
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline.commands.options import DEBUG, INBOX, OUT, SITE, WITHOUT, in_words
from pipeline.commands.printing import progress

if TYPE_CHECKING:
    from pipeline.book.fates import Fate


@click.command()
@INBOX
@OUT
@SITE
@WITHOUT
@DEBUG
def watch(inbox: Path, out: Path, site: Path | None, debug: bool) -> None:
    """Take what lies in INBOX and go on as files arrive. Ctrl-C or SIGTERM ends it after the file in hand."""
    import signal

    from pipeline.runs.watch import Stop, Watcher

    stop = Stop()

    def asked(number: int, frame: object) -> None:
        if stop.asked and number == signal.SIGINT:
            raise KeyboardInterrupt
        stop()

    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, asked)
    told = Watching()
    with progress(False) as going:
        in_words(debug, lambda: Watcher(inbox, out, stop, going, told.fate, told.say, site).watch())
    told.say("Stopped.")


class Watching:
    """What ``vatting watch`` prints: a line for each file and each thing to know, with the time."""

    def fate(self, fate: Fate) -> None:
        """A file's fate."""
        if fate.outcome == "taken":
            told = f"{fate.name}: taken, {fate.kinds}, {fate.rows} {'row' if fate.rows == 1 else 'rows'}"
            told += f", {fate.findings} to look at" if fate.findings else ""
        elif fate.outcome == "returned":
            told = f"{fate.name}: returned. {fate.reason} {fate.remedy}"
        else:
            told = f"{fate.name}: {fate.reason}"
        self.say(told)

    def say(self, words: str) -> None:
        """A sentence with the time of day."""
        click.echo(f"{datetime.now():%H:%M:%S}  {words}")
        sys.stdout.flush()
