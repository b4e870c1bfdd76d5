"""``vatting explain``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click
from rich.text import Text

from pipeline.commands.options import DEBUG, JSON, OUT, WITHOUT, in_words
from pipeline.commands.printing import console, dump

if TYPE_CHECKING:
    from pipeline.runs.explain import Explained


@click.command()
@click.argument("id_", metavar="ID")
@OUT
@JSON
@click.option("--all", "everything", is_flag=True, help="Add the rows of the sheets themselves.")
@click.option("--part", metavar="NAME", help="Of a batch only one part: account, balance, label, taste or sources.")
@WITHOUT
@DEBUG
def explain(id_: str, out: Path, as_json: bool, everything: bool, part: str | None, debug: bool) -> None:
    """Show for a batch, cask or finding every figure with the file, sheet and cell it came from."""
    from pipeline.runs.explain import explain as walk
    from pipeline.runs.explain import explain_part

    tell(in_words(debug, lambda: explain_part(id_, part, out) if part else walk(id_, out, everything)), as_json)


def tell(answer: Explained, as_json: bool) -> None:
    """Figures with the cells they came from."""
    if as_json:
        from pipeline.runs.explain import plain

        dump(plain(answer))
        return
    from pipeline.runs.explain_folded import NOTE, folded

    screen = console()
    screen.print(Text(answer.title, style="bold"))
    parts = [(part.title, folded(part)) for part in answer.parts]
    if sum(len(lines) for _, lines in parts) < sum(len(part.lines) for part in answer.parts):
        screen.print(Text(NOTE, style="dim"))
    for title, lines in parts:
        screen.print(Text(f"\n{title}", style="bold"))
        for line in lines:
            screen.print(Text("  " * line.depth + line.text))
