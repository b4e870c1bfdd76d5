"""Worked examples of the open literature, tables, and another solver on the same networks.

The measured and reconciled figures of the heat exchanger with a bypass are from memory of a textbook on data
reconciliation and gross errors (about 2000), which could not be read again here: they are marked so. They are
what least squares gives, worked by hand below, so that a slip of memory would show.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import minimize

from plugins.blending.reconciling import levels
from plugins.blending.reconciling.chance import misfits_of
from plugins.blending.reconciling.network import Network
from plugins.blending.reconciling.solver import MANY, Array, Balances, Figures, reconcile
from tests.reconcile.cellar import make
from tests.reconcile.simulate import judged_of, room_of

# Six flows round a splitter, an exchanger, a valve and a mixer; all known to 1. (from memory)
MEASURED = (101.91, 64.45, 34.65, 64.20, 36.44, 98.88)
RECONCILED = (100.22, 64.50, 35.72, 64.50, 35.72, 100.22)
BIASED = (101.91, 68.45, 34.65, 64.20, 36.44, 98.88)
GLOBAL_TEST, LARGEST_TEST = 16.674, 3.2047


def exchanger(flows: tuple[float, ...]) -> tuple[Figures, Balances]:
    net = Network()
    one, two, three, four, five, six = (net.figure(flow, 1.0) for flow in flows)
    net.balance((1.0, one), (-1.0, two), (-1.0, three))
    net.balance((1.0, two), (-1.0, four))
    net.balance((1.0, three), (-1.0, five))
    net.balance((1.0, four), (1.0, five), (-1.0, six))
    return net.figures(), net.balances()


def test_the_bypass_example_is_reconciled() -> None:
    """Published (from memory) to two decimals: 100.22, 64.50, 35.72 twice each."""
    made = reconcile(*exchanger(MEASURED))
    assert np.allclose(made.value, RECONCILED, rtol=0, atol=0.005)


def test_the_bypass_example_by_hand() -> None:
    """Two free flows a and b: 4a + 2b = 329.44 and 2a + 4b = 271.88, from the normal equations on paper."""
    a, b = np.linalg.solve([[4.0, 2.0], [2.0, 4.0]], [329.44, 271.88])
    made = reconcile(*exchanger(MEASURED)).value
    assert np.allclose(made, [a + b, a, b, a, b, a + b], rtol=0, atol=1e-9)


def test_the_global_test_of_the_biased_example() -> None:
    """Flow 2 measured 4 too high: chi-square 16.674 of four (from memory), above the 9.488 of tables at 5 %."""
    figures, balances = exchanger(BIASED)
    made = reconcile(figures, balances)
    assert made.squares == pytest.approx(GLOBAL_TEST, abs=5e-4)
    scores = misfits_of(figures, balances, figures.value).scores(balances.misfit(figures.value)[None, :])
    assert float(np.square(scores).sum()) == pytest.approx(made.squares, rel=1e-9)
    assert made.squares > levels.critical_squares(0.05, 4)


def test_the_measurement_test_of_the_biased_example() -> None:
    """Of all flows the biased one has the largest test, 3.2047 (from memory); without bias none passes the level."""
    figures, balances = exchanger(BIASED)
    scores = measurement_tests(figures, balances)
    assert int(np.argmax(np.abs(scores))) == 1
    assert abs(scores[1]) == pytest.approx(LARGEST_TEST, abs=5e-4)
    assert abs(scores[1]) > levels.critical_score(0.05, 6, 4)
    assert np.abs(measurement_tests(*exchanger(MEASURED))).max() < levels.critical_score(0.05, 6, 4)


def measurement_tests(figures: Figures, balances: Balances) -> Array:
    chance, slopes = misfits_of(figures, balances, figures.value), balances.slopes(figures.value)
    force = slopes.T @ chance.weight @ balances.misfit(figures.value)
    return np.asarray(force / np.sqrt(np.einsum("bf,bc,cf->f", slopes, chance.weight, slopes)))


@pytest.mark.parametrize(
    ("level", "degrees", "value"),
    [(0.05, 1, 3.841), (0.05, 2, 5.991), (0.01, 2, 9.210), (0.05, 4, 9.488), (0.01, 10, 23.209), (0.02, 2, 7.824)],
)
def test_critical_chi_squares_are_those_of_tables(level: float, degrees: int, value: float) -> None:
    """Percentage points of chi-square as every statistical table prints them (from memory)."""
    assert levels.critical_squares(level, degrees) == pytest.approx(value, abs=5e-4)
    assert np.exp(levels.log_chance(value, degrees)) == pytest.approx(level, rel=2e-3)


@pytest.mark.parametrize(("level", "value"), [(0.05, 1.960), (0.01, 2.576), (0.02, 2.326), (0.001, 3.291)])
def test_scores_are_those_of_normal_tables(level: float, value: float) -> None:
    """Two-sided points of the normal distribution as tables print them (from memory)."""
    assert float(levels.as_score(np.log(level))) == pytest.approx(value, abs=5e-4)
    assert levels.critical_score(level, 1, 1) == pytest.approx(value, abs=5e-4)


def test_theory_of_detection_is_the_issues() -> None:
    """Two balances at 1 in 50 find 0.91 of errors of 4 standard uncertainties, 0.95 of 4.3; half of the least."""
    assert float(levels.power(4.0, 0.02, 2)) == pytest.approx(0.91, abs=0.005)
    assert float(levels.power(4.3, 0.02, 2)) == pytest.approx(0.95, abs=0.005)
    assert float(levels.power(levels.seen_in_half(0.02, 2), 0.02, 2)) == pytest.approx(0.5, abs=1e-9)


def by_another_solver(figures: Figures, balances: Balances) -> Array:
    """The same problem by a general-purpose sequential quadratic programme, covariance written out in full."""
    covariance = np.diag(figures.own**2) + figures.shared @ figures.shared.T
    free = np.flatnonzero(np.diag(covariance) > 0.0)  # the strength of water is exact
    scale = np.sqrt(np.diag(covariance)[free])
    weight = np.linalg.inv(covariance[np.ix_(free, free)] / np.outer(scale, scale))
    low = [
        (-figures.value[place] / unit if place in figures.losses else None, None)
        for place, unit in zip(free, scale, strict=True)
    ]
    size = np.abs(balances.slopes(figures.value)[:, free] * scale).sum(axis=1)

    def moved(step: Array) -> Array:
        value = figures.value.copy()
        value[free] += step * scale
        return value

    closes = {
        "type": "eq",
        "fun": lambda step: balances.misfit(moved(step)) / size,
        "jac": lambda step: balances.slopes(moved(step))[:, free] * scale / size[:, None],
    }
    found = minimize(
        lambda step: step @ weight @ step, np.full(scale.size, 1e-3), jac=lambda step: 2 * weight @ step,
        constraints=closes, bounds=low, method="SLSQP", options={"ftol": 1e-12, "maxiter": 500},
    )  # fmt: skip
    assert found.success, found.message
    return moved(found.x)


def vat(seed: int, gain: float) -> tuple[Figures, Balances]:
    """Six draws with strengths that share a hydrometer, and a vat with a loss: bilinear, as a batch's network is."""
    random = np.random.default_rng(seed)
    net = Network()
    draws = []
    for _ in range(6):
        mass, strength = net.figure(random.uniform(90, 160), 0.4), net.figure(random.uniform(0.48, 0.6), 0.001)
        net.share(strength, "hydrometer", 0.0008)
        net.share(mass, "scale", 0.2)
        draws.append((mass, strength))
    total = sum(net.value[m] for m, _ in draws)
    pure = sum(net.value[m] * net.value[w] for m, w in draws)
    content, thin = net.figure(total * (1 + gain), 1.5), net.figure(pure / total + random.normal() * 0.002, 0.0012)
    net.share(thin, "hydrometer", 0.0008)
    lost = net.loss(0.005 * total)
    net.balance(*((1.0, m) for m, _ in draws), (-1.0, lost), (-1.0, content))
    net.balance(*((1.0, m, w) for m, w in draws), (-1.0, lost, thin), (-1.0, content, thin))
    return net.figures(), net.balances()


@pytest.mark.parametrize("gain", [-0.02, -0.004, 0.0, 0.01])
@pytest.mark.parametrize("seed", range(3))
def test_another_solver_finds_the_same_figures(seed: int, gain: float) -> None:
    """Masses to a gram or a millionth, strengths to a millionth; a loss is at nought where there was a gain."""
    figures, balances = vat(seed, gain)
    made, other = reconcile(figures, balances), by_another_solver(figures, balances)
    assert np.abs(balances.misfit(made.value)).max() < 1e-9
    assert np.allclose(made.value, other, rtol=2e-6, atol=1e-3)
    assert made.value[figures.losses[0]] >= 0.0
    assert (made.value[figures.losses[0]] == 0.0) == (gain >= 0.01) or gain == 0.0


@pytest.mark.long
@pytest.mark.parametrize("seed", range(4))
def test_another_solver_finds_the_figures_of_a_whole_batch(seed: int) -> None:
    """Dump gauges, vat, filter and bottles of a batch from the simulator: masses to 2 g or 2 millionths."""
    random = np.random.default_rng(seed)
    while True:
        batch = make(f"S{seed}", random)
        kinds = {"emptied" in batch.blends[0], bool(batch.bottlings)}
        if kinds == {True} and len(batch.blends) < 12:
            break
    room = room_of([batch])
    account = judged_of(room.work(until="balances"), room)[batch.name].account
    assert account.each.count > account.balances.count >= 4
    made, other = reconcile(account.figures, account.each), by_another_solver(account.figures, account.each)
    assert np.abs(account.each.misfit(made.value)).max() < 1e-8
    assert np.allclose(made.value, other, rtol=2e-6, atol=2e-3)


def test_sums_of_few_figures_are_the_same_sparse() -> None:
    """60 casks with dump gauges: the covariance of balances is that of the full product, to rounding."""
    random = np.random.default_rng(2)
    slopes = np.where(random.random((60, 200)) < 0.05, random.normal(size=(60, 200)), 0.0)
    figures = Figures(np.ones(200), random.random(200), random.normal(size=(200, 3)), np.empty(0, dtype=np.intp))
    assert slopes.shape[0] >= MANY
    full = slopes @ figures.covariance_with(slopes)
    assert np.allclose(figures.variance_of(slopes, figures.own), full, rtol=1e-12, atol=1e-12)


@pytest.mark.long
def test_uncertainties_are_those_of_repeated_measuring() -> None:
    """Reconciled figures of 4,000 measured networks scatter by their stated uncertainty, within 5 %."""
    random = np.random.default_rng(5)
    truth = np.array(RECONCILED)
    figures, balances = exchanger(tuple(truth))
    found = np.array([reconcile(*exchanger(tuple(truth + random.normal(size=6)))).value for _ in range(4000)])
    assert np.allclose(found.std(axis=0), reconcile(figures, balances).uncertainty, rtol=0.05)
