"""What bench trials were made of: shares of alcohol, what can be measured, and whether the casks still hold it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from pipeline import Finding, stage
from plugins.bench.cards.measure import TENFOLD, share_spread, too_small
from plugins.bench.cards.tasters import folded
from plugins.bench.declared.frames import TRIAL_PARTS
from plugins.bench.returned.reading_stages import as_abv

Row = dict[str, Any]


@stage(gives=TRIAL_PARTS)
def read_parts(
    trials: pd.DataFrame,
    site: Any,
    samples: pd.DataFrame | None = None,
    fillings_of_casks: pd.DataFrame | None = None,
    components: pd.DataFrame | None = None,
) -> tuple[pd.DataFrame, list[Finding]]:
    """Rows of bench cards → parts with their shares; totals that differ, parts too small, casks since changed."""
    rows = trials.reset_index(drop=True)
    step = float(site["plugins.bench.step_ml"])
    rows = rows.assign(_trial=folded(rows["trial"]), _abv=as_abv(rows["strength"], rows["strength_unit"]))
    rows = rows[~pd.DataFrame({"t": rows["_trial"], "c": folded(rows["component"])}).duplicated(keep="last")]
    rows = rows.reset_index(drop=True)
    ml, abv = rows["ml"].to_numpy("float64"), rows["_abv"].to_numpy("float64")
    alcohol = pd.Series(ml * abv)
    # a trial without one of its strengths has no shares of alcohol at all
    whole = alcohol.groupby(rows["_trial"]).transform(lambda part: part.sum(skipna=False))
    total = rows["ml"].groupby(rows["_trial"]).transform("sum")
    spread = np.full(len(rows), np.nan)
    for _, at in rows.groupby("_trial").indices.items():
        if np.isfinite(alcohol.to_numpy()[at]).all() and alcohol.to_numpy()[at].sum() > 0.0:
            spread[at] = share_spread(ml[at], abv[at], step)
    small = too_small(ml, step) & (total.to_numpy() > ml)
    filling, as_now, changed = _fillings(rows, samples, fillings_of_casks)
    with np.errstate(divide="ignore", invalid="ignore"):
        shares = (alcohol / whole.where(whole > 0.0)).to_numpy()
        by_volume = (rows["ml"] / total.where(total > 0.0)).to_numpy()
    columns: dict[str, Any] = {
        "trial": rows["trial"], "batch": rows["batch"], "component": rows["component"], "ml": ml, "strength_abv": abv,
        "share_volume": by_volume, "share_alcohol": shares, "share_spread": spread, "measurable": ~small,
        "filling": filling, "as_now": as_now, "made_at": rows["made_at"].dt.normalize(), "accepted": rows["accepted"],
    }  # fmt: skip
    done = set() if components is None else set(folded(components["batch"]))
    findings = [*_totals(rows, step), *_small(rows, small, step), *_changed(rows, changed, done), *_unsigned(rows)]
    return TRIAL_PARTS.build(columns, rows["facts"]), findings


def _fillings(
    rows: pd.DataFrame, samples: pd.DataFrame | None, known: pd.DataFrame | None
) -> tuple[list[Any], list[Any], list[str]]:
    """Per part: the filling it was drawn from, whether the cask still holds it, and what happened if not."""
    filling: list[Any] = [None] * len(rows)
    as_now: list[Any] = [None] * len(rows)
    changed = [""] * len(rows)
    if known is None or not len(known):
        return filling, as_now, changed
    names, days = _drawn(rows, samples)
    known = known[folded(known["cask"]).isin(set(names))].sort_values("filled_on")
    own = {name: part.to_dict("records") for name, part in known.groupby(folded(known["cask"]))}
    for at, (name, day) in enumerate(zip(names, days, strict=True)):
        fills = own.get(name)
        if not fills:
            continue
        filled = [fill for fill in fills if pd.isna(day) or pd.isna(fill["filled_on"]) or fill["filled_on"] <= day]
        if not filled:
            filling[at], as_now[at] = None, False
            changed[at] = f"was filled on {fills[0]['filled_on']:%Y-%m-%d} only, after the trial was made"
            continue
        fill = filled[-1]
        filling[at], as_now[at] = fill["filling"], True
        later = [
            other for other in fills if pd.notna(other["filled_on"]) and pd.notna(day) and other["filled_on"] > day
        ]
        if pd.notna(fill["ended_at"]):
            as_now[at] = False
            changed[at] = f"was emptied on {fill['ended_at']:%Y-%m-%d} ({fill['ended_by']})"
        if later:
            as_now[at] = False
            changed[at] = (changed[at] + " and " if changed[at] else "") + (
                f"was filled anew on {later[-1]['filled_on']:%Y-%m-%d}"
            )
    return filling, as_now, changed


def _drawn(rows: pd.DataFrame, samples: pd.DataFrame | None) -> tuple[list[str], list[Any]]:
    """Per part: the cask it came from, folded, and the day it left it: of a bottle in the register its own."""
    bottles: dict[str, tuple[str, Any]] = {}
    if samples is not None:
        origin = zip(folded(samples["source"]), samples["drawn_on"], strict=True)
        bottles = dict(zip(folded(samples["sample"]), origin, strict=True))
    found = [
        bottles.get(name, (name, day)) for name, day in zip(folded(rows["component"]), rows["made_at"], strict=True)
    ]
    return [name for name, _ in found], [day for _, day in found]


def _of(rows: pd.DataFrame) -> dict[str, Any]:
    batch = rows["batch"].dropna()
    return {
        "subject": str(rows["trial"].iloc[0]),
        "batch": str(batch.iloc[0]) if len(batch) else "",
        "facts": tuple(sorted({fact for ids in rows["facts"] for fact in ids})),
    }


def _totals(rows: pd.DataFrame, step: float) -> Any:
    """Trials none of whose stated totals is the sum of their parts."""
    for _, part in rows[rows["total_ml"].notna()].groupby("_trial", sort=True):
        whole = rows[rows["_trial"] == part["_trial"].iloc[0]]
        found = float(whole["ml"].sum())
        room = step * len(whole) / 2.0 + 1e-6
        if (np.abs(part["total_ml"] - found) <= room).any():
            continue
        stated = sorted(set(part["total_ml"]))
        said = " and ".join(f"{value:g}" for value in stated)
        yield Finding(
            "bench.total-differs",
            "review",
            f"The parts of trial {part['trial'].iloc[0]} add up to {found:g} ml, and its total is stated as {said} ml.",
            **_of(part),
            column="total_ml",
            observed=f"{said} ml",
            expected=f"{found:g} ml",
            remedy="Correct the millilitres poured, or the total; until then shares are of what the parts say.",
        )


def _small(rows: pd.DataFrame, small: np.ndarray, step: float) -> Any:
    for _, part in rows[small].groupby("_trial", sort=True):
        named = ", ".join(f"{c} {ml:g} ml" for c, ml in zip(part["component"], part["ml"], strict=True))
        worst = float(part["ml"].min())
        error = f"{50.0 * step / worst:.0f} %" if worst > 0.0 else "all of it"
        yield Finding(
            "bench.part-too-small",
            "note",
            f"Trial {part['trial'].iloc[0]} has parts under ten times the measuring step of {step:g} ml: {named}; "
            f"half a step is {error} of the smallest, and of what is drawn for the vat.",
            **_of(part),
            column="ml",
            observed=f"{worst:g} ml",
            expected=f"at least {TENFOLD * step:g} ml",
            remedy="Mix the part into the base first and measure that, or make more of the trial, before it is scaled.",
        )


def _changed(rows: pd.DataFrame, changed: list[str], done: set[str]) -> Any:
    """Trials of batches that nothing is drawn for yet, with a cask that no longer holds what was tried."""
    told = pd.Series(changed)
    waiting = ~folded(rows["batch"]).isin(done)
    for _, at in rows[(told != "") & waiting].groupby("_trial", sort=True).indices.items():
        part = rows[(told != "") & waiting].iloc[at]
        said = "; ".join(f"{name} {why}" for name, why in zip(part["component"], told[part.index], strict=True))
        yield Finding(
            "bench.cask-changed",
            "review",
            f"Trial {part['trial'].iloc[0]} can no longer be poured as it was tasted: {said}.",
            **_of(part),
            column="component",
            observed=said,
            expected="casks that hold what was tried",
            remedy="Try it anew from what the casks hold now, or correct the day on which the trial was made.",
        )


def _unsigned(rows: pd.DataFrame) -> Any:
    """Pour pages on which some trials say when and by whom they were made, and others do not."""
    carded = rows[rows["batch"].notna() & rows["total_ml"].notna()]
    silent = carded["made_at"].isna() & carded["made_by"].isna()
    for batch, part in carded.assign(_silent=silent).groupby("batch", sort=True):
        by_trial = part.groupby("_trial", sort=True)["_silent"].all()
        if not by_trial.any() or by_trial.all():
            continue
        names = part[part["_trial"].isin(by_trial.index[by_trial])].drop_duplicates("_trial")
        yield Finding(
            "bench.not-said-made",
            "review",
            f"The bench card of {batch} says of {', '.join(names['trial'])} neither when nor by whom it was "
            "made, though it does of others.",
            subject=str(batch),
            batch=str(batch),
            facts=tuple(sorted({fact for ids in names["facts"] for fact in ids})),
            column="made_at",
            remedy="Fill in the day and the name where it was made; where it was not, void its rows.",
        )
