"""``vatting backup``."""

from __future__ import annotations

import sys
from dataclasses import asdict
from pathlib import Path

import click

from pipeline.commands.options import DEBUG, JSON, OUT, WITHOUT, in_words
from pipeline.commands.printing import console, dump, progress


@click.command()
@click.argument("to", type=click.Path(file_okay=False, path_type=Path))
@OUT
@JSON
@WITHOUT
@DEBUG
def backup(to: Path, out: Path, as_json: bool, debug: bool) -> None:
    """Copy what cannot be made again to the folder TO: originals, journal, settings, the site's plugins.

    Works while files are taken. A second backup into the same folder copies only what is new.
    """
    from pipeline.runs.backup import back_up

    with progress(as_json) as going:
        done = in_words(debug, lambda: back_up(out, to, going))
    if as_json:
        dump(asdict(done))
    else:
        screen = console()
        screen.print(
            f"{to} holds {done.originals} originals and {done.lines} lines of the journal; "
            f"{done.added} originals were new ({done.added_bytes / 1e6:.1f} MB), each read back and compared."
        )
        if not done.compared:
            screen.print("Files were being taken, so no records were noted; a rehearsal will have none to compare.")
        screen.print(f"Rehearse it: vatting restore {to} --check --out {out}")
    if done.missing:
        told = f"vatting: The site's folder {done.missing} is not there, so its plugins were not copied."
        click.echo(told, err=True)
        sys.exit(1)
