"""The stages from tasted flights to answers: comparisons, orders, noise, match, faults, remedies."""

from __future__ import annotations

import json
import re
from typing import Any

import numpy as np
import pandas as pd

from pipeline import Frame, stage
from plugins.bench.answers import answer, faults
from plugins.bench.answers.flights import SINGLE, STANDARD, Flight, flights, fold, folded, parts_of
from plugins.bench.answers.remedy import brought_by, options, shares_after
from plugins.bench.declared.frames_answer import COMPARISONS, FAULTS, FLIGHT_NOISE, MATCHES, ORDERS, REMEDIES

Row = dict[str, Any]
ROLES = {"best single": (SINGLE, True), "single": (SINGLE, False), "standard": (STANDARD, False)}
LIKE = re.compile(r"\s*like\s+(\S.*?)\s*$", re.IGNORECASE)


def gather(
    tasted: pd.DataFrame,
    trials: pd.DataFrame,
    impressions: pd.DataFrame,
    briefs: pd.DataFrame,
    glasses: pd.DataFrame | None,
    choices: pd.DataFrame | None,
) -> list[Flight]:
    """All flights of trials, from tasting sheets and from bench cards."""
    rows, places, rated, roles = tasted, {}, {}, {}
    if choices is not None and len(choices):
        keys = list(zip(*(folded(choices[name]) for name in ("flight", "taster", "code")), strict=True))
        places, rated = (
            {key: float(value) for key, value in zip(keys, choices[name], strict=True) if pd.notna(value)}
            for name in ("place", "difference")
        )
        known = set(zip(*(folded(tasted[name]) for name in ("session", "taster", "code")), strict=True))
        more = choices[[key not in known for key in keys] & choices["trial"].notna().to_numpy()]
        rows = pd.concat([tasted, _as_tasted(more)], ignore_index=True) if len(more) else tasted
    if glasses is not None:
        for flight, trial, role in zip(
            folded(glasses["flight"]), folded(glasses["trial"]), glasses["role"], strict=True
        ):
            if role in ROLES:
                roles[flight, trial] = ROLES[str(role)]
    asked = {str(b): LIKE.match(str(t)) for b, t in zip(briefs["batch"], briefs["target"], strict=True) if pd.notna(t)}
    standards = {batch: found.group(1) for batch, found in asked.items() if found}
    return flights(rows, trials, impressions, roles, places, standards, rated)


def _as_tasted(choices: pd.DataFrame) -> pd.DataFrame:
    """Rows of bench cards that are no tastings: without notes, but placed or scored."""
    made = choices[["taster", "code", "score", "tasted_at", "facts"]].assign(
        sample=choices["trial"], drawn_from=choices["trial"], session=choices["flight"], tasting=-1
    )
    return made[made["score"].notna() | choices["place"].notna() | choices["difference"].notna()]


def build(frame: Frame, rows: list[Row]) -> pd.DataFrame:
    """A frame of rows, each with its facts."""
    return frame.build({name: [row[name] for row in rows] for name in frame.names}, [row["facts"] for row in rows])


@stage(gives=COMPARISONS)
def compare_with_singles(
    tasted: pd.DataFrame,
    trials: pd.DataFrame,
    impressions: pd.DataFrame,
    briefs: pd.DataFrame,
    glasses: pd.DataFrame | None = None,
    choices: pd.DataFrame | None = None,
) -> pd.DataFrame:
    """Flights → each trial against its best single component, exact, corrected for the choice."""
    made = gather(tasted, trials, impressions, briefs, glasses, choices)
    return build(COMPARISONS, answer.against_singles(made, parts_of(trials)))


@stage(gives=ORDERS)
def order_flights(
    tasted: pd.DataFrame,
    trials: pd.DataFrame,
    impressions: pd.DataFrame,
    briefs: pd.DataFrame,
    glasses: pd.DataFrame | None = None,
    choices: pd.DataFrame | None = None,
) -> pd.DataFrame:
    """Flights → the glasses in the order of the tasters' choices, with intervals."""
    made = gather(tasted, trials, impressions, briefs, glasses, choices)
    return build(ORDERS, [row for flight in made for row in answer.in_order(flight)])


@stage(gives=FLIGHT_NOISE)
def measure_flights(
    tasted: pd.DataFrame,
    trials: pd.DataFrame,
    impressions: pd.DataFrame,
    briefs: pd.DataFrame,
    glasses: pd.DataFrame | None = None,
    choices: pd.DataFrame | None = None,
) -> pd.DataFrame:
    """Flights → how far apart two glasses of the same were put."""
    made = gather(tasted, trials, impressions, briefs, glasses, choices)
    return build(FLIGHT_NOISE, [row for flight in made for row in answer.noise_of(flight)])


@stage(gives=MATCHES)
def match_standard(
    tasted: pd.DataFrame,
    trials: pd.DataFrame,
    impressions: pd.DataFrame,
    briefs: pd.DataFrame,
    site: Any,
    glasses: pd.DataFrame | None = None,
    choices: pd.DataFrame | None = None,
    panel_noise: pd.DataFrame | None = None,
) -> pd.DataFrame:
    """Flights with a standard → how far each trial lies from it, family by family."""
    noise: dict[str, tuple[float, int]] = {}
    if panel_noise is not None:
        rows = zip(panel_noise["family"], panel_noise["spread"], panel_noise["pairs"], strict=True)
        noise = {str(family): (float(spread), int(pairs)) for family, spread, pairs in rows}
    made = gather(tasted, trials, impressions, briefs, glasses, choices)
    margin = float(site["plugins.bench.match_margin"])
    return build(MATCHES, [row for flight in made for row in answer.against_standard(flight, noise, margin)])


@stage(gives=FAULTS)
def find_faults(
    tasted: pd.DataFrame,
    mentions: pd.DataFrame,
    trials: pd.DataFrame,
    briefs: pd.DataFrame,
    targets: pd.DataFrame,
    profiles: pd.DataFrame | None = None,
    trial_parts: pd.DataFrame | None = None,
) -> pd.DataFrame:
    """Words and aims → what is wrong with each tasted trial, and which component brings most of it."""
    tastes = _tastes(profiles)
    aims = _aims(briefs, targets)
    mentions = mentions.assign(_sample=folded(mentions["sample"]))
    rows: list[Row] = []
    tastings = tasted.groupby(folded(tasted["sample"]), sort=False).indices
    known = _known_shares(trial_parts)
    for name, part in trials.groupby(folded(trials["trial"]), sort=True):
        batch = part["batch"].iloc[0]
        if pd.isna(batch) or name not in tastings or part["component"].nunique() < 2:
            continue
        own = tasted.iloc[tastings[name]]
        shares = _shares(part, known)
        components = {c: tastes.get(c, {}) for c in shares}
        aim = aims.get(str(batch), {})
        there = {f for taste in components.values() for f, value in taste.items() if value >= faults.THERE}
        wanted = {family for family, (low, _) in aim.items() if low > 0.0}
        said = faults.said(mentions[mentions["_sample"] == name], there | wanted)
        found = faults.ranked(said, own["taster"].dropna().str.casefold().nunique())
        named = {row["family"] for row in found}
        found += [row for row in faults.beside_aim(tastes.get(str(name), {}), aim) if row["family"] not in named]
        spelled = dict(zip(folded(part["component"]), part["component"], strict=True))
        facts = tuple(sorted({fact for ids in [*part["facts"], *own["facts"]] for fact in ids}))
        for row in found[: faults.MOST]:
            brings = brought_by(shares, {c: t.get(row["family"], 0.0) for c, t in components.items()}, row["direction"])
            most = str(spelled[brings[0][0]]) if brings else None
            rows.append({**row, "batch": batch, "trial": part["trial"].iloc[0], "brought_by": most, "facts": facts})
    return build(FAULTS, rows)


def _tastes(profiles: pd.DataFrame | None) -> dict[str, dict[str, float]]:
    """By folded sample, by family, the mean over all stages."""
    made: dict[str, dict[str, float]] = {}
    if profiles is not None:
        whole = profiles[(profiles["stage"] == "all") & profiles["mean"].notna()]
        for sample, family, mean in zip(folded(whole["sample"]), whole["family"], whole["mean"], strict=True):
            made.setdefault(sample, {})[str(family)] = float(mean)
    return made


def _aims(briefs: pd.DataFrame, targets: pd.DataFrame) -> dict[str, dict[str, tuple[float, float]]]:
    """By batch, the band of each family of its house profile; half a point either way where the profile has none."""
    made: dict[str, dict[str, tuple[float, float]]] = {}
    names = folded(targets["target"])
    for batch, target in zip(briefs["batch"], briefs["target"], strict=True):
        if pd.isna(target):
            continue
        rows = targets[names == fold(target)]
        low = rows["low"].fillna(rows["intensity"] - faults.OUTSIDE)
        high = rows["high"].fillna(rows["intensity"] + faults.OUTSIDE)
        made[str(batch)] = {str(f): (float(a), float(b)) for f, a, b in zip(rows["family"], low, high, strict=True)}
    return made


def _known_shares(trial_parts: pd.DataFrame | None) -> dict[tuple[str, str], float]:
    """Shares of alcohol by folded trial and component."""
    if trial_parts is None:
        return {}
    keys = zip(folded(trial_parts["trial"]), folded(trial_parts["component"]), strict=True)
    return dict(zip(keys, map(float, trial_parts["share_alcohol"]), strict=True))


def _shares(part: pd.DataFrame, known: dict[tuple[str, str], float]) -> dict[str, float]:
    """Shares of alcohol of one trial by folded component; of millilitres where no strength is known."""
    names, trial = list(folded(part["component"])), fold(part["trial"].iloc[0])
    found = np.array([known.get((trial, name), np.nan) for name in names])
    if not np.isfinite(found).all():
        ml = part["ml"].to_numpy("float64")
        found = ml / max(ml.sum(), 1e-9)
    return dict(zip(names, map(float, found), strict=True))


@stage(gives=REMEDIES)
def find_remedies(
    trial_faults: pd.DataFrame,
    taste_moves: pd.DataFrame,
    trials: pd.DataFrame,
    trial_parts: pd.DataFrame | None = None,
) -> pd.DataFrame:
    """Faults and moves → at most three changes for each fault, the least side effect first."""
    by_trial = dict(iter(taste_moves.groupby(folded(taste_moves["trial"]), sort=False)))
    parts = dict(iter(trials.groupby(folded(trials["trial"]), sort=False)))
    spelled = dict(zip(folded(trials["component"]), trials["component"], strict=True))
    known = _known_shares(trial_parts)
    rows: list[Row] = []
    for fault in trial_faults.to_dict("records"):
        moves = by_trial.get(fold(fault["trial"]))
        if moves is None:
            continue
        shares = _shares(parts[fold(fault["trial"])], known)
        for rank, found in enumerate(options(moves, fault["family"], fault["direction"]), start=1):
            after = shares_after(shares, found.component, found.points)
            facts = tuple(sorted({*fault["facts"], *moves["facts"].iloc[0]}))
            rows.append({
                "batch": fault["batch"], "trial": fault["trial"], "family": fault["family"], "rank": rank,
                "component": spelled.get(found.component, found.component), "points": found.points,
                "change": found.change, "low": found.low, "high": found.high, "sure": found.sure,
                "side_effect": found.side_effect, "facts": facts,
                "shares": json.dumps({str(spelled[c]): round(s, 6) for c, s in sorted(after.items())}),
                "moves": json.dumps({f: {k: round(v, 4) for k, v in m.items()} for f, m in found.moves.items()}),
            })  # fmt: skip
    return build(REMEDIES, rows)


STAGES = [compare_with_singles, order_flights, measure_flights, match_standard, find_faults, find_remedies]
