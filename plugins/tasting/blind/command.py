"""``vatting sheet tastings --blind``: the sheets of a blind flight and their key, written to a folder."""

from __future__ import annotations

import re
from datetime import date, datetime
from pathlib import Path

import click

from plugins.tasting.blind.flights import CannotSet, Flight, blind_flight


@click.command("tastings")
@click.option("--blind", is_flag=True, required=True, help="Three-digit codes instead of the samples' names.")
@click.option("--samples", required=True, help="Samples, separated by commas; one named twice is a blind duplicate.")
@click.option("--tasters", required=True, help="Tasters, separated by commas; each gets a workbook.")
@click.option("--session", help="Name of the session; flight DATE without it.")
@click.option("--on", type=click.DateTime(["%Y-%m-%d"]), help="Day of the tasting; today without it.")
@click.option("--strength", type=float, default=20.0, show_default=True, help="Nosing strength, % vol.")
@click.option("-o", "--output", "folder", type=click.Path(path_type=Path), default=".", help="Folder to write to.")
def blind_sheets(
    blind: bool, samples: str, tasters: str, session: str | None, on: datetime | None, strength: float, folder: Path
) -> None:
    """Write one workbook per taster with codes and serving order, and the key that resolves the codes."""
    day = on.date() if on else date.today()
    try:
        flight = blind_flight(session or f"flight {day}", _named(samples), _named(tasters), day, strength)
        written = _write(flight, folder)
    except (CannotSet, OSError) as error:
        raise click.ClickException(str(error)) from error
    for path in written:
        click.echo(f"wrote {path}")
    for remark in flight.remarks:
        click.echo(remark)
    click.echo(
        f"{flight.key_name} says what stands behind each code: whoever tastes must not see it. "
        "Drop the filled sheets into the inbox, and the key when the last sheet is in."
    )


def _named(text: str) -> list[str]:
    return [name.strip() for name in re.split(r"[,;]", text) if name.strip()]


def _write(flight: Flight, folder: Path) -> list[Path]:
    """Write everything or nothing; a file that is there is never written over."""
    files = {folder / name: data for name, data in {**flight.sheets, flight.key_name: flight.key}.items()}
    there = [path.name for path in files if path.exists()]
    if there:
        raise CannotSet(f"{', '.join(there)} is there already; choose another session or folder.")
    folder.mkdir(parents=True, exist_ok=True)
    for path, data in files.items():
        path.write_bytes(data)
    return list(files)
