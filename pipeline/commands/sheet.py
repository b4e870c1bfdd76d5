"""``vatting sheet``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click
from rich.text import Text

from pipeline.commands.options import DEBUG, JSON, OUT, SITE, WITHOUT, in_words
from pipeline.commands.printing import console, dump

if TYPE_CHECKING:
    from pipeline.outputs.blank_sheet import Blank
    from pipeline.site.house import House


@click.command()
@click.argument("kind", required=False)
@click.option("-o", "--output", "file", type=click.Path(path_type=Path), help="File to write; KIND.xlsx without it.")
@click.option(
    "--inbox",
    type=click.Path(exists=True, file_okay=False, path_type=Path),
    help="Inbox whose site.toml gives units, date order and who may rule, where the site's folder has none.",
)
@OUT
@SITE
@WITHOUT
@JSON
@DEBUG
def sheet(
    kind: str | None,
    file: Path | None,
    inbox: Path | None,
    out: Path,
    site: Path | None,
    as_json: bool,
    debug: bool,
) -> None:
    """Write a blank workbook for a KIND of sheet: headers, units, drop-downs, one example row.

    Without KIND, list the kinds. A file that is there is never written over.
    """
    from pipeline.outputs.blank_file import write_blank
    from pipeline.site.house import open_house
    from pipeline.site.source import find_source

    house = in_words(debug, lambda: open_house(find_source(site, out, inbox), whole=False))
    if kind is None:
        tell_kinds(house, as_json)
    else:
        name = kind
        made, path = in_words(debug, lambda: write_blank(name, file, house))
        tell(made, path, as_json)


def tell_kinds(house: House, as_json: bool) -> None:
    """The kinds of sheet there are."""
    if as_json:
        dump({kind.name: {"meaning": kind.meaning, "key": list(kind.key)} for kind in house.kinds})
        return
    screen = console()
    screen.print(Text("vatting sheet KIND writes a blank sheet of one of these kinds:"))
    for kind in house.kinds:
        screen.print(Text(f"  {kind.name}: {kind.meaning}"))
    for problem in house.plugins.problems:
        screen.print(Text(f"Problem: {problem}"))


def tell(made: Blank, path: Path, as_json: bool) -> None:
    """Where the blank sheet lies, and what to do with it."""
    from pipeline.outputs.blank_file import in_an_inbox

    if as_json:
        columns = [
            {"column": c.column.name, "header": c.header, "needed": c.needed, "unit": c.unit, "words": list(c.words)}
            for c in made.columns
        ]
        dump({"kind": made.kind.name, "file": str(path), "columns": columns})
        return
    screen = console()
    screen.print(Text(f"{path}: a blank sheet for {made.kind.meaning or made.kind.name}."))
    needed = ", ".join(c.header for c in made.columns if c.column.required)
    screen.print(Text(f"Every sheet needs the columns: {needed}. The example row in it is never taken."))
    if in_an_inbox(path):
        screen.print(
            Text("It lies in an inbox, where it would be taken before it is filled in: move it out, fill it in there.")
        )
