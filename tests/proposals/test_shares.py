"""Shares that claims ask for are kept by the search: those of label rules, and those that a brief states."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from plugins.proposals.briefs.share_claims import stated_share
from plugins.proposals.choosing.plans import Clock, best
from plugins.proposals.choosing.problem import allowed
from tests.proposals.kit import brute, problem
from tests.proposals.sheets import NAMES, Cellar, brief, cask, codes, inventory
from tests.sets import fifth
from tests.support import write_site

US = 'house = "Own House"\nmarkets = ["US"]\ntimezone = "UTC"\n'


@pytest.mark.parametrize("seed", fifth(range(8)))
@pytest.mark.parametrize("whole", [True, False])
def test_shares_are_kept_at_the_optimum(seed: int, whole: bool) -> None:
    """With two shares asked the choice is the best of all subsets that keep them, or rightly none."""
    made = problem(seed, n=8, whole=whole, max_casks=4, low=0.6, high=1.4)
    counts = np.random.default_rng(seed).random((2, 8)) < 0.5
    made = replace(made, ratios=np.array([made.alcohol * (counts[0] - 0.4), made.alcohol * (0.7 - counts[1])]))
    plan = best(made, 2000, Clock(60.0))
    if whole:
        least = brute(made)
        assert (plan is None) == (least == np.inf)
        assert plan is None or plan.worth == pytest.approx(least, abs=1e-6)
    if plan is not None:
        share = plan.draws * made.alcohol / float(plan.draws @ made.alcohol)
        assert allowed(made, plan.draws)
        assert share[counts[0]].sum() >= 0.4 - 1e-6 and share[counts[1]].sum() <= 0.7 + 1e-6


@pytest.mark.parametrize(
    ("claim", "found"),
    [
        ("at least 40 % sherry", (40.0, None, "sherry")),
        ("At most 12,5 percent of grain whisky", (None, 12.5, "grain whisky")),
        ("not less than 51% rye", (51.0, None, "rye")),
        ("no more than 30 % refill", (None, 30.0, "refill")),
        ("at least 140 % sherry", None),
        ("single malt", None),
        ("40 year old", None),
    ],
)
def test_stated_shares_are_read(claim: str, found: tuple[float | None, float | None, str] | None) -> None:
    """A bound, a percentage and of what; anything else is no stated share."""
    assert stated_share(claim) == found


def used(cellar: Cellar) -> list[dict[str, float]]:
    made = json.loads((cellar.out / "proposals" / "B-1" / "proposals.json").read_bytes())
    assert made["status"] == "proposed", made["conflicts"]
    return [{part["component"]: part["share"] for part in item["components"]} for item in made["proposals"]]


def sheet(kind: str, at: int) -> str:
    """A cask in ex-sherry or ex-bourbon wood."""
    return cask(NAMES[at]).replace("Single malt", f"Single malt {kind}")


@pytest.mark.long
def test_a_stated_share_is_a_constraint(tmp_path: Path) -> None:
    """At least 60 % of the alcohol of every proposal comes from the casks that the inventory calls sherry."""
    cellar = Cellar(tmp_path)
    rows = [sheet("sherry" if at < 3 else "bourbon", at) for at in range(10)]
    result = cellar.stocked(brief=brief(claims="at least 60 % sherry"), casks=inventory(*rows))
    assert "proposals.unknown-claim" not in codes(result)
    for shares in used(cellar):
        assert sum(share for name, share in shares.items() if name in NAMES[:3]) >= 0.6 - 1e-9


@pytest.mark.long
def test_too_great_a_share_conflicts(tmp_path: Path) -> None:
    """One sherry cask cannot be nine tenths of 700 litres: the claim and the volume are named as the conflict."""
    cellar = Cellar(tmp_path)
    rows = [sheet("sherry" if at < 1 else "bourbon", at) for at in range(10)]
    result = cellar.stocked(brief=brief(claims="at least 90 % sherry"), casks=inventory(*rows))
    made = json.loads((cellar.out / "proposals" / "B-1" / "proposals.json").read_bytes())
    assert {row["demand"] for row in made["conflicts"]} == {"volume", "at least 90 % sherry"}
    assert "proposals.demands-conflict" in codes(result)


@pytest.mark.long
def test_a_share_of_nothing_in_stock_is_told(tmp_path: Path) -> None:
    """A share of what no cask is called is a stop finding, and nothing is issued."""
    cellar = Cellar(tmp_path)
    result = cellar.stocked(brief=brief(claims="at least 20 % mizunara"))
    assert codes(result).count("proposals.unknown-claim") == 1
    assert not (cellar.out / "proposals" / "B-1").exists()


@pytest.mark.long
def test_a_share_of_the_law_is_a_constraint(tmp_path: Path) -> None:
    """US blended whisky: every proposal holds at least 20 % of straight whisky by proof gallons, and something else."""
    cellar = Cellar(tmp_path)
    write_site(cellar.inbox, US)
    rows = []
    for at, name in enumerate(NAMES):
        straight = at < 4
        row = cask(name, country="USA", spirit="Rye whisky" if straight else "Whisky", grain="rye 95; malted barley 5")
        row = row.replace(",126,", ",120,")
        rows.append(f"{row},{'yes' if straight else 'no'},yes,2015-02-20,Ruritania")
    text = inventory(*rows).decode()
    head, _, body = text.partition("\n")
    data = f"{head},new_oak,charred,distilled_on,state\n{body}".encode()
    given = {
        "market": "US",
        "claims": "blended whisky",
        "age_statement": "",
        "bottling_abv": "",
        "bottling_proof": "92",
    }
    result = cellar.stocked(brief=brief(**given), casks=data)
    shares = result.worked.frames["claim_shares"]
    least = shares[shares["low"] == 20.0]
    straight = set(least.loc[least["verdict"] == "met", "component"])
    assert 0 < len(straight) < 10
    for found in used(cellar):
        share = sum(value for name, value in found.items() if name in straight)
        assert 0.2 <= share < 1.0
