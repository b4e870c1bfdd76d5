"""Northern Ireland: the Union's law on spirit drinks, and SI 2009/2890 for Scotch whisky."""

from __future__ import annotations

from tests.label_age import cases_eu as eu
from tests.label_age import cases_uk as uk
from tests.label_age.bulk import Case
from tests.label_age.family import MET, NOT, OPEN, Claim
from tests.label_age.rows_whisky import addition_rows, strength_rows

WALES = {"kind": "malt", "casks": [{"country": "Wales"}]}
MALT = {"kind": "malt"}
SCOTCH = f"{uk.SI} 5(2)"
SPIRIT_DRINKS = ("scotch-whisky", "single-malt-scotch", "single-grain-scotch", "blended-malt-scotch",
                 "blended-grain-scotch", "blended-scotch")  # fmt: skip
TWELVE = {"kind": "malt", "casks": [{"filled_on": "2014-02-10", "distilled_on": "2014-02-01"}]}
CASES: list[Case] = [
    *Claim("ni.whisky", "whisky", eu.CAT2, WALES).cases(
        [row for row in eu.DEFINITION if row[0].split()[0] != "country"], strength_rows(eu.STRENGTH),
        addition_rows(eu.ADDED),
        ("all of Scotland", SCOTCH, MET, {"cask": {"country": "Scotland"}}),
        ("all of Scotland, from cider casks", SCOTCH, NOT, {"cask": {"country": "Scotland", "held_before": "cider"}}),
        ("all of Scotland, matured in Spain", SCOTCH, NOT, {"cask": {"country": "Scotland", "matured_in": "Spain"}}),
        ("all of Scotland, in chestnut", SCOTCH, NOT, {"cask": {"country": "Scotland", "species": "chestnut"}}),
    ),
    *Claim("ni.single-malt", "single malt", eu.SINGLE, WALES).cases(
        ("two distilleries", eu.SINGLE, NOT, {"beside": uk.HOUSE}),
        ("of column stills", eu.SINGLE, MET, {"cask": uk.COLUMN}),
        ("of column stills in Scotland", f"{uk.SI} 8(7)", NOT, {"cask": {**uk.COLUMN, "country": "Scotland"}}),
        ("of rye", eu.SINGLE, NOT, {"cask": {"grain": "malted rye 100"}}),
        ("mash not stated", eu.SINGLE, OPEN, {"cask": {"grain": None}}),
    ),
    *Claim("ni.blended", "blended whisky", f"{eu.R} Art. 10(6)(d)", {**MALT, "casks": [{}, uk.HOUSE]}).cases(
        ("one cask", f"{eu.R} Art. 10(6)(d)", NOT, {"casks": [{}]})),
    *Claim("ni.dry", "dry", f"{eu.R} Art. 10(6)(f)", {**MALT, "casks": [{"grain": "grape 100"}]}).cases(
        ("whisky", f"{eu.R} Art. 10(6)(f)", NOT, {"cask": {"grain": "malted barley 100"}})),
    *eu.casks("ni", eu.FORMS[:4]),
    *eu.indications("ni", uk.CATEGORY, SPIRIT_DRINKS[1:]),
    *eu.indications("ni", "SI 2009/2890 reg. 3(1)", SPIRIT_DRINKS[:1]),
    *eu.indications("ni", "Irish Whiskey Act 1980 s. 1(3) and technical file 2.1.1", ("irish-whiskey",)),
    *eu.always("ni", "Specified quantities (SI 2009/663)"),
    *uk.stated(TWELVE, "ni.age-statement", uk.SCOTCH_AGE, uk.SAID),
]  # fmt: skip
