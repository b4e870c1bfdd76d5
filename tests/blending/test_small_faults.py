"""What no other test of blending told apart when one operator or number was changed (``python -m tests.mutations``)."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from plugins.blending.common.amounts import fraction_variance, volume_spread
from plugins.blending.reconciling import levels
from plugins.blending.slips.digits import transposed, written
from plugins.proof import T_60F, density

GALLON = 3.785411784  # L


def drawn(count: int = 400_000) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Masses and masses of ethanol that err together, about 100 kg and 50 kg, and their covariance. Seeded."""
    spread = np.array([[0.04, 0.018], [0.018, 0.01]])
    made = np.random.default_rng(5).multivariate_normal([100.0, 50.0], spread, count)
    return made[:, 0], made[:, 1], spread


def test_the_variance_of_a_share_counts_the_covariance_twice() -> None:
    """Against 400,000 drawn pairs."""
    mass, ethanol, spread = drawn()
    made = fraction_variance(100.0, 0.5, spread[0, 0], spread[1, 1], spread[0, 1])
    assert made == pytest.approx(np.var(ethanol / mass), rel=0.02)


def test_the_spread_of_a_volume_counts_the_covariance_twice() -> None:
    """Against the volumes of 400,000 drawn pairs."""
    mass, ethanol, spread = drawn()
    volumes = mass / density(ethanol / mass, T_60F) * 1000.0 / GALLON
    table = pd.DataFrame(
        {"mass_kg": [100.0], "var_mass": spread[0, 0], "var_ethanol": spread[1, 1], "covariance": spread[0, 1]}
    )
    made = volume_spread(pd.Series([volumes.mean()]), np.array([0.5]), table)
    assert made[0] == pytest.approx(volumes.std(), rel=0.02)


@pytest.mark.parametrize("level", [0.05, 0.01, 1e-6])
def test_two_tests_at_the_level_of_one_have_the_level_together(level: float) -> None:
    """Neither passes by chance in (1 − one)² of cases, and one is a little more than half of both."""
    one = levels.of_one_test(level)
    assert 1.0 - (1.0 - one) ** 2 == pytest.approx(level, rel=1e-6)
    assert level / 2.0 < one < 0.52 * level


@pytest.mark.parametrize("log_p", [-0.1, -2.0, -20.0])
def test_the_less_likely_of_two_is_likelier_than_one(log_p: float) -> None:
    """1 − (1 − p)² of the lesser, whichever it is; far out twice as likely as one."""
    expected = np.log(1.0 - (1.0 - np.exp(log_p)) ** 2)
    assert levels.of_the_less_likely(log_p, 0.0) == pytest.approx(expected, rel=1e-6)
    assert levels.of_the_less_likely(0.0, log_p) == pytest.approx(expected, rel=1e-6)
    assert levels.of_the_less_likely(-31.0, -1.0) == pytest.approx(-31.0 + np.log(2.0))


@pytest.mark.parametrize(
    ("value", "figures"),
    [
        (0.58, [5.08, 0.85]),
        (0.058, [0.508, 0.085]),
        (0.5, [5.0]),
        (0.125, [1.025, 0.215, 0.152]),
        (0.0012, [0.0102, 0.0021]),
        (1.25, [2.15, 1.52]),
        (-0.58, [-5.08, -0.85]),
    ],
)
def test_digits_below_one_are_exchanged(value: float, figures: list[float]) -> None:
    """The point stays put; the zero before it is a digit like any other, and equal digits give nothing."""
    assert transposed(value) == figures


def test_a_figure_below_one_is_written_with_its_zero() -> None:
    assert [written(value) for value in (0.58, 0.058, 1e-7, 0.1 + 0.2)] == ["0.58", "0.058", "0.0000001", "0.3"]
