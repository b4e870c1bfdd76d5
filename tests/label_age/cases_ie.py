"""Ireland: the Act of 1980 and the technical file of 2014 type by type; what the Union's law asks of any whisky."""

from __future__ import annotations

from typing import Any

from tests.label_age import cases_eu as eu
from tests.label_age.bulk import Case
from tests.label_age.family import MET, NOT, OPEN, Claim, Row, each
from tests.label_age.rows_whisky import addition_rows, beside_rows, day_rows, size_rows, still_rows, strength_rows

FILE, ACT = "Irish whiskey technical file", "Irish Whiskey Act 1980 s. 1(3)"
WHOLE, MASH, AGED, WOOD = f"{ACT} and technical file 2.1.1", f"{FILE} 2.1.1", f"{ACT}(b)", f"{FILE} 2.1.1(d)"
POT, MALT, GRAIN, BLENDED, LABEL = (f"{FILE} {number}" for number in ("4.2.1", "4.2.2", "4.2.3", "4.2.4", "10"))
IRISH: dict[str, Any] = {"country": "Ireland", "state": None}
BASE: dict[str, Any] = {"kind": "malt", "casks": [IRISH]}
HOUSE = {"distillery": "Stony Ford"}
IN_POT, IN_COLUMN = {"still": "pot"}, {"still": "column"}
POT_MASH = {"grain": "malted barley 50, barley 50"}
GRAIN_MASH = {"grain": "corn 80, malted barley 20", "distilled_proof": 94.0}
PLACES = {"Ireland": MET, "Northern Ireland": MET, "Scotland": NOT, "Spain": NOT, "UK": OPEN, None: MET}
MASHES: dict[Any, str] = {
    **eu.MASHES,
    "malted barley 30, barley 70": MET,
    "malted oats 5, barley 95": MET,
}
DEFINITION: list[Row] = [
    *each("grain", MASH, MASHES),
    *still_rows(f"{ACT}(a)(iii)"),
    *size_rows(WOOD),
    *day_rows(WOOD),
    *each("species", WOOD, {"chestnut": MET, "oak": MET, "steel": NOT, "plastic": NOT}),
    *each("matured_in", AGED, PLACES),
    *each(
        "country", MASH, {"Northern Ireland": MET, "Scotland": NOT, "England": NOT, "US": NOT, "UK": OPEN, None: OPEN}
    ),
    *each("enzymes", WHOLE, {True: MET, False: MET}),
    *each("held_before", WHOLE, {"cider": MET, None: MET}),
    *each("still", WHOLE, {"pot": MET, "column": MET, None: MET}),
]


def mash_rows(section: str, verdicts: dict[Any, str], **more: Any) -> list[Row]:
    return [(f"of {mash}", section, verdict, {"cask": {"grain": mash, **more}}) for mash, verdict in verdicts.items()]


POT_MASHES: dict[Any, str] = {
    "malted barley 30, barley 70": MET,
    "malted barley 70, barley 30": MET,
    "malted barley 29.9, barley 70.1": NOT,
    "malted barley 70.1, barley 29.9": NOT,
    "malted barley 48, barley 47, oats 5": MET,
    "malted barley 48, barley 47, rye 2.5, oats 2.5": MET,
    "malted barley 48, barley 46.9, oats 5.1": NOT,
    "malted barley 48, barley 46, rye 3, oats 3": NOT,
    "malted barley 50, barley 47, malted rye 3": NOT,
    "malted barley 100": NOT,
    "barley 100": NOT,
    "malted barley 50, barley 48, sugar 2": NOT,
    "malted barley 50, barley 40": OPEN,
    "malted barley 40": OPEN,
    None: OPEN,
}
GRAIN_MASHES: dict[Any, str] = {
    "malted barley 30, corn 70": MET,
    "malted barley 30.1, corn 69.9": NOT,
    "malted barley 5, wheat 95": MET,
    "malted barley 10, barley 90": MET,
    "malted barley 10, malted rye 5, corn 85": NOT,
    "corn 100": NOT,
    "malted barley 100": NOT,
    "malted barley 10": OPEN,
    None: OPEN,
}
MALT_MASHES: dict[Any, str] = {
    "malted barley 99.9, barley 0.1": NOT,
    "malted barley 90, malted rye 10": NOT,
    "malted barley 60": OPEN,
    None: OPEN,
}
STILLS = {"pot": MET, "column": NOT, None: MET}
TYPES: list[tuple[str, str, str, dict[str, Any], list[Row]]] = [
    ("pot-still", "irish pot still whiskey", POT, POT_MASH, [*mash_rows(POT, POT_MASHES), *each("still", POT, STILLS)]),
    ("malt", "irish malt whiskey", MALT, {}, [*mash_rows(MALT, MALT_MASHES), *each("still", MALT, STILLS)]),
    ("grain", "irish grain whiskey", GRAIN, GRAIN_MASH,
     [*mash_rows(GRAIN, GRAIN_MASHES), *each("still", GRAIN, {"pot": NOT, "column": MET, None: MET})]),
]  # fmt: skip


def types() -> list[Case]:
    """Numbers 4.2.1 to 4.2.3, and 10 for the word single."""
    made: list[Case] = []
    for name, claim, section, changes, rows in TYPES:
        base = {**BASE, "casks": [{**IRISH, **changes}]}
        shared: list[Row] = [
            ("from Scotland", MASH, NOT, {"cask": {"country": "Scotland"}}),
            ("from Northern Ireland", MASH, MET, {"cask": {"country": "Northern Ireland"}}),
            ("matured in Spain", AGED, NOT, {"cask": {"matured_in": "Spain"}}),
            *day_rows(WOOD), *still_rows(f"{ACT}(a)(iii)"),
        ]  # fmt: skip
        made += Claim(f"ie.{name}", claim, section, base).cases(
            rows, shared, ("two distilleries", section, MET, {"beside": HOUSE}), addition_rows(MASH)
        )
        single = claim.replace("irish ", "single ").replace(" whiskey", " irish whiskey")
        made += Claim(f"ie.single-{name}", single, LABEL, base).cases(
            rows, shared,
            ("two distilleries", LABEL, NOT, {"beside": HOUSE}),
            ("a second distillery not stated", LABEL, OPEN, {"beside": {"distillery": None}}),
            ("two batches of one distillery", LABEL, MET, {"beside": {"distilled_on": "2020-01-02"}}),
        )  # fmt: skip
    return made


def blended() -> list[Case]:
    """Number 4.2.4: two or more of the three types."""
    pot, malt, grain = {**IRISH, **POT_MASH}, IRISH, {**IRISH, **GRAIN_MASH}
    odd = {**IRISH, "grain": "malted barley 60, corn 40"}
    return list(
        Claim("ie.blended", "irish blended whiskey", BLENDED, {"kind": "malt", "casks": [malt, grain]}).cases(
            ("pot still and malt", BLENDED, MET, {"casks": [pot, malt]}),
            ("pot still and grain", BLENDED, MET, {"casks": [pot, grain]}),
            ("all three", BLENDED, MET, {"casks": [pot, malt, grain]}),
            ("malt alone", BLENDED, NOT, {"casks": [{**malt, **IN_POT}]}),
            ("malt of two distilleries", BLENDED, NOT, {"casks": [{**malt, **IN_POT}, {**malt, **HOUSE, **IN_POT}]}),
            ("grain of two distilleries", BLENDED, NOT, {"casks": [grain, {**grain, **HOUSE}]}),
            ("malt and what is of no type", BLENDED, NOT, {"casks": [malt, odd]}),
            ("malt and a mash not stated", BLENDED, OPEN, {"casks": [malt, {**malt, "grain": None}]}),
            ("malt and grain of Scotland", MASH, NOT, {"casks": [malt, {**grain, "country": "Scotland"}]}),
            ("its grain at 94.8 % vol", f"{ACT}(a)(iii)", NOT, {"casks": [malt, {**grain, "distilled_proof": 94.8}]}),
            ("its grain a day short", WOOD, NOT,
             {"casks": [malt, {**grain, "filled_on": "2023-02-11", "distilled_on": "2023-02-01"}]}),
            addition_rows(MASH),
        )
    )  # fmt: skip


TWELVE = {**BASE, "casks": [{**IRISH, "filled_on": "2014-02-10", "distilled_on": "2014-02-01"}],
          "brief": {"age_statement": "12 years"}}  # fmt: skip
SAID = {"12": MET, "twelve years": MET, "11 years": MET, "13 years": NOT, "144 months": NOT, "11 years 6 months": NOT,
        "600 days": NOT, "8 to 12 years": NOT, "10 or 12 years": NOT, "8-12 years": NOT}  # fmt: skip
AGES = [
    *Claim("ie.age-statement", "age statement", LABEL, TWELVE).cases(
        [(f"says {text}", LABEL, verdict, {"brief": {"age_statement": text}}) for text, verdict in SAID.items()],
        ("a day short", LABEL, NOT, {"cask": {"filled_on": "2014-02-11", "distilled_on": "2014-02-01"}}),
        ("one cask a day short", LABEL, NOT, {"beside": {"filled_on": "2014-02-11", "distilled_on": "2014-02-01"}}),
        ("a filling not stated", LABEL, OPEN, {"beside": {"filled_on": None}}),
    ),
    *Claim("ie.age-statement-other", "age statement", eu.AGE, {**TWELVE, "casks": [
        {**TWELVE["casks"][0], "country": "Scotland"}]}).cases(eu.age_rows(eu.AGE)),
]  # fmt: skip
SINGLE = eu.SINGLE
PLAIN = [
    *Claim("ie.single-malt-plain", "single malt", SINGLE, {"kind": "malt"}).cases(
        ("two distilleries", SINGLE, NOT, {"beside": HOUSE}),
        ("of malted rye", SINGLE, NOT, {"cask": {"grain": "malted rye 100"}}),
        ("of column stills in Scotland", SINGLE, MET, {"cask": IN_COLUMN}),
        ("of column stills in Ireland", LABEL, NOT, {"cask": {**IN_COLUMN, **IRISH}}),
        ("of pot stills in Ireland", LABEL, MET, {"cask": {**IN_POT, **IRISH}}),
        ("mash not stated", SINGLE, OPEN, {"cask": {"grain": None}}),
    ),
    *Claim("ie.any-whisky", "whisky", eu.CAT2, {"kind": "malt"}).cases(
        eu.DEFINITION, strength_rows(eu.STRENGTH), addition_rows(eu.ADDED)),
]  # fmt: skip
FILLED = {**BASE, "bottling": {"bottle_size_L": 0.7, "bottles": 600}}
LOT = [
    Case("ie.net-contents", kind, verdict, says, "net contents",
         {**FILLED, "fill": [{"net_volume_L": volume / 1000} for volume in volumes]},
         "Directive 76/211/EEC Annexes I and II")
    for kind, verdict, says, volumes in (
        ("meets", MET, "above the label", [701.0] * 20),
        ("fails", NOT, "below the label", [698.0, 698.5] * 10),
        ("boundary", MET, "one of twenty short by more than the error", [705.0] * 19 + [684.0]),
        ("fails", NOT, "two of twenty short by more than the error", [705.0] * 18 + [684.0] * 2),
        ("open", OPEN, "too few bottles", [701.0] * 4),
    )
]  # fmt: skip
CASES: list[Case] = [
    *Claim("ie.whiskey", "irish whiskey", WHOLE, BASE).cases(
        DEFINITION, strength_rows(eu.STRENGTH), addition_rows(MASH),
        beside_rows(row for row in DEFINITION if row[2] != MET)),
    *types(),
    *blended(),
    *AGES,
    *PLAIN,
    *eu.always("ie"),
    *LOT,
]  # fmt: skip
