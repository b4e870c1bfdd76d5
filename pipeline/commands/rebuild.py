"""``vatting rebuild``, and the rebuild that is only tried."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

import click
from rich.text import Text

from pipeline.commands.closing import closing
from pipeline.commands.options import DEBUG, JSON, OUT, SITE, WITHOUT, in_words
from pipeline.commands.printing import console, dump, progress

if TYPE_CHECKING:
    from pipeline.runs.dry_run import Differences
    from pipeline.runs.results import Result

SHOWN = 40


@click.command()
@OUT
@SITE
@WITHOUT
@JSON
@click.option("--dry-run", is_flag=True, help="Change nothing; list the figures that would change.")
@DEBUG
def rebuild(out: Path, site: Path | None, as_json: bool, dry_run: bool, debug: bool) -> None:
    """Make book and outputs anew from the originals and their journal."""
    if dry_run:
        from pipeline.runs.dry_run import would_change

        with progress(as_json) as going:
            differences = in_words(debug, lambda: would_change(out, going, site=site))
        tell_differences(differences, as_json)
        return

    from pipeline.runs.run import rebuild as make_anew

    with progress(as_json) as going:
        result = in_words(debug, lambda: make_anew(out, going, site=site))
    tell(result, out, as_json)


def tell(result: Result, out: Path, as_json: bool) -> None:
    """From how many originals all was made, and where to look."""
    taken = [fate for fate in result.fates if fate.outcome == "taken"]
    if as_json:
        dump({"files": len(taken), "changed": result.changed, "findings": result.findings})
        return
    screen = console()
    screen.print(f"Made anew from {len(taken)} originals; {result.changed} output files changed.")
    closing(result, out, screen)


def tell_differences(differences: Differences, as_json: bool) -> None:
    """The figures and files in which a rebuild would differ from what lies in the outputs."""
    if as_json:
        dump(asdict(differences))
        return
    screen = console()
    screen.print(Text("Nothing was changed. A rebuild would do this:", style="bold"))
    for record in differences.records:
        figures = "1 figure" if len(record.figures) == 1 else f"{len(record.figures)} figures"
        screen.print(Text(f"\n{record.path}: {figures} would change"))
        for figure in record.figures[:SHOWN]:
            screen.print(Text(f"  {figure.path}: {_shown(figure.old)} → {_shown(figure.new)}"))
        if len(record.figures) > SHOWN:
            screen.print(Text(f"  and {len(record.figures) - SHOWN} more; --json lists all"))
    screen.print()
    for said, paths in (
        ("would appear", differences.appear),
        ("would have other contents", differences.change),
        ("would no longer be made, and stays as it lies", differences.go),
    ):
        for path in paths[:SHOWN]:
            screen.print(Text(f"{path} {said}"))
        if len(paths) > SHOWN:
            screen.print(Text(f"and {len(paths) - SHOWN} files more {said}"))
    for note in differences.notes:
        screen.print(Text(note))
    if not (differences.records or differences.appear or differences.change or differences.go):
        screen.print(Text(f"No figure and no file would change ({differences.files} files compared)."))


def _shown(value: object) -> str:
    if value is None:
        return "nothing"
    return f"{value:.12g}" if isinstance(value, float) else str(value)
