"""The United States: American single malt, 27 CFR 5.143(c)(15), (c)(16), and its time of older labels, 5.143(d)."""

from __future__ import annotations

from typing import Any

from tests.label_age.bulk import Case
from tests.label_age.cases_us import LIMIT, OTHER_WOOD, PROOF, TWO
from tests.label_age.family import LIMIT as AT
from tests.label_age.family import MET, NOT, OPEN, Claim, Row, added, around, each

MALT: dict[str, Any] = {
    **PROOF, "country": "US", "distilled_proof": 140.0, "entry_proof": 120.0, "capacity_L": 200.0
}  # fmt: skip
FIFTEEN, SIXTEEN = "27 CFR 5.143(c)(15)", "27 CFR 5.143(c)(16)"
LAST, AFTER = {"bottled_on": "2030-01-18"}, {"bottled_on": "2030-01-19"}


def new_demands(older: str) -> list[Row]:
    """Demands of the new type alone; ``older`` is the verdict where a label of the older rules may still stand."""
    return [
        *each("grain", FIFTEEN, {"malted barley 99, rye 1": older, "malted rye 100": older, "malted barley 99": OPEN,
                                 "malted barley 51, corn 49": older, "malted barley 50.9, corn 49.1": NOT,
                                 "corn 100": NOT, None: OPEN, "malted barley 99.6": OPEN}),
        *each("mashed_in", FIFTEEN, {"Scotland": older, "US": MET, "Kentucky": MET}),
        *each("fermented_in", FIFTEEN, {"Scotland": OPEN, "US": MET}),
        *each("matured_in", FIFTEEN, {"Scotland": older, "US": MET, "Oregon, USA": MET}),
        *around("capacity_L", 700, 1, FIFTEEN, least=False)[:2],
        ("701 L", FIFTEEN, older, {"cask": {"capacity_L": 701.0}}),
        ("another distillery", FIFTEEN, older, {"beside": {"distillery": "Stony Ford"}}),
        ("charred new oak", FIFTEEN, MET, {"cask": {"new_oak": True, "charred": True, "wood_use": "virgin",
                                                    "held_before": None}}),
        added("plain caramel", FIFTEEN, MET, 2.5),
        added("honey", FIFTEEN, older, 0.1),
        added("quiddity", FIFTEEN, older, 0.1),
        added("sherry", FIFTEEN, OPEN, 0.1),
        # what the older rules asked as well
        added("plain caramel", LIMIT, NOT, 2.6),
        added("honey", LIMIT, NOT, 2.6),
        ("chestnut", FIFTEEN, NOT, {"cask": {"species": "chestnut"}}),
        ("a second cask of chestnut", OTHER_WOOD, NOT, {"beside": {"species": "chestnut"}}),
        ("molasses", FIFTEEN, NOT, {"cask": {"grain": "molasses 100"}}),
        *around("distilled_proof", 160, 0.1, FIFTEEN, least=False),
    ]  # fmt: skip


SINGLE = Claim("us.american-single-malt", "american single malt", FIFTEEN, {"kind": "malt", "casks": [MALT]})
STRAIGHT = Claim("us.straight-american-single-malt", "straight american single malt", SIXTEEN, SINGLE.given)
SHORT = {"filled_on": "2024-02-11", "distilled_on": None}
CASES: list[Case] = [
    *SINGLE.cases(new_demands(OPEN)),
    *SINGLE.but(bottling=LAST).cases(new_demands(OPEN)),
    *SINGLE.but(bottling=AFTER).cases(new_demands(NOT)),
    *STRAIGHT.cases(
        [
            (f"{AT}2 years to the day", SIXTEEN, MET, {"cask": TWO}),
            ("a day short", SIXTEEN, NOT, {"cask": SHORT}),
            ("2 years in 701 L", SIXTEEN, OPEN, {"cask": {"capacity_L": 701.0}}),
        ]
    ),
    *STRAIGHT.but(bottling=AFTER).cases(
        [("a day short", SIXTEEN, NOT, {"cask": SHORT})],
        [("2 years in 701 L", SIXTEEN, NOT, {"cask": {"capacity_L": 701.0}})],
    ),
]
