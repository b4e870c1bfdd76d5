"""A strength whose measuring uncertainty reaches over the label's tolerance: the figure judges, the verdict says so."""

from __future__ import annotations

import pytest

from tests.label_age.kit import Room, brief

RUN = {"batch": "B-1", "bottled_on": "2026-02-20", "bottle_size_L": 0.75, "bottles": 600, "label_abv": 40.0}


@pytest.mark.long
@pytest.mark.parametrize(
    ("proof", "uncertainty", "verdict", "near"),
    [
        (79.8, 0.1, "met", False),  # 39.9 ± 0.1, limit 39.7
        (79.8, 0.2, "met", False),  # 39.9 ± 0.2: the limit itself is let in
        (79.6, 0.4, "met", True),  # 39.8 ± 0.4
        (79.3, 0.4, "not met", True),  # 39.65 ± 0.4
        (78.0, 0.4, "not met", False),  # 39.0 ± 0.4
        (79.6, None, "met", False),  # no uncertainty known
    ],
)
def test_within_the_uncertainty_of_the_limit(proof: float, uncertainty: float | None, verdict: str, near: bool) -> None:
    """27 CFR 19.356(c): met, not met, or within the measuring uncertainty of the limit, which is told beside either."""
    room = Room(briefs=[brief()], bottlings=[RUN], proof=proof, proof_uncertainty=uncertainty)
    row = room.row("bottling strength")
    assert (row["verdict"], row["near_limit"]) == (verdict, near)
    assert ("within the measuring uncertainty of the limit" in row["reason"]) == near
    codes = [f.code for f in room.judged()[1] if "bottling strength" in f.subject]
    assert codes == {("met", False): [], ("met", True): ["label.near-limit"]}.get((verdict, near), ["label.not-met"])
