"""The mixed model against an independent library, against closed forms, and its intervals on simulated stocks."""

from __future__ import annotations

import warnings

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm

from plugins.cellar.rates.pooled import Design, Prior, apart, fit, posterior

FLAT = Prior(np.array([0.0]), np.array([1e4]))


def one_way(seed: int, groups: int = 12, each: int = 15) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    code = np.repeat(np.arange(groups), each)
    return rng.normal(0, 2.0, groups)[code] + rng.normal(5.0, 1.5, len(code)), code


@pytest.mark.parametrize("seed", range(4))
def test_deviations_are_those_of_another_reml(seed: int) -> None:
    """statsmodels' MixedLM (REML) on the same data: deviations within 1 %, group effects within 0.01."""
    y, code = one_way(seed)
    known = np.full(len(y), 0.25)
    ours = fit(y, known, Design(np.ones((len(y), 1)), [code], [12]), FLAT, robust=False)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # its optimiser warns on its way
        theirs = sm.MixedLM(y, np.ones((len(y), 1)), groups=code).fit(reml=True)
    assert ours.between[0] == pytest.approx(float(np.sqrt(theirs.cov_re[0, 0])), rel=0.01)
    assert np.hypot(ours.own, 0.5) == pytest.approx(float(np.sqrt(theirs.scale)), rel=0.01)
    assert ours.effects[0] == pytest.approx(float(theirs.fe_params[0]), abs=0.01)
    theirs_effects = [float(np.asarray(theirs.random_effects[group])[0]) for group in range(12)]
    assert ours.effects[1:] == pytest.approx(theirs_effects, abs=0.01)


def test_balanced_one_way_is_the_analysis_of_variance() -> None:
    """With equal groups REML is the textbook's: between² = (MSB - MSW) / n, within² = MSW (closed form)."""
    y, code = one_way(7)
    means = pd.Series(y).groupby(code).mean()
    within = ((y - means.to_numpy()[code]) ** 2).sum() / (len(y) - 12)
    between = 15 * ((means - y.mean()) ** 2).sum() / 11
    ours = fit(y, np.zeros(len(y)) + 1e-9, Design(np.ones((len(y), 1)), [code], [12]), FLAT, robust=False)
    assert ours.own**2 == pytest.approx(within, rel=0.02)
    assert ours.between[0] ** 2 == pytest.approx((between - within) / 15, rel=0.03)


def test_crossed_factors_are_told_apart() -> None:
    """Two crossed factors and a covariate come back with the spreads and the slope that made them."""
    rng = np.random.default_rng(1)
    count = 6000
    one, two, x = rng.integers(0, 40, count), rng.integers(0, 40, count), rng.normal(0, 1, count)
    y = rng.normal(0, 1.0, 40)[one] + rng.normal(0, 0.5, 40)[two] + 0.7 * x + rng.normal(0, 0.8, count)
    design = Design(np.column_stack([np.ones(count), x]), [one, two], [40, 40])
    found = fit(y, np.full(count, 0.04), design, Prior(np.zeros(2), np.full(2, 1e3)), robust=False)
    assert found.between == pytest.approx([1.0, 0.5], rel=0.3)
    assert found.own == pytest.approx(np.sqrt(0.64 - 0.04), rel=0.03)
    assert found.effects[1] == pytest.approx(0.7, abs=0.04)


def test_a_slope_is_drawn_by_its_own_error() -> None:
    """own² / (own² + s²): a sure slope stays, an unsure one goes to its group's, a missing one is the group's."""
    y, code = one_way(3)
    variance = np.where(np.arange(len(y)) % 2, 1e-6, 100.0)
    y[10] = np.nan
    design = Design(np.ones((len(y), 1)), [code], [12])
    found = fit(y, variance, design, FLAT, robust=False)
    drawn, left = posterior(y, variance, design, found)
    mean, spread = found.predict(design)
    assert drawn[11] == pytest.approx(y[11], abs=1e-3)
    assert abs(drawn[12] - mean[12]) < 0.05 * abs(y[12] - mean[12]) + 1e-9
    assert drawn[10] == pytest.approx(mean[10])
    assert left[10] == pytest.approx(found.own**2 + spread[10])


def test_without_data_the_prior_is_left() -> None:
    """No slope at all: the mean is what was expected, its interval at least as wide."""
    design = Design(np.ones((3, 1)), [np.zeros(3, dtype=int)], [1])
    nothing = np.full(3, np.nan)
    found = fit(nothing, nothing, design, Prior(np.array([-0.03]), np.array([0.015]), scale=0.0075))
    drawn, left = posterior(nothing, nothing, design, found)
    assert drawn == pytest.approx([-0.03] * 3)
    assert (np.sqrt(left) > 0.015).all()


def test_one_wild_slope_does_not_widen_the_rest() -> None:
    """A slope 40 deviations off is left out; it is told as apart, and the spread of casks stays as without it."""
    y, code = one_way(5)
    design = Design(np.ones((len(y), 1)), [code], [12])
    variance = np.full(len(y), 0.01)
    clean = fit(y, variance, design, FLAT)
    y[20] += 60.0
    wild = fit(y, variance, design, FLAT)
    assert not wild.used[20] and wild.used.sum() >= len(y) - 3
    assert wild.own == pytest.approx(clean.own, rel=0.1)
    assert apart(y, variance, design, wild)[20] > 20
