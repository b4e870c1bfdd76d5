"""What a label must state: each rule for the label sheet where it is due, and where it is not."""

from __future__ import annotations

from typing import Any

import pytest

from plugins.label_age import stages
from plugins.label_age.rules.files import read_rules
from tests.label_age.bulk import Case, run_stages
from tests.label_age.kit import shipped

MALT: dict[str, Any] = {"kind": "malt"}
USED = {"new_oak": False, "wood_use": "refill"}
NEUTRAL = {"spirit": "neutral spirits", "distilled_proof": 190.0, "grain": "corn 100", **USED}
RYE = {"grain": "rye 95, malted barley 5"}
FORD = {"distillery": "Stony Ford"}
YOUNG = {"filled_on": "2023-03-01", "distilled_on": "2023-02-20"}
ENGLISH: dict[str, Any] = {"kind": "malt", "casks": [{"country": "England"}]}
UNPLANNED: dict[str, Any] = {"kind": "malt", "brief": {"bottling_abv": 0.0}}
JAPANESE: dict[str, Any] = {"kind": "malt", "casks": [{"country": "Japan"}], "brief": {"bottled_in": "Japan"}}


def casks(*changes: dict[str, Any], **brief: Any) -> dict[str, Any]:
    return {"casks": list(changes), **({"brief": brief} if brief else {})}


def added(name: str, gallons: float, claims: str = "whisky") -> dict[str, Any]:
    line = {"component": name, "kind": "addition", "ethanol_kg": 0.0, "volume_60F_gal": gallons}
    return {"lines": [line], "volume_60F_gal": 1000.0, "brief": {"claims": claims}}


BOND = {"claims": "bottled in bond"}
STATEMENTS: list[tuple[str, str, dict[str, Any], dict[str, Any]]] = [
    ("us.state-of-distillation", "27 CFR 5.66(f)", casks({}), casks({"distilled_proof": 165.0})),
    ("us.state-of-distillation", "27 CFR 5.66(f)", casks({}), casks({"country": "Canada"})),
    ("us.distillers-of-straight", "27 CFR 5.66(e)", casks({}, FORD, claims="straight bourbon"),
     casks({}, {}, claims="straight bourbon")),
    ("us.distillers-of-straight", "27 CFR 5.66(e)", casks({}, FORD, claims="straight bourbon"),
     casks({}, {**FORD, **RYE}, claims="straight whisky")),
    ("us.distillers-of-straight", "27 CFR 5.66(e)", casks({}, FORD, claims="straight bourbon"),
     casks({}, FORD, claims="bourbon")),
    ("us.percentages-of-blends", "27 CFR 5.74(b)(2)", casks(YOUNG, NEUTRAL), casks({}, NEUTRAL)),
    ("us.neutral-spirits-statement", "27 CFR 5.71", casks({}, NEUTRAL), casks({}, {})),
    ("us.storage-in-reused-oak", "27 CFR 5.74(b)(4)", casks(USED), casks({"grain": "corn 85, rye 15", **USED})),
    ("us.caramel-disclosed", "27 CFR 5.143(c)(15)", added("caramel", 1.0, "american single malt"),
     added("caramel", 1.0, "malt whisky")),
    ("us.caramel-disclosed", "27 CFR 5.143(c)(15)", added("plain caramel", 1.0, "american single malt"),
     casks({}, claims="american single malt")),
    ("us.colouring", "27 CFR 5.72", added("E150d colour", 1.0), added("plain caramel", 1.0)),
    ("us.colouring", "27 CFR 5.72", added("plain caramel", 25.1), added("plain caramel", 25.0)),
    ("us.treatment-with-wood", "27 CFR 5.73", added("oak chips", 1.0), added("caramel", 1.0)),
    ("us.countries-stated", "27 CFR 5.143(b)", casks({}, {"country": "Canada"}), casks({}, {})),
    ("us.bond-statement", "27 CFR 5.88(c)", casks({}, **BOND), casks({"country": "Canada"}, **BOND)),
    ("us.bond-statement", "27 CFR 5.88(c)", casks({}, **BOND), casks({}, claims="bourbon")),
    ("us.bond-country", "27 CFR 5.88(b)", casks({"country": "Canada"}, **BOND), casks({}, **BOND)),
    ("us.bond-country", "27 CFR 5.88(b)", casks({"country": "Canada"}, **BOND), casks({"country": "Canada"})),
    ("eu.strength-on-label", "Reg. (EU) 1169/2011 Annex XII", MALT, UNPLANNED),
    ("eu.legal-name", "Reg. (EU) 2019/787 Art. 10", MALT, casks({"grain": "molasses 100"})),
    ("eu.mixture-of-origins", "Reg. (EU) 2019/787 Art. 13(3)", casks({}, {"country": "Scotland"}), casks({}, {})),
    ("eu.caramel-stated", "Reg. (EU) 1169/2011 Annex VII", added("plain caramel", 1.0), MALT),
    ("uk.category-stated", "SI 2009/2890 reg. 8", MALT, ENGLISH),
    ("uk.moved-in-wood", "SI 2009/2890 reg. 7(1)", MALT, ENGLISH),
    ("uk.confusing-numbers", "SI 2009/2890 reg. 12(3)", MALT, ENGLISH),
    ("uk.other-distiller", "SI 2009/2890 reg. 9(4), 9(5)", MALT, ENGLISH),
    ("uk.no-confusion", "SI 2009/2890 reg. 6(2)", ENGLISH, MALT),
    ("ca.alcohol-stated", "Food and Drug Regulations B.02.003", MALT, UNPLANNED),
    ("jp.evoking", "Standards for Labeling Japanese Whisky art. 6(2)", MALT, JAPANESE),
    ("au.strength-stated", "Food Standards Code, Standard 2.7.1", MALT, UNPLANNED),
]  # fmt: skip
"""A rule for the label sheet, its section, a batch on whose label it is due, and one on whose it is not."""


@pytest.fixture(scope="module")
def stated() -> dict[tuple[int, bool], dict[str, tuple[str, str]]]:
    """(row of STATEMENTS, due) → rule → whether it applies, and its section."""
    cases = [Case(rule, "", "", "", "whisky", given) for rule, _, *both in STATEMENTS for given in both]
    found = run_stages(cases, stages.find_statements)["statements"]
    made: dict[tuple[int, bool], dict[str, tuple[str, str]]] = {}
    for row in found.itertuples():
        number = int(row.batch.removeprefix("B-"))
        made.setdefault((number // 2, number % 2 == 0), {})[row.rule_id] = (row.applies, row.rule)
    return made


@pytest.mark.parametrize("number", range(len(STATEMENTS)), ids=[f"{row[0]}-{n}" for n, row in enumerate(STATEMENTS)])
def test_stated_where_it_is_due_and_only_there(number: int, stated: Any) -> None:
    """The label sheet lists the statement, with its section, of the batch that asks for it, and not of the other."""
    rule, section, *_ = STATEMENTS[number]
    assert stated[number, True].get(rule) == ("met", section)
    assert rule not in stated.get((number, False), {})


def test_no_statement_is_left_out() -> None:
    """Every rule for the label sheet that tests anything has a case here."""
    book, _ = read_rules(shipped())
    wanted = {rule.id for rule in book.rules if rule.judged == "for the label sheet" and rule.needs}
    assert wanted - {row[0] for row in STATEMENTS} == set()
