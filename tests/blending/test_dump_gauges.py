"""Casks whose content was gauged before they were drawn: each a figure of its own, and casks beside each other."""

from __future__ import annotations

import numpy as np
import pytest

from plugins.blending.reconciling import levels
from plugins.blending.reconciling.account import accounts
from plugins.blending.reconciling.judged import Judged
from tests.blending.sheets import Room, Worked, brief, cask, close, draw, reading

MASSES = (150.0, 162.0, 148.0, 171.0, 155.0, 166.0)
LOST = 0.008


def room(lost: tuple[float, ...] = (LOST,) * len(MASSES), masses: tuple[float, ...] = MASSES) -> Room:
    """Casks of 120 proof weighed at their dump gauge and again as drawn; the vat holds what was drawn less 0.2 %."""
    names = [f"C-{place:04d}" for place in range(len(masses))]
    made = Room(
        blends=[draw(name, drawn_weight=f"{mass} kg", emptied=True) for name, mass in zip(names, masses, strict=True)],
        casks=[cask(name, capacity="250 L") for name in names],
        briefs=[brief()],
        readings=[
            reading(name, 120.0, "2026-03-02", purpose="dump", net_weight=f"{mass / (1.0 - share):.3f} kg")
            for name, mass, share in zip(names, masses, lost, strict=True)
        ],
    )
    vat = sum(masses) * 0.998
    made.readings.append(reading("VAT-1", 120.0, "2026-03-05", net_weight=f"{vat:.1f} kg", purpose="after water"))
    return made


def judged(worked: Worked, made: Room) -> Judged:
    names = ("balances", "components", "briefs", "filter_gauges", "bottlings")
    return Judged(next(accounts(*(worked[name] for name in names), made.site())), 0.02)


def test_every_dump_gauge_stands_beside_its_reconciled_content() -> None:
    """Content less drawn less a loss: of each cask a row, with its draw's day and line."""
    rows = room().work()["reconciled"]
    dumps = rows[rows["side"] == "dump"]
    assert dumps["component"].tolist() == [f"C-{place:04d}" for place in range(6)]
    assert dumps["drawn_at"].notna().all() and (dumps["reconciled_uncertainty"] < dumps["uncertainty"]).all()
    drawn = rows[(rows["side"] == "drawn") & (rows["quantity"] == "mass")]
    lost = dumps["reconciled"].to_numpy() - drawn["reconciled"].to_numpy()
    assert np.allclose(lost / dumps["reconciled"].to_numpy(), LOST, atol=2e-3)
    step = rows[(rows["side"] == "lost") & (rows["component"] == "dump")]["reconciled"].iloc[0]
    assert close(lost.sum(), step, 0.1 * step)


def test_dumps_of_all_casks_are_one_balance_of_the_test() -> None:
    """Six dump gauges add one degree, so that the vat's balances keep their power."""
    made = room()
    worked = made.work()
    one = judged(worked, made)
    assert worked["imbalances"]["degrees"][0] == 3 and worked["imbalances"]["closes"][0]
    assert one.account.each.count == 8 and one.beside.count == 6 and one.missed.size == 9


@pytest.mark.long
def test_a_cask_that_lost_unlike_the_others_is_a_finding() -> None:
    """4 % of one cask is within the 2 % that the house lets pass of the sum; the cask is named all the same."""
    worked = room((LOST, LOST, 0.04, LOST, LOST, LOST)).work()
    assert not worked["imbalances"]["closes"][0] and worked["imbalances"]["house_lets_pass"][0]
    found = worked.only("balance.cask-unlike-the-others")
    assert (found.subject, found.batch, found.severity) == ("C-0002", "B-1", "review")
    assert "4.0 % less" in found.message and "0.8 %" in found.message
    first = worked["figures_to_check"].iloc[0]
    assert first["components"] == "C-0002" and first["quantity"] in ("net_weight", "drawn_weight")


@pytest.mark.long
def test_exchanged_digits_of_a_dump_gauge_are_named_first() -> None:
    """156.25 kg written as 165.25: the reading's row and the right figure."""
    made = room()
    assert made.readings[4]["net_weight"] == "156.250 kg"
    made.readings[4]["net_weight"] = "165.25 kg"
    first = made.work()["figures_to_check"].iloc[0]
    assert (first["components"], first["quantity"]) == ("C-0004", "net_weight")
    assert close(first["as_corrected"], 156.25, 1e-6) and first["z_after"] < 2.3


@pytest.mark.long
def test_casks_alike_are_no_finding() -> None:
    """What all lose in common, even beyond the normal loss, makes no cask unlike the others."""
    for share in (0.0, 0.02, 0.05):
        assert not room((share,) * 6).work().found("balance.cask-unlike-the-others")


@pytest.mark.long
@pytest.mark.parametrize("count", [1, 2])
def test_one_or_two_casks_have_few_or_no_others(count: int) -> None:
    """One cask alone has none beside it; of two, who differs cannot be told, but that they do can."""
    made = room((0.004, 0.05)[2 - count :], MASSES[:count])
    one = judged(made.work(), made)
    assert one.beside.count == count and np.isfinite(one.log_p)
    assert one.unlike == (-1 if count == 1 else one.beside.farthest)
    assert np.isfinite(one.smallest_visible()[one.account.dumps.content]).all()


def test_smallest_visible_of_a_dump_gauge_is_seen_in_half_of_the_cases() -> None:
    """An error of just that size makes the score of its cask as large as the level lets pass."""
    made = room()
    one = judged(made.work(), made)
    size = one.smallest_visible()[one.account.dumps.content]
    score = size * np.sqrt(one.beside.worth)
    assert np.allclose(score, levels.two_sided_score(levels.of_one_test(0.02), 6), rtol=1e-9)


def test_casks_beside_each_other_keep_their_level() -> None:
    """Of 20,000 seeded sets of six casks that lose alike 2 in 100 are said to differ."""
    made = room()
    beside = judged(made.work(), made).beside
    random = np.random.default_rng(8)
    shares = random.normal(size=(20_000, 1)) * 0.01 + random.normal(size=(20_000, 6)) / np.sqrt(beside.weight)
    _, chance = beside.fit(shares * beside.mass)
    assert abs(float((chance < np.log(0.02)).mean()) - 0.02) < 4 * np.sqrt(0.02 * 0.98 / 20_000)


def test_two_tests_keep_the_level_together() -> None:
    """The less likely of two independent chances, taken for two looks, is even between 0 and 1."""
    random = np.random.default_rng(9)
    one, other = np.log(random.random((2, 50_000)))
    both = np.exp(levels.of_the_less_likely(one, other))
    assert abs(float((both < 0.02).mean()) - 0.02) < 4 * np.sqrt(0.02 * 0.98 / 50_000)
    assert levels.of_the_less_likely(-800.0, -3.0) == pytest.approx(-800.0 + np.log(2.0))
    assert np.isfinite(levels.log_chance_of_largest(60.0, 400))
