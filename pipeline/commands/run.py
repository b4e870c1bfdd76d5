"""``vatting run``."""

from __future__ import annotations

import sys
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

import click
from rich.text import Text

from pipeline.commands.closing import closing
from pipeline.commands.options import DEBUG, INBOX, JSON, OUT, SITE, WITHOUT, in_words
from pipeline.commands.printing import console, dump, plain_table, progress

if TYPE_CHECKING:
    from pipeline.runs.results import Result


@click.command()
@INBOX
@OUT
@SITE
@WITHOUT
@JSON
@click.option("--strict", is_flag=True, help="End with status 3 when a batch is held.")
@DEBUG
def run(inbox: Path, out: Path, site: Path | None, as_json: bool, strict: bool, debug: bool) -> None:
    """Take all that lies in INBOX once, update book and outputs, say what became of each file."""
    from pipeline.runs.run import run as run_once

    with progress(as_json) as going:
        result = in_words(debug, lambda: run_once(inbox, out, going, site=site))
    tell(result, out, as_json)
    if any(fate.outcome == "returned" for fate in result.fates) or result.unread or result.failed:
        sys.exit(1)
    if strict and held(result):
        sys.exit(3)


def held(result: Result) -> bool:
    """Whether a batch is held."""
    return "held" in result.statuses.values()


def tell(result: Result, out: Path, as_json: bool) -> None:
    """What became of each file, and where to look."""
    if as_json:
        dump(
            {
                "files": [asdict(fate) for fate in result.fates],
                "staying": result.staying,
                "batches": result.statuses,
                "findings": result.findings,
                "problems": result.problems,
                "notes": result.notes,
                "book_date": result.book_date,
                "look_at": str(out / "index.html"),
            }
        )
        return
    screen = console()
    if result.fates:
        table = plain_table("file", "what became of it", "rows", "remarks in reading")
        for fate in result.fates:
            said = {
                "taken": f"taken: {fate.kinds}",
                "returned": "returned, see below",
                "known": "known: counted once already",
            }[fate.outcome]
            rows, findings = (str(fate.rows), str(fate.findings or "")) if fate.outcome == "taken" else ("", "")
            table.add_row(Text(fate.name), Text(said), rows, findings)
        screen.print(table)
    else:
        screen.print("Nothing new lies in the inbox.")
    for fate in result.fates:
        if fate.outcome == "returned":
            screen.print(Text(f"\n{fate.name} was returned. {fate.reason} {fate.remedy}"))
    for name, reason in result.staying.items():
        screen.print(Text(f"{name} stays: {reason}"))
    closing(result, out, screen)
