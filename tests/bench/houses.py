"""Generated houses: casks whose taste is known, a known law by which it mixes, and a panel that is not sure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from plugins.proposals.declared.kinds import TRIALS
from plugins.proposals.taste.taste import SCALES, exponent, mixed
from plugins.tasting.declared.kinds import FAMILIES
from plugins.tasting.panel.panel_stages import measure_noise
from plugins.tasting.profiles.impressions import weigh_words
from plugins.tasting.profiles.profile_stages import profile_samples
from plugins.tasting.samples.resolve import resolve_samples
from plugins.tasting.words.notes import find_mentions, keep_notes
from tests.tasting.frames_for_tests import blind_key, own_words, sample_register, tasting_site, tastings

NOTICED = 0.75  # what a taster of a generated house does not write down
LAWS = ("power law", "power law, pairs bend", "linear")


@dataclass(frozen=True)
class House:
    """A generated house with what it knows (frames) and what is true (by name of a glass, by family)."""

    trials: pd.DataFrame
    profiles: pd.DataFrame
    noise: pd.DataFrame
    casks: tuple[str, ...]
    shares: dict[str, np.ndarray]  # of trials, over the casks
    intensity: np.ndarray  # (casks, families)
    n: np.ndarray
    pairs: np.ndarray  # (casks, casks, families), upper triangle

    def truth(self, shares: np.ndarray) -> np.ndarray:
        """What a glass truly tastes of, by family."""
        bent = np.einsum("i,j,ijf->f", shares, shares, self.pairs)
        return np.asarray(np.clip(mixed(shares, self.intensity, self.n) + bent, 0.0, 10.0))


def house(seed: int, law: str = LAWS[0], trials: int = 8, tasters: int = 4, casks: int = 5) -> House:
    """A house of ``casks`` casks and ``trials`` tasted trials of two to four of them."""
    rng = np.random.default_rng(seed)
    names = tuple(f"C-{at:03}" for at in range(casks))
    intensity = _intensities(rng, casks)
    n = np.ones(len(FAMILIES)) if law == LAWS[2] else _exponents(rng)
    pairs = np.zeros((casks, casks, len(FAMILIES)))
    if law == LAWS[1]:
        upper = np.triu(np.ones((casks, casks)), 1)[:, :, None]
        pairs = upper * rng.normal(0.0, 2.0, pairs.shape) * (rng.random(pairs.shape) < 0.4)
    shares = {f"T-{at:03}": _glass(rng, casks) for at in range(trials)}
    made = House(pd.DataFrame(), pd.DataFrame(), pd.DataFrame(), names, shares, intensity, n, pairs)
    glasses = {name: intensity[at] for at, name in enumerate(names)}
    glasses |= {name: made.truth(share) for name, share in shares.items()}
    profiles, noise = _tasted(rng, glasses, tasters)
    return House(_sheet(names, shares), profiles, noise, names, shares, intensity, n, pairs)


def _intensities(rng: np.random.Generator, casks: int) -> np.ndarray:
    """Aromas are there in about half of the casks; scales in all."""
    there = rng.random((casks, len(FAMILIES))) < 0.5
    strong = np.clip(rng.lognormal(1.2, 0.5, there.shape), 0.8, 9.0)
    aroma = np.where(there, strong, rng.uniform(0.0, 0.5, there.shape))
    scale = np.clip(rng.normal(5.0, 1.5, there.shape), 1.0, 9.0)
    return np.where(np.isin(FAMILIES, SCALES), scale, aroma)


def _exponents(rng: np.random.Generator) -> np.ndarray:
    proposed = [exponent(family) for family in FAMILIES]
    return np.array([rng.uniform(item.low, item.high) for item in proposed])


def _glass(rng: np.random.Generator, casks: int) -> np.ndarray:
    """Shares of two to four casks, in hundredths."""
    some = rng.choice(casks, size=int(rng.integers(2, min(casks, 4) + 1)), replace=False)
    share = np.zeros(casks)
    share[some] = np.maximum(np.round(rng.dirichlet(np.full(len(some), 1.5)), 2), 0.02)
    return share / share.sum()


def _tasted(rng: np.random.Generator, glasses: dict[str, np.ndarray], tasters: int) -> tuple[pd.DataFrame, Any]:
    """Profiles and panel noise, as the tasting stages make them of sheets with figures.

    Tasters differ in level and in how wide they use the scale; each has a view of his own of a glass, and is not the
    same twice. One glass in four is served to each of them twice.
    """
    spread = rng.uniform(0.5, 1.2)  # of one tasting
    own_view = rng.uniform(0.2, 0.6)  # of a taster about a glass, the same in both tastings
    level, width = rng.normal(0.0, 0.4, tasters), np.exp(rng.normal(0.0, 0.12, tasters))
    rows: list[dict[str, Any]] = []
    for at, (name, true) in enumerate(glasses.items()):
        for taster in range(tasters):
            view = true + rng.normal(0.0, own_view, len(true))
            for again in range(1 + (at % 4 == 0)):
                said = level[taster] + width[taster] * (view + rng.normal(0.0, spread, len(true)))
                noticed = (true > 0.3) | np.isin(FAMILIES, SCALES)
                said = np.where(noticed & (said > NOTICED), np.clip(np.round(2.0 * said) / 2.0, 0.0, 10.0), np.nan)
                row: dict[str, Any] = {"sample": name, "taster": f"taster {taster}", "session": "S", "order": 1.0}
                rows.append(row | {"replicate": str(again + 1)} | dict(zip(FAMILIES, map(float, said), strict=True)))
    site = tasting_site()
    tasted, _ = resolve_samples(tastings(*rows), sample_register(), blind_key())
    notes = keep_notes(tasted)[0]
    mentions = find_mentions(notes, own_words(), site)[0]
    impressions = weigh_words(tasted, mentions, site)
    return profile_samples(tasted, notes, impressions, site)[0], measure_noise(tasted, impressions)


def _sheet(casks: tuple[str, ...], shares: dict[str, np.ndarray]) -> pd.DataFrame:
    rows = [
        (trial, casks[at], 100.0 * share[at])
        for trial, share in shares.items()
        for at in np.flatnonzero(share > 0.0)
    ]  # fmt: skip
    columns = {"trial": [row[0] for row in rows], "component": [row[1] for row in rows], "ml": [row[2] for row in rows]}
    columns |= {"strength": [60.0] * len(rows), "strength_unit": ["%vol"] * len(rows)}
    return TRIALS.frame().build(columns, [(5000 + at,) for at in range(len(rows))])
