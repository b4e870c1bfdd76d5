"""The stages of finding casks: the most like, the most unlike, outliers of a day, groups, and what wood goes with."""

from __future__ import annotations

from collections import Counter
from typing import Any

import numpy as np
import pandas as pd

from pipeline import stage
from pipeline.writing.spoken import spoken
from plugins.tasting.declared.frames_stock import GROUPS, LIKENESS, STANDING, TARGET_LIKENESS, WOOD_EFFECTS
from plugins.tasting.declared.kinds import FAMILIES
from plugins.tasting.samples.names import folded
from plugins.tasting.stock.likeness import day_outliers, distances, effects, groups, nearest, silhouettes
from plugins.tasting.stock.stock import FACTORS, Stock, ages, apart, levels, stock

NEIGHBOURS = 5
TARGET_CASKS = 20
DAY_CASKS = 4
DAY_Z = 3.0
LEAST_FOR_GROUPS = 12
LEAST_FOR_WOOD = 12
FEW_CASKS = 5
LIFT = 1.5


def _stock(casks: pd.DataFrame, profiles: pd.DataFrame, site: Any) -> Stock:
    return stock(casks, profiles, float(site["plugins.tasting.spread"]))


@stage(gives=LIKENESS)
def find_like(casks: pd.DataFrame, profiles: pd.DataFrame, site: Any) -> pd.DataFrame:
    """Profiles → for each cask the five most like it, with the distance that noise alone would give."""
    held = _stock(casks, profiles, site)
    if len(held.casks) < 2:
        return LIKENESS.empty()
    order, far = nearest(held.values, NEIGHBOURS)
    noise = np.sqrt((held.errors**2).mean(axis=1))
    names = held.casks["cask"].to_numpy(dtype=object)
    count = order.shape[1]
    cask = np.repeat(np.arange(len(names)), count)
    other = order.ravel()
    columns: dict[str, Any] = {
        "cask": names[cask],
        "rank": np.tile(np.arange(1, count + 1), len(names)),
        "other": names[other],
        "distance": far.ravel(),
        "noise": np.sqrt(noise[cask] ** 2 + noise[other] ** 2),
    }
    facts = [tuple(sorted({*held.facts[a], *held.facts[b]})) for a, b in zip(cask, other, strict=True)]
    return LIKENESS.build(columns, facts)


@stage(gives=TARGET_LIKENESS)
def find_for_targets(
    casks: pd.DataFrame, profiles: pd.DataFrame, site: Any, targets: pd.DataFrame | None = None
) -> pd.DataFrame:
    """House profiles → the casks most like each, over the families that the target names."""
    held = _stock(casks, profiles, site)
    if targets is None or not len(targets) or not len(held.casks):
        return TARGET_LIKENESS.empty()
    rows: list[dict[str, Any]] = []
    facts: list[tuple[int, ...]] = []
    known = targets[targets["family"].isin(held.families) & targets["intensity"].notna()]
    for _, wanted in known.groupby(folded(known["target"]), sort=True):
        columns = [held.families.index(family) for family in wanted["family"]]
        weight = wanted["weight"].fillna(1.0).to_numpy(dtype=float)
        wish = wanted["intensity"].to_numpy(dtype=float)[None]
        far = distances(held.values[:, columns], wish, weight)[:, 0]
        own = {fact for ids in wanted["facts"] for fact in ids}
        for rank, cask in enumerate(np.argsort(far, kind="stable")[:TARGET_CASKS], start=1):
            gap = held.values[cask, columns] - wish[0]
            worst = int(np.abs(gap * np.sqrt(weight)).argmax())
            rows.append(
                {
                    "target": wanted["target"].iloc[0],
                    "rank": rank,
                    "cask": held.casks["cask"].iat[cask],
                    "distance": float(far[cask]),
                    "furthest": f"{spoken(held.families[columns[worst]])} {gap[worst]:+.1f}",
                }
            )
            facts.append(tuple(sorted({*own, *held.facts[cask]})))
    return TARGET_LIKENESS.build({name: [row[name] for row in rows] for name in TARGET_LIKENESS.names}, facts)


@stage(gives=STANDING)
def place_casks(casks: pd.DataFrame, profiles: pd.DataFrame, site: Any) -> pd.DataFrame:
    """Profiles → how far each cask is from the house, from the casks filled on its day, and its group."""
    held = _stock(casks, profiles, site)
    if not len(held.casks):
        return STANDING.empty()
    middle = held.values.mean(axis=0)
    far = distances(held.values, middle[None])[:, 0]
    rank = np.empty(len(far), dtype=int)
    rank[np.argsort(-far, kind="stable")] = np.arange(1, len(far) + 1)
    day = pd.MultiIndex.from_arrays([held.casks["filled_on"], folded(held.casks["spirit"])])
    size, z, column = day_outliers(held.values, held.errors, pd.factorize(day)[0], DAY_CASKS)
    label = groups(held.values) + 1 if len(far) >= LEAST_FOR_GROUPS else np.full(len(far), np.nan)
    told = [
        f"{spoken(held.families[at])} {'above' if score > 0 else 'below'} the others of its day"
        if abs(score) >= DAY_Z
        else ""
        for at, score in zip(column, z, strict=True)
    ]
    columns: dict[str, Any] = {
        "cask": held.casks["cask"],
        "house_distance": far,
        "house_rank": rank,
        "apart_on": [apart(row - middle, held.families, 3) for row in held.values],
        "day_casks": size,
        "day_z": np.where(size >= DAY_CASKS, np.abs(z), np.nan),
        "day_apart_on": told,
        "group": label,
    }
    return STANDING.build(columns, held.facts)


@stage(gives=GROUPS)
def group_casks(casks: pd.DataFrame, profiles: pd.DataFrame, cask_standing: pd.DataFrame, site: Any) -> pd.DataFrame:
    """Profiles → groups of like casks with what is strong and weak in them, and the wood that goes with them."""
    held = _stock(casks, profiles, site)
    if len(held.casks) < LEAST_FOR_GROUPS:
        return GROUPS.empty()
    label = cask_standing["group"].to_numpy(dtype=int) - 1
    (width,) = silhouettes(held.values, [label])
    middle = held.values.mean(axis=0)
    rows, facts = [], []
    for number in range(int(label.max()) + 1):
        mine = np.flatnonzero(label == number)
        gap = held.values[mine].mean(axis=0) - middle
        rows.append(
            {
                "group": number + 1,
                "casks": len(mine),
                "leads": apart(np.maximum(gap, 0.0), held.families, 4),
                "lacks": apart(np.minimum(gap, 0.0), held.families, 4),
                "wood": _wood_of(held.casks, mine),
                "silhouette": float(width[mine].mean()),
            }
        )
        facts.append(tuple(sorted({fact for at in mine for fact in held.facts[at]})))
    return GROUPS.build({name: [row[name] for row in rows] for name in GROUPS.names}, facts)


def _wood_of(casks: pd.DataFrame, mine: np.ndarray) -> str:
    """Levels that are half as common again in a group as in the stock: "toast heavy 12 of 15 (stock 20 %)"."""
    told = []
    for factor in FACTORS:
        level = levels(casks, factor)
        whole = Counter(name for name in level if name)
        for name, count in sorted(Counter(name for name in level.iloc[mine] if name).items()):
            share, usual = count / len(mine), whole[name] / sum(whole.values())
            if share >= LIFT * usual and count >= 3:
                told.append((share / usual, f"{factor} {name}: {count} of {len(mine)} (stock {usual:.0%})"))
    return "; ".join(text for _, text in sorted(told, reverse=True)[:5])


@stage(gives=WOOD_EFFECTS)
def measure_wood(casks: pd.DataFrame, profiles: pd.DataFrame, site: Any) -> pd.DataFrame:
    """Profiles and inventory → what each wood, toast, char, fill, make and a year of age goes with.

    All factors are fitted together and drawn to nothing where casks are few; this is what goes together in
    the stock, not a trial. Nothing is given below twelve tasted casks.
    """
    held = _stock(casks, profiles, site)
    if len(held.casks) < LEAST_FOR_WOOD:
        return WOOD_EFFECTS.empty()
    names, design = _design(held.casks, site.book_date)
    if not names:
        return WOOD_EFFECTS.empty()
    found, spread = effects(held.values, design, pd.factorize(np.array([factor for factor, _ in names]))[0])
    columns: dict[str, list[Any]] = {name: [] for name in WOOD_EFFECTS.names}
    facts: list[tuple[int, ...]] = []
    for place, (factor, level) in enumerate(names):
        mine = np.flatnonzero(design[:, place] != 0) if factor != "age" else np.arange(len(design))
        rest = tuple(sorted({fact for at in mine for fact in held.facts[at]}))
        warning = _warning(design, names, place)
        for family in [family for family in FAMILIES if family in held.families]:
            at = held.families.index(family)
            effect, width = found[place, at], 1.96 * spread[place, at]
            values = (factor, level, family, len(mine), effect, effect - width, effect + width, warning)
            for name, value in zip(WOOD_EFFECTS.names, values, strict=True):
                columns[name].append(value)
            facts.append(rest)
    return WOOD_EFFECTS.build(columns, facts)


def _design(casks: pd.DataFrame, book_date: Any) -> tuple[list[tuple[str, str]], np.ndarray]:
    names: list[tuple[str, str]] = []
    columns = []
    for factor in FACTORS:
        level = levels(casks, factor)
        several = sorted(set(level) - {""})
        if len(several) < 2:
            continue
        for name in several:
            names.append((factor, name))
            columns.append(level.eq(name).to_numpy(dtype=float))
    years = ages(casks, book_date)
    if np.isfinite(years).sum() >= LEAST_FOR_WOOD and np.nanstd(years) > 0.1:
        names.append(("age", "a year more"))
        columns.append(np.where(np.isfinite(years), years - np.nanmean(years), 0.0))
    return names, np.column_stack(columns) if columns else np.zeros((len(casks), 0))


def _warning(design: np.ndarray, names: list[tuple[str, str]], place: int) -> str:
    if names[place][0] == "age":
        return ""
    mine = design[:, place]
    told = [f"only {int(mine.sum())} casks"] if mine.sum() < FEW_CASKS else []
    for other, (factor, level) in enumerate(names):
        if factor not in (names[place][0], "age") and np.array_equal(mine, design[:, other]):
            told.append(f"always together with {factor} {level}: which of the two it is cannot be told")
    return "; ".join(told)
