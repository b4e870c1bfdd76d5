"""``vatting settings``."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
from rich.text import Text

from pipeline.commands.options import DEBUG, JSON, OUT, SITE, WITHOUT, in_words
from pipeline.commands.printing import console, dump

if TYPE_CHECKING:
    from pipeline.sheets.explained import Layout
    from pipeline.site.house import House


@click.command()
@click.argument("inbox", required=False, type=click.Path(exists=True, file_okay=False, path_type=Path))
@OUT
@SITE
@WITHOUT
@JSON
@DEBUG
def settings(inbox: Path | None, out: Path, site: Path | None, as_json: bool, debug: bool) -> None:
    """Show every setting with the value in force and where it comes from.

    They are those of the site's folder; where there is none, those of a site.toml in INBOX.
    """
    from pipeline.book.journal import Originals
    from pipeline.site.house import open_house
    from pipeline.site.source import find_source

    house = in_words(debug, lambda: open_house(find_source(site, out, inbox), whole=False))
    tell(house, in_words(debug, Originals(out / "originals").lines), as_json)


def tell(house: House, lines: list[dict[str, Any]], as_json: bool) -> None:
    """Every setting in force, and what people said of header rows by the journal's lines."""
    from pipeline.book.fates import layouts_of
    from pipeline.site.settings_file import ENGINE_SETTINGS

    declared = [*ENGINE_SETTINGS, *house.plugins.settings]
    rows = [
        {
            "setting": setting.path,
            "value": house.site[setting.path],
            "unit": setting.unit,
            "from": house.site.sources[setting.path],
            "meaning": setting.meaning,
        }
        for setting in declared
    ]
    rows += [_explained(layout, house.site["sheets.not_confirmed"]) for layout in layouts_of(lines)]
    if as_json:
        dump(rows)
        return
    screen = console()
    for row in rows:
        value = json.dumps(row["value"], ensure_ascii=False, default=str)
        unit = f" {row['unit']}" if row["unit"] else ""
        screen.print(Text(f"{row['setting']} = {value}{unit}   ({row['from']})"))
        screen.print(Text(f"    {row['meaning']}", style="dim"))


def _explained(layout: Layout, taken_back: list[str]) -> dict[str, Any]:
    """A header row that somebody explained, as a line among the settings."""
    headers = ", ".join(header or "(blank)" for header in layout.headers)
    counts = "counts no more" if layout.code in taken_back else f"counts for every file with the header {headers}"
    return {
        "setting": f"header row {layout.code}",
        "value": f"{layout.kind}: {layout.in_words() or 'its kind alone was said'}",
        "unit": "",
        "from": f"confirmed by {layout.who} on {layout.on} in {layout.file}",
        "meaning": f'{counts}; not_confirmed = ["{layout.code}"] under [sheets] takes it back',
    }
