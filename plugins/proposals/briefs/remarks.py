"""What is said beside a brief: casks that could be had, and accepted trials that cannot be poured."""

from __future__ import annotations

import difflib
from typing import Any

import pandas as pd

from pipeline import Finding
from plugins.proposals.sets.pour import accepted_trial, without_water
from plugins.proposals.stock.stock import folded


def left_out(stock: pd.DataFrame, said: Any, average: bool) -> Any:
    """Casks that could be had if somebody gauged or tasted them: said once for all of them."""
    if not len(stock):
        return
    original = stock.loc[stock["why_not"].fillna("").str.contains("original gauge"), "cask"]
    if len(original):
        yield said(
            "proposals.original-gauge",
            f"{len(original)} casks are left out, as the inventory gives their original gauge and not what is in them "
            f"now: {_some(original)}.",
            "batch", "Regauge them, or state volume_basis if the figure is their content.", "note",
        )  # fmt: skip
    bare = stock.loc[stock["free"].fillna(False).astype(bool) & ~stock["tasted"].fillna(False).astype(bool), "cask"]
    if len(bare):
        used = "used with the stock's average" if average else "left out"
        yield said(
            "proposals.casks-untasted",
            f"{len(bare)} free casks have no profile and are {used}: {_some(bare)}.",
            "untasted", "Taste them; untasted: average uses them as the stock's average.", "note",
        )  # fmt: skip


def _some(names: pd.Series) -> str:
    more = f" and {len(names) - 5} more" if len(names) > 5 else ""
    return ", ".join(names.iloc[:5]) + more


def trial_faults(brief: dict[str, Any], trials: pd.DataFrame, stock: pd.DataFrame) -> Any:
    """An accepted trial that cannot be poured: it names what is not in stock, or what may not be drawn from."""
    trial = accepted_trial(trials[trials["batch"] == brief["batch"]])
    if trial is None or not len(stock):
        return
    trial = without_water(trial)
    held = stock.set_index(folded(stock["cask"]))
    name = str(trial["trial"].iloc[0]) if len(trial) else ""
    batch = str(brief["batch"])
    for row in trial.to_dict("records"):
        key = str(row["component"]).strip().casefold()
        cask = held.loc[key] if key in held.index else None
        if cask is not None and cask["free"]:
            continue
        near = difflib.get_close_matches(key, list(held.index), 1, 0.6) if cask is None else []
        hint = f" Did you mean {held.loc[near[0], 'cask']}?" if near else ""
        why = f"which is not in stock.{hint}" if cask is None else f"which may not be drawn from: {cask['why_not']}."
        yield Finding(
            "trials.not-in-stock" if cask is None else "trials.not-free",
            "review",
            f"Trial {name}, accepted for {batch}, names {row['component']}, {why}"
            + (" It cannot be scaled, and until that is mended there is no pour-day sheet." if cask is None else ""),
            subject=f"{name} {row['component']}",
            batch=batch,
            facts=tuple(sorted({*row["facts"], *(cask["facts"] if cask is not None else ())})),
            column="component",
            observed=str(row["component"]),
            expected="a cask in stock that is free",
            remedy="Correct the name, drop an inventory that has it, or accept another trial; vatting swap names "
            "replacements.",
        )
