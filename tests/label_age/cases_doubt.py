"""Cells that doubt themselves or contradict each other, and hints against what a rule takes as given.

Found by trying to get a false met, or a false not met, out of the verdicts; the sections are those of the market files.
"""

from __future__ import annotations

from typing import Any

from tests.label_age.bulk import Case
from tests.label_age.cases_us import BOND, CLASS, NONE, PLACE, STATE, STRAIGHT, TYPE, USED, mash, moved
from tests.label_age.family import MET, NOT, OPEN, Claim, Row, each

SI = "SI 2009/2890 reg."
MALT: dict[str, Any] = {"kind": "malt", "brief": {"bottle_size_L": 0.5}}
IRISH: dict[str, Any] = {"kind": "malt", "casks": [{"country": "Ireland"}], "brief": {"bottle_size_L": 0.5}}
UNKNOWN = ("unknown", "?", "TBC", "not stated", "US?", "probably US")
FORD = {"distillery": "Stony Ford"}
BOURBON = Claim("us.bourbon", "bourbon", TYPE)


def again(section: str, **cells: Any) -> list[Row]:
    """The spirit was moved to a second new cask, whose row says something else of it; the same is no contradiction."""
    return [(f"the row of a later cask says {column} {value}", section, OPEN, moved({}, "recask", **{column: value}))
            for column, value in cells.items()]  # fmt: skip


WOODS = {"oak?": OPEN, "not oak": OPEN, "maybe oak": OPEN, "oak (unconfirmed)": OPEN, "oak or chestnut": OPEN,
         "Quercus alba": MET, "oak-lined steel": NOT, "oak/chestnut": NOT}  # fmt: skip
CHARS = {"3": MET, "#4": MET, "No. 3": MET, "heavy char": MET, "char 2, medium toast": MET, "none": NOT,
         "no char": NOT, "uncharred": NOT, "medium toast": NOT, "toasted": NOT, "unknown": OPEN, "char?": OPEN,
         "maybe 3": OPEN, "quiddity": OPEN}  # fmt: skip
COUNTRIES = {"USA": MET, "Kentucky": MET, "Vereinigte Staaten": MET, "France": NOT, "Georgia": OPEN, "Zedland": OPEN}
RAW: list[Case] = [
    *BOURBON.cases(
        each("species", TYPE, WOODS),
        [(f"char {char}", TYPE, v, {"cask": {"charred": None, "char": char}}) for char, v in CHARS.items()],
        [("charred yes, char none", TYPE, OPEN, {"cask": {"charred": True, "char": "none"}}),
         ("charred no, char 3", TYPE, OPEN, {"cask": {"charred": False, "char": "3"}}),
         ("wood_use virgin, and it held bourbon", TYPE, OPEN, {"cask": {"new_oak": None, "held_before": "bourbon"}}),
         ("wood_use virgin, and it held nothing", TYPE, MET, {"cask": {"new_oak": None, "held_before": "none"}})],
        each("country", PLACE, COUNTRIES),
        each("country", PLACE, dict.fromkeys(UNKNOWN, OPEN)),
        each("matured_in", PLACE, {**dict.fromkeys(UNKNOWN, OPEN), "US, France": OPEN, "KY, US": MET, "KY": OPEN}),
        again(TYPE, grain="rye 95, malted barley 5", distilled_proof=170.0, entry_proof=130.0),
        again(PLACE, country="Canada", matured_in="US?"),
        again(CLASS, spirit="rum"),
        [("the row of a later cask says the same", TYPE, MET, moved({}, "recask", spirit=None, grain=None)),
         ("entry above the still strength", TYPE, OPEN, {"cask": {"distilled_proof": 110.0, "entry_proof": 120.0}})],
        *(each(column, TYPE, {0.0: OPEN, -5.0: OPEN, 250.0: OPEN}) for column in ("distilled_proof", "entry_proof")),
        [("water listed as an addition", NONE, MET,
          {"lines": [{"component": "RO water", "kind": "addition", "ethanol_kg": 0.0, "volume_60F_gal": 5.0}]}),
         ("birch water listed as an addition", NONE, NOT,
          {"lines": [{"component": "birch water", "kind": "addition", "ethanol_kg": 0.0, "volume_60F_gal": 5.0}]})],
    ),
    *Claim("us.rye-whisky", "rye whisky", "27 CFR 5.155(c)(1)", {"casks": [mash("rye", 60)]}).cases(
        [("honey of less than no volume", "27 CFR 5.155(c)(1)", OPEN,
          {"lines": [{"component": "honey", "kind": "addition", "ethanol_kg": 0.0, "volume_60F_gal": -30.0}],
           "volume_60F_gal": 1000.0})],
    ),
    *Claim("us.bottled-in-bond", "bottled in bond", BOND).cases(
        [(f"two casks of the distillery {said!r}", f"{BOND}(a)(2)", OPEN,
          {"cask": {"distillery": said}, "beside": {}}) for said in UNKNOWN],
        again(f"{BOND}(a)(2)", distillery="Stony Ford", distilled_on="2020-11-01"),
        [("two casks of the type bourbon?", f"{BOND}(a)(1)", OPEN, {"cask": {"spirit": "bourbon?"}, "beside": {}})],
    ),
    *Claim("us.straight", "straight", STRAIGHT).cases(
        [(f"two distilleries of the State {said!r}", STRAIGHT, OPEN,
          {"cask": {"state": said}, "beside": {"state": said, **FORD}}) for said in UNKNOWN],
        [("a State in short and in full", STRAIGHT, MET,
          {"cask": {"state": "Kentucky"}, "beside": {"state": "KY", **FORD}})],
    ),
    *Claim("us.state-bourbon", "kentucky bourbon", STATE,
           {"casks": [{"state": "Kentucky", "matured_in": "Kentucky"}]}).cases(
        each("state", STATE, {"KY": MET, "Ky.": MET, "Kentucky?": OPEN, "TN": NOT}),
        each("matured_in", PLACE, {"KY": OPEN, "KY, USA": MET, "Kentucky?": OPEN, "TN, USA": NOT}),
    ),
    *Claim("uk.scotch-whisky", "scotch whisky", f"{SI} 3(1)(a)", MALT).cases(
        *(each(column, section, {**dict.fromkeys(UNKNOWN[:4], OPEN), "Speyside": MET, "Anytown": OPEN, "France": NOT})
          for column, section in (("country", f"{SI} 3(1)(a)"), ("mashed_in", f"{SI} 3(1)(a)(i)"),
                                  ("fermented_in", f"{SI} 3(1)(a)(iii)"), ("matured_in", f"{SI} 3(1)(d)"))),
        each("state", f"{SI} 3(1)(a)", {"England": OPEN, "Scotland": MET, "Northmark": MET}),
        each("held_before", "Technical file for Scotch whisky, casks", {
            "ginger wine": OPEN, "root beer": OPEN, "rum cream": OPEN, "strawberry wine": OPEN, "?": OPEN,
            "unknown": OPEN, "white port": MET, "sparkling wine": MET, "beer, then peach brandy": NOT,
        }),
        each("capacity_L", f"{SI} 3(1)(c)", {0.0: OPEN, -1.0: OPEN}),
        each("distilled_proof", f"{SI} 3(1)(b)", {0.0: OPEN, -5.0: OPEN}),
        [("the row of a later cask says 95 % vol", f"{SI} 3(1)(b)", OPEN, moved({}, "recask", distilled_proof=95.0)),
         ("the row of a later cask says England", f"{SI} 3(1)(d)", NOT, moved({}, "recask", matured_in="England"))],
    ),
    *Claim("uk.single-malt-scotch", "single malt scotch whisky", f"{SI} 3(2)", MALT).cases(
        each("spirit", f"{SI} 3(2)", {"grain whisky": OPEN, "malt": MET, None: MET, "light make": OPEN}),
        each("still", f"{SI} 3(2)", {"pot?": OPEN, "lomond": OPEN, "pot": MET, "column": NOT}),
        [(f"two casks of the distillery {said!r}", f"{SI} 3(2)", OPEN, {"cask": {"distillery": said}, "beside": {}})
         for said in UNKNOWN[:4]],
        each("grain", f"{SI} 3(2)", {"malted barley 99.6": OPEN}),
    ),
    *Claim("ie.grain", "irish grain whiskey", "Irish whiskey technical file 4.2.3",
           {**IRISH, "casks": [{"country": "Ireland", "grain": "corn 80, malted barley 20"}]}).cases(
        each("spirit", "Irish whiskey technical file 4.2.3", {"pot still whiskey": OPEN, "grain": MET}),
    ),
    *Claim("us.light-whisky", "light whisky", "27 CFR 5.143(c)(8)",
           {"casks": [{"spirit": "light whisky", "distilled_proof": 165.0, **USED}]}).cases(
        [("claimed with Kentucky", "27 CFR 5.66(f)(3)", NOT, {"brief": {"claims": "light whisky; kentucky light"}})],
    ),
    *Claim("ca.whisky", "canadian whisky", "Food and Drug Regulations B.02.020(1)",
           {"kind": "malt", "casks": [{"country": "Canada"}], "bottling": {"bottled_on": "2024-12-17"}}).cases(
        each("fermented_in", "Food and Drug Regulations B.02.020(1)(a)", {"US": OPEN, "Canada": MET, "?": MET}),
    ),
]  # fmt: skip
CASES = [case for case in RAW if case.says != "as it stands"]  # those stand in the files of their markets
