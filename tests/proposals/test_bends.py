"""Pairs of casks that bend away from the law: in the prediction, in the search, and below the bound."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest

from plugins.proposals.choosing.plans import Clock, best
from plugins.proposals.choosing.problem import Problem, allowed, bends, deviation, intensities, loosened, worth
from plugins.proposals.choosing.solver import solve
from tests.proposals.kit import brute, problem
from tests.proposals.sheets import TASTES as KNOWN
from tests.proposals.sheets import Cellar, brief, tastings
from tests.sets import fifth


def bent(seed: int, points: float = 4.0, **given: object) -> Problem:
    """A small problem in which three pairs bend, up or down, in two of its families."""
    random = np.random.default_rng(seed + 50)
    made = problem(seed, **given)  # type: ignore[arg-type]
    pairs = np.array([[0, 1], [1, 2], [3, 4]])
    return replace(made, pairs=pairs, bend=np.column_stack([random.uniform(-points, points, (3, 2)), np.zeros(3)]))


def test_without_terms_nothing_changes() -> None:
    """Terms of nought give the law's own deviation, to the digits of the arithmetic."""
    for seed in range(6):
        made = problem(seed)
        with_terms = replace(made, pairs=np.array([[0, 1]]), bend=np.zeros((1, 3)))
        draws = (np.random.default_rng(seed).random(made.size) < 0.5).astype(float)
        assert deviation(with_terms, draws) == pytest.approx(deviation(made, draws), abs=1e-9)


def test_a_pair_adds_coefficient_times_shares() -> None:
    """Half and half of two casks is moved by a quarter of the coefficient; a cask alone by nothing."""
    made = bent(1)
    draws = np.zeros(made.size)
    draws[:2] = 1.0 / made.alcohol[:2]
    assert bends(made, draws[None, :])[0] == pytest.approx(0.25 * made.bend[0])
    draws[1] = 0.0
    assert bends(made, draws[None, :])[0] == pytest.approx(np.zeros(3))


@pytest.mark.parametrize("seed", fifth(range(8)))
def test_the_bound_lies_below_every_choice(seed: int) -> None:
    """The loosened problem, relaxed, is worth no more than the best of all subsets with the terms."""
    made = bent(seed)
    least = brute(made)
    relaxed = solve(loosened(made), 1, relax=True)
    assert relaxed.bound <= least + 1e-9
    for some in combinations(range(made.size), 3):
        draws = np.zeros(made.size)
        draws[list(some)] = 1.0
        assert worth(loosened(made), draws) <= worth(made, draws) + 1e-9


@pytest.mark.long
@pytest.mark.parametrize("seed", fifth(range(8)))
@pytest.mark.parametrize("whole", [True, False])
def test_the_search_counts_them(seed: int, whole: bool) -> None:
    """With terms the choice is allowed, no worse than what the law alone would choose, and not below its bound."""
    made = bent(seed, whole=whole)
    plan, blind = best(made, 500, Clock(60.0)), best(made.law, 500, Clock(60.0))
    assert (plan is None) == (blind is None)
    if plan is not None and blind is not None:
        assert allowed(made, plan.draws) and not plan.proved
        assert plan.worth <= worth(made, blind.draws) + 1e-9
        assert plan.bound <= plan.worth + 1e-12
        if whole:
            assert plan.bound <= brute(made) + 1e-9


def test_whole_casks_with_terms_are_mostly_the_best() -> None:
    """Against trying every subset, the polished choice is the best in most small stocks and never better."""
    equal, count = 0, 0
    for seed in range(12):
        made = bent(seed)
        plan, least = best(made, 500, Clock(60.0)), brute(made)
        if plan is not None and np.isfinite(least):
            count += 1
            equal += plan.worth < least + 1e-6
            assert plan.worth >= least - 1e-9
    assert count >= 8 and equal >= 0.7 * count


def test_intensities_stay_the_laws() -> None:
    """What the law alone says is not touched by terms."""
    made = bent(2)
    draws = np.ones(made.size)
    assert intensities(made, made.x_over, draws) == pytest.approx(intensities(made.law, made.x_over, draws))


def trials(count: int, add: float) -> tuple[bytes, dict[str, tuple[float, ...]]]:
    """Trials of C-01 and C-03 that taste of more smoke than the law has it, and their tasting."""
    lines, tasted = ["trial,component,ml,strength,made_at"], {}
    for at in range(count):
        share = 0.15 + 0.7 * at / (count - 1)
        ml = (
            f"T-{at},C-01,{100 * share:.1f},24 %vol,2026-03-01",
            f"T-{at},C-03,{100 - 100 * share:.1f},24 %vol,2026-03-01",
        )
        lines.extend(ml)
        parts = np.array([KNOWN["C-01"], KNOWN["C-03"]])
        law = (share * parts[0] ** 2 + (1 - share) * parts[1] ** 2) ** 0.5
        tasted[f"T-{at}"] = (float(law[0] + add * share * (1 - share)), float(law[1]), float(law[2]))
    return ("\n".join(lines) + "\n").encode(), tasted


@pytest.mark.long
def test_trials_enter_the_prediction_with_their_error(tmp_path: Path) -> None:
    """Twelve trials of a pair that bends: the family has evidence, its number the error beside it on the page."""
    sheet, tasted = trials(12, 3.0)
    cellar = Cellar(tmp_path)
    result = cellar.stocked(brief=brief(), trials=sheet, glasses=tastings(tasted))
    terms = result.worked.frames["taste_terms"]
    points = float(terms.loc[terms["family"] == "smoke_peat", "coefficient"].iloc[0])
    assert points > 0.5
    document = json.loads((cellar.out / "proposals" / "B-1" / "proposals.json").read_bytes())
    exponents = {row["family"]: row for row in document["law"]}
    assert exponents["smoke_peat"]["error_left_out"] < exponents["smoke_peat"]["naive_error"]
    page = (cellar.out / "proposals" / "B-1" / "proposals.html").read_text("utf-8")
    for item in document["proposals"]:
        row = item["profile"]["smoke_peat"]
        share = {part["component"]: part["share"] for part in item["components"]}
        assert row["evidence"] and row["error_left_out"] == exponents["smoke_peat"]["error_left_out"]
        assert row["pairs_add"] == pytest.approx(points * share.get("C-01", 0.0) * share.get("C-03", 0.0), abs=1e-6)
        assert f"{row['mean']:.1f} ±{row['error_left_out']:.1f}" in page


@pytest.mark.long
def test_without_evidence_a_trial_is_proposed_instead_of_a_number(tmp_path: Path) -> None:
    """No trials: the page shows no predicted number, says untried, and names the glass to make for each proposal."""
    cellar = Cellar(tmp_path)
    cellar.stocked(brief=brief())
    document = json.loads((cellar.out / "proposals" / "B-1" / "proposals.json").read_bytes())
    page = (cellar.out / "proposals" / "B-1" / "proposals.html").read_text("utf-8")
    assert page.count("<span>untried</span>") == 3 * len(document["proposals"]) and not re.search(r"\d ±\d", page)
    for item in document["proposals"]:
        assert item["unsure"] == list(item["profile"]) and f"Make glass T-{item['id']}: " in page
        total = sum(part["volume_20C_L"] for part in item["components"])
        part = item["components"][0]
        assert f"{part['component']} {100 * part['volume_20C_L'] / total:.1f} ml" in page


@pytest.mark.long
def test_trials_no_better_than_the_plain_guess_are_no_evidence(tmp_path: Path) -> None:
    """Trials tasted as their larger component, with the law far off, leave the family untried."""
    sheet, tasted = trials(6, 0.0)
    shown = {}
    for at, name in enumerate(tasted):
        share = 0.15 + 0.7 * at / 5
        shown[name] = KNOWN["C-01"] if share > 0.5 else KNOWN["C-03"]
    cellar = Cellar(tmp_path)
    cellar.stocked(brief=brief(), trials=sheet, glasses=tastings(shown))
    document = json.loads((cellar.out / "proposals" / "B-1" / "proposals.json").read_bytes())
    law = {row["family"]: row for row in document["law"]}["smoke_peat"]
    assert law["trials"] == 6 and law["error_left_out"] >= law["naive_error"]
    assert "smoke_peat" in document["proposals"][0]["unsure"]
