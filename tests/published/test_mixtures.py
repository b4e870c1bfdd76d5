"""Mixtures against published and worked values: Cornell's yarn, Cox directions, leaving a component out."""

from __future__ import annotations

import numpy as np
import pytest

from plugins.bench.answers.remedy import left_out, shares_after, slope
from plugins.proposals.taste import posterior
from plugins.proposals.taste.moves import Change, cox, moved
from plugins.proposals.taste.posterior import Glasses, at_exponent
from plugins.proposals.taste.taste import mixed

# J. A. Cornell's yarn data, as printed in three teaching sources: elongation of pure and half-and-half yarns
YARN = {
    (1.0, 0.0, 0.0): (11.0, 12.4), (0.0, 1.0, 0.0): (8.8, 10.0), (0.0, 0.0, 1.0): (16.8, 16.0),
    (0.5, 0.5, 0.0): (15.0, 14.8, 16.1), (0.5, 0.0, 0.5): (17.7, 16.4, 16.6), (0.0, 0.5, 0.5): (10.0, 9.7, 11.8),
}  # fmt: skip
PURE = (11.7, 9.4, 16.4)
PAIRS = {(0, 1): 19.0, (0, 2): 11.4, (1, 2): -9.6}
HALF = 0.5  # intensities here end at 10; yarn does not, so it is halved, and so are its coefficients
# worked three-component example (rows LOO of the project's list of checks): own formulae, computed
TASTES = np.array([[6.0, 1.0, 4.0], [1.0, 5.0, 3.0], [2.0, 2.0, 7.0]])
SHARES = np.array([0.5, 0.3, 0.2])
BLEND = (3.7, 2.4, 4.3)
REMOVED = [(-2.3, 1.4, 0.3), (1.1571, -1.1143, 0.5571), (0.425, 0.1, -0.675)]
SLOPES = [(0.046, -0.028, -0.006), (-0.03857, 0.03714, -0.01857), (-0.02125, -0.005, 0.03375)]


@pytest.fixture
def yarn(monkeypatch: pytest.MonkeyPatch) -> posterior.Posterior:
    """The taste model on yarn, with nothing held back: a straight law, pure yarns known, free pair terms."""
    monkeypatch.setattr(posterior, "BEND", 1e4)
    rows = [(share, HALF * value) for share, values in YARN.items() for value in values]
    shares = np.array([share for share, _ in rows])
    glasses = Glasses(
        shares, HALF * np.array(PURE), np.full(3, 1e-6), np.array([value for _, value in rows]), np.full(len(rows), 0.4)
    )
    return at_exponent(glasses, 1.0, 0.0)


def test_pure_yarns_are_their_means() -> None:
    """The linear coefficients of Scheffé's quadratic model are the means of the pure yarns: 11.7, 9.4, 16.4."""
    assert [np.mean(values) for values in list(YARN.values())[:3]] == pytest.approx(PURE)


@pytest.mark.parametrize(("pair", "coefficient"), PAIRS.items())
def test_pair_terms_are_scheffes(yarn: posterior.Posterior, pair: tuple[int, int], coefficient: float) -> None:
    """The pair coefficients are those of Cornell's fit: 19.0, 11.4, -9.6."""
    assert yarn.pair(*pair)[0] == pytest.approx(HALF * coefficient, abs=1e-5)


def test_predictions_of_yarn(yarn: posterior.Posterior) -> None:
    """The centroid is predicted as 14.8111, the greatest elongation 17.3844 at (0.2939, 0, 0.7061)."""
    points = np.array([[1 / 3, 1 / 3, 1 / 3], [0.2939, 0.0, 0.7061], [0.0, 0.8646, 0.1354]])
    assert yarn.predict(points)[0] / HALF == pytest.approx([14.8111, 17.3844, 9.2240], abs=2e-4)


def test_a_cox_step_of_yarn(yarn: posterior.Posterior) -> None:
    """From (0.5, 0.3, 0.2), 0.1 more of the first: (0.6, 0.24, 0.16), 15.3640 to 15.3618 (formula from memory)."""
    step = cox(SHARES, 0, 0.1)
    assert step == pytest.approx([0.6, 0.24, 0.16])
    assert yarn.predict(np.vstack([SHARES, step]))[0] / HALF == pytest.approx([15.3640, 15.3618], abs=1e-4)
    change, _, base = moved(yarn, SHARES, [Change("a", 0.1, step)])
    assert change[0] / HALF == pytest.approx(15.3618 - 15.3640, abs=1e-4)
    assert shares_after(dict(zip("abc", SHARES, strict=True)), "a", 10.0) == pytest.approx(
        {"a": 0.6, "b": 0.24, "c": 0.16}
    )


@pytest.mark.parametrize("at", range(3))
def test_leaving_a_component_out(at: int) -> None:
    """The worked example: what each component's removal and each hundredth of it change, by the plain mean."""
    blend = SHARES @ TASTES
    assert blend == pytest.approx(BLEND)
    for family in range(3):
        found = left_out(SHARES[at], TASTES[at, family], blend[family])
        assert found == pytest.approx(REMOVED[at][family], abs=5e-5)
        assert slope(SHARES[at], TASTES[at, family], blend[family]) == pytest.approx(SLOPES[at][family], abs=6e-6)
        # the same by pouring it: the others in their ratio, tasted as a straight law has it
        without = cox(SHARES, at, -SHARES[at])
        assert mixed(without, TASTES, 1.0)[family] - blend[family] == pytest.approx(found)


def test_steps_off_the_simplex_are_refused() -> None:
    """A component cannot fall below nought or rise beyond the whole, and alone it has no others."""
    for shares, at, step in ((SHARES, 0, -0.6), (SHARES, 0, 0.6), (np.array([1.0, 0.0]), 0, 0.0)):
        with pytest.raises(ValueError, match="cannot move|no others"):
            cox(shares, at, step)
