"""The commands ``vatting taste`` and ``vatting find``: a recipe of one's own, and questions to the stock."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import click

Row = dict[str, Any]
NEEDS = (
    *("stock", "profiles", "briefs", "targets", "casks", "panel_noise", "taste_exponents", "taste_terms"),
    *("eligibility", "limits", "claim_shares", "proposals_due", "proposal_sets"),
)
OUT = click.option("--out", default="outputs", type=click.Path(path_type=Path), help="The outputs.", show_default=True)
JSON = click.option("--json", "as_json", is_flag=True, help="Answer as JSON.")


@click.command()
@click.argument("recipe")
@click.option("--batch", default="", help="Hold it against the brief of this batch.")
@OUT
@JSON
def taste(recipe: str, batch: str, out: Path, as_json: bool) -> None:
    """What a RECIPE of your own would be, as in "C-0124 52, C-0150 22, C-0158 8".

    Parts are by volume at cask strength. Nothing is recorded.
    """
    from pipeline.common.errors import VattingError
    from pipeline.runs.last_worked import worked_last
    from plugins.proposals.briefs.tasted_recipe import CannotTell, taste_of
    from plugins.proposals.stock.recipes import NoRecipe, recipe_of

    try:
        with worked_last(out) as (_, worked, _):
            meant = recipe_of(recipe, list(worked.frames["stock"]["cask"]))
            frames = {name: worked.frames[name] for name in NEEDS if name in worked.frames}
            made = taste_of(meant, frames, worked.site, batch)
    except (VattingError, NoRecipe, CannotTell) as error:
        _end(str(error))
    if as_json:
        click.echo(json.dumps(_plain(made), ensure_ascii=False, indent=2, allow_nan=False))
        return
    if meant.unit == "parts" and "%" in recipe:
        click.echo(f"The parts add up to {meant.total:g} %, not to 100; they are taken in their ratio.")
    for line in lines_of(made, "US" in worked.site.markets):
        click.echo(line)


@click.command()
@click.argument("question")
@OUT
@JSON
def find(question: str, out: Path, as_json: bool) -> None:
    """Casks that answer a QUESTION, as in "smoke peat >= 4, age >= 10 years, litres >= 100, like C-0101".

    Known are families and scales, litres, gallons, proof, abv, lpa, age, cost; spirit = WORD, location = WORD; free,
    tasted; like CASK; may be CLAIM MARKET. Near misses fail one condition alone.
    """
    import pandas as pd

    from pipeline.common.errors import VattingError
    from pipeline.runs.last_worked import worked_last
    from plugins.proposals.briefs.gather import settings_of, tastes
    from plugins.proposals.choosing.case import years_between
    from plugins.proposals.stock.find import NoQuestion, asked, found_in
    from plugins.proposals.stock.recipes import NoRecipe
    from plugins.proposals.taste.taste_stages import whole_profiles

    try:
        with worked_last(out) as (_, worked, _):
            day = pd.Timestamp(worked.site.book_date or "NaT")
            stock = worked.frames["stock"]
            stock = stock.assign(age_years=years_between(stock["filled_on"], day))
            profiles = worked.frames["profiles"]
            families = tuple(sorted(set(whole_profiles(profiles)["family"])))
            mean, _, _ = tastes(stock, profiles, families, settings_of(worked.site))
            mean[~stock["tasted"].to_numpy(dtype=bool)] = float("nan")
            table = pd.DataFrame(mean, columns=list(families))
            conditions, like = asked(question, stock, table, worked.frames.get("eligibility"))
            made = found_in(conditions, like, stock, table, near=10)
    except (VattingError, NoQuestion, NoRecipe) as error:
        _end(str(error))
    if as_json:
        click.echo(json.dumps(_plain(made), ensure_ascii=False, indent=2, allow_nan=False))
        return
    click.echo(f"{len(made['casks'])} casks answer{f', nearest in taste to {like} first' if like else ''}.")
    if any(condition.said.casefold().startswith("may ") for condition in conditions):
        click.echo("May be: of the cask alone, as briefs ask. Strength, shares and mixing are the batch's to answer.")
    for row in made["casks"]:
        click.echo(f"  {_cask(row)}")
    if made["near"]:
        click.echo("Near misses, each by one condition:")
        for row in made["near"]:
            click.echo(f"  {_cask(row)}; short on {row['why']}")


def _cask(row: Row) -> str:
    said = "; ".join(f"{name}: {value}" for name, value in row["values"].items())
    apart = "" if row["points_apart"] is None else f"; {row['points_apart']:.2f} points apart"
    held = "" if row["why_not_free"] is None else f"; not free: {row['why_not_free']}"
    return f"{row['cask']}  {said}{apart}{held}"


def _end(words: str) -> Any:
    click.echo(f"vatting: {words}", err=True)
    sys.exit(1)


def _plain(value: Any) -> Any:
    from plugins.proposals.sets.document import bytes_of

    return json.loads(bytes_of(value))


def _draw(row: Row) -> str:
    said = (
        f"  {row['cask']}: {100 * row['share_of_volume']:.1f} % of the volume, "
        f"{100 * row['share_of_alcohol']:.1f} % of the alcohol"
    )
    if row["enough"] is None:
        said += "; its content is not known"
    elif row["enough"]:
        said += f"; draws {row['draw_L']:.0f} L, leaves {max(row['left_L'], 0.0):.0f} L"
    else:
        said += f"; wants {row['draw_L']:.0f} L and holds only {row['holds_L']:.0f} L"
    return said + (f"; not free: {row['why_not_free']}" if row["why_not_free"] else "")


def lines_of(made: Row, us: bool) -> list[str]:
    """The answer in lines; units of the house's markets."""
    from pipeline.writing.spoken import spoken

    def strength(row: Row) -> str:
        return f"{row['proof_60F']:.1f} proof" if us else f"{row['abv_20C']:.1f} % vol"

    lines = [f"FAULTS: off notes were found in {', '.join(made['faults'])}."] if made["faults"] else []
    if made["untasted"]:
        lines.append(f"Not tasted, so taken as the stock's average: {', '.join(made['untasted'])}.")
    lines.append(f"At cask strength {strength(made['vatted'])}. Parts are by volume at cask strength.")
    if "bottling" in made:
        bottled = made["bottling"]
        water = "no water can bring it there" if bottled["water_L"] is None else f"{bottled['water_L']:.0f} L of water"
        amount = f"{bottled['volume_60F_gal']:.0f} US gal" if us else f"{bottled['volume_20C_L']:.0f} L"
        lines.append(f"For {made['batch']} at {bottled['wanted']}: {water}, {amount}, {bottled['bottles']} bottles.")
    lines += [_draw(row) for row in made["casks"]]
    lines.append("Taste, 0 to 10 with its 95 % interval (untried: the law alone):")
    for family, row in made["profile"].items():
        wanted = f"; wanted {row['band_low']:.1f} to {row['band_high']:.1f}" if "target" in row else ""
        tried = "" if row["evidence"] else ", untried"
        lines.append(f"  {spoken(family)}: {row['mean']:.1f} ({row['low']:.1f} to {row['high']:.1f}{tried}){wanted}")
    if made["distance"] is not None:
        lines.append(f"Beyond the wanted band by {made['distance']:.2f} points.")
    for row in made.get("proposals", []):
        if row["points_apart"] is not None:
            lines.append(f"  {row['id']} ({row['aim']}) is {row['points_apart']:.2f} points apart")
    age = made["age"]
    if age["years"] is None:
        lines.append("Its age is not known: a filling date or the day is missing.")
    else:
        lines.append(f"Youngest by its filling date: {age['youngest']}, {age['years']} years on {age['on']}.")
    for row in made.get("claims", []):
        why = f" ({row['why']})" if row["why"] else ""
        lines.append(f"{row['claim']} ({row['market']}): {row['verdict']}{why}")
    if made["cost"] is not None:
        lines.append(f"Cost of a litre of alcohol: {made['cost']:.2f}, as the inventory states it.")
    for cask, moves in made["one_point_more"].items():
        said = ", ".join(f"{spoken(family)} {by:+.2f}" for family, by in moves.items()) or "nothing that is noticed"
        lines.append(f"One point more of {cask}: {said}.")
    return lines
