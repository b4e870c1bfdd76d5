"""From the intensities of single tastings to a sample's profile with intervals.

**One taster, one opinion.** All that one taster wrote of a sample counts as one observation, however
many notes: the mean over the notes of that stage. A note that does not name the family is weak evidence
of its absence: it counts as 0 with ``silence_weight`` (0.5), and in the model the less, the more rarely
that taster names that family. An empty cell of a column that the sheet asks for is no such note
(``silence.py``). ``body`` and ``length_balance`` have two ends, silence says nothing of either: there only
notes that name the scale count.

**Few tasters** (fewer than three with six samples in common with others): the mean is over the tasters,
by weight of evidence, and its 95 % interval mean ± t · s / √k for evidence k (1 a taster who named it),
where s² = (4·s0² + Σ w (taster - mean)²) / (3 + k) and t has 3 + k degrees of freedom: the house's usual
spread s0 between tasters counts as much as four degrees of freedom, and yields to what the tasters show.
With one taster and s0 = 2 that is ± 5.55. Cut off at 0 and 10. ``band`` says none, some or strong: more
than that one or two tasters' words cannot say.

**Tasters enough**: scale use is taken out (how strongly a taster puts what others put too, shrunk to 1
where there is little to go by), then the additive model of ``additive.py``: general level + sample +
taster. An interval is widened where the tasters of the sample lie further apart than they do elsewhere.
Samples are drawn to the level, the more so the less is known of them, but never by more than two thirds for
a plain note of one taster, so that a fault that one taster names does not vanish.

**Settled**: which families the model serves, scale use, leniency, level and error come from what was tasted before the
first day of the month of the last tasting, and stand until somebody tastes in a later month: a sheet moves the samples
that it names and no other. Until a model can be fitted to that, it is fitted to all that was tasted.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from plugins.tasting.profiles.additive import Panel, panel_of, samples_of
from plugins.tasting.profiles.impressions import TOP, TWO_ENDED

PRIOR_DEGREES = 4
MOST_SHRUNK = 2.0  # a single note keeps at least a third of its distance from the level
SOME, STRONG = 1.0, 5.75
LEAST_ERROR = 0.25  # points: nobody tells less apart, however alike the figures
SCALE_USE_NOTES = 20.0  # common notes at which a taster's own scale use counts half
SCALE_USE_BOUND = 1.5
NAMING_NOTES = 10.0


def t_quantile(degrees: np.ndarray) -> np.ndarray:
    """The 97.5 % point of Student's t for 4 and more degrees of freedom, within 0.002.

    Cornish-Fisher expansion (Abramowitz and Stegun 26.7.5, from memory; the test compares it
    with scipy), vectorised and without loading a library for one number.
    """
    z = 1.959963984540054
    g1 = (z**3 + z) / 4
    g2 = (5 * z**5 + 16 * z**3 + 3 * z) / 96
    g3 = (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / 384
    g4 = (79 * z**9 + 776 * z**7 + 1482 * z**5 - 1920 * z**3 - 945 * z) / 92160
    n = np.asarray(degrees, dtype=float)
    return z + g1 / n + g2 / n**2 + g3 / n**3 + g4 / n**4


def half_width(evidence: np.ndarray, squares: np.ndarray, spread: float) -> np.ndarray:
    """Half the 95 % interval for ``evidence`` tasters whose values have the sum of squares ``squares``."""
    degrees = PRIOR_DEGREES - 1 + np.maximum(evidence, 1.0)
    variance = (PRIOR_DEGREES * spread**2 + squares) / degrees
    return t_quantile(degrees) * np.sqrt(variance / np.maximum(evidence, 1.0))


class Table:
    """What tasters said of samples at one stage: (families, samples, tasters).

    ``values`` are NaN where a taster said nothing that counts, ``weights`` 1 for a named family and
    ``silence_weight`` for an unnamed one; ``notes`` (samples, tasters) counts notes, ``named`` those that
    name the family.
    """

    def __init__(
        self,
        named: pd.DataFrame,
        notes: pd.DataFrame,
        families: list[str],
        samples: list[str],
        tasters: list[str],
        silence: float,
        mute: pd.DataFrame | None = None,
    ) -> None:
        """``named``: columns sample, taster, family, value (one row per tasting); ``notes``: sample, taster, count.

        ``mute``: sample, taster, family of notes that do not name it and whose silence says nothing (a row each).
        """
        self.families, self.samples, self.tasters = families, samples, tasters
        shape = (len(families), len(samples), len(tasters))
        where = _places(notes, samples, tasters)
        self.notes = np.zeros(shape[1:])
        np.add.at(self.notes, where, notes["count"].to_numpy(dtype=float))
        family = pd.Index(families).get_indexer(pd.Index(named["family"]))
        cells = (family, *_places(named, samples, tasters))
        sums, self.named = np.zeros(shape), np.zeros(shape)
        self.highest = np.zeros(shape)
        value = named["value"].to_numpy(dtype=float)
        np.add.at(sums, cells, value)
        np.add.at(self.named, cells, 1.0)
        np.maximum.at(self.highest, cells, value)
        self.mute = np.zeros(shape)
        if mute is not None and len(mute):
            unsaid = pd.Index(families).get_indexer(pd.Index(mute["family"]))
            known = unsaid >= 0  # of a family that nobody named there is no profile
            np.add.at(self.mute, (unsaid[known], *_places(mute[known], samples, tasters)), 1.0)
        quiet = np.maximum(self.notes[None] - self.named - self.mute, 0.0) * silence
        two_ended = np.isin(families, TWO_ENDED)
        quiet[two_ended] = 0.0
        evidence = self.named + quiet
        with np.errstate(invalid="ignore"):
            self.values = np.where(evidence > 0, sums / evidence, np.nan)
        self.weights = np.where(self.named > 0, 1.0, np.where(evidence > 0, silence, 0.0))
        self.values[self.weights == 0] = np.nan

    def weighed(self, naming: np.ndarray) -> np.ndarray:
        """The weights with that of silence times how often each taster names a family (families, tasters)."""
        return np.where(self.named > 0, self.weights, self.weights * naming[:, None, :])

    @property
    def counted(self) -> np.ndarray:
        """(families, samples, tasters): notes that count for a family."""
        two_ended = np.isin(self.families, TWO_ENDED)
        return np.where(two_ended[:, None, None], self.named, np.maximum(self.notes[None] - self.mute, self.named))


def _places(rows: pd.DataFrame, samples: list[str], tasters: list[str]) -> tuple[np.ndarray, np.ndarray]:
    return (
        pd.Index(samples).get_indexer(pd.Index(rows["sample"])),
        pd.Index(tasters).get_indexer(pd.Index(rows["taster"])),
    )


@dataclass(frozen=True)
class Settled:
    """What tastings tell of their tasters: the ``families`` that the model serves, by what each taster's intensities
    are multiplied, how often each names a family (families, tasters), and the fitted ``panel`` (families, tasters)."""

    families: list[str]
    tasters: list[str]
    scale_use: np.ndarray
    naming: np.ndarray
    panel: Panel


def settle(table: Table, tasters: int, common: int) -> Settled | None:
    """Fit the model to the families of which tasters enough have so many samples in common; None: there is none."""
    good = enough(table.weights > 0, tasters, common)
    if not good.any():
        return None
    factor, often = scale_use(table.highest, table.named), naming(table)
    weights = table.weighed(often)
    panel = panel_of(np.clip(table.values * factor, 0.0, TOP)[good], weights[good], MOST_SHRUNK)
    families = [family for family, fits in zip(table.families, good, strict=True) if fits]
    return Settled(families, table.tasters, factor, often[good], panel)


def by_settled(table: Table, settled: Settled) -> tuple[np.ndarray, ...]:
    """Places of the families that the model serves, and mean, low, high of their samples."""
    at = pd.Index(table.families).get_indexer(pd.Index(settled.families))
    named = np.flatnonzero(at >= 0)  # a family may have been named only of what is a profile of its own no more
    at, panel = at[named], settled.panel.of(named)
    here = pd.Index(settled.tasters).get_indexer(pd.Index(table.tasters))
    values = np.clip(table.values * np.where(here >= 0, settled.scale_use[here], 1.0), 0.0, TOP)
    often = np.ones(table.values.shape[::2])
    often[at] = np.where(here >= 0, settled.naming[named][:, here], 1.0)
    return at, *by_model(values[at], table.weighed(often)[at], TOP, panel.over(here))


def enough(present: np.ndarray, tasters: int, common: int) -> np.ndarray:
    """Whether (variables, samples, tasters) hold enough: tasters with so many samples that another had too."""
    shared = present & (present.sum(axis=2, keepdims=True) >= 2)
    return (shared.sum(axis=1) >= common).sum(axis=1) >= tasters


def by_mean(values: np.ndarray, weights: np.ndarray, spread: float, top: float) -> tuple[np.ndarray, ...]:
    """Mean, low, high over the last axis (tasters) by weight of evidence; NaN where there is none."""
    filled = np.where(weights > 0, values, 0.0)
    evidence = weights.sum(axis=-1)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = (weights * filled).sum(axis=-1) / evidence
    squares = (weights * (filled - np.where(evidence > 0, mean, 0.0)[..., None]) ** 2).sum(axis=-1)
    width = half_width(evidence, squares, spread)
    return mean, np.clip(mean - width, 0.0, top), np.clip(mean + width, 0.0, top)


def by_model(values: np.ndarray, weights: np.ndarray, top: float, panel: Panel) -> tuple[np.ndarray, ...]:
    """Mean, low, high of every sample (variables, samples) by the additive model as fitted to ``panel``.

    Where the tasters of a sample lie further apart than the model's error has it, its interval is widened by
    their own spread, to which the model's error counts as four degrees of freedom.
    """
    fitted = samples_of(panel, values, weights)
    expected = fitted.sample_means[:, :, None] + fitted.taster_effects[:, None, :]
    squares = (weights * np.where(weights > 0, values - expected, 0.0) ** 2).sum(axis=2)
    error = np.maximum(fitted.error_variance, LEAST_ERROR**2)[:, None]
    own = PRIOR_DEGREES - 1 + weights.sum(axis=2)
    wider = np.maximum((PRIOR_DEGREES * error + squares) / (own * error), 1.0)
    many = np.maximum(panel.freedom, PRIOR_DEGREES)
    t = np.where(wider > 1.0, t_quantile(np.maximum(own, PRIOR_DEGREES)), t_quantile(many)[:, None])
    least = error / np.maximum(fitted.error_variance, 1e-12)[:, None]
    width = t * fitted.standard_errors * np.sqrt(wider * np.where(fitted.error_variance[:, None] > 0, least, 1.0))
    mean = np.clip(fitted.sample_means, 0.0, top)
    low, high = np.clip(fitted.sample_means - width, 0.0, top), np.clip(fitted.sample_means + width, 0.0, top)
    return mean, np.minimum(low, mean), np.maximum(high, mean)


def scale_use(values: np.ndarray, named: np.ndarray) -> np.ndarray:
    """By what each taster's named intensities are to be multiplied to stand on the panel's scale.

    Compares a taster's intensities with those of the others for the same sample and family, where both
    name it (geometric means, plus half a point so that 0 has a logarithm).
    """
    logs = np.where((named > 0) & (values > 0), np.log(np.where(values > 0, values, 1.0) + 0.5), np.nan)
    known = ~np.isnan(logs)
    filled = np.where(known, logs, 0.0)
    others = known.sum(axis=2, keepdims=True) - known
    both = known & (others > 0)
    rest = (filled.sum(axis=2, keepdims=True) - filled) / np.maximum(others, 1)
    count = both.sum(axis=(0, 1))
    apart = np.where(both, filled - rest, 0.0).sum(axis=(0, 1)) / np.maximum(count, 1)
    shrunk = apart * count / (count + SCALE_USE_NOTES)
    return np.clip(np.exp(-shrunk), 1 / SCALE_USE_BOUND, SCALE_USE_BOUND)


def naming(table: Table) -> np.ndarray:
    """How often each taster names a family beside how often the panel does, at most 1: who never names one says
    nothing by silence on it. (families, tasters), drawn to 1 as ``NAMING_NOTES`` notes would."""
    named = (table.named > 0).sum(axis=1)
    could = (table.weights > 0).sum(axis=1)
    panel = named.sum(axis=1, keepdims=True) / np.maximum(could.sum(axis=1, keepdims=True), 1)
    own = (named + NAMING_NOTES * panel) / (could + NAMING_NOTES)
    return np.clip(own / np.maximum(panel, 1e-9), 0.0, 1.0)


def bands(mean: np.ndarray) -> np.ndarray:
    """none, some or strong."""
    return np.where(mean < SOME, "none", np.where(mean < STRONG, "some", "strong"))
