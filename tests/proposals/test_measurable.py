"""Part draws that can be measured keep every demand, and are worth what is said of them."""

from __future__ import annotations

import numpy as np
import pytest

from plugins.proposals.choosing.measurable import measurable
from plugins.proposals.choosing.plans import Clock, best, propose
from plugins.proposals.choosing.problem import allowed, worth
from tests.proposals.kit import case, problem

STEP = 0.5
LITRES = np.linspace(90.0, 210.0, 9)


def test_rounded_draws_keep_every_demand() -> None:
    """Rounded to half a litre; where plain rounding breaks a demand, draws near it do not."""
    checked = 0
    for seed in range(12):
        asked = problem(seed, whole=False, low=0.998, high=1.002)
        found = best(asked, 60, Clock(20.0))
        made = measurable(asked, found.draws, LITRES, STEP) if found is not None else None
        if found is None or made is None:
            continue
        checked += 1
        part = (made > 1e-9) & (made < 1.0 - 1e-6)
        steps = (made * LITRES / STEP)[part]
        assert allowed(asked, made) and worth(asked, made) >= found.bound - 1e-9
        assert np.abs(steps - np.round(steps)).max(initial=0.0) < 1e-6
        assert (np.abs(made - found.draws) * LITRES)[part].max(initial=0.0) <= 3 * STEP + 1e-9
    assert checked >= 8


def test_what_cannot_be_measured_is_left_out() -> None:
    """A volume to within a millilitre and a step of ten litres: nothing that can be poured."""
    asked = problem(3, whole=False, low=0.99999, high=1.00001)
    found = best(asked, 60, Clock(20.0))
    assert found is not None and measurable(asked, found.draws, LITRES, 10.0) is None


@pytest.mark.long
@pytest.mark.parametrize("seed", range(6))
def test_every_proposal_is_measurable_and_its_gap_is_its_own(seed: int) -> None:
    asked = case(seed, n=14, whole=False)
    plans, _ = propose(asked)
    litres = asked.stock["volume_20C_L"].to_numpy("float64")[asked.keep]
    for plan in plans:
        assert allowed(plan.problem, plan.draws)
        assert plan.worth == pytest.approx(worth(plan.problem, plan.draws), abs=1e-12) and plan.gap >= 0.0
        part = (plan.draws > 1e-9) & (plan.draws < 1.0 - 1e-6)
        steps = (plan.draws * litres / asked.settings["measure_L"])[part]
        assert np.abs(steps - np.round(steps)).max(initial=0.0) < 1e-6
