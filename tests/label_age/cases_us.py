"""The United States: 27 CFR parts 5 and 19, class by class, with what a label may not hide."""

from __future__ import annotations

from tests.label_age.bulk import Case
from tests.label_age.family import NOT, Claim, added, around

TYPE, ADDED = "27 CFR 5.143(c)(2)", "27 CFR 5.143(c)(2)"
BOURBON = Claim("us.bourbon", "bourbon", TYPE)
CASES: list[Case] = [
    *BOURBON.cases(
        around("corn_", 51, 0.1, TYPE, least=True)[:0],
        around("entry_proof", 125, 0.1, TYPE, least=False),
        around("distilled_proof", 160, 0.1, TYPE, least=False),
        added("honey", TYPE, NOT, 0.1),
        added("plain caramel", TYPE, NOT, 0.1),
        added("oak chips", TYPE, NOT, None),
    ),
]
