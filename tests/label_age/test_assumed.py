"""What is taken as given where nothing is stated: no value, no bound and no doubt of a cell is nothing."""

from __future__ import annotations

from typing import Any

import pytest

from tests.label_age.kit import Room, brief, cask, data_file, shipped
from tests.label_age.test_rule_check import HEAD

STRENGTH = """
[[rule.need]]
tests = "trial"
fact = "proof"
at_least = 100
unsure_within = 5
unsure = "it is open how much may be lacking"
assume = "it is strong enough"
"""
MASH = """
[[rule.need]]
tests = "trial"
every = "spirit"
fact = "corn_share"
at_least = 51
assume = "it is of corn"
"""
STILL = """
[[rule.need]]
tests = "trial"
every = "spirit"
fact = "pot_still"
is = true
assume = "it is of pot stills"
"""
MARKET, _, RULE = HEAD.partition("[[rule]]")
NEEDS = {"strength": STRENGTH, "mash": MASH, "still": STILL}
TEXT = MARKET + "".join(f"[[rule]]{RULE}{need}".replace("trial", claim) for claim, need in NEEDS.items())
RULES = data_file("xx.toml", TEXT, "house")
CASES: list[tuple[str, str, dict[str, Any], str]] = [
    ("a strength within what is unsure", "strength", {"proof": 98.0}, "cannot tell"),
    ("a strength below that", "strength", {"proof": 94.0}, "not met"),
    ("no strength", "strength", {"proof": None}, "met"),
    ("a mash that leaves it open", "mash", {"casks": [cask(grain="corn 40")]}, "cannot tell"),
    ("a mash that cannot be read", "mash", {"casks": [cask(grain="corn and rye")]}, "cannot tell"),
    ("no mash", "mash", {"casks": [cask(grain=None)]}, "met"),
    ("a still of no list", "still", {"casks": [cask(still="lomond")]}, "cannot tell"),
    ("a spirit called grain", "still", {"casks": [cask(spirit="grain")]}, "cannot tell"),
    ("no still", "still", {"casks": [cask()]}, "met"),
]


@pytest.mark.long
@pytest.mark.parametrize(("says", "claim", "given", "verdict"), CASES, ids=[case[0] for case in CASES])
def test_only_what_no_cell_speaks_of(says: str, claim: str, given: dict[str, Any], verdict: str) -> None:
    """A rule that takes a fact as given is met on it only where nothing at all is said of the fact, and says so."""
    row = Room(briefs=[brief(market="XX", claims=claim)], rules=(*shipped(), RULES), **given).row(claim, "XX")
    assert row["verdict"] == verdict, row["reason"]
    assert ("Assumed:" in row["reason"]) == (verdict == "met")


def test_a_strength_found_without_a_label_is_no_blank() -> None:
    """Bottles found at 45 % vol, and no label to hold them against: open; bottles not tested are as the vat."""
    run = {"batch": "B-1", "bottled_on": "2026-02-20", "bottle_size_L": 0.75, "bottles": 600}

    def verdict(**found: Any) -> str:
        volumes = (0.7501, 0.7499) * 5
        rows = [{"batch": "B-1", "checked_at": "2026-02-20", "bottle_size_L": 0.75, "line": str(n),
                 "net_volume_L": volume, **found} for n, volume in enumerate(volumes)]  # fmt: skip
        return Room(bottlings=[run], fill_checks=rows).verdict("net contents")

    assert verdict(proof=90.0, proof_unit="proof") == "cannot tell"
    assert verdict() == "met"
