"""Stages: tasted trials against their predictions, and what a change of each would do."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from pipeline import stage
from plugins.proposals.declared.frames_taught import LEFT_OUT, MOVES
from plugins.proposals.stock.amounts import ethanol_of
from plugins.proposals.stock.stock import folded
from plugins.proposals.taste.learn import Z_90, Learnt
from plugins.proposals.taste.moves import WATER, WATER_NAME, changes, moved, thinned
from plugins.proposals.taste.off_notes import budget_of, may_exceed
from plugins.proposals.taste.taste import Array
from plugins.proposals.taste.taste_stages import alcohol_shares, learnt_of, whole_profiles

Row = dict[str, Any]


@stage(gives=LEFT_OUT)
def judge_model(
    trials: pd.DataFrame,
    profiles: pd.DataFrame | None = None,
    panel_noise: pd.DataFrame | None = None,
    components: pd.DataFrame | None = None,
) -> pd.DataFrame:
    """Each tasted trial and batch against its prediction from the others, from three of them on."""
    learnt, facts = _learnt(trials, profiles, panel_noise, components)
    spelled = {} if components is None else {fold: {"trial": b, "batch": b} for fold, b in _batches(components).items()}
    spelled |= _spelled(trials)
    rows = [
        {**spelled[item.trial], "family": family, "tasted": item.tasted, "predicted": item.predicted,
         "low": item.low, "high": item.high, "naive": item.naive}
        for family, made in learnt.items()
        for item in made.left_out
    ]  # fmt: skip
    return LEFT_OUT.build({name: [row[name] for row in rows] for name in LEFT_OUT.names}, [facts] * len(rows))


@stage(gives=MOVES)
def model_moves(
    trials: pd.DataFrame,
    profiles: pd.DataFrame | None = None,
    panel_noise: pd.DataFrame | None = None,
    components: pd.DataFrame | None = None,
    briefs: pd.DataFrame | None = None,
    stock: pd.DataFrame | None = None,
    site: Any = None,
) -> pd.DataFrame:
    """What moving one component of a tasted trial, or water, would change, family by family.

    Components of the batch's other tasted trials may come in. Nothing is said of a trial that was not tasted, nor of a
    change that asks more of a cask than it holds for the batch, or more of one whose off notes may exceed its budget.
    """
    held, faulty = most_shares(briefs, stock, site), faulty_casks(briefs, trials, profiles, site)
    learnt, facts = _learnt(trials, profiles, panel_noise, components)
    known = {family: made for family, made in learnt.items() if made.posterior is not None}
    columns: dict[str, list[Any]] = {name: [] for name in MOVES.names}
    for names, shares, may in _glasses(trials, profiles, known):
        for family, made in known.items():
            if set(shares) <= set(made.casks):
                most = dict(held.get(names["batch"], {}))
                most |= {cask: shares.get(cask, 0.0) for cask in faulty.get(names["batch"], ())}
                _moves_of(columns, {**names, "family": family}, made, shares, may, most)
    return MOVES.build(columns, [facts] * len(columns["trial"]))


def most_shares(briefs: pd.DataFrame | None, stock: pd.DataFrame | None, site: Any) -> dict[str, dict[str, float]]:
    """By batch and folded cask the largest share of the batch's alcohol that the cask's free content gives.

    Of a brief without strength or volume nothing is known; a cask that is not free gives nothing.
    """
    if briefs is None or stock is None or not len(stock):
        return {}
    free = stock["ethanol_kg"].where(stock["free"].fillna(False).astype(bool), 0.0).fillna(0.0)
    gives = dict(zip(folded(stock["cask"]), map(float, free), strict=True))
    made = {}
    for brief in briefs.drop_duplicates("batch", keep="last").to_dict("records"):
        strength = pd.notna(brief["bottling_proof"]) or pd.notna(brief["bottling_abv"])
        volume = pd.notna(brief["volume_L"]) or (pd.notna(brief["bottles_wanted"]) and pd.notna(brief["bottle_size_L"]))
        if strength and volume:
            whole = max(ethanol_of({str(k): v for k, v in brief.items()}, site), 1e-9)
            made[brief["batch"]] = {cask: amount / whole for cask, amount in gives.items()}
    return made


def faulty_casks(
    briefs: pd.DataFrame | None, trials: pd.DataFrame, profiles: pd.DataFrame | None, site: Any
) -> dict[str, set[str]]:
    """By batch the folded components of its trials of which no more may be asked: the brief's budget of off notes."""
    made: dict[str, set[str]] = {}
    for brief in () if briefs is None else briefs.drop_duplicates("batch", keep="last").to_dict("records"):
        budget = budget_of({str(name): value for name, value in brief.items()}, site)
        mine = trials.loc[trials["batch"] == brief["batch"], "component"].drop_duplicates()
        if budget is not None and len(mine):
            made[brief["batch"]] = set(folded(mine[may_exceed(profiles, mine, budget)]))
    return made


def _moves_of(
    columns: dict[str, list[Any]],
    names: Row,
    made: Learnt,
    shares: dict[str, float],
    may: set[str],
    held: dict[str, float],
) -> None:
    assert made.posterior is not None
    whole = np.array([shares.get(cask, 0.0) for cask in made.casks])
    most = np.array([held.get(cask, np.inf) for cask in made.casks])
    steps = changes(whole, made.casks, sorted(may & set(made.casks)))
    steps = [step for step in steps if (step.shares <= most + 1e-9).all()]
    change, spread, base = moved(made.posterior, whole, steps)
    thin, thin_spread = thinned(made.posterior, float(base[0]))
    change, spread = np.concatenate([change, thin]), np.concatenate([spread, thin_spread])
    count = len(change)
    points = [100.0 * step.points for step in steps] + [100.0 * share for share in WATER]
    columns["component"] += [step.component for step in steps] + [WATER_NAME] * len(WATER)
    columns["points"] += [round(point, 6) for point in points]
    columns["base"] += [float(base[0])] * count
    columns["change"] += change.tolist()
    columns["low"] += (change - Z_90 * spread).tolist()
    columns["high"] += (change + Z_90 * spread).tolist()
    columns["sure"] += _normal(np.abs(change) / np.maximum(spread, 1e-9)).tolist()
    for name, value in names.items():
        columns[name] += [value] * count


def _normal(z: Array) -> Array:
    from scipy.special import ndtr

    return np.asarray(ndtr(z))


def _glasses(
    trials: pd.DataFrame, profiles: pd.DataFrame | None, known: dict[str, Learnt]
) -> list[tuple[Row, dict[str, float], set[str]]]:
    """Each tasted trial: its names, shares of alcohol by folded component, and the components that may move."""
    if profiles is None or not known:
        return []
    tasted = set(whole_profiles(profiles)["_sample"])
    spelled = _spelled(trials)
    batch_of = folded(trials["batch"].fillna(""))
    made = []
    for name, rows in trials.groupby(folded(trials["trial"]), sort=True):
        shares = alcohol_shares(rows)
        if shares is None or name not in tasted:
            continue
        own = dict(zip(folded(rows["component"]), map(float, shares), strict=True))
        batch = batch_of.loc[rows.index[0]]
        others = set(folded(trials["component"][batch_of == batch])) if batch else set()
        made.append((spelled[str(name)], own, set(own) | others))
    return made


def _batches(components: pd.DataFrame) -> dict[str, str]:
    return dict(zip(folded(components["batch"]), components["batch"], strict=True))


def _spelled(trials: pd.DataFrame) -> dict[str, Row]:
    first = trials.drop_duplicates("trial")
    return {
        name: {"trial": trial, "batch": None if pd.isna(batch) else batch}
        for name, trial, batch in zip(folded(first["trial"]), first["trial"], first["batch"], strict=True)
    }


def _learnt(
    trials: pd.DataFrame,
    profiles: pd.DataFrame | None,
    panel_noise: pd.DataFrame | None,
    components: pd.DataFrame | None,
) -> tuple[dict[str, Learnt], tuple[int, ...]]:
    families = sorted(set(whole_profiles(profiles)["family"])) if profiles is not None else []
    learnt, _, facts = learnt_of(trials, profiles, families, panel_noise, components)
    return learnt, facts
