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
MASHES: dict[Any, str] = {
    "corn flour 60, rye 40": MET, "cracked corn 70, rye flour 30": MET, "corn meal 51, malt 49": MET,
    "cornmeal 70, flaked rye 30": MET, "maize grits 70, rye 30": MET, "yellow dent corn 70, winter rye 30": MET,
    "2-row malted barley 30, corn 70": MET, "corn 70, 6 row malt 30": MET, "corn 70, honey 0, rye 30": MET,
    "CORN 70; Pale Malt 30": MET, "corn 70, other grains 30": MET, "corn 49, other grains 51": OPEN,
    "grits 70, rye 30": OPEN, "corn 70, quiddity 30": OPEN, "corn 50.9, barly 49.1": OPEN,
    "corn syrup 70, rye 30": OPEN,
    "corn starch 70, rye 30": OPEN, "malted corn 70, rye 30": OPEN, "at least corn 51": OPEN, "corn or rye 70": OPEN,
    "no corn 70, rye 30": OPEN, "corn 70-75, rye 25": OPEN, "corn 70 70": OPEN, "70 corn 30": OPEN, ">51% corn": OPEN,
    "corn 0.7, rye 0.3": OPEN, "corn 70 rye 30": OPEN, "corn": OPEN, "unknown": OPEN, "corn 70, molasses 30": NOT,
    "corn 70, sugar 30": NOT, "potato 100": NOT, "grapes 100": NOT, "corn flour 50.9, rye flour 49.1": NOT,
}  # fmt: skip
"""Of these the bourbon with its mash is met, not met or open; none is read as another grain."""
FLOURS: dict[Any, str] = {
    "malted barley 90, wheat 10": MET, "malted barley 90, flaked wheat 10": MET, "malted barley flour 100": MET,
    "peated malt 100": MET, "chocolate malt 5, malt 95": MET, "malted barley 90, wheat flour 10": OPEN,
    "malted barley 90, maize grits 10": OPEN, "malted barley 90, quiddity 10": OPEN, "peated barley 100": OPEN,
}  # fmt: skip
"""Scotch, Irish and European whisky take unmalted cereals whole."""


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
        each("grain", f"{SI} 3(1)(a)", FLOURS),
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
        spirits(eu.MASH), each("species", eu.WOOD, WOODS), each("grain", eu.MASH, FLOURS)
    ),
    *Claim("us.whisky", "whisky", CLASS, {"brief": HALF}).cases(
        spirits(CLASS), each("spirit", CLASS, {"bourbon, wine cask": MET}),
    ),
    *Claim("us.bourbon", "bourbon", CLASS, {"brief": HALF}).cases(
        each("grain", CLASS, {"corn 51, rye 49": MET, "corn 51, rye 49.4": OPEN, "corn 51.4, rye 49": MET,
                              "corn 100.4": MET, **MASHES}),
    ),
]  # fmt: skip
