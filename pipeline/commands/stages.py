"""``vatting stages``."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

import click
from rich.text import Text

from pipeline.commands.options import DEBUG, JSON, OUT, SITE, WITHOUT, in_words
from pipeline.commands.printing import console, dump

if TYPE_CHECKING:
    from pipeline.contract.frames import Frame
    from pipeline.runs.plugins_told import ToldPlugin
    from pipeline.site.house import House


@click.command()
@click.argument("inbox", required=False, type=click.Path(exists=True, file_okay=False, path_type=Path))
@click.option("--frame", "frame", help="Show the columns of one frame instead.")
@click.option("--plugin", "plugin", help="Show one plugin instead: version, hooks, frames, time, last failure.")
@click.option("--why", is_flag=True, help="Say what was last worked out in the outputs, and because of what.")
@OUT
@SITE
@WITHOUT
@JSON
@DEBUG
def stages(
    inbox: Path | None,
    frame: str | None,
    plugin: str | None,
    why: bool,
    out: Path,
    site: Path | None,
    as_json: bool,
    debug: bool,
) -> None:
    """Show the graph of frames and stages: plugin, what each needs and gives, and what it does.

    The plugins of the site's folder are there too. With --frame, what one frame promises; with --plugin, what one
    plugin is and did.
    """
    if why:
        from pipeline.runs.last_worked import why_worked

        tell_why(in_words(debug, lambda: why_worked(out)), as_json)
        return
    from pipeline.site.house import open_house
    from pipeline.site.source import find_source

    house = in_words(debug, lambda: open_house(find_source(site, out, inbox)))
    if plugin:
        from pipeline.runs.last_worked import last_told

        name = plugin
        tell_plugin(in_words(debug, lambda: last_told(out, name, house)), as_json)
    elif frame:
        tell_columns(in_words(debug, lambda: house.frame(frame)), as_json)
    else:
        tell(house, as_json)


def tell_why(why: dict[str, str], as_json: bool) -> None:
    """What was last worked out, and because of what."""
    if as_json:
        dump(why)
        return
    screen = console()
    for name, said in why.items():
        screen.print(Text(f"{name}: {said}"))
    if not why:
        screen.print("Nothing is kept here of which could be said why it was worked out.")


def tell(house: House, as_json: bool) -> None:
    """The stage graph."""
    rows = [
        {
            "gives": stage.gives,
            "plugin": stage.plugin,
            "stage": stage.name,
            "needs": [need.name + (" (if there)" if need.optional else "") for need in stage.needs],
            "does": stage.summary,
        }
        for stage in house.graph.order
    ]
    sheets = {kind.name: kind.meaning for kind in house.kinds}
    if as_json:
        dump({"sheets": sheets, "stages": rows, "problems": house.plugins.problems})
        return
    screen = console()
    screen.print(Text("Sheets, each an input frame", style="bold"))
    for name, meaning in sheets.items():
        screen.print(Text(f"  {name}: {meaning}"))
    screen.print(Text("\nStages, in an order that fits", style="bold"))
    for row in rows:
        screen.print(Text(f"  {row['gives']} ← {', '.join(row['needs'])}"))
        screen.print(Text(f"      {row['plugin']}.{row['stage']}: {row['does']}", style="dim"))
    for problem in house.plugins.problems:
        screen.print(Text(f"Problem: {problem}"))


def tell_plugin(told: ToldPlugin, as_json: bool) -> None:
    """What one plugin is and did."""
    if as_json:
        dump({**asdict(told), "spent": told.spent})
        return
    screen = console()
    screen.print(Text(f"{told.name} {told.version}: {told.where}", style="bold"))
    for hook, given in told.hooks.items():
        screen.print(Text(f"  {hook}: {', '.join(given)}"))
    for frame, seconds in told.seconds.items():
        screen.print(Text(f"  {frame} took {seconds:.3f} s when it was last worked out"))
    screen.print(Text(f"  last failure: {told.failed or 'none in the log'}"))


def tell_columns(frame: Frame, as_json: bool) -> None:
    """What one frame promises."""
    rows = [
        {"column": c.name, "type": c.dtype, "unit": c.unit, "meaning": c.meaning, "uses": list(c.uses)}
        for c in frame.columns
    ]
    if as_json:
        dump({"frame": frame.name, "meaning": frame.meaning, "key": frame.key, "columns": rows})
        return
    screen = console()
    screen.print(Text(f"{frame.name}: {frame.meaning} (key: {', '.join(frame.key) or 'none'})", style="bold"))
    for column in frame.columns:
        unit = f" [{column.unit}]" if column.unit else ""
        screen.print(Text(f"  {column.name}  {column.dtype}{unit}  {column.meaning}"))
    screen.print(Text("  facts  the facts each row rests on"))
