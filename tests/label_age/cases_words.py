"""Words of a cell that say more than one thing, or what no list has: places, wood, spirits, drinks, mash bills.

Found by trying to get a false met out of the verdicts; the sections are those of the market files.
"""

from __future__ import annotations

from typing import Any

from tests.label_age import cases_eu as eu
from tests.label_age.bulk import Case
from tests.label_age.family import MET, NOT, OPEN, Claim, Row, each

SI, EC = "SI 2009/2890 reg.", "Reg. (EC) 110/2008 Annex II cat. 2"
TECHNICAL = "Technical file for Scotch whisky, casks"
JAPAN = "Standards for Labeling Japanese Whisky art. 5(1)"
CLASS = "27 CFR 5.143(a)"
HALF: dict[str, Any] = {"bottle_size_L": 0.5}
IN_JAPAN: dict[str, Any] = {
    "kind": "malt",
    "casks": [{"country": "Japan", "mashed_in": "Japan", "fermented_in": "Japan", "matured_in": "Japan"}],
    "brief": {"bottled_in": "Japan", **HALF},
}
TWO_PLACES = ("{0}, then Ireland", "{0}/Ireland", "US, {0}", "{0} and Ireland", "Ireland > {0}")
WOODS: dict[Any, str] = {
    "sugi": MET, "American oak": MET, "mystery": OPEN, "tank": OPEN, "bamboo": OPEN, "acier": OPEN, "aluminium": NOT,
    "inox": NOT, "clay amphora": NOT, "demijohn": NOT, "plastic, oak staves": NOT,
}  # fmt: skip
NO_WHISKY = ("rum", "vodka", "gin", "brandy", "whisky liqueur", "flavoured whisky", "honey whisky", "spiced malt",
             "agave spirit", "cane spirit", "gns", "neutral grain spirits")  # fmt: skip
WHISKY = ("malt, rum cask", "rum finish malt", "honey malt", "new make", None)
DRINKS: dict[Any, str] = {
    "rum with spices": NOT, "vermouth": NOT, "bourbon and vanilla": NOT, "rum and cola": NOT,
    "bourbon?": OPEN, "not wine": OPEN, "maybe sherry": OPEN, "rum or bourbon": OPEN, "bourbon, then unknown": OPEN,
}  # fmt: skip


def places(column: str, land: str, section: str) -> list[Row]:
    """Two countries in one cell are not the one that comes first."""
    two = {said.format(land): OPEN for said in TWO_PLACES}
    return each(column, section, {f"Somewhere, {land}": MET, **two})


def spirits(section: str) -> list[Row]:
    """The sheet calls it something other than whisky, although its mash is of grain."""
    return each("spirit", section, {**dict.fromkeys(NO_WHISKY, OPEN), **dict.fromkeys(WHISKY, MET)})


SCOTCH = Claim("uk.scotch-whisky", "scotch whisky", f"{SI} 3(1)(a)", {"kind": "malt", "brief": HALF})
CASES: list[Case] = [
    *SCOTCH.cases(
        places("mashed_in", "Scotland", f"{SI} 3(1)(a)(i)"), places("fermented_in", "Scotland", f"{SI} 3(1)(a)(iii)"),
        places("matured_in", "Scotland", f"{SI} 3(1)(d)"), spirits(f"{SI} 3(1)(a)"),
        each("held_before", TECHNICAL, DRINKS),
        each("distilled_on", f"{SI} 3(1)(e)", {"2025-06-01": OPEN}),  # after it was filled
    ),
    *Claim("jp.japanese-whisky", "japanese whisky", JAPAN, IN_JAPAN).cases(
        places("mashed_in", "Japan", JAPAN), places("matured_in", "Japan", JAPAN), spirits(JAPAN),
        each("species", JAPAN, WOODS),
    ),
    *Claim("uk.whisky", "whisky", EC, {"kind": "malt", "casks": [{"country": "Wales"}], "brief": HALF}).cases(
        spirits(EC), each("species", EC, WOODS)
    ),
    *Claim("eu.whisky", "whisky", eu.MASH, {"kind": "malt", "casks": [{"country": "Japan"}], "brief": HALF}).cases(
        spirits(eu.MASH), each("species", eu.WOOD, WOODS)
    ),
    *Claim("us.whisky", "whisky", CLASS, {"brief": HALF}).cases(
        spirits(CLASS), each("spirit", CLASS, {"bourbon, wine cask": MET}),
    ),
    *Claim("us.bourbon", "bourbon", CLASS, {"brief": HALF}).cases(
        each("grain", CLASS, {"corn 51, rye 49": MET, "corn 51, rye 49.4": OPEN, "corn 51.4, rye 49": MET,
                              "corn 100.4": MET}),
    ),
]  # fmt: skip
