"""The stage ``cask_words``: faults and maturity that tasters named of each cask."""

from __future__ import annotations

from typing import Any

import pandas as pd

from pipeline import stage, unite
from pipeline.common.names import fold
from plugins.tasting.declared.frames_stock import CASK_WORDS
from plugins.tasting.samples.names import folded

MATURITY = {"young": "young", "over": "too long in wood", "closed": "closed"}
Row = dict[str, Any]


@stage(gives=CASK_WORDS)
def hear_words(tasted: pd.DataFrame, mentions: pd.DataFrame) -> pd.DataFrame:
    """Words of the lexicon that were not denied → of each cask its faults and what was said of its maturity."""
    source = tasted["drawn_from"].iloc[mentions["tasting"].to_numpy(dtype=int)].set_axis(mentions.index)
    there = mentions.assign(cask=source)[source.notna() & ~mentions["negated"].astype(bool)]
    key = pd.Series(folded(there["cask"]), index=there.index)
    by_cask: dict[Any, list[Any]] = {name: rows.to_dict("records") for name, rows in there.groupby(key)}
    facts = unite(there["facts"], by=key)
    columns = {
        "cask": [rows[0]["cask"] for rows in by_cask.values()],
        "faults": [_faults(rows) for rows in by_cask.values()],
        "maturity": [_maturity(rows) for rows in by_cask.values()],
    }
    return CASK_WORDS.build(columns, [facts[name] for name in by_cask])


def _faults(there: list[Row]) -> str:
    """Faults of smell and wood by their words, with a ? where nobody was sure."""
    doubtful: dict[str, bool] = {}
    for row in there:
        if row["family"] == "off_notes" or (row["polarity"] == "fault" and row["family"] == "oak_wood"):
            doubtful[row["term"]] = bool(row["doubtful"]) and doubtful.get(row["term"], True)
    return ", ".join(f"{term}?" if doubtful[term] else term for term in sorted(doubtful))


def _maturity(there: list[Row]) -> str:
    """ "young (2 tasters), closed (1 taster)": words of maturity by the tasters who used them."""
    who: dict[str, set[str]] = {}
    for row in there:
        if row["maturity"] in MATURITY:
            who.setdefault(row["maturity"], set()).add(fold(row["taster"]))
    return ", ".join(
        f"{MATURITY[name]} ({len(who[name])} taster{'s' if len(who[name]) != 1 else ''})" for name in sorted(who)
    )
