"""Canada: Food and Drug Regulations, C.R.C. c. 870, Division 2, before and after B.02.020(1) was repealed.

The texts: laws-lois pages current to 10 June 2013, 16 November 2015 and 26 November 2024, and the consolidation of June
2026; the Canadian Food Compositional Standards that hold the composition since 18 December 2024 were not found.
"""

from __future__ import annotations

from typing import Any

from tests.label_age.bulk import Case
from tests.label_age.family import MET, NOT, OPEN, Claim, Row, added, at_limit, changed, each
from tests.label_age.rows_whisky import planned_rows

WHISKY, STANDARDS = "Food and Drug Regulations B.02.020(1)", "Canadian Food Compositional Standards, Canadian Whisky"
MADE, MINIMUM = "Food and Drug Regulations B.02.020(1)(a)", "Food and Drug Regulations B.02.023"
FLAVOURING, EXEMPT = "Food and Drug Regulations B.02.002, B.02.023(2)", "Food and Drug Regulations B.02.023(1)"
STRENGTH, AGE = "Food and Drug Regulations B.02.020(1)(a)(vi)", "Food and Drug Regulations B.02.020(2), (3)"
OTHER_STRENGTH = "Food and Drug Regulations, Division 2; since 18 December 2024 Canadian Food Compositional Standards"
OTHER_AGE = "Food and Drug Regulations B.02.002, age"

LAST_DAY, REPEALED = {"due": "2024-12-17"}, {"due": "2024-12-18"}
RYE = {
    "spirit": "rye", "grain": "rye 90, malted barley 10", "country": "Canada", "mashed_in": "Canada",
    "matured_in": "Canada",
}  # fmt: skip
CANADIAN: dict[str, Any] = {"kind": "malt", "casks": [RYE]}
US_RYE = {"country": "US", "state": "Northmark", "mashed_in": "US", "matured_in": "US"}
BOURBON = {"spirit": "bourbon", "grain": "corn 70, rye 20, malted barley 10", **US_RYE}
THREE, SHORT, OVER = ({"filled_on": day} for day in ("2023-02-10", "2023-02-11", "2023-02-09"))
TWO, UNDER_TWO, OVER_TWO = ({"filled_on": day} for day in ("2024-02-10", "2024-02-11", "2024-02-09"))
FIVE = {"filled_on": "2021-02-10"}
BAD_ADDITIONS = ("honey", "sugar syrup", "vanilla essence", "spices", "oak chips", "glycerine", "beading oil", "E150d",
                 "fruit juice", "molasses")  # fmt: skip


def composition(met: str, section: str) -> list[Row]:
    """What the repealed subsection asks, part by part; ``met`` is the verdict where all of it holds."""
    grains = {
        "corn 100": met, "wheat 60, malted barley 40": met, "malted barley 100": met, "corn 60, molasses 40": NOT,
        "molasses 100": NOT, "buckwheat 100": OPEN, "corn 60, quinoa 40": OPEN, "corn 60": OPEN, "rye": OPEN,
        "amaranth 51, rye 49": OPEN, None: OPEN,
    }  # fmt: skip
    places = {"Canada": met, "CA": met, "US": NOT, "Scotland": NOT, "Japan": NOT}
    rows = [
        *each("grain", MADE, grains),
        *each("country", MADE, {**places, None: OPEN}),
        *each("mashed_in", MADE, {**places, "Ontario, Canada": met, None: met}),
        *each("matured_in", MADE, {**places, "Ontario, Canada": met, None: met}),
        *each("capacity_L", MADE, {699.9: met, 700.0: met, 700.1: NOT, 1000.0: NOT, 5.0: met, None: OPEN}),
        *each("filled_on", MADE, {"2023-02-10": met, "2023-02-11": NOT, "2023-02-09": met, "2024-02-10": NOT}),
        *each("distilled_proof", MADE, {70.0: met, 94.8: met, 96.4: met, None: met}),
        *each("species", MADE, {"American oak": met, "maple": met, "cherry": met}),
        *each("char", MADE, {"char 4": met, "none": met}),
        ("a steel drum", MADE, NOT, {"cask": {"species": "steel", "new_oak": None, "charred": None, "wood_use": None}}),
        ("wood not said", MADE, OPEN, {"cask": {"species": None, "new_oak": None, "charred": None, "wood_use": None}}),
        ("a second cask of Canada", MADE, met, {"beside": {"filled_on": "2020-02-10", "distilled_on": "2020-02-09"}}),
        ("at the limit: a second cask exactly of age", MADE, met, {"beside": THREE}),
        ("a second cask a day short may be flavouring", FLAVOURING, OPEN, {"beside": SHORT}),
        ("a second cask exactly two years old", FLAVOURING, OPEN, {"beside": TWO}),
        ("a second cask a day short of two years", FLAVOURING, NOT, {"beside": UNDER_TWO}),
        ("a second cask of the United States", FLAVOURING, OPEN, {"beside": US_RYE}),
        ("a second cask of the United States, too young", FLAVOURING, NOT, {"beside": {**US_RYE, **UNDER_TWO}}),
        ("a second cask of 701 L", FLAVOURING, NOT, {"beside": {"capacity_L": 701.0}}),
        ("a second cask of molasses", FLAVOURING, OPEN, {"beside": {"grain": "molasses 100"}}),
        added("plain caramel", section, met, 1.0),
        added("caramel", section, met, 1.0),
        added("caramel", section, met, None),
        added("sherry", section, OPEN, 1.0, strength=10.0),
        added("wine", section, OPEN, 9.0, strength=10.0),
        added("brandy", section, OPEN, 5.0, strength=40.0),
        added("vanilla extract", section, OPEN, 0.1, strength=1.0),
        added("quiddity", section, OPEN, 0.1),
    ]
    rows += [added(name, section, NOT, percent) for name in BAD_ADDITIONS for percent in (0.1, 2.5, None)]
    rows.append(("more than is listed", section, OPEN, {"brief": {"all_listed": False}}))
    return rows


def strength(section: str, met: str) -> list[Row]:
    """40 % vol, before, at and after."""
    verdicts = {46.0: met, 40.1: met, 40.0: met, 39.99: NOT, 37.5: NOT}
    rows = [(f"{abv} % vol", section, verdict, {"abv": abv}) for abv, verdict in verdicts.items()]
    return [*at_limit(rows, "40.0 % vol"), *planned_rows(section, met=met)[:-1]]


def stated(age: str, verdict: str, says: str = "", bottled: str = "", **cask: Any) -> Row:
    more = {"bottling": {"bottled_on": bottled}} if bottled else {}
    exact = "at the limit: " if age == "60 months" else ""
    return (
        f"{exact}{age} stated, {says or cask}",
        AGE,
        verdict,
        {"cask": cask, "brief": {"age_statement": age}, **more},
    )


BEFORE = Claim("ca.whisky", "canadian whisky", WHISKY, {**CANADIAN, "brief": LAST_DAY})
AFTER = Claim("ca.whisky", "canadian whisky", STANDARDS, {**CANADIAN, "brief": REPEALED}, OPEN)
UNDER = {"kind": "malt", "casks": [RYE], "brief": {"claims": "canadian whisky"}}
WOOD = Claim("ca.minimum-age", "minimum age", MINIMUM, CANADIAN)
TENNESSEE = {**BOURBON, "spirit": "tennessee whisky", "state": "Tennessee", **TWO}
STATED = Claim("ca.age-statement", "age statement", AGE, {**UNDER, "casks": [{**RYE, **FIVE}]})
LARGE = {"capacity_L": 1000.0}
HONEY = {"component": "honey", "kind": "addition", "ethanol_kg": 0.0}
HIGHLAND, AT_HIGHLAND = "Food and Drug Regulations B.02.021", "Canadian Food Compositional Standards, Highland Whisky"
BULK = {"bottled_in": "Canada"}


def bulk(rule: str, claim: str, section: str, cask: dict[str, Any], caramel: str) -> list[Case]:
    """Whisky that came in bulk: changed by water alone, or by its like and caramel too."""
    given = {"kind": "malt", "casks": [cask], "brief": BULK}
    made = Claim(rule, claim, section, given, OPEN)
    rows = [added("plain caramel", section, caramel, 1.0), added("caramel", section, caramel, None)]
    rows += [added(name, section, NOT, 0.1) for name in ("honey", "sherry", "oak chips")]
    rows += [
        ("water added", section, OPEN, {"lines": [{"component": "water", "kind": "water", "ethanol_kg": 0.0}]}),
        ("honey, bottled at home", section, OPEN,
         {"brief": {"bottled_in": "Scotland"}, "lines": [HONEY]}),
        ("honey, place of bottling not said", section, OPEN,
         {"brief": {"bottled_in": None}, "lines": [HONEY]}),
        ("of Japan", section, NOT, {"cask": {"country": "Japan", "state": None}}),
        ("country not said", section, OPEN, {"cask": {"country": None}}),
        ("a cask of Canada beside it", section, NOT, {"beside": RYE | {"state": None}}),
    ]  # fmt: skip
    return list(made.cases(rows))


CASES: list[Case] = [
    *BEFORE.cases(composition(MET, WHISKY), strength(WHISKY, MET)),
    *Claim("ca.whisky", "canadian rye whisky", WHISKY, BEFORE.given).cases(each("grain", MADE, {"corn 100": MET})),
    *Claim("ca.whisky", "rye whisky", WHISKY, BEFORE.given).cases(each("grain", MADE, {"corn 100": MET})),
    *AFTER.cases(composition(OPEN, STANDARDS), strength(STANDARDS, OPEN)),
    *Claim("ca.any-whisky", "whisky", MINIMUM, CANADIAN, OPEN).cases(
        each("filled_on", MINIMUM, {"2023-02-10": OPEN, "2023-02-11": NOT}),
        added("honey", MINIMUM, OPEN, 1.0),
    ),
    *WOOD.cases(
        each("filled_on", MINIMUM, {"2023-02-10": MET, "2023-02-11": NOT, "2023-02-09": MET, "2024-02-11": NOT}),
        each("capacity_L", MINIMUM, {700.0: MET, 700.1: NOT, None: OPEN}),
        each("country", MINIMUM, {"Scotland": MET, "US": MET, None: MET}),
        ("at the limit: a second cask exactly of age", MINIMUM, MET, {"beside": THREE}),
        ("a second cask a day short may be flavouring", FLAVOURING, OPEN, {"beside": SHORT}),
        ("a second cask just over two years", FLAVOURING, OPEN, {"beside": OVER_TWO}),
        ("a second cask exactly two years old", FLAVOURING, OPEN, {"beside": TWO}),
        ("a second cask a day short of two years", FLAVOURING, NOT, {"beside": UNDER_TWO}),
        ("a second cask of two years and 701 L", FLAVOURING, NOT, {"beside": {**TWO, "capacity_L": 701.0}}),
        added("sherry", FLAVOURING, OPEN, 5.0, strength=10.0),
        added("brandy", FLAVOURING, OPEN, 5.0, strength=40.0),
        ("bourbon of two years", EXEMPT, MET, {"cask": {**BOURBON, **TWO}}),
        ("bourbon of a month", EXEMPT, MET, {"cask": {**BOURBON, "filled_on": "2026-01-10"}}),
        ("bourbon whose country is not said", EXEMPT, OPEN, {"cask": {**BOURBON, **TWO, "country": None}}),
        ("bourbon of Canada", EXEMPT, NOT, {"cask": {**BOURBON, **TWO, "country": "Canada"}}),
        ("rye of the United States", EXEMPT, NOT, {"cask": {**RYE, **US_RYE, **TWO}}),
        ("young bourbon beside rye may be flavouring", FLAVOURING, OPEN, {"beside": {**BOURBON, **TWO}}),
        ("bourbon of a month beside rye", FLAVOURING, NOT, {"beside": {**BOURBON, "filled_on": "2026-01-10"}}),
        ("Tennessee whisky, claimed so", EXEMPT, MET, {"cask": TENNESSEE, "brief": {"claims": "tennessee whisky"}}),
        ("of Tennessee, not claimed so", EXEMPT, NOT, {"cask": {**TENNESSEE, "spirit": "corn"}}),
        ("claimed as Tennessee whisky, of another State", EXEMPT, NOT,
         {"cask": {**TENNESSEE, "spirit": "corn", "state": "Northmark"}, "brief": {"claims": "tennessee whisky"}}),
    ),  # fmt: skip
    *Claim("ca.minimum-strength", "minimum strength", STRENGTH, changed(UNDER, brief=LAST_DAY)).cases(
        strength(STRENGTH, MET)
    ),
    *Claim("ca.minimum-strength", "minimum strength", STANDARDS, changed(UNDER, brief=REPEALED), OPEN).cases(
        strength(STANDARDS, OPEN)
    ),
    *Claim("ca.minimum-strength-other", "minimum strength", OTHER_STRENGTH, CANADIAN, OPEN).cases(
        strength(OTHER_STRENGTH, OPEN)
    ),
    *STATED.but(brief={"age_statement": "5 years"}).cases(
        stated("4 years", MET), stated("60 months", MET), stated("61 months", OPEN),
        stated("5 years 1 day", OPEN), stated("6 years", NOT),
        stated("5 years", NOT, **LARGE), stated("3 years", NOT, **LARGE), stated("5 years", OPEN, capacity_L=None),
        stated("5 years", OPEN, "a day short, not bottled", filled_on="2021-02-11"),
        stated("5 years", MET, "a day short, bottled a day later", "2026-02-11", filled_on="2021-02-11"),
        stated("5 years", NOT, "a day short, bottled the same day", "2026-02-10", filled_on="2021-02-11"),
        stated("5 years", NOT, "three days short, bottled two days later", "2026-02-12", filled_on="2021-02-13"),
        stated("5 years", MET, "six months short, bottled then", "2026-08-10", filled_on="2021-08-10"),
        stated("5 years", NOT, "six months and a day short, bottled later", "2026-12-10", filled_on="2021-08-11"),
        stated("3 years", NOT, "a day short of three years in small wood", "2026-08-10", filled_on="2023-02-11"),
        stated("3 years 6 months", MET, "three years, bottled six months later", "2026-08-10", **THREE),
        stated("3 years 6 months", NOT, "three years, bottled five months later", "2026-07-10", **THREE),
        stated("43 months", NOT, "three years, bottled a year later", "2027-02-10", **THREE),
        stated("1826 days", MET, "five years"), stated("1827 days", OPEN, "five years"),
        stated("2100 days", NOT, "five years"), stated("1000 days", NOT, "five years", **LARGE),
        stated("under 5 years", OPEN),
    ),
    *Claim("ca.age-statement-other", "age statement", OTHER_AGE,
           {"kind": "malt", "casks": [{**FIVE}], "brief": {"age_statement": "5 years"}}, OPEN).cases(
        ("4 years", OTHER_AGE, OPEN, {"brief": {"age_statement": "4 years"}}),
        ("5 years and a day", OTHER_AGE, NOT, {"brief": {"age_statement": "5 years 1 day"}}),
        ("6 years", OTHER_AGE, NOT, {"brief": {"age_statement": "6 years"}}),
        ("a younger cask beside it", OTHER_AGE, NOT, {"beside": THREE}),
        ("its filling not said", OTHER_AGE, OPEN, {"cask": {"filled_on": None}}),
    ),
    *bulk("ca.scotch-in-bulk", "scotch whisky", "Food and Drug Regulations B.02.017", {}, OPEN),
    *bulk("ca.irish-in-bulk", "irish whisky", "Food and Drug Regulations B.02.019", {"country": "Ireland"}, OPEN),
    *bulk("ca.bourbon-in-bulk", "bourbon", "Food and Drug Regulations B.02.022", BOURBON, NOT),
    *bulk("ca.tennessee-in-bulk", "tennessee whisky", "Food and Drug Regulations B.02.022.1",
          {**TENNESSEE, **FIVE}, NOT),
    *Claim("ca.highland-whisky", "highland whisky", HIGHLAND,
           {"kind": "malt", "casks": [{}, RYE, RYE, RYE], "brief": LAST_DAY}, OPEN).cases(
        ("a fifth is malt", HIGHLAND, NOT, {"casks": [{}, RYE, RYE, RYE, RYE]}),
        ("malt of Canada", HIGHLAND, OPEN, {"casks": [{"country": "Canada"}, RYE, RYE, RYE]}),
        ("malt of Ireland", HIGHLAND, NOT, {"casks": [{"country": "Ireland"}, RYE, RYE, RYE]}),
        ("since the repeal", AT_HIGHLAND, OPEN, {"brief": REPEALED}),
        ("no malt, since the repeal", AT_HIGHLAND, OPEN,
         {"brief": REPEALED, "casks": [RYE, RYE]}),
    ),
]  # fmt: skip
# ---------------------------------------------------------------- certificates for export, SI/2009-61
ORDER = "SI/2009-61, Schedule"


def exported(domestic: int, imported: int, claims: str = "canadian whisky") -> dict[str, Any]:
    casks = [{"country": "Canada"}] * domestic + [{"country": "US"}] * imported
    return {"kind": "malt", "casks": casks, "brief": {"claims": f"{claims}; certificate of age and origin"}}


CASES += Claim("ca.certificate-of-origin", "certificate of age and origin", ORDER, exported(1, 0), OPEN).cases(
    [
        ("one of twelve imported", f"{ORDER} s. 2", OPEN, exported(11, 1)),
        ("one of eleven imported, 9.0909 %", f"{ORDER} s. 2", NOT, exported(10, 1)),
        ("one of eleven imported, called rye", f"{ORDER} s. 2", NOT, exported(10, 1, "rye whisky")),
        ("one of four imported, called whisky of Canada", f"{ORDER} s. 5", OPEN, exported(3, 1, "made in canada")),
        ("two of seven imported, called whisky of Canada", f"{ORDER} s. 5", NOT, exported(5, 2, "made in canada")),
        ("half imported, called whisky", ORDER, OPEN, exported(1, 1, "whisky")),
        ("a cask of no stated country", f"{ORDER} s. 2", OPEN, {"cask": {"country": None}}),
    ]
)
