"""The commands ``vatting card`` and ``vatting sheet trials``."""

from __future__ import annotations

import json
import re
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import click

from pipeline.commands.options import SITE, WITHOUT

DESIGNS = ("equal", "base", "centroid", "lattice", "optimal", "cox", "leave-out", "ladder", "singles")


@click.command()
@click.argument("batch")
@click.option("--out", default="outputs", type=click.Path(path_type=Path), help="The outputs.", show_default=True)
@WITHOUT
@click.option("--json", "as_json", is_flag=True, help="Answer as JSON.")
@click.option("--debug", is_flag=True, help="Show what goes wrong in full.")
def card(batch: str, out: Path, as_json: bool, debug: bool) -> None:
    """Make the bench card of BATCH anew: other codes, and the tasters and scores as they are now.

    Earlier cards stay in originals/, and what comes back of them still counts.
    """
    from pipeline.common.errors import VattingError
    from pipeline.runs.run import issue_anew

    try:
        result, made = issue_anew(out, "bench_cards", batch)
    except VattingError as error:
        if debug:
            raise
        click.echo(f"vatting: {error}", err=True)
        sys.exit(1)
    frame = result.worked.frames.get("bench_cards")
    found = None if frame is None else frame[frame["batch"] == batch]
    if not made or found is None or not len(found):
        said = f"No proposals are known for {batch}: nothing to pour. vatting sheet trials makes a card of any casks."
        click.echo(json.dumps({"batch": batch, "status": "nothing", "why": said}) if as_json else said, err=not as_json)
        sys.exit(1)
    text = str(found["document"].iloc[0])
    made_card = json.loads(text)
    if as_json:
        click.echo(text, nl=False)
        return
    if made_card.get("cannot"):
        click.echo(f"vatting: {made_card['cannot']}", err=True)
        sys.exit(1)
    _tell(made_card)
    click.echo(f"See {out / 'proposals' / batch / 'bench_card.xlsx'}")


@click.command("trials")
@click.option(
    "--casks", required=True, help="Casks, separated by commas, with strengths or as last gauged: C-1=62.3,C-2."
)
@click.option("--out", default="outputs", type=click.Path(path_type=Path), help="Outputs with the gauges of casks.")
@click.option("--design", type=click.Choice(DESIGNS), default="equal", show_default=True, help="Which proportions.")
@click.option("--parts", help="Shares or parts of the casks in their order, for cox, leave-out, ladder: 60,30,10.")
@click.option("--steps", default="5,10", show_default=True, help="Steps in points: additions to the base, Cox steps.")
@click.option("--least", help="optimal: least share of each cask, in points, one for all or one each.")
@click.option("--most", help="optimal: most of each cask, in points.")
@click.option("--runs", type=int, help="optimal: how many trials.")
@click.option("--model", type=click.Choice(["linear", "quadratic"]), default="linear", show_default=True)
@click.option("--strengths", default="50,40", show_default=True, help="ladder: from, to, % vol; 4 rungs.")
@click.option("--rungs", type=int, default=4, show_default=True, help="ladder: 3 to 5 strengths.")
@click.option("--best", help="The cask named before tasting as the best single one.")
@click.option("--flight", required=True, help="Name of the flight, such as B-27-01-X1.")
@click.option("--batch", default="", help="Batch that it is for.")
@click.option("--tasters", default="", help="Tasters, separated by commas; else those that site.toml names.")
@click.option("--families", default="", help="Families that get a column of their own: smoke_peat,body.")
@click.option("--nosing", type=click.FloatRange(5.0, 80.0), help="Nosing strength, % vol; else as site.toml says.")
@click.option("--step", type=click.FloatRange(0.001, 5.0), help="Smallest step measured, ml; else as site.toml says.")
@click.option("--inbox", type=click.Path(exists=True, file_okay=False, path_type=Path), help="Inbox with a site.toml.")
@SITE
@WITHOUT
@click.option("-o", "--output", "folder", type=click.Path(path_type=Path), default=".", help="Folder to write to.")
def trials(**asked: Any) -> None:
    """Write a bench card of a design over casks, and the tasters' pages without the key."""
    from plugins.bench.cards.card import plan_card
    from plugins.bench.cards.card_workbook import card_bytes, tasting_bytes
    from plugins.bench.cards.designs import CannotDesign
    from plugins.bench.cards.measure import Bench, CannotMake
    from plugins.bench.cards.recipes import asked_of, recipes_of
    from plugins.bench.cards.strengths import strengths_of

    site = _site(asked["inbox"], asked["out"], asked["site"])
    asked["tasters"] = asked["tasters"] or ",".join(site["plugins.bench.tasters"])
    stated = {"step_ml": asked["step"], "nosing_abv": asked["nosing"]}
    try:
        bench = replace(Bench.of(site), **{name: value for name, value in stated.items() if value is not None})
        strengths, gauged = strengths_of(asked["casks"], asked["out"])
        made = plan_card(asked_of(asked, gauged), recipes_of(asked, strengths), bench)
        name = re.sub(r"[^\w.-]+", "-", asked["flight"]).strip("-.") or "flight"
        folder: Path = asked["folder"]
        files = {
            folder / f"bench_card_{name}.xlsx": card_bytes(made),
            folder / f"bench_tasting_{name}.xlsx": tasting_bytes(made),
        }
        there = [path.name for path in files if path.exists()]
        if there:
            raise CannotMake(f"{', '.join(there)} is there already; choose another flight or folder.")
        folder.mkdir(parents=True, exist_ok=True)
        for path, data in files.items():
            path.write_bytes(data)
            click.echo(f"wrote {path}")
    except (CannotDesign, CannotMake, ValueError, OSError) as error:
        raise click.ClickException(str(error)) from error
    _tell(made)


def _site(inbox: Path | None, out: Path, site: Path | None) -> Any:
    from pipeline.common.errors import VattingError
    from pipeline.site.house import open_house
    from pipeline.site.source import find_source

    try:
        return open_house(find_source(site, out, inbox)).site
    except VattingError as error:
        raise click.ClickException(str(error)) from error


def _tell(made: dict[str, Any]) -> None:
    """Trials in millilitres, liquid needed, and what to know."""
    for trial in made["trials"]:
        parts = ", ".join(f"{part['component']} {part['ml']:g} ml" for part in trial["parts"])
        click.echo(f"  {trial['trial']} ({trial['role']}): {parts}")
    needed = ", ".join(f"{item['component']} {item['ml']:g} ml" for item in made["needed"])
    click.echo(f"Needed: {needed}")
    for note in made["notes"]:
        click.echo(note)
