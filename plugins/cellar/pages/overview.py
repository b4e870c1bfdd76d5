"""The document ``cellar_overview``: stock, house curves, what reaches a line soonest, inventory, all casks."""

from __future__ import annotations

from collections import Counter
from typing import Any

import pandas as pd

from pipeline import document
from pipeline.writing.plain import shown_rows
from plugins.cellar.pages.cask_course import KEY, OUTLOOK, Row, Shown, by_filling, key_of
from plugins.cellar.pages.words import METHOD, settled
from plugins.proof import LITRES_PER_GALLON

SOONEST = 25
MOST_CHECKS = 60
LINE = KEY | dict.fromkeys(("spirit", "wood", "location", "warehouse", "floor", "filled_on"))
NOW = KEY | {"volume_20C_L": 1, "proof_60F": 1, "lpa": 1}
RATE = KEY | {"loss_percent_per_year": 1, "strength_per_year": 2}
TABLE: Shown = {"table": None, "level": None, "casks": None, "volume_20C_L": 0, "lpa": 0, "proof_gallons": 0}
CHECK: Shown = dict.fromkeys(("cask", "location", "as_of", "verdict", "why"))
CHECK |= dict.fromkeys(("listed_L", "book_L", "book_low_L", "book_high_L"), 1)
CURVE: Shown = dict.fromkeys(("factor", "level", "casks", "settled_on"))
PLACES = {"volume": 1, "strength": 2}
VERDICTS = {
    "agrees": "agree",
    "differs": "differ in volume",
    "missing": "missing",
    "unknown": "unknown",
    "emptied": "emptied and still listed",
    "not compared": "cannot be compared: no measured volume",
}
REACHES = {
    "below_40_vol": "leaves 40 % vol",
    "below_80_proof": "leaves 80 proof",
    "half": "half gone",
    "dry": "dry",
}


@document(gives="cellar_overview")
def look_over_cellar(
    fillings_of_casks: pd.DataFrame,
    cask_contents: pd.DataFrame,
    cask_rates: pd.DataFrame,
    cask_outlooks: pd.DataFrame,
    evaporation: pd.DataFrame,
    stock_tables: pd.DataFrame,
    stock_checks: pd.DataFrame,
    site: Any,
) -> Row:
    """What the page of the cellar shows."""
    live = fillings_of_casks[fillings_of_casks["ended_at"].isna()]
    ages = stock_tables[stock_tables["table"] == "age"]
    apart = stock_checks[~stock_checks["verdict"].isin(["agrees", "not compared"])]
    verdicts = Counter(stock_checks["verdict"])
    told = evaporation[(evaporation["casks"] > 0) | evaporation["factor"].isin(["house", "age"])]
    return {
        "book_date": site.book_date.isoformat() if site.book_date else "",
        "casks": _lines(live, cask_contents, cask_rates),
        "ended": len(fillings_of_casks) - len(live),
        "tables": _tables(stock_tables),
        "whole": _whole(ages),
        "curves": {quantity: _curve(told[told["quantity"] == quantity], PLACES[quantity]) for quantity in PLACES},
        "unknown_levels": len(evaporation) - len(told),
        "verdicts": {said: verdicts[name] for name, said in VERDICTS.items() if verdicts[name]},
        "apart": shown_rows(apart.head(MOST_CHECKS), CHECK),
        "more_apart": max(len(apart) - MOST_CHECKS, 0),
        "soonest": _soonest(cask_outlooks),
        "method": f"{METHOD} {_settled(evaporation)}",
    }


def _lines(live: pd.DataFrame, contents: pd.DataFrame, rates: pd.DataFrame) -> list[Row]:
    """Every cask in wood with what it holds and how it changes, in order of its place."""
    now, rate = by_filling(shown_rows(contents, NOW)), by_filling(shown_rows(rates, RATE))
    made = []
    for row in shown_rows(live, LINE):
        key = key_of(row)
        made.append({**row, "now": now.get(key, [None])[0], "rate": rate.get(key, [None])[0]})
    return sorted(made, key=lambda row: (row["warehouse"] or "", row["floor"] or "", row["cask"]))


def _tables(stock: pd.DataFrame) -> dict[str, list[Row]]:
    """The stock's tables by name."""
    made: dict[str, list[Row]] = {}
    for row in shown_rows(stock, TABLE):
        made.setdefault(row.pop("table"), []).append(row)
    return made


def _whole(ages: pd.DataFrame) -> Row:
    """The sums over one table: all that lies in wood."""
    made: Row = {name: int(ages[name].sum()) for name in ("casks", "without_volume")}
    made |= {name: round(float(ages[name].sum()), 0) for name in ("volume_20C_L", "lpa", "proof_gallons")}
    return made | {"gallons": round(float(ages["volume_20C_L"].sum()) / LITRES_PER_GALLON, 0)}


def _curve(rows: pd.DataFrame, places: int) -> list[Row]:
    """What the house, a year of age, and each level do in a year."""
    return shown_rows(rows, CURVE | dict.fromkeys(("rate", "low", "high"), places))


def _settled(evaporation: pd.DataFrame) -> str:
    days = evaporation.drop_duplicates("quantity").set_index("quantity")["settled_on"]
    loss, strength = ((None if pd.isna(day) else f"{day:%Y-%m-%d}") for day in days.reindex(["volume", "strength"]))
    return settled(loss, strength)


def _soonest(outlooks: pd.DataFrame) -> list[Row]:
    """The casks that reach a line first, by the early end of their intervals."""
    made = []
    for row in shown_rows(outlooks, OUTLOOK):
        for name, said in REACHES.items():
            if row[f"{name}_from"]:
                days = {"early": row[f"{name}_from"], "likely": row[name], "late": row[f"{name}_to"]}
                made.append({"cask": row["cask"], "what": said, **days})
    return sorted(made, key=lambda one: (one["early"], one["cask"]))[:SOONEST]
