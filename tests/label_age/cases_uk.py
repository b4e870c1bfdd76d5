"""The United Kingdom: SI 2009/2890 regulation by regulation, its technical file on casks, other whisky, the fill."""

from __future__ import annotations

from typing import Any

from tests.label_age.bulk import Case
from tests.label_age.family import MET, NOT, OPEN, Claim, each
from tests.label_age.rows_whisky import (
    addition_rows,
    beside_rows,
    day_rows,
    grain_rows,
    size_rows,
    still_rows,
    strength_rows,
)

SI = "SI 2009/2890 reg."
A, AGE, CASKS = f"{SI} 3(1)(a)", f"{SI} 3(1)(e)", "Technical file for Scotch whisky, casks"
CATEGORY = f"{SI} 3(2)"
EC = "Reg. (EC) 110/2008 Annex II cat. 2"
GRAIN = {"spirit": "grain", "grain": "wheat 90, malted barley 10", "distilled_proof": 94.0}
HOUSE = {"distillery": "Stony Ford"}
POT, COLUMN = {"still": "pot"}, {"still": "column"}
SCOTCH = Claim("uk.scotch-whisky", "scotch whisky", A, {"kind": "malt"})

MASHES: dict[Any, str] = {
    "malted barley 100": MET,
    "malted barley 10, wheat 90": MET,
    "malted barley 0.1, maize 99.9": MET,
    "malted barley 40, barley 60": MET,
    "wheat 100": NOT,
    "corn 90, rye 10": NOT,
    "barley 100": NOT,
    "malted rye 100": NOT,
    "malted barley 90, malted rye 10": OPEN,  # whether malt of another cereal is whole grain the text does not say
    "malted barley 50, malted wheat 50": OPEN,
    "malted barley 90, molasses 10": NOT,
    "malted barley 95, wheat flour 5": OPEN,
    "malted barley 50": OPEN,
    "malted barley": OPEN,
    "wheat 60": OPEN,
    None: OPEN,
}
FORMER: dict[Any, str] = {
    "bourbon": MET,
    "ex-bourbon": MET,
    "oloroso sherry": MET,
    "PX sherry, then rum": MET,
    "port": MET,
    "red wine": MET,
    "Madeira": MET,
    "stout": MET,
    "imperial stout and whisky": MET,
    "tequila": MET,
    "mezcal": MET,
    "calvados": MET,
    "cognac": MET,
    "cider": NOT,
    "perry": NOT,
    "kirsch": NOT,
    "plum brandy": NOT,
    "apricot brandy": NOT,
    "cherry wine": NOT,
    "spiced rum": NOT,
    "liqueur": NOT,
    "coffee liqueur": NOT,
    "fruit beer": NOT,
    "kriek": NOT,
    "maple syrup": NOT,
    "honey bourbon": NOT,
    "bourbon, then mead": NOT,
    "Tabasco sauce": NOT,
    "quiddity": OPEN,
    "bourbon, then quiddity": OPEN,
    None: OPEN,
}
PLACES = {
    "UK": OPEN,
    "Scotland": MET,
    "Scotland, UK": MET,
    None: MET,
    "England": NOT,
    "Northern Ireland": NOT,
    "Spain": NOT,
}


def unit(rows: dict[Any, str], column: str, section: str) -> list[Any]:
    return each(column, section, rows)


def new_wood() -> list[Any]:
    """New oak needs no former content; a first fill of unknown wood does."""
    new = {"new_oak": True, "wood_use": "virgin", "held_before": None}
    first = {"wood_use": "first fill", "held_before": None}
    return [("new oak", CASKS, MET, {"cask": new}), ("first fill of what is not stated", CASKS, OPEN, {"cask": first})]


DEFINITION = [
    *grain_rows(A, MASHES),
    *still_rows(f"{SI} 3(1)(b)"),
    *size_rows(f"{SI} 3(1)(c)"),
    *unit({"oak": MET, "European oak": MET, "Quercus robur": MET, "chestnut": NOT, "acacia": NOT, "steel": NOT,
           "quiddity": OPEN, None: OPEN}, "species", f"{SI} 3(1)(c)"),
    *unit(FORMER, "held_before", CASKS),
    *new_wood(),
    *unit(PLACES, "matured_in", f"{SI} 3(1)(d)"),
    *unit(PLACES, "mashed_in", f"{SI} 3(1)(a)(i)"),
    *unit(PLACES, "fermented_in", f"{SI} 3(1)(a)(iii)"),
    *unit({True: NOT, False: MET}, "enzymes", f"{SI} 3(1)(a)(ii)"),
    *unit({"England": NOT, "Wales": NOT, "Ireland": NOT, "US": NOT, "UK": OPEN, None: OPEN, "Scotland": MET},
          "country", A),
    *day_rows(AGE),
]  # fmt: skip


def categories() -> list[Case]:
    """Regulation 3(2): single malt, single grain, blended malt, blended grain, blended Scotch."""
    malt = {"kind": "malt"}
    two = {"kind": "malt", "casks": [{}, HOUSE]}
    grain_two = {"kind": "malt", "casks": [GRAIN, {**GRAIN, **HOUSE}]}
    both = {"kind": "malt", "casks": [{}, GRAIN]}
    shares = {"malted barley 100": MET, "malted barley 99.9, rye 0.1": NOT, "malted barley 50": OPEN, None: OPEN}
    stills = {"pot": MET, None: MET, "pot still": MET, "column": NOT, "Coffey": NOT, "quiddity": OPEN}
    kinds = [
        *Claim("uk.single-malt-scotch", "single malt scotch whisky", CATEGORY, malt).cases(
            each("grain", CATEGORY, shares),
            each("still", CATEGORY, stills),
            ("two distilleries", CATEGORY, NOT, {"beside": HOUSE}),
            ("a second distillery not stated", CATEGORY, OPEN, {"beside": {"distillery": None}}),
            ("two batches of one distillery", CATEGORY, MET, {"beside": {"distilled_on": "2020-01-02"}}),
            ("with grain whisky of the same distillery", CATEGORY, NOT, {"beside": GRAIN}),
            ("with malt of a column still", CATEGORY, NOT, {"beside": COLUMN}),
            strength_rows(f"{SI} 3(1)(i)"), day_rows(AGE), still_rows(f"{SI} 3(1)(b)"),
        ),
        *Claim("uk.single-grain-scotch", "single grain scotch whisky", CATEGORY, {**malt, "casks": [GRAIN]}).cases(
            ("malt of a pot still", CATEGORY, NOT, {"cask": {"grain": "malted barley 100", **POT}}),
            ("malt of a column still", CATEGORY, MET, {"cask": {"grain": "malted barley 100", **COLUMN}}),
            ("malt of a still not stated", CATEGORY, OPEN, {"cask": {"grain": "malted barley 100"}}),
            ("wheat and malt in pot stills", CATEGORY, MET, {"cask": POT}),
            ("two distilleries", CATEGORY, NOT, {"beside": HOUSE}),
            ("a second distillery not stated", CATEGORY, OPEN, {"beside": {"distillery": None}}),
            ("wheat without malted barley", A, NOT, {"cask": {"grain": "wheat 100"}}),
            ("corn without malted barley", A, NOT, {"cask": {"grain": "corn 100"}}),
            still_rows(f"{SI} 3(1)(b)"), day_rows(AGE),
        ),
        *Claim("uk.blended-malt-scotch", "blended malt scotch whisky", CATEGORY, two).cases(
            ("one distillery", CATEGORY, NOT, {"cask": {"distillery": "Alder Hollow"}}),
            ("no distillery stated", CATEGORY, OPEN, {"cask": {"distillery": None}}),
            ("with grain whisky", CATEGORY, NOT, {"beside": GRAIN}),
            ("with malt of a column still", CATEGORY, NOT, {"beside": COLUMN}),
            ("pot stills stated", CATEGORY, MET, {"cask": POT}),
            day_rows(AGE),
        ),
        *Claim("uk.blended-grain-scotch", "blended grain scotch whisky", CATEGORY, grain_two).cases(
            ("one distillery", CATEGORY, NOT, {"cask": {"distillery": "Alder Hollow"}}),
            ("with malt of a pot still", CATEGORY, NOT, {"beside": {"grain": "malted barley 100", **POT}}),
            ("with malt of a column still", CATEGORY, MET, {"beside": {"grain": "malted barley 100", **COLUMN}}),
            ("a third without malted barley", A, NOT, {"beside": {"grain": "wheat 100"}}),
            still_rows(f"{SI} 3(1)(b)"),
        ),
        *Claim("uk.blended-scotch", "blended scotch whisky", CATEGORY, both).cases(
            ("malt alone, in pot stills", CATEGORY, NOT, {"casks": [POT, {**HOUSE, **POT}]}),
            ("malt alone, stills not stated", CATEGORY, OPEN, {"casks": [{}, HOUSE]}),
            ("malt of pot and of column stills", CATEGORY, MET, {"casks": [POT, COLUMN]}),
            ("grain alone", CATEGORY, NOT, {"casks": [GRAIN, {**GRAIN, **HOUSE}]}),
            ("its grain part without malted barley", A, NOT, {"casks": [{}, {**GRAIN, "grain": "wheat 100"}]}),
            ("its grain part from England", A, NOT, {"casks": [{}, {**GRAIN, "country": "England"}]}),
            ("its grain part at 94.8 % vol", f"{SI} 3(1)(b)", NOT, {"casks": [{}, {**GRAIN, "distilled_proof": 94.8}]}),
            ("of two distilleries", CATEGORY, MET, {"casks": [{}, {**GRAIN, **HOUSE}]}),
            ("its grain part of unknown mash", CATEGORY, OPEN, {"casks": [{}, {**GRAIN, "grain": None}]}),
        ),
    ]  # fmt: skip
    return kinds


LIES = {
    "Campbeltown": {"Campbeltown": MET, "Islay": NOT, "Highland": OPEN, "Lowland": NOT, "Speyside": NOT},
    "Islay": {"Islay": MET, "Campbeltown": NOT, "Highland": OPEN, "Lowland": NOT, "Speyside": NOT},
    "Highland": {"Highland": MET, "Highlands": MET, "Speyside": MET, "Lowland": NOT, "Islay": OPEN},
    "Lowland": {"Lowland": MET, "Lowlands": MET, "Highland": NOT, "Speyside": NOT, "Islay": NOT},
    "Speyside": {"Speyside": MET, "Highland": OPEN, "Lowland": NOT, "Islay": NOT, "Campbeltown": NOT},
}
"""By the claimed area: what the sheet's area makes of it (reg. 10(5) to (7))."""


def places() -> list[Case]:
    """Regulation 10, and the category that stands behind the place (8(5), 8(7))."""
    made = []
    for place, lies in LIES.items():
        section = f"{SI} 10({5 if place in ('Campbeltown', 'Islay') else 6})"
        base = {"kind": "malt", "casks": [{"region": place}]}
        outside = next(name for name, verdict in lies.items() if verdict == NOT)
        made += Claim(f"uk.{place.lower()}", f"{place.lower()} single malt", f"{SI} 10(1)", base).cases(
            [(f"distilled in {said}", section, verdict, {"cask": {"region": said}}) for said, verdict in lies.items()],
            ("region not stated", section, OPEN, {"cask": {"region": None}}),
            ("a word that is no protected name", section, OPEN, {"cask": {"region": "Argyll"}}),
            ("one cask of elsewhere", section, NOT, {"beside": {"region": outside}}),
            ("not from Scotland", A, NOT, {"cask": {"country": "Ireland"}}),
            ("called single malt, of two distilleries", f"{SI} 8(5), 8(7)", NOT, {"beside": HOUSE}),
            ("called single malt, of grain", f"{SI} 8(5), 8(7)", NOT, {"cask": GRAIN}),
            ("too young", AGE, NOT, {"cask": {"filled_on": "2023-02-11", "distilled_on": "2023-02-01"}}),
        )
        made.append(
            Case(
                f"uk.{place.lower()}",
                "fails",
                NOT,
                "called blended malt, of one distillery",
                f"{place.lower()} blended malt",
                base,
                f"{SI} 8(5), 8(7)",
            )
        )
        made.append(Case(f"uk.{place.lower()}", "meets", MET, "place alone", place.lower(), base, f"{SI} 10(1)"))
    return made  # fmt: skip


STONY = {"kind": "malt", "casks": [{"distillery": "Stony Ford"}]}
YEAR = {"kind": "malt", "brief": {"age_statement": "4 years"}}
LATE = {"distilled_on": "2021-12-31", "filled_on": "2022-01-03"}
BY_YEAR, BESIDE_YEAR = f"{SI} 12(2)(a), (b)", f"{SI} 12(2)(c)"
WALES = {"kind": "malt", "casks": [{"country": "Wales"}]}
LABELS = [
    *Claim("uk.distilled-at", "distilled at stony ford", f"{SI} 9", STONY).cases(
        ("at another", f"{SI} 9", NOT, {"cask": {"distillery": "Alder Hollow"}}),
        ("in part at another", f"{SI} 9", NOT, {"beside": {"distillery": "Alder Hollow"}}),
        ("distillery not stated", f"{SI} 9", OPEN, {"cask": {"distillery": None}}),
        ("distillery of one cask not stated", f"{SI} 9", OPEN, {"beside": {"distillery": None}}),
        ("the distillery in capitals", f"{SI} 9", MET, {"cask": {"distillery": "STONY FORD"}}),
    ),
    *Claim("uk.distilled-in", "distilled in 2021", f"{SI} 12(2)", YEAR).cases(
        ("on the first day of the year", BY_YEAR, MET, {"cask": {"distilled_on": "2021-01-01"}}),
        ("on the last day of the year", BY_YEAR, MET, {"cask": {**LATE}, "brief": {"age_statement": "4 years"}}),
        ("the day before the year", BY_YEAR, NOT, {"cask": {"distilled_on": "2020-12-31"}}),
        ("the day after the year", BY_YEAR, NOT, {"cask": {"distilled_on": "2022-01-01", "filled_on": "2022-01-03"}}),
        ("one cask of another year", BY_YEAR, NOT, {"beside": {"distilled_on": "2020-12-31"}}),
        ("day not stated", BY_YEAR, OPEN, {"cask": {"distilled_on": None}}),
        ("no age beside it", BESIDE_YEAR, NOT, {"brief": {"age_statement": None}}),
        ("no age, NAS", BESIDE_YEAR, NOT, {"brief": {"age_statement": "NAS"}}),
        ("the year of bottling beside it", BESIDE_YEAR, MET,
         {"brief": {"age_statement": None, "claims": "distilled in 2021; bottled in 2026"}}),
    ),
    *Claim("uk.bottled-in", "bottled in 2026", BESIDE_YEAR, {"kind": "malt", "bottling": {"bottles": 600}}).cases(
        ("not bottled yet", BESIDE_YEAR, OPEN, {"bottling": None}),
        ("bottled on the first day of the year", BESIDE_YEAR, MET, {"bottling": {"bottled_on": "2026-01-01"}}),
        ("bottled the day before", BESIDE_YEAR, NOT, {"bottling": {"bottled_on": "2025-12-31"}}),
    ),
    *Claim("uk.pure-malt", "pure malt", f"{SI} 11", WALES).cases(
        ("from Scotland", f"{SI} 11", NOT, {"cask": {"country": "Scotland"}}),
        ("country not stated", f"{SI} 11", OPEN, {"cask": {"country": None}}),
        ("in part from Scotland: no Scotch whisky", f"{SI} 11", MET, {"beside": {"country": "Scotland"}}),
        ("in the product's name", f"{SI} 11", NOT, {"cask": {"country": "Scotland"}, "brief": {
            "claims": "scotch whisky", "product": "Old Pure-Malt Reserve"}}),
        ("pure single malt in the product's name", f"{SI} 11", NOT, {"cask": {"country": "Scotland"}, "brief": {
            "claims": "scotch whisky", "product": "Pure Single Malt"}}),
    ),
    *Claim("uk.single-malt-bottled", "bottling of single malt Scotch whisky", f"{SI} 7(3)",
           {"kind": "malt", "brief": {"bottled_in": "Scotland"}}).cases(
        [(f"bottled in {place}", f"{SI} 7(3)", NOT, {"brief": {"bottled_in": place}})
         for place in ("England", "Northern Ireland", "US", "France")],
        ("Scotland, with the kingdom", f"{SI} 7(3)", MET, {"brief": {"bottled_in": "Scotland, UK"}}),
        ("the kingdom alone", f"{SI} 7(3)", OPEN, {"brief": {"bottled_in": "United Kingdom"}}),
        ("place not stated", f"{SI} 7(3)", OPEN, {"brief": {"bottled_in": None}}),
        ("blended malt bottled in England", f"{SI} 7(3)", MET, {"beside": HOUSE, "brief": {"bottled_in": "England"}}),
        ("single grain of malt bottled in England", f"{SI} 7(3)", MET,
         {"cask": COLUMN, "brief": {"bottled_in": "England"}}),
    ),
]  # fmt: skip
SCOTCH_AGE, OTHER_AGE = f"{SI} 12(1)", "Reg. (EC) 110/2008 Art. 12(3)"
TWELVE = {"kind": "malt", "casks": [{"filled_on": "2014-02-10", "distilled_on": "2014-02-01"}]}
SAID = {"12 years": MET, "12": MET, "twelve years": MET, "11 years": MET, "13 years": NOT, "144 months": NOT,
        "11 years 6 months": NOT, "600 days": NOT, "8 to 12 years": OPEN, "less than 12 years": OPEN}  # fmt: skip


def stated(base: dict[str, Any], rule: str, section: str, said: dict[str, str]) -> list[Case]:
    """One case for each statement of age of a whisky of 12 years to the day, and a whisky of a day less."""
    young = {"filled_on": "2014-02-11", "distilled_on": "2014-02-01"}
    claim = Claim(rule, "age statement", section, {**base, "brief": {"age_statement": "12 years"}})
    rows = [(f"says {text}", section, verdict, {"brief": {"age_statement": text}}) for text, verdict in said.items()]
    return list(claim.cases(
        rows,
        ("a day short", section, NOT, {"cask": young}),
        ("one cask a day short", section, NOT, {"beside": young}),
        ("the filling of one cask not stated", section, OPEN, {"beside": {"filled_on": None}}),
        ("in casks above 700 L", section, OPEN, {"cask": {"capacity_L": 701.0}}),
        ("in casks of unknown size", section, OPEN, {"cask": {"capacity_L": None}}),
    ))  # fmt: skip


def always() -> list[Case]:
    """What is judged whatever the brief claims."""
    return [
        *Claim("uk.minimum-age-scotch", "minimum age", AGE, {"kind": "malt"}).cases(
            day_rows(AGE), beside_rows(day_rows(AGE)), size_rows(AGE),
            ("in chestnut", AGE, NOT, {"cask": {"species": "chestnut"}}),
        ),
        *Claim("uk.minimum-age", "minimum age", EC, WALES).cases(
            day_rows(EC), size_rows(EC), ("in chestnut", EC, MET, {"cask": {"species": "chestnut"}}),
            ("in steel", EC, NOT, {"cask": {"species": "stainless steel"}}),
        ),
        *Claim("uk.minimum-strength-scotch", "minimum strength", f"{SI} 3(1)(i)", {"kind": "malt"}).cases(
            strength_rows(f"{SI} 3(1)(i)")),
        *Claim("uk.minimum-strength", "minimum strength", EC, WALES).cases(strength_rows(EC)),
        *stated(TWELVE, "uk.age-statement-scotch", SCOTCH_AGE, SAID),
        *stated({"kind": "malt", "casks": [{**TWELVE["casks"][0], "country": "Wales"}]}, "uk.age-statement", OTHER_AGE,
                {**SAID, "144 months": MET, "11 years 6 months": MET, "600 days": MET}),
    ]  # fmt: skip


OTHER_WHISKY = Claim("uk.whisky", "whisky", EC, WALES).cases(
    grain_rows(EC, {**MASHES, "malted rye 100": MET, "malted barley 90, malted rye 10": MET,
                    "malted barley 50, malted wheat 50": MET}),
    still_rows(EC), size_rows(EC), day_rows(EC), strength_rows(EC), addition_rows(EC),
    each("species", EC, {"chestnut": MET, "acacia": MET, "steel": NOT, "plastic": NOT}),
    ("cider casks: no rule of this law", EC, MET, {"cask": {"held_before": "cider"}}),
    ("matured in Spain", EC, MET, {"cask": {"matured_in": "Spain"}}),
    ("in part from Scotland", EC, MET, {"beside": {"country": "Scotland"}}),
)  # fmt: skip
FROM_SCOTLAND = Claim("uk.whisky-scotch", "whisky", f"{SI} 5(2)", {"kind": "malt"}).cases(
    [row for row in DEFINITION if row[0].split()[0] not in ("country", "filled", "enzymes")],
)
CASES: list[Case] = [
    *SCOTCH.cases(DEFINITION, strength_rows(f"{SI} 3(1)(i)"), addition_rows(f"{SI} 3(1)(h)"),
                  beside_rows(row for row in DEFINITION if row[2] != MET)),
    *FROM_SCOTLAND,
    *categories(),
    *places(),
    *LABELS,
    *always(),
    *OTHER_WHISKY,
]  # fmt: skip
# ---------------------------------------------------------------- bottles for duty-free sale, SI 1988/2039 art. 3A(2)
SIZES = "SI 1988/2039 art. 3A and Sch. A1"


def bottled(litres: float, claims: str | None = None) -> dict[str, Any]:
    return {"kind": "malt", "brief": {"bottle_size_L": litres, "claims": claims}}


CASES += Claim("uk.standard-of-fill", "standard of fill", SIZES, bottled(0.7)).cases(
    [
        (f"{litres} L{f', {claims}' if claims else ''}", SIZES, verdict, bottled(litres, claims))
        for litres, claims, verdict in (
            (0.75, None, NOT), (0.75, "scotch whisky", NOT), (0.75, "duty free only", OPEN), (0.75, "Duty-Free", OPEN),
            (0.7, "duty free only", MET), (0.099, None, MET), (0.1, None, MET), (0.101, None, NOT), (2.0, None, MET),
            (2.001, None, MET),
        )
    ]
)  # fmt: skip
CASES += [*Claim("uk.duty-free", "duty free only", "SI 1988/2039 art. 3A(2)", {"kind": "malt"}, OPEN).cases([])]
