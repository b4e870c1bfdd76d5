"""The European Union: Regulation (EU) 2019/787, category 2, articles 10, 12 and 13; 1169/2011; the fill."""

from __future__ import annotations

from typing import Any

from tests.label_age.bulk import Case
from tests.label_age.family import MET, NOT, OPEN, Claim, Row, each
from tests.label_age.rows_whisky import (
    addition_rows,
    beside_rows,
    day_rows,
    grain_rows,
    size_rows,
    still_rows,
    strength_rows,
)

R = "Reg. (EU) 2019/787"
CAT2 = f"{R} Annex I cat. 2"
MASH, STILL, WOOD, ADDED, STRENGTH = (
    f"{CAT2}(a)(i)",
    f"{CAT2}(a)(ii)",
    f"{CAT2}(a)(iii)",
    f"{CAT2}(c), (d)",
    f"{CAT2}(b)",
)
SINGLE, BLENDED, CASK, GI = f"{CAT2}(e)", f"{R} Art. 3(11)", f"{R} Art. 12(3a)", f"{R} Art. 10(5)(a)"
MALT: dict[str, Any] = {"kind": "malt"}
HOUSE, POT = {"distillery": "Stony Ford"}, {"still": "pot"}
MASHES: dict[Any, str] = {
    "malted barley 100": MET,
    "malted barley 10, corn 90": MET,
    "malted rye 100": MET,
    "malted wheat 20, wheat 80": MET,
    "malted oats 5, barley 95": MET,
    "malted barley 0.1, corn 99.9": MET,
    "corn 100": NOT,
    "wheat 100": NOT,
    "corn 70, rye 30": NOT,
    "barley 100": NOT,
    "molasses 100": NOT,
    "malted barley 90, sugar 10": NOT,
    "corn 60": OPEN,
    "malted barley": OPEN,
    "malted barley 50": OPEN,
    None: OPEN,
}
DEFINITION: list[Row] = [
    *grain_rows(MASH, MASHES),
    *still_rows(STILL),
    *size_rows(WOOD),
    *day_rows(WOOD),
    *each(
        "species", WOOD, {"oak": MET, "chestnut": MET, "cherry": MET, "steel": NOT, "stainless steel": NOT, "IBC": NOT}
    ),
    *each("enzymes", MASH, {True: MET, False: MET}),
    *each("country", CAT2, {"US": MET, "France": MET, None: MET}),
    *each("matured_in", CAT2, {"Spain": MET, None: MET}),
    *each("still", CAT2, {"pot": MET, "column": MET, None: MET}),
]
DRINKS = ("rum", "brandy", "cognac", "armagnac", "calvados", "tequila", "mezcal", "bourbon")
OTHERS = {"rum": "bourbon", "brandy": "rum", "cognac": "brandy", "armagnac": "cognac", "calvados": "brandy",
          "tequila": "mezcal", "mezcal": "tequila", "bourbon": "rye whisky"}  # fmt: skip
FORMS = ("{} cask", "{} casks", "{} cask finish", "finished in {} casks", "{} barrel", "{} finish")


def casks(market: str = "eu", forms: tuple[str, ...] = FORMS) -> list[Case]:
    """Article 12(3a): a spirit drink is named of the cask only where each cask's record says that it held it."""
    made: list[Case] = []
    for drink in DRINKS:
        base = {**MALT, "casks": [{"held_before": f"ex-{drink}", "wood_use": "first fill"}]}
        rule = f"{market}.{drink}-cask"
        made += Claim(rule, f"{drink} cask", CASK, base).cases(
            (f"it held {OTHERS[drink]}", CASK, NOT, {"cask": {"held_before": OTHERS[drink]}}),
            ("it held sherry", CASK, NOT, {"cask": {"held_before": "sherry"}}),
            (f"it held sherry, then {drink}", CASK, MET, {"cask": {"held_before": f"sherry, then {drink}"}}),
            ("new oak", CASK, NOT, {"cask": {"held_before": None, "new_oak": True, "wood_use": "virgin"}}),
            ("what it held is not stated", CASK, OPEN, {"cask": {"held_before": None}}),
            ("it held what no list has", CASK, OPEN, {"cask": {"held_before": "quiddity"}}),
            ("one of two casks held sherry", CASK, NOT, {"beside": {"held_before": "sherry"}}),
            ("one of two casks is not stated", CASK, OPEN, {"beside": {"held_before": None}}),
            (f"{drink} added", ADDED, NOT, {"lines": [{"component": drink, "kind": "addition", "ethanol_kg": 1.0}]}),
            ("a day short of 3 years", WOOD, NOT, {"cask": {"filled_on": "2023-02-11", "distilled_on": "2023-02-01"}}),
        )
        made += [Case(rule, "meets", MET, f"as {form.format(drink)}", form.format(drink), base, CASK)
                 for form in forms[1:]]  # fmt: skip
    return made


WINES = [
    case
    for wine, other in (("sherry", "port"), ("port", "sherry"), ("wine", "stout"))
    for case in Claim(f"eu.{wine}-cask", f"{wine} cask", f"{R} Annex I cat. 2 and the law of wine names",
                      {**MALT, "casks": [{"held_before": wine}]}, verdict=OPEN).cases(
        (f"it held {other}", f"{R} Annex I cat. 2 and the law of wine names", NOT, {"cask": {"held_before": other}}),
    )
]  # fmt: skip
BESIDE = [
    *Claim("eu.single-malt", "single malt", SINGLE, MALT).cases(
        each("grain", SINGLE, {"malted barley 99.9, rye 0.1": NOT, "malted rye 100": NOT, "malted barley 50": OPEN,
                               "barley 100": NOT, None: OPEN}),
        each("still", SINGLE, {"pot": MET, "column": MET}),
        ("two distilleries", SINGLE, NOT, {"beside": HOUSE}),
        ("a second distillery not stated", SINGLE, OPEN, {"beside": {"distillery": None}}),
        ("two batches of one distillery", SINGLE, MET, {"beside": {"distilled_on": "2020-01-02"}}),
        day_rows(WOOD), still_rows(STILL), strength_rows(STRENGTH), addition_rows(ADDED),
    ),
    *Claim("eu.blended", "blended whisky", BLENDED, {**MALT, "casks": [{}, HOUSE]}).cases(
        ("one cask", BLENDED, NOT, {"casks": [{}]}),
        ("two casks of one distillery and day", BLENDED, NOT, {"casks": [{}, {}]}),
        ("two ages of one distillery", BLENDED, MET, {"casks": [{}, {"distilled_on": "2020-06-01"}]}),
        ("two countries", BLENDED, MET, {"casks": [{}, {"country": "Ireland"}]}),
        ("two distilleries not stated", BLENDED, OPEN, {"cask": {"distillery": None, "distilled_on": None}}),
        ("one of them too young", WOOD, NOT, {"beside": {"filled_on": "2023-02-11", "distilled_on": "2023-02-01"}}),
        addition_rows(ADDED),
    ),
    *Claim("eu.dry", "dry", f"{R} Art. 10(6)(f)", {**MALT, "casks": [{"grain": "grape 100"}]}).cases(
        ("whisky", f"{R} Art. 10(6)(f)", NOT, {"cask": {"grain": "malted barley 100"}}),
        ("in part whisky", f"{R} Art. 10(6)(f)", NOT, {"beside": {"grain": "malted barley 100"}}),
        ("grain not stated", f"{R} Art. 10(6)(f)", OPEN, {"cask": {"grain": None}}),
    ),
]  # fmt: skip
IRISH = {"country": "Ireland", "state": None}
POT_STILL = {**IRISH, "grain": "malted barley 50, barley 50"}
COLUMN = {**IRISH, "grain": "corn 80, malted barley 20", "distilled_proof": 94.0}
INDICATIONS: dict[str, tuple[str, list[dict[str, Any]], list[dict[str, Any]]]] = {
    "scotch-whisky": ("scotch whisky", [{}], [{"country": "England"}]),
    "single-malt-scotch": ("single malt scotch whisky", [{}], [{}, HOUSE]),
    "single-grain-scotch": ("single grain scotch whisky", [{"grain": "wheat 90, malted barley 10"}], [POT]),
    "blended-malt-scotch": ("blended malt scotch whisky", [{}, HOUSE], [{}]),
    "blended-grain-scotch": ("blended grain scotch whisky", [{"grain": "wheat 90, malted barley 10", **one}
                                                           for one in ({}, HOUSE)], [{"grain": "wheat 100"}]),
    "blended-scotch": ("blended scotch whisky", [{}, {"grain": "wheat 90, malted barley 10"}], [{"still": "pot"}]),
    "irish-whiskey": ("irish whiskey", [IRISH], [{**IRISH, "country": "Scotland"}]),
    "irish-pot-still": ("irish pot still whiskey", [POT_STILL], [IRISH]),
    "irish-malt": ("irish malt whiskey", [IRISH], [POT_STILL]),
    "irish-grain": ("irish grain whiskey", [COLUMN], [IRISH]),
    "irish-blended": ("irish blended whiskey", [IRISH, COLUMN], [IRISH, IRISH]),
}  # fmt: skip


def indications(market: str = "eu", section: str = GI, ids: tuple[str, ...] = tuple(INDICATIONS)) -> list[Case]:
    """Geographical indications are what the law of their home makes them, and whisky beside."""
    made: list[Case] = []
    for name in ids:
        claim, good, bad = INDICATIONS[name]
        made += Claim(f"{market}.{name}", claim, section, {**MALT, "casks": good}).cases(
            ("not as its home has it", section, NOT, {"casks": bad}),
            ("honey added", section, NOT, {"lines": [{"component": "honey", "kind": "addition", "ethanol_kg": 0.0}]}),
            ("39.9 % vol", section, NOT, {"abv": 39.9}),
            ("a cask above 700 L", section, NOT, {"beside": {"capacity_L": 701.0}}),
            ("one cask distilled at 94.8 % vol", section, NOT, {"beside": {"distilled_proof": 94.8}}),
            ("one cask of elsewhere", section, NOT, {"beside": {"country": "France"}}),
            ("one cask matured elsewhere", section, NOT, {"beside": {"matured_in": "Spain"}}),
            ("one cask of unknown country", section, OPEN, {"beside": {"country": None}}),
            ("one cask of unknown still strength", section, OPEN, {"beside": {"distilled_proof": None}}),
            ("one cask without malt", section, NOT, {"beside": {"grain": "wheat 100"}}),
        )
    return made


XII, SIZES, AGE = "Reg. (EU) 1169/2011 Annex XII", "Directive 2007/45/EC Annex", f"{R} Art. 13(6)"
LISTED = (100, 200, 350, 500, 700, 1000, 1500, 1750, 2000)


def label_rows(section: str) -> list[Row]:
    """0.3 % vol above or below the label at 20 °C, which has one decimal at most."""
    rows = ((46.0, 45.7, MET), (46.0, 45.69, NOT), (46.0, 46.3, MET), (46.0, 46.31, NOT), (46.05, 46.0, NOT),
            (46.1, 46.0, MET), (40.0, 39.7, MET), (40.0, 39.6, NOT))  # fmt: skip
    return [(f"{found} on {said}", section, verdict, {"abv": found, "bottling": {"label_abv": said}})
            for said, found, verdict in rows]  # fmt: skip


def fill_rows(section: str) -> list[Row]:
    """The nine sizes, a millilitre beside each, and what lies below and above the list."""
    sizes = {**{size - 1: NOT for size in LISTED}, **{size + 1: NOT for size in LISTED}, **dict.fromkeys(LISTED, MET),
             50: MET, 99: MET, 2001: MET, 3000: MET, 750: NOT}  # fmt: skip
    return [(f"{size} mL", section, verdict, {"brief": {"bottle_size_L": size / 1000}})
            for size, verdict in sizes.items()]  # fmt: skip


def age_rows(section: str) -> list[Row]:
    """A whisky of 12 years to the day: what its label may say."""
    said = {"12": MET, "11 years": MET, "144 months": MET, "13 years": NOT, "12 years 1 month": NOT, "145 months": NOT}
    young = {"filled_on": "2014-02-11", "distilled_on": "2014-02-01"}
    rows: list[Row] = [(f"says {text}", section, verdict, {"brief": {"age_statement": text}})
                       for text, verdict in said.items()]  # fmt: skip
    return [
        *rows,
        ("a day short", section, NOT, {"cask": young}),
        ("one cask a day short", section, NOT, {"beside": young}),
        ("a filling not stated", section, OPEN, {"beside": {"filled_on": None}}),
        ("in casks above 700 L", section, OPEN, {"cask": {"capacity_L": 701.0}}),
        ("in steel", section, OPEN, {"cask": {"species": "steel"}}),
    ]


TWELVE = {**MALT, "casks": [{"filled_on": "2014-02-10", "distilled_on": "2014-02-01"}],
          "brief": {"age_statement": "12 years"}}  # fmt: skip
LABEL = {**MALT, "abv": 46.0, "bottling": {"label_abv": 46.0}}


def always(market: str = "eu", sizes: str = SIZES) -> list[Case]:
    """What is judged whatever the brief claims."""
    return [
        *Claim(f"{market}.minimum-age", "minimum age", WOOD, MALT).cases(day_rows(WOOD), size_rows(WOOD),
                                                                        beside_rows(day_rows(WOOD))),
        *Claim(f"{market}.minimum-strength", "minimum strength", STRENGTH, MALT).cases(strength_rows(STRENGTH)),
        *Claim(f"{market}.bottling-strength", "bottling strength", XII, LABEL).cases(label_rows(XII)),
        *Claim(f"{market}.standard-of-fill", "standard of fill", sizes, MALT).cases(fill_rows(sizes)),
    ]  # fmt: skip


CASES: list[Case] = [
    *Claim("eu.whisky", "whisky", CAT2, MALT).cases(DEFINITION, strength_rows(STRENGTH), addition_rows(ADDED),
                                                   beside_rows(row for row in DEFINITION if row[2] != MET)),
    *BESIDE,
    *casks(),
    *WINES,
    *indications(),
    *always(),
    *Claim("eu.age-statement", "age statement", AGE, TWELVE).cases(age_rows(AGE)),
    *Claim("eu.provenance", "product of scotland", f"{R} Art. 14", MALT, verdict=OPEN).cases(
        ("of two countries", f"{R} Art. 14", NOT, {"beside": {"country": "Ireland"}})),
]  # fmt: skip
