"""Agreement, discrimination and the additive model against published figures, each at its source's precision."""

from __future__ import annotations

import warnings

import numpy as np
import pandas as pd
import pytest
from scipy.stats import friedmanchisquare

from plugins.tasting.panel.agreement import chi_square_p, correlations, cronbach_alpha, kendall, mean_squares
from plugins.tasting.panel.discrimination import (
    PAIR,
    TRIANGLE,
    distance,
    least_right,
    power,
    share_right,
    tail,
    two_sided,
)
from plugins.tasting.profiles.additive import fit
from tests.published.panel_figures import (
    BEERS,
    CORRELATIONS,
    INTERVALS,
    JURIES,
    MEAN_SQUARE_ERROR,
    PROJECTS,
    SHARES,
    ZONES,
    Example,
    counted,
    discrimination,
    zone_figures,
    zones,
)


@pytest.mark.parametrize("example", CORRELATIONS, ids=lambda example: example.name)
def test_intraclass_correlations(example: Example) -> None:
    """All six forms of Shrout and Fleiss (1979) come out as printed."""
    found = correlations(example.table)
    decimals = 2 if example is CORRELATIONS[0] else 3
    for form, printed in example.seen.items():
        assert found[form].value == pytest.approx(printed, abs=0.5 * 10**-decimals + 1e-9), form


def test_intervals_and_mean_squares() -> None:
    """The intervals of ICC(2,1) and ICC(2,k) and the mean square of error come out as printed."""
    table = CORRELATIONS[0].table
    found = correlations(table)
    for form, (low, high) in INTERVALS.items():
        assert (found[form].low, found[form].high) == pytest.approx((low, high), abs=0.0005)
    assert mean_squares(table).error == pytest.approx(MEAN_SQUARE_ERROR, abs=0.00005)
    assert cronbach_alpha(table) == pytest.approx(found["ICC(3,k)"].value, abs=1e-12)


@pytest.mark.parametrize("example", JURIES, ids=lambda example: example.name)
def test_kendall_of_published_juries(example: Example) -> None:
    """W and its chi-square probability come out as printed to four places; none of the three juries agrees."""
    found = kendall(example.table, example.name)
    assert found.w == pytest.approx(example.seen["W"], abs=0.00005)
    assert chi_square_p(found) == pytest.approx(example.seen["p"], abs=0.00005)
    assert found.p > 0.25 and found.method == "permutation"


def test_kendall_of_projects() -> None:
    """The sum of squares of the 4 × 10 example is the printed one."""
    assert kendall(PROJECTS.table).sum_of_squares == pytest.approx(PROJECTS.seen["S"], abs=1e-9)


def test_friedman_with_ties() -> None:
    """Ten tasters and three beers with ties: above the printed limits, and as scipy's tie-corrected figure."""
    found = kendall(BEERS.table)
    assert found.chi_square > BEERS.seen["limit at 1 %"] > BEERS.seen["limit at 5 %"]
    assert found.chi_square == pytest.approx(friedmanchisquare(*BEERS.table).statistic, abs=1e-9)


def test_discrimination_tables() -> None:
    """Every cell of the published triangle, duo-trio and sign tables is the exact binomial count."""
    rows = discrimination()
    assert len(rows) >= 200 and {row["test"] for row in rows} == {"triangle", "duo-trio", "sign"}
    assert [row for row in rows if counted(row) != row["count"]] == []
    assert least_right(3, TRIANGLE, 0.01) is None


def test_distance_between_samples() -> None:
    """Shares of right answers at d' = 1 are the printed ones, and the way back gives 1."""
    for method, printed in SHARES.items():
        assert share_right(method, 1.0) == pytest.approx(printed, abs=0.0006), method
        assert distance(method, share_right(method, 1.0)) == pytest.approx(1.0, abs=1e-6)
    assert distance("triangle", 0.3) == 0.0


def test_a_published_slip() -> None:
    """Seven of eight: one page prints 0.0732 two-tailed; the binomial gives 0.0703, and we keep to that."""
    assert two_sided(7, 8) == pytest.approx(0.0703125, abs=1e-9)
    assert tail(7, 8, PAIR) == pytest.approx(0.0352, abs=0.00005)
    assert power(5, PAIR, 0.05, 0.8) == pytest.approx(0.328, abs=0.0005)


def test_additive_model_on_zone_diameters() -> None:
    """Crossed random effects of an open data set come out as a mixed-model library prints them."""
    for name, value in zone_figures().items():
        assert value == pytest.approx(ZONES[name], rel=2e-4), name


def test_additive_model_against_statsmodels() -> None:
    """Level, variances and predicted plates agree with statsmodels' crossed effects, with a fifth of cells missing."""
    import statsmodels.formula.api as formulas

    values = zones()
    values[np.random.default_rng(3).random(values.shape) < 0.2] = np.nan
    plate, sample = np.nonzero(~np.isnan(values))
    rows = pd.DataFrame({"y": values[plate, sample], "plate": plate, "sample": sample, "all": 1})
    parts = {"plate": "0 + C(plate)", "sample": "0 + C(sample)"}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the optimiser's remarks on its way
        theirs = formulas.mixedlm("y ~ 1", rows, groups="all", vc_formula=parts).fit(reml=True)
    ours = fit(values[None], within=1e-6)
    assert ours.level[0] == pytest.approx(theirs.fe_params.iloc[0], abs=2e-3)
    assert (ours.sample_variance[0], ours.taster_variance[0]) == pytest.approx(tuple(theirs.vcomp), rel=0.02)
    assert ours.error_variance[0] == pytest.approx(theirs.scale, rel=0.02)
    plates = theirs.random_effects[1].filter(like="plate").to_numpy() + theirs.fe_params.iloc[0]
    assert np.abs(ours.sample_means[0] - plates).max() < 0.01
