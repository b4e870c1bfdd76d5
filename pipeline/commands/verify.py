"""``vatting verify``."""

from __future__ import annotations

import sys
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

import click
from rich.text import Text

from pipeline.commands.options import DEBUG, JSON, OUT, WITHOUT, in_words
from pipeline.commands.printing import console, dump, progress

if TYPE_CHECKING:
    from pipeline.verify.said import Report

SHOWN = 40


@click.command()
@OUT
@click.option(
    "--against", multiple=True, metavar="HEAD", help="A head kept elsewhere, or a file of heads; may be given again."
)
@click.option("--full", is_flag=True, help="Read every original, not only its size.")
@click.option("--facts", is_flag=True, help="Read every file anew and hold the book's facts against it.")
@JSON
@WITHOUT
@DEBUG
def verify(out: Path, against: tuple[str, ...], full: bool, facts: bool, as_json: bool, debug: bool) -> None:
    """Check that journal, originals, book and outputs agree, and name what does not.

    Changes nothing; ends with status 1 when something does not agree.
    """
    from pipeline.runs.verifying import verify_outputs

    with progress(as_json) as going:
        report = in_words(debug, lambda: verify_outputs(out, against, full, facts, going))
    tell(report, as_json)
    if report.disagreements:
        sys.exit(1)


def tell(report: Report, as_json: bool) -> None:
    """What does not agree, then what is to be known, then how much was looked at."""
    from pipeline.common.heads import on_paper

    if as_json:
        dump(asdict(report))
        return
    screen = console()
    for one in report.disagreements[:SHOWN]:
        screen.print(Text(str(one)))
    if len(report.disagreements) > SHOWN:
        screen.print(Text(f"And {len(report.disagreements) - SHOWN} more; --json lists all."))
    for remark in report.remarks:
        screen.print(Text(f"Note: {remark}"))
    count = len(report.disagreements)
    said = "All agrees" if not count else f"{count} thing{'s do' if count > 1 else ' does'} not agree"
    read = "read whole" if report.full else "their sizes; --full reads them"
    looked = f"{report.lines} journal lines, {report.originals} originals ({read}), {report.outputs} outputs"
    if report.facts is not None:
        looked += f", {report.facts} rows read anew"
    screen.print(Text(f"{said}. Looked at: {looked}, {report.heads} heads."))
    if report.head:
        screen.print(Text(f"The journal's head is {on_paper(report.head)} (outputs {report.identity[:8]})."))
