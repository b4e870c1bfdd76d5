"""From profiles and tasted trials to the taste model that everyone can read."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
import pandas as pd

from pipeline import Finding, stage, unite
from plugins import proof
from plugins.proposals.declared.frames import EXPONENTS, TERMS
from plugins.proposals.stock.stock import folded
from plugins.proposals.taste.learn import SPREAD, Learnt, Trial, learn_all
from plugins.proposals.taste.taste import SCALES, exponent

UNNOTICED = 0.5  # standard deviation of an aroma that nobody named, in points (an assumption)
LEAST_NOISE = 0.25  # points: nobody tells less apart, however alike the figures
TWICE = 4.0  # glasses tasted twice that the usual noise counts as much as
ABSENT_HIGH = 1.0  # a tasted cask of which nobody named a family: none of it, 1 point at most (an assumption)


def whole_profiles(profiles: pd.DataFrame) -> pd.DataFrame:
    """The profiles over all stages, with folded sample names."""
    mine = profiles[(profiles["stage"] == "all") & profiles["mean"].notna()]
    return mine.assign(_sample=folded(mine["sample"]))


def matrix(profiles: pd.DataFrame, samples: list[str], families: list[str], column: str) -> np.ndarray:
    """(samples, families) of one column of ``whole_profiles``; NaN where there is no row."""
    mine = profiles[profiles["_sample"].isin(samples) & profiles["family"].isin(families)]
    wide = mine.drop_duplicates(["_sample", "family"], keep="last").pivot(
        index="_sample", columns="family", values=column
    )
    return wide.reindex(index=samples, columns=families).to_numpy(dtype="float64")


def filled(ends: Sequence[np.ndarray], families: list[str]) -> tuple[np.ndarray, ...]:
    """Gaps of tasted casks filled: an aroma that nobody named is absent; a scale that nobody named is average.

    ``ends`` are mean, low and high, (n, F) each.
    """
    mean, low, high = ends
    gap = np.isnan(mean)
    scale = np.array([family in SCALES for family in families])
    with np.errstate(invalid="ignore"):
        counts = np.maximum((~gap).sum(axis=0), 1)
        middle = np.where(gap.all(axis=0), 5.0, np.where(gap, 0.0, mean).sum(axis=0) / counts)
    mean = np.where(gap, np.where(scale, middle, 0.0), mean)
    low = np.where(gap | np.isnan(low), np.where(scale, np.maximum(mean - 2.0, 0.0), np.minimum(mean, 0.0)), low)
    high = np.where(gap | np.isnan(high), np.where(scale, np.minimum(mean + 2.0, 10.0), mean + ABSENT_HIGH), high)
    return mean, np.minimum(low, mean), np.maximum(high, mean)


def alcohol_shares(rows: pd.DataFrame) -> np.ndarray | None:
    """Shares of alcohol of one trial's rows; None where a strength is missing.

    Millilitres of samples at cask strength are shares of volume, of samples cut to one strength shares of
    alcohol: millilitres times the strength of the sample as poured are shares of alcohol in both cases.
    """
    units = rows["strength_unit"].fillna("proof").to_numpy()
    abv = proof.abv_from_mass_fraction(proof.mass_fraction_from_strength(rows["strength"].to_numpy("float64"), units))
    alcohol = rows["ml"].to_numpy("float64") * abv
    if not np.isfinite(alcohol).all() or alcohol.sum() <= 0.0:
        return None
    return alcohol / alcohol.sum()


def tasted_trials(
    trials: pd.DataFrame, profiles: pd.DataFrame, families: list[str], noise: dict[str, float] | None = None
) -> tuple[list[Trial], list[str]]:
    """The trials that were tasted and whose components were, and the names of those without strengths."""
    known = Known(profiles, families, noise or {})
    made, unclear = [], []
    for name, rows in trials.groupby(folded(trials["trial"]), sort=True):
        shares = alcohol_shares(rows)
        if shares is None:
            unclear.append(str(rows["trial"].iloc[0]))
            continue
        parts = list(folded(rows["component"]))
        if {str(name), *parts} <= known.samples:
            made.append(known.trial(str(name), parts, shares))
    return made, unclear


def tasted_batches(
    components: pd.DataFrame, profiles: pd.DataFrame, families: list[str], noise: dict[str, float]
) -> list[Trial]:
    """Batches that were tasted after they were drawn, as trials of what was drawn: shares of ethanol."""
    known = Known(profiles, families, noise)
    drawn = components[components["ethanol_kg"] > 0.0]
    made = []
    for name, rows in drawn.groupby(folded(drawn["batch"]), sort=True):
        ethanol = rows["ethanol_kg"].groupby(folded(rows["component"])).sum()
        if {str(name), *ethanol.index} <= known.samples:
            made.append(known.trial(str(name), list(ethanol.index), (ethanol / ethanol.sum()).to_numpy("float64")))
    return made


class Known:
    """What is known of the taste of every sample: means and standard deviations (samples, families).

    The mean is NaN where nobody named the family. The standard deviation is that of one tasting (``noise`` by family,
    from glasses tasted twice) over the root of the tasters; an aroma that nobody named may be there unnoticed.
    """

    def __init__(self, profiles: pd.DataFrame, families: list[str], noise: dict[str, float]) -> None:
        sampled = whole_profiles(profiles)
        tasters = sampled.groupby("_sample")["tasters"].max().fillna(1).clip(lower=1)
        names = list(tasters.index)
        self.samples = set(names)
        self._at = {name: number for number, name in enumerate(names)}
        self._mean = matrix(sampled, names, families, "mean")
        one = np.array([noise.get(family, SPREAD) for family in families])
        spread = one / np.sqrt(tasters.to_numpy("float64"))[:, None]
        self._spread = np.where(np.isnan(self._mean), np.minimum(spread, UNNOTICED), spread)
        self._scale = np.array([family in SCALES for family in families], dtype=bool)

    def trial(self, name: str, parts: list[str], shares: np.ndarray) -> Trial:
        """A tasted trial with what it and its components taste of.

        A family of which neither a component nor the trial was said to have any is left out: nought equal to nought
        would flatter the model. So is a scale that somebody did not name.
        """
        rows = [self._at[sample] for sample in (*parts, name)]
        tastes, spreads = self._mean[rows], self._spread[rows]
        gap = np.isnan(tastes)
        tasted = np.where(gap.all(axis=0) | (self._scale & gap.any(axis=0)), np.nan, np.nan_to_num(tastes[-1]))
        return Trial(name, tuple(parts), shares, np.nan_to_num(tastes[:-1]), tasted, spreads[:-1], spreads[-1])


def noise_of(panel_noise: pd.DataFrame | None) -> dict[str, float]:
    """Standard deviation of one tasting by family: of few glasses tasted twice drawn to that of all families."""
    if panel_noise is None or not len(panel_noise):
        return {}
    mine = panel_noise[(panel_noise["family"] != "score") & panel_noise["spread"].notna()]
    pairs, squares = mine["pairs"].to_numpy("float64"), mine["spread"].to_numpy("float64") ** 2
    if pairs.sum() <= 0:
        return {}
    common = (TWICE * SPREAD**2 + (pairs * squares).sum()) / (TWICE + pairs.sum())
    own = np.sqrt((TWICE * common + pairs * squares) / (TWICE + pairs))
    return dict(zip(mine["family"], map(float, np.maximum(own, LEAST_NOISE)), strict=True))


@stage(gives=EXPONENTS)
def model_taste(
    targets: pd.DataFrame,
    trials: pd.DataFrame,
    profiles: pd.DataFrame | None = None,
    panel_noise: pd.DataFrame | None = None,
    components: pd.DataFrame | None = None,
) -> tuple[pd.DataFrame, list[Finding]]:
    """The exponent of each family: a proposal until tasted trials teach it, then fitted, with its error."""
    facts = _facts_by_family(targets, profiles)
    families = list(facts)
    learnt, unclear, taught = learnt_of(trials, profiles, families, panel_noise, components)
    rows = {
        "family": families,
        "n": [learnt[family].exponent.n for family in families],
        "low": [learnt[family].exponent.low for family in families],
        "high": [learnt[family].exponent.high for family in families],
        "source": [learnt[family].exponent.source for family in families],
        "trials": [learnt[family].trials for family in families],
        "error_left_out": [learnt[family].error_left_out for family in families],
        "naive_error": [learnt[family].naive_error for family in families],
        "proposed": [exponent(family).n for family in families],
    }
    made = [tuple(sorted({*facts[f], *(taught if learnt[f].trials else ())})) for f in families]
    return EXPONENTS.build(rows, made), [_no_strength(name, trials) for name in unclear]


@stage(gives=TERMS)
def model_pairs(
    trials: pd.DataFrame,
    profiles: pd.DataFrame | None = None,
    panel_noise: pd.DataFrame | None = None,
    components: pd.DataFrame | None = None,
) -> pd.DataFrame:
    """Pairs of casks that bend away from the power law, as far as tasted trials show it."""
    families = sorted(set(whole_profiles(profiles)["family"])) if profiles is not None else []
    learnt, _, taught = learnt_of(trials, profiles, families, panel_noise, components)
    rows = [
        (family, one, other, value, learnt[family])
        for family in families
        for (one, other), value in sorted(learnt[family].pairs.items())
    ]
    spelled = {} if components is None else _spelled(components)
    spelled |= _spelled(trials)
    standing = _standing(trials)
    columns = {
        "family": [row[0] for row in rows],
        "component": [spelled[row[1]] for row in rows],
        "other": [spelled[row[2]] for row in rows],
        "coefficient": [row[3] for row in rows],
        "error_left_out": [row[4].error_left_out for row in rows],
        "spread": [row[4].pair_spread[row[1], row[2]] for row in rows],
        "trials": [standing.get((row[1], row[2]), 0) for row in rows],
    }
    return TERMS.build(columns, [taught] * len(rows))


def _spelled(rows: pd.DataFrame) -> dict[str, str]:
    return dict(zip(folded(rows["component"]), rows["component"], strict=True))


def _standing(trials: pd.DataFrame) -> dict[tuple[str, str], int]:
    """In how many trials each pair stands, folded names in order."""
    made: dict[tuple[str, str], int] = {}
    for names in folded(trials["component"]).groupby(folded(trials["trial"])).agg(set):
        for pair in combinations(sorted(names), 2):
            made[pair] = made.get(pair, 0) + 1
    return made


def learnt_of(
    trials: pd.DataFrame,
    profiles: pd.DataFrame | None,
    families: list[str],
    panel_noise: pd.DataFrame | None,
    components: pd.DataFrame | None,
) -> tuple[dict[str, Learnt], list[str], tuple[int, ...]]:
    """What trials and tasted batches teach by family, trials without strengths, and the facts of those that taught."""
    if profiles is None:
        return {family: Learnt(exponent(family)) for family in families}, [], ()
    noise = noise_of(panel_noise)
    made, unclear = tasted_trials(trials, profiles, families, noise)
    names = {trial.name for trial in made}
    taught = trials.loc[folded(trials["trial"]).isin(names), "facts"].tolist()
    if components is not None:
        batches = tasted_batches(components, profiles, families, noise)
        made += batches
        taught += components.loc[folded(components["batch"]).isin({b.name for b in batches}), "facts"].tolist()
    learnt = learn_all(made, {family: exponent(family) for family in families})
    return learnt, unclear, tuple(sorted({fact for ids in taught for fact in ids}))


def _facts_by_family(targets: pd.DataFrame, profiles: pd.DataFrame | None) -> dict[str, tuple[int, ...]]:
    """Every family that a profile or target speaks of, with rows it is known by (the first profile, all targets)."""
    found: dict[str, tuple[int, ...]] = {}
    if profiles is not None and len(profiles):
        first = profiles.drop_duplicates("family")
        found = dict(zip(first["family"], first["facts"], strict=True))
    if len(targets):
        for family, facts in unite(targets["facts"], by=targets["family"]).items():
            found[str(family)] = tuple(sorted({*found.get(str(family), ()), *facts}))
    return dict(sorted(found.items()))


def _no_strength(name: str, trials: pd.DataFrame) -> Finding:
    rows = trials[trials["trial"] == name]
    batch = rows["batch"].dropna()
    return Finding(
        "trials.no-strength",
        "review",
        f"Trial {name} does not state the strength of every sample poured: whether its millilitres are shares of "
        "volume or of alcohol cannot be told, so it is not scaled and teaches nothing.",
        subject=name,
        batch=str(batch.iloc[0]) if len(batch) else "",
        facts=tuple(sorted({fact for ids in rows["facts"] for fact in ids})),
        column="strength",
        expected="a strength, as poured, in every row",
        remedy="State each sample's strength: the cask's where it was poured uncut, else what it was cut to.",
    )
