"""``vatting try-plugin``."""

from __future__ import annotations

import sys
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

import click
from rich.text import Text

from pipeline.commands.options import DEBUG, JSON, WITHOUT, in_words
from pipeline.commands.printing import console, dump

if TYPE_CHECKING:
    from pipeline.trying.try_plugin import Trial


@click.command("try-plugin")
@click.argument("folder", type=click.Path(exists=True, file_okay=False, path_type=Path))
@click.option(
    "--inbox",
    type=click.Path(exists=True, file_okay=False, path_type=Path),
    help="Files to try it on, such as inbox_example; else five casks that ship with vatting.",
)
@WITHOUT
@JSON
@DEBUG
def try_plugin(folder: Path, inbox: Path | None, as_json: bool, debug: bool) -> None:
    """Run the plugin in FOLDER on a small house and its own samples; say what it promised and what it kept.

    Nothing is recorded; ends with status 1 when a promise was not kept.
    """
    from pipeline.trying.try_plugin import try_plugin as tried

    trial = in_words(debug, lambda: tried(folder, inbox))
    tell(trial, as_json)
    if trial.broken:
        sys.exit(1)


def tell(trial: Trial, as_json: bool) -> None:
    """Each promise, kept or not, in words."""
    if as_json:
        dump({**asdict(trial), "broken": len(trial.broken)})
        return
    screen = console()
    screen.print(Text(f"Plugin {trial.plugin}, tried on {', '.join(trial.sheets)}", style="bold"))
    for one in trial.promises:
        line = Text("kept    " if one.kept else "broken  ", style="green" if one.kept else "bold red")
        line.append(f"{one.of}, {one.promise}: {one.said}", style="default")
        screen.print(line)
    broken = len(trial.broken)
    told = "All promises were kept" if not broken else f"{broken} of {len(trial.promises)} promises were not kept"
    screen.print(Text(f"\n{told}."))
