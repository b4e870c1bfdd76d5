"""What the inventory says of one filling in two ways: the last word counts, and a person must look."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from pipeline import Finding
from plugins.label_age.facts.wood import folded

FIXED = (
    "distillery", "country", "state", "grain", "distilled_on", "distilled_proof", "entry_proof", "species", "new_oak",
    "charred", "wood_use", "held_before", "capacity_L", "mashed_in", "fermented_in", "matured_in", "still", "enzymes",
    "region",
)  # fmt: skip
"""What cannot change while a filling lies in its cask, and rules ask after."""


def contradictions(casks: pd.DataFrame, stays: pd.DataFrame) -> list[Finding]:
    """A finding for each filling that went into a batch and each column of FIXED that the inventory says two ways."""
    stock = casks.assign(_cask=folded(casks["cask"]))
    used = set(folded(stays["cask"].dropna().unique()))
    stock = stock[np.isin(stock["_cask"].to_numpy(object).astype(str), sorted(used))]
    stock = stock[stock.duplicated(["_cask", "filled_on"], keep=False)]
    if stock.empty:
        return []
    stock = stock.sort_values(["_cask", "filled_on", "as_of"], kind="stable")
    groups = stock.groupby(["_cask", "filled_on"], sort=True)
    found = []
    for column in FIXED:
        differ = groups[column].nunique() > 1
        for key in differ.index[differ]:
            found.append(_finding(groups.get_group(key), column))
    return sorted(found, key=lambda finding: (finding.subject, finding.column))


def _finding(rows: pd.DataFrame, column: str) -> Finding:
    rows = rows[rows[column].notna()]
    said = [f"{_shown(value)} ({_day(day)})" for value, day in zip(rows[column], rows["as_of"], strict=True)]
    name = str(rows["cask"].iloc[-1])
    last = rows.iloc[-1]
    others = sorted({fact for facts in rows["facts"] for fact in facts} - set(last["facts"]))
    shown = column.removesuffix("_L")
    return Finding(
        code="label.facts-contradict",
        severity="review",
        message=f"The inventory says of one filling of {name} two things in the column {shown}: "
        f"{', '.join(dict.fromkeys(said))}; the last counts.",
        subject=f"{name} · {shown}",
        facts=(*last["facts"], *others),
        column=column,
        observed=", ".join(dict.fromkeys(said)),
        expected="one value for as long as the filling lies in the cask",
        remedy="Correct the row that is wrong; verdicts that rest on it may change.",
    )


def _shown(value: Any) -> str:
    if isinstance(value, pd.Timestamp):
        return str(value.date())
    if isinstance(value, (bool, np.bool_)):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float) else str(value)


def _day(day: Any) -> str:
    return "no date" if pd.isna(day) else str(day.date())
