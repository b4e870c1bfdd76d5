"""The document ``cask_course``: what the page of each cask shows, and nothing of any other cask.

Figures are rounded as the page prints them; those of the pictures are finer than a picture shows.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from pipeline import document
from pipeline.common.names import fold
from pipeline.writing.plain import shown_rows
from plugins.cellar.declared.frames import OUTLOOKS
from plugins.proof import LITRES_PER_GALLON, abv_from_mass_fraction, mass_fraction_from_proof

Row = dict[str, Any]
Shown = dict[str, int | None]
ENDS = ("", "_low", "_high")
DRAWN = 2
"""Places of what pictures are drawn from: less than a tenth of a stroke."""


def _ends(places: int, *names: str) -> Shown:
    return {f"{name}{end}": places for name in names for end in ENDS}


KEY: Shown = {"cask": None, "filling": None}
FILLING = KEY | dict.fromkeys(("spirit", "wood", "location", "filled_on", "ended_at", "ended_by", "hold"))
POINT = KEY | dict.fromkeys(("at", "kind", "basis", "instrument", "comparable"))
POINT |= {"volume_20C_L": 1, "volume_uncertainty_L": 1, "proof_apparent_60F": 1, "proof_uncertainty": 2}
POINT |= {"proof_gallons": 1, "volume_said": 1, "strength_said": 1}
POINT |= dict.fromkeys(("volume", "volume_spread", "strength", "strength_spread"), DRAWN)
AHEAD = KEY | {"day": None, "proof_gallons": 1} | _ends(1, "gallons", "volume_20C_L", "proof_60F", "abv_20C", "lpa")
AHEAD |= _ends(DRAWN, "volume", "strength")
RATE = KEY | _ends(1, "loss_percent_per_year") | {"neighbours_percent_per_year": 1, "apart": 1, "apart_L": 1}
RATE |= _ends(2, "strength_per_year")
RATE |= dict.fromkeys(("loss_basis", "strength_basis", "loss_settled_on", "strength_settled_on"))
OUTLOOK: Shown = dict.fromkeys(OUTLOOKS.names)
CHECK = KEY | dict.fromkeys(("as_of", "verdict", "why"))
WENT: Shown = dict.fromkeys(("cask", "batch", "drawn_at", "through", "gauge", "bottled"))
WENT |= {"lpa": 1, "share_percent": 1}
BESIDE: Shown = dict.fromkeys(("cask", "before", "after"))


def units(site: Any) -> Row:
    """Which units the pictures speak: gallons and proof for a house that sells in the US, else litres and % vol."""
    us = "US" in {str(market).upper() for market in site.markets}
    return {
        "us": us,
        "volume": "wine gallons" if us else "litres",
        "strength": "proof at 60 °F" if us else "% vol at 20 °C",
        "per_litre": 1.0 / LITRES_PER_GALLON if us else 1.0,
    }


@document(gives="cask_course", per="cask_rates.cask")
def follow_casks(
    cask_rates: pd.DataFrame,
    fillings_of_casks: pd.DataFrame,
    cask_histories: pd.DataFrame,
    cask_forecasts: pd.DataFrame,
    cask_outlooks: pd.DataFrame,
    stock_checks: pd.DataFrame,
    lineages: pd.DataFrame,
    casks_beside: pd.DataFrame,
    site: Any,
    cask_table: pd.DataFrame | None = None,
) -> dict[str, Row]:
    """Each cask's fillings, the last first, with points, rate, forecast, outlook and checks; where it went."""
    told = units(site)
    apart = stock_checks[~stock_checks["verdict"].isin(["agrees", "not compared"])]
    parts = {
        "points": by_filling(shown_rows(_points(cask_histories, told), POINT)),
        "ahead": by_filling(shown_rows(_ahead(cask_forecasts, told), AHEAD)),
        "rate": by_filling(shown_rows(cask_rates, RATE)),
        "outlook": by_filling(shown_rows(cask_outlooks, OUTLOOK)),
        "checks": by_filling(shown_rows(apart, CHECK)),
    }
    tasted = set() if cask_table is None else set(cask_table.loc[cask_table["tasted_at"].notna(), "cask"].map(fold))
    made: dict[str, Row] = {}
    for row in shown_rows(casks_beside, BESIDE):
        made[fold(row["cask"])] = row | {"tasted": fold(row["cask"]) in tasted, "fillings": [], "lineage": []}
    for row in shown_rows(fillings_of_casks, FILLING)[::-1]:
        own = {name: rows.get(key_of(row), []) for name, rows in parts.items()}
        alone = {name: own[name][0] if own[name] else None for name in ("rate", "outlook")}
        made[fold(row["cask"])]["fillings"].append(row | own | alone)
    for row in shown_rows(lineages, WENT):
        if fold(row["cask"] or "") in made:
            made[fold(row["cask"])]["lineage"].append(row)
    return {name: made[fold(name)] for name in cask_rates["cask"].unique()}


def key_of(row: Row) -> tuple[str, str]:
    """Folded cask and filling of a row."""
    return fold(row["cask"]), fold(row["filling"] or "")


def by_filling(rows: list[Row]) -> dict[tuple[str, str], list[Row]]:
    """Rows without their cask and filling, by those."""
    made: dict[tuple[str, str], list[Row]] = {}
    for row in rows:
        made.setdefault(key_of(row), []).append({name: value for name, value in row.items() if name not in KEY})
    return made


def _points(histories: pd.DataFrame, told: Row) -> pd.DataFrame:
    """Histories with ``volume`` and ``strength`` (apparent) and their standard uncertainties, as pictures tell them."""
    proof = histories["proof_apparent_60F"].to_numpy(np.float64)
    strength = proof if told["us"] else np.asarray(abv_from_mass_fraction(mass_fraction_from_proof(proof)))
    volume = histories["volume_20C_L"] * told["per_litre"]
    return histories.assign(
        volume=volume,
        volume_said=volume,
        volume_spread=histories["volume_uncertainty_L"] * told["per_litre"],
        strength=strength,
        strength_said=strength,
        strength_spread=histories["proof_uncertainty"] * (1.0 if told["us"] else 0.5),
    )


def _ahead(forecasts: pd.DataFrame, told: Row) -> pd.DataFrame:
    """Forecasts with wine gallons, and ``volume`` and ``strength`` as pictures tell them, all with both ends."""
    strength = "proof_60F" if told["us"] else "abv_20C"
    made = {f"gallons{end}": forecasts[f"volume_20C_L{end}"] / LITRES_PER_GALLON for end in ENDS}
    made |= {f"volume{end}": forecasts[f"volume_20C_L{end}"] * told["per_litre"] for end in ENDS}
    made |= {f"strength{end}": forecasts[f"{strength}{end}"] for end in ENDS}
    return forecasts.assign(**made)
