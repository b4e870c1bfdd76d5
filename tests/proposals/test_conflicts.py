"""The smallest set of demands that conflict, against every set, and what is said to release it."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from plugins import proof
from plugins.proposals.choosing.case import Case, Demand
from plugins.proposals.choosing.conflicts import conflicts, feasible, release, smallest_conflicts
from plugins.proposals.choosing.problem import Prices
from tests.proposals.kit import brute, case
from tests.sets import fifth


def by_brute_force(made: Case, demanded: list[str]) -> bool:
    """Whether any subset of casks keeps the demands, without a solver for whole casks."""
    problem = replace(made.problem(demanded), prices=Prices(0.0, 0.0, 0.0, 0.0))
    if not problem.size:
        return False
    if problem.max_casks > 6:
        problem = replace(problem, max_casks=problem.size)
    return bool(np.isfinite(brute(problem)))


def hard(seed: int, **given: object) -> Case:
    """A case of eight casks in which claims leave few and some are to be kept."""
    random = np.random.default_rng(seed)
    made = case(seed, n=8, **given)  # type: ignore[arg-type]
    made.demands = [
        *made.demands,
        Demand("straight (US)", "some answer", "another claim"),
        Demand("keep for later", "C-00, C-01", ""),
    ]
    made.barred = {"straight (US)": random.random(8) < 0.5, "keep for later": np.arange(8) < 2}
    return made


@pytest.mark.long
@pytest.mark.parametrize("seed", fifth(range(8)))
def test_the_smallest_conflict_is_the_smallest(seed: int) -> None:
    """All conflicting sets of the least size, and no others, as trying every subset of casks finds them."""
    made = hard(seed, litres=[900.0, 1400.0, 2500.0][seed % 3])
    made.max_casks = 3 + seed % 3
    found = smallest_conflicts(made)
    wanted: list[list[str]] = []
    for size in range(1, len(made.names) + 1):
        wanted = [list(some) for some in combinations(made.names, size) if not by_brute_force(made, list(some))]
        if wanted:
            break
    assert found == wanted


def test_a_brief_that_can_be_kept_has_no_conflict() -> None:
    """Nothing is said to conflict where something can be poured."""
    made = case(2, litres=700.0)
    assert feasible(made, made.names) and smallest_conflicts(made) == [] and conflicts(made) == []


def test_too_much_volume_is_told_with_the_most_that_is_possible() -> None:
    """Volume alone conflicts; the volume named as its release is possible, a little more is not."""
    made = case(1, n=6, whole=False, litres=5000.0)
    made.demands = [demand for demand in made.demands if demand.name != "most casks"]
    assert smallest_conflicts(made) == [["volume"]]
    litres = float(re.search(r"at most (\d+) L", release(made, "volume"))[1])  # type: ignore[index]
    for given, possible in ((litres - 1.0, True), (litres + 2.0, False)):
        scaled = replace(made, volume_L=given, ethanol_kg=made.ethanol_kg * given / made.volume_L)
        assert feasible(scaled, scaled.names) is possible


def test_too_high_a_strength_is_told_with_the_highest() -> None:
    """No cask is at 70 % vol; what is named is reached and a proof more is not."""
    made = case(1, n=6, whole=False, litres=300.0)
    strong = replace(made, mass_fraction=0.62, ethanol_kg=made.ethanol_kg * 0.62 / made.mass_fraction)
    rows = conflicts(strong)
    assert [row["demand"] for row in rows] == ["strength"]
    said = float(re.search(r"at most (1[12]\d\.\d) proof", rows[0]["release"])[1])  # type: ignore[index]
    for proof_wanted, possible in ((said, True), (said + 0.2, False)):
        fraction = float(proof.mass_fraction_from_proof(proof_wanted))
        trial = replace(made, mass_fraction=fraction, ethanol_kg=made.ethanol_kg * fraction / made.mass_fraction)
        assert feasible(trial, trial.names) is possible


def test_few_casks_are_told_with_the_number_needed() -> None:
    """Most casks conflicts with volume; the number named is needed and enough."""
    made = case(4, litres=1400.0)
    made.max_casks = 2
    said = release(made, "most casks")
    count = int(re.search(r"at least (\d+) casks", said)[1])  # type: ignore[index]
    made.max_casks = count
    assert feasible(made, made.names)
    made.max_casks = count - 1
    assert not feasible(made, made.names)


def test_kept_casks_are_named() -> None:
    """Where kept casks are the trouble, those that would have to be released are named, and releasing them does."""
    made = case(1, n=6, litres=900.0)
    made.demands = [*made.demands, Demand("keep for later", "most", "")]
    made.barred = {"keep for later": np.arange(6) < 5}
    made.settings["volume_tolerance_percent"] = 20.0
    said = release(made, "keep for later")
    assert said.startswith("release of C-")
    names = said.removeprefix("release of ").split(", ")
    kept = made.barred["keep for later"] & ~made.stock["cask"].isin(names).to_numpy()
    assert feasible(replace(made, barred={"keep for later": kept}), made.names)


def test_a_bound_of_law_conflicts_with_the_strength() -> None:
    """A bottling strength that a claim forbids is a conflict of those two, whatever the stock."""
    made = case(1, litres=700.0)
    made.demands = [*made.demands, Demand("minimum strength (EU)", "EU wants 40", "another market")]
    made.unlawful = {"minimum strength (EU)": "EU wants 40 % vol at 20 °C"}
    assert smallest_conflicts(made) == [["strength", "minimum strength (EU)"]]
    assert "another market" in release(made, "minimum strength (EU)")
