"""Bottling runs: counts that do not add up, and a label or a bottle other than the brief's."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product
from typing import Any

import numpy as np
import pandas as pd

from pipeline import Finding
from pipeline.common.names import folded
from plugins.validation.declared.wording import day, facts, figure

NOT_IN_CASES = ("samples", "destroyed", "dumped_back")  # houses count these in or out of the bottles filled
SAME_SIZE_L = 1e-6


def about_bottlings(bottlings: pd.DataFrame, briefs: pd.DataFrame, label_abv: float) -> list[Finding]:
    """``label_abv``: difference between label and brief [% vol] that is let pass."""
    return [*_counts(bottlings), *_against_brief(bottlings, briefs, label_abv)]


def _make(
    run: Any, code: str, severity: str, message: str, column: str, observed: str, expected: str, remedy: str
) -> Finding:
    return Finding(
        code=code,
        severity=severity,
        message=message,
        subject=str(run["batch"]),
        batch=str(run["batch"]),
        facts=facts(run["facts"], run.get("brief_facts", ())),
        column=column,
        observed=observed,
        expected=expected,
        remedy=remedy,
    )


def _counts(bottlings: pd.DataFrame) -> Iterator[Finding]:
    """Cases and part case against bottles, whichever of samples, breakage and dump-backs is in them."""
    cased = bottlings["cases"] * bottlings["bottles_per_case"] + bottlings["part_case"].fillna(0.0)
    short = (bottlings["bottles"] - cased).to_numpy(dtype=float)
    parts = [bottlings[name].fillna(0.0).to_numpy(dtype=float) for name in NOT_IN_CASES]
    sums = np.array(list(product((0.0, 1.0), repeat=len(parts)))) @ np.array(parts)
    adds_up = np.isclose(short, sums, atol=1e-9).any(axis=0)
    for place in np.flatnonzero(~np.isnan(short) & ~adds_up).tolist():
        run = bottlings.iloc[place]
        yield _make(
            run,
            "bottling.cases-do-not-add-up",
            "review",
            f"Batch {run['batch']} on {day(run['bottled_on'])}: {_counted(run['bottles'], 'bottle')}, "
            f"but {_counted(run['cases'], 'case')} of {run['bottles_per_case']:.0f} and a part case of "
            f"{np.nan_to_num(run['part_case']):.0f} are {cased.iloc[place]:.0f}.",
            "bottles",
            f"{run['bottles']:.0f}",
            f"{cased.iloc[place]:.0f}, or more by samples, broken and dumped back",
            "Count again; correct bottles, cases or part case.",
        )


def _counted(number: float, what: str) -> str:
    """A count that a sheet states, as it stands where it is no number."""
    return f"{number:.0f} {what}" if number == 1 else f"{number:.0f} {what}s"


def _against_brief(bottlings: pd.DataFrame, briefs: pd.DataFrame, label_abv: float) -> Iterator[Finding]:
    brief = briefs.assign(key=folded(briefs["batch"])).drop_duplicates("key", keep="last")
    brief = brief[["key", "bottling_abv", "bottling_proof", "bottle_size_L", "facts"]].rename(
        columns={"facts": "brief_facts"}
    )
    runs = bottlings.assign(key=folded(bottlings["batch"])).merge(
        brief, on="key", how="left", suffixes=("", "_of_brief"), validate="many_to_one"
    )
    wanted = runs["bottling_abv"].fillna(runs["bottling_proof"] / 2.0)
    for place in np.flatnonzero(((runs["label_abv"] - wanted).abs() > label_abv + 1e-9).to_numpy(dtype=bool)).tolist():
        run = runs.iloc[place]
        yield _make(
            run,
            "bottling.label-differs",
            "stop",
            f"Batch {run['batch']} was bottled on {day(run['bottled_on'])} under a label of "
            f"{figure(run['label_abv'])} % vol; its brief says {figure(wanted.iloc[place])} % vol.",
            "label_abv",
            f"{figure(run['label_abv'])} % vol",
            f"{figure(wanted.iloc[place])} % vol",
            "Check that the label was not that of another batch; correct the sheet or the brief, or hold the run.",
        )
    differs = (runs["bottle_size_L"] - runs["bottle_size_L_of_brief"]).abs() > SAME_SIZE_L
    for place in np.flatnonzero(differs.to_numpy(dtype=bool)).tolist():
        run = runs.iloc[place]
        size, said = run["bottle_size_L"] * 1000.0, run["bottle_size_L_of_brief"] * 1000.0
        yield _make(
            run,
            "bottling.size-differs",
            "review",
            f"Batch {run['batch']} was bottled on {day(run['bottled_on'])} in bottles of {figure(size)} mL; "
            f"its brief says {figure(said)} mL.",
            "bottle_size",
            f"{figure(size)} mL",
            f"{figure(said)} mL",
            "Correct the sheet or the brief; if both sizes were wanted, accept.",
        )
