"""``vatting restore``, and the restore that is only rehearsed."""

from __future__ import annotations

import sys
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline.commands.options import DEBUG, JSON, OUT, WITHOUT, in_words
from pipeline.commands.printing import console, dump, progress

if TYPE_CHECKING:
    from pipeline.runs.backup import Rehearsal

SHOWN = 20


@click.command()
@click.argument("source", metavar="FROM", type=click.Path(exists=True, file_okay=False, path_type=Path))
@OUT
@JSON
@click.option("--check", is_flag=True, help="Rehearse: restore in a temporary place and compare every record.")
@WITHOUT
@DEBUG
def restore(source: Path, out: Path, as_json: bool, check: bool, debug: bool) -> None:
    """Make book and outputs from the backup FROM, in a folder of outputs that is empty.

    With --check nothing is restored; what a rehearsal found is kept beside backup and outputs.
    """
    from pipeline.runs.backup import rehearse
    from pipeline.runs.backup import restore as bring_back

    with progress(as_json) as going:
        done = in_words(debug, lambda: (rehearse if check else bring_back)(source, out, going))
    if as_json:
        dump({**asdict(done), "good": done.good})
    else:
        tell(done, source, out, check)
    if not done.good:
        sys.exit(1)


def tell(done: Rehearsal, source: Path, out: Path, check: bool) -> None:
    """What was brought back, what differs from the outputs that the backup was made of, and what to do next."""
    screen = console()
    equal = done.compared - len(done.differ)
    said = "The backup can be restored" if check else f"Restored to {out}"
    if not done.good:
        said = "Look before you rely on this backup"
    compared = f"{equal} of {done.compared} records byte for byte as they were on {done.backup_of}"
    if not done.compared:
        compared = "no records were compared, since the backup was made while files were taken"
    screen.print(f"{said}: {done.originals} originals read and whole, {compared}; it took {done.seconds} s.")
    for path in done.differ[:SHOWN]:
        screen.print(f"  {path} is not as it was")
    if len(done.differ) > SHOWN:
        screen.print(f"  and {len(done.differ) - SHOWN} more; --json lists all")
    for problem in done.problems:
        screen.print(f"Problem: {problem}")
    if done.differ:
        screen.print(
            "Another version of vatting or of a library gives other figures; vatting rebuild --dry-run says which."
        )
    if not check:
        screen.print(f"Settings and the site's plugins are in {source / 'site'}; put them where the old ones lay.")
