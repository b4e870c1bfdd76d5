"""One brief with the stock that it may choose from, as numbers: what demands ask, before any is chosen."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import pandas as pd

from plugins.proposals.choosing.problem import Prices, Problem
from plugins.proposals.taste.taste import Array, Exponent, to_x

LEAST_VOLUME = 0.01  # where no volume is demanded: any that can be poured, from a hundredth of it


@dataclass(frozen=True)
class Demand:
    """One thing that a brief demands: its name, its value in words, and how it is let go."""

    name: str
    value: str
    release: str


@dataclass(frozen=True)
class Aim:
    """What a brief wants of taste: arrays over families."""

    families: tuple[str, ...]
    target: Array
    low: Array
    high: Array
    weight: Array
    source: str


@dataclass(frozen=True)
class Bends:
    """Pairs of candidates that bend away from the law: their places (p, 2), and points by family (p, F)."""

    pairs: Array = field(default_factory=lambda: np.zeros((0, 2), dtype=np.int64))
    points: Array = field(default_factory=lambda: np.zeros((0, 0)))


@dataclass
class Case:
    """A brief, its candidates (a row each of ``stock``), and what each demand says of them.

    ``barred`` maps a demand to the candidates that it rules out (bool arrays), ``groups`` to group numbers.
    ``mean``, ``low``, ``high`` are the candidates' profiles over the aim's families (n, F). ``ratios`` maps a demand
    to the shares that it asks: coefficients of the draws (n,) whose sum may not be below nought; ``asked`` says them
    in words. ``evidence``: families whose prediction the house's own trials bear out.
    """

    batch: str
    issue: int
    stock: pd.DataFrame
    aim: Aim
    exponents: list[Exponent]
    mean: Array
    low: Array
    high: Array
    ethanol_kg: float
    mass_fraction: float
    volume_L: float
    at_degC: float
    strength: str
    max_casks: int | None
    whole: bool
    bottle_L: float
    due: pd.Timestamp | None
    demands: list[Demand] = field(default_factory=list)
    barred: dict[str, Array] = field(default_factory=dict)
    groups: dict[str, np.ndarray] = field(default_factory=dict)
    met_from: dict[str, pd.Series] = field(default_factory=dict)
    unlawful: dict[str, str] = field(default_factory=dict)
    scarce: Array = field(default_factory=lambda: np.zeros(0))
    cost: Array = field(default_factory=lambda: np.zeros(0))
    depart_on: str = ""
    ratios: dict[str, list[Array]] = field(default_factory=dict)
    asked: dict[str, list[str]] = field(default_factory=dict)
    bends: Bends = field(default_factory=lambda: Bends())
    evidence: dict[str, bool] = field(default_factory=dict)
    off_notes: Array = field(default_factory=lambda: np.zeros(0))  # of faulty candidates (n,), 0 of the others
    settings: dict[str, Any] = field(default_factory=dict)

    @property
    def n(self) -> Array:
        return np.array([item.n for item in self.exponents])

    @property
    def names(self) -> list[str]:
        return [demand.name for demand in self.demands]

    def free(self, demanded: list[str]) -> Array:
        """Which candidates the demands leave."""
        left = np.ones(len(self.stock), dtype=bool)
        for name in demanded:
            if name in self.barred:
                left &= ~self.barred[name]
        return left

    def problem(self, demanded: list[str] | None = None, prices: Prices | None = None) -> Problem:
        """The problem that asks only these demands; without any named, all."""
        asked = self.names if demanded is None else demanded
        keep = np.flatnonzero(self.free(asked))
        ethanol = self.stock["ethanol_kg"].to_numpy("float64")
        w = self.stock["mass_fraction"].to_numpy("float64")
        alcohol = ethanol / self.ethanol_kg
        surplus = 1.0 / self.mass_fraction - 1.0 / w if "strength" in asked else np.ones(len(w))
        whole = self.whole and "whole casks" in asked
        give = self.settings["volume_tolerance_percent" if whole else "part_tolerance_percent"] / 100.0
        # part draws can be measured: no less than the brief wants; whole casks miss it either way
        low, high = (1.0 - give if whole else 1.0, 1.0 + give) if "volume" in asked else (LEAST_VOLUME, float("inf"))
        if not whole and "volume" not in asked:
            low, high = LEAST_VOLUME, float(alcohol.sum()) + 1.0
        volumes = self.stock["volume_20C_L"].to_numpy("float64")
        least = np.minimum(self.settings["least_draw_L"] / np.maximum(volumes, 1e-9), 1.0)
        most = self.max_casks if self.max_casks is not None and "most casks" in asked else len(keep)
        x = to_x(self.mean, self.n)
        groups = [self.groups[name][keep] for name in asked if name in self.groups]
        ratios = [row[keep] for name in asked for row in self.ratios.get(name, [])]
        made = Problem(
            tuple(self.stock["cask"].iloc[keep]), alcohol[keep], surplus[keep], x[keep], x[keep],
            self.aim.low, self.aim.high, self.n, self.aim.weight, self.scarce[keep], self.cost[keep], least[keep],
            _numbered(groups, len(keep)), low, high, int(most), whole, prices or self.prices,
            ratios=np.array(ratios).reshape(len(ratios), len(keep)),
        )  # fmt: skip
        place = np.full(len(self.stock), -1, dtype=np.int64)
        place[keep] = np.arange(len(keep))
        both = (place[self.bends.pairs] >= 0).all(axis=1)
        return replace(made, pairs=place[self.bends.pairs[both]].reshape(-1, 2), bend=self.bends.points[both])

    @property
    def prices(self) -> Prices:
        return Prices(1.0, *(self.settings[name] for name in ("price_cask", "price_scarce", "price_cost")))

    @property
    def keep(self) -> Array:
        """Places of the candidates that all demands leave."""
        return np.flatnonzero(self.free(self.names))


def _numbered(groups: list[np.ndarray], size: int) -> np.ndarray:
    """Group numbers from 0 without gaps, claim by claim; a claim with one group binds nothing and is left out."""
    rows = []
    for group in groups:
        _, numbers = np.unique(group, return_inverse=True)
        if size and numbers.max(initial=0) > 0:
            rows.append(numbers)
    return np.array(rows, dtype=np.int64).reshape(len(rows), size)


def years_between(first: pd.Series, day: pd.Timestamp) -> Array:
    """Whole years by anniversaries; NaN where the first day is missing. 29 February comes of age on 1 March."""
    years = day.year - first.dt.year
    not_yet = (first.dt.month > day.month) | ((first.dt.month == day.month) & (first.dt.day > day.day))
    return (years - not_yet.astype("float64")).to_numpy("float64")


def scarcity(stock: pd.DataFrame, years: Array, wanted_lpa: float) -> Array:
    """How scarce each cask's spirit is, 0 to 1: what the batch wants over what there is of that spirit at least

    as old. A cask of which there is just enough for one batch, or less, counts 1.
    """
    made = np.ones(len(stock))
    lpa = stock["lpa"].to_numpy("float64")
    for rows in stock.groupby(stock["spirit"].fillna("").str.casefold()).indices.values():
        age = np.nan_to_num(years[rows], nan=-1.0)
        order = np.argsort(-age, kind="stable")
        older = np.cumsum(lpa[rows][order])
        # casks of one age share what there is of that age and more
        last = np.searchsorted(-age[order], -age[order], side="right") - 1
        made[rows[order]] = np.minimum(wanted_lpa / np.maximum(older[last], 1e-9), 1.0)
    return made


def draw_from(case: Case, places: Array) -> str | None:
    """The first day on which every one of these candidates answers every claim; None where time has no part in it."""
    days = [since.iloc[places].max() for since in case.met_from.values()]
    known = [day for day in days if pd.notna(day)]
    return max(known).strftime("%Y-%m-%d") if known else None


def added(case: Case, places: Array, share: Array) -> Array:
    """Points that pairs which bend add to each family, for shares of alcohol of these candidates."""
    if not len(case.bends.pairs):
        return np.zeros(len(case.aim.families))
    whole = np.zeros(len(case.stock))
    whole[places] = share
    one, other = case.bends.pairs.T
    return np.asarray((whole[one] * whole[other]) @ case.bends.points)
