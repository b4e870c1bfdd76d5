"""Cases for every rule: one that meets it, one that fails it, one at its boundary. The section is the rule's own.

The figures are those of ../shared/checks/regulations.md: 27 CFR parts 5 and 19, Regulation (EU) 2019/787 and
1169/2011, SI 2006/659 for Directive 76/211/EEC, SI 2009/2890; for Ireland from memory.
Those of Canada, Japan and Australia stand in tests/label_age/cases_ca.py, cases_jp.py and cases_au.py.
"""

from __future__ import annotations

from typing import Any

from tests.label_age.bulk import Case

MET, NOT, OPEN = "met", "not met", "cannot tell"
US_MALT = {
    "country": "US",
    "distilled_proof": 140.0,
    "distilled_proof_unit": "proof",
    "entry_proof": 120.0,
    "entry_proof_unit": "proof",
    "capacity_L": 200.0,
    "state": "Northmark",
}
USED = {"new_oak": False, "wood_use": "refill"}
NEUTRAL = {
    "spirit": "neutral spirits",
    "distilled_proof": 190.0,
    "grain": "corn 100",
    "new_oak": False,
    "wood_use": "refill",
}
LIGHT = {"spirit": "light whisky", "distilled_proof": 165.0, **USED}
GRAIN = {
    "spirit": "grain",
    "grain": "wheat 90, malted barley 10",
    "distilled_proof": 94.0,
    "distilled_proof_unit": "%vol",
}
OTHER_HOUSE = {"distillery": "Stony Ford"}
GRAINS = {"bourbon": "corn", "rye": "rye", "wheat": "wheat", "malt": "malted barley", "rye-malt": "malted rye"}
YOUNG = {"filled_on": "2024-02-11", "distilled_on": "2024-02-01"}
TWO = {"filled_on": "2024-02-10", "distilled_on": "2024-02-01"}


def us(rule: str, kind: str, verdict: str, says: str, claim: str, **given: Any) -> Case:
    return Case(f"us.{rule}", kind, verdict, says, claim, given)


def three(
    rule: str, claim: str, meets: Any, fails: Any, boundary: Any, says: str, edge: str = MET, **shared: Any
) -> list[Case]:
    """Three cases of one rule; ``meets`` and its like are casks, or words of given_as."""
    made = []
    for kind, verdict, cell in (("meets", MET, meets), ("fails", NOT, fails), ("boundary", edge, boundary)):
        given = {"casks": cell} if isinstance(cell, list) else cell
        made.append(Case(rule, kind, verdict, f"{says}: {kind}", claim, {**shared, **given}))
    return made


def mash(grain: str, share: float) -> dict[str, Any]:
    other = "rye" if grain == "corn" else "corn"
    return {"grain": f"{grain} {share:g}, {other} {100 - share:g}"}


CASES: list[Case] = []
for name, grain in GRAINS.items():
    claim = {"bourbon": "bourbon", "rye-malt": "rye malt whisky"}.get(name, f"{name} whisky")
    rule = "us.bourbon" if name == "bourbon" else f"us.{name}-whisky"
    # 27 CFR 5.143(c)(2): not less than 51 percent
    CASES += three(rule, claim, [mash(grain, 70)], [mash(grain, 50.9)], [mash(grain, 51)], "51 percent")
    # 27 CFR 5.143(c)(5): at least 2 years in charred new oak
    straight = "straight bourbon" if name == "bourbon" else f"straight {claim}"
    two, young = {**mash(grain, 60), **TWO}, {**mash(grain, 60), **YOUNG}
    CASES += three(f"us.straight-{name}", straight, [mash(grain, 60)], [young], [two], "2 years")
    CASES.append(
        Case(
            f"us.straight-{name}",
            "fails",
            NOT,
            "finished in a wine cask",
            straight,
            {
                "casks": [mash(grain, 60)],
                "stock": [{"cask": "W-1", **USED, "filled_on": "2025-09-01", **mash(grain, 60)}],
                "lines": [{"component": "W-1", "kind": "cask", "filled_on": "2025-09-01"}],
                "movements": [{"moved_at": "2025-09-01", "from": "C-1", "to": "W-1", "reason": "finish"}],
            },
        )
    )
    if name == "rye-malt":
        continue
    # 27 CFR 5.143(c)(7): at least 51 percent of the grain, used oak
    CASES += three(
        f"us.whisky-from-{name}-mash",
        f"whisky distilled from {name} mash",
        [{**mash(grain, 60), **USED}],
        [mash(grain, 60)],
        [{**mash(grain, 51), **USED}],
        "51 percent, used oak",
    )
    # 27 CFR 5.143(c)(11): at least 51 percent of the straight whisky by proof gallons
    whole, rest = mash(grain, 60), {**NEUTRAL}
    CASES += three(
        f"us.blended-{name}",
        "blended bourbon whisky" if name == "bourbon" else f"blended {name} whisky",
        [whole] * 2 + [rest],
        [whole] * 50 + [rest] * 50,
        [whole] * 51 + [rest] * 49,
        "51 percent by proof gallons",
    )
    # 27 CFR 5.143(c)(13): straights of one type from different States
    elsewhere = {**mash(grain, 60), **OTHER_HOUSE, "state": "Southmark"}
    claim = f"blended straight {name} whisky"
    CASES += three(
        f"us.blended-straight-{name}",
        claim,
        [mash(grain, 60), elsewhere],
        [mash(grain, 60)] * 2,
        [two, {**elsewhere, **TWO}],
        "different States",
    )
CORN = {"grain": "corn 80, rye 20", **USED}
CASES += three(
    "us.corn-whisky",
    "corn whisky",
    [{**CORN, "grain": "corn 90, rye 10"}],
    [{**CORN, "grain": "corn 79.9, rye 20.1"}],
    [CORN],
    "80 percent corn",
)
CASES += three(
    "us.straight-corn", "straight corn whisky", [CORN], [{**CORN, **YOUNG}], [{**CORN, **TWO}], "2 years in used oak"
)
CASES += three("us.straight", "straight", [{}], [YOUNG], [TWO], "2 years in charred new oak")
CASES += three(
    "us.whisky", "whisky", [{}], [{"distilled_proof": 190.0}], [{"distilled_proof": 189.9}], "less than 190 proof"
)
CASES += three(
    "us.light-whisky",
    "light whisky",
    [LIGHT],
    [{**LIGHT, "distilled_proof": 160.0}],
    [{**LIGHT, "distilled_proof": 160.1}],
    "above 160 proof",
)
CASES += three(
    "us.blended-light-whisky",
    "blended light whisky",
    [LIGHT] * 9 + [{}],
    [LIGHT] * 4 + [{}],
    [LIGHT] * 81 + [{}] * 19,
    "less than 20 percent of straight whisky",
)
CASES += three(
    "us.blended-whisky",
    "blended whisky",
    [{}] * 3 + [NEUTRAL] * 7,
    [{}] * 19 + [NEUTRAL] * 81,
    [{}] + [NEUTRAL] * 4,
    "not less than 20 percent of straight whisky",
)
CASES += three(
    "us.spirit-whisky",
    "spirit whisky",
    [USED] + [NEUTRAL] * 9,
    [USED] + [NEUTRAL] * 20,
    [USED] + [NEUTRAL] * 19,
    "not less than 5 percent of whisky",
)
CASES += three(
    "us.blend-of-straights",
    "blend of straight whiskies",
    [{}, {"state": "Southmark", **OTHER_HOUSE}],
    [{}, {}],
    [TWO, {"state": "Southmark", **OTHER_HOUSE, **TWO}],
    "a mixture that is not straight whisky",
)
GAUGED = {"gauged_at": "2026-02-10"}
for kind, verdict, proof in (("meets", MET, 119.0), ("fails", NOT, 117.9), ("boundary", MET, 118.0)):
    CASES.append(
        us(
            "barrel-proof",
            kind,
            verdict,
            f"dumped at 120, bottled at {proof}",
            "barrel proof",
            proof=proof,
            drawn_proof=120.0,
            casks=[],
            stock=[{"cask": "C-1"}],
            lines=[{"component": "C-1", "kind": "cask", "filled_on": "2021-02-03", **GAUGED}],
        )
    )
CASES.append(us("barrel-proof", "open", OPEN, "no gauge at the dump", "cask strength", proof=119.0, drawn_proof=120.0))
CASES += [
    us(
        "entry-proof",
        kind,
        verdict,
        f"entered at {entry}, bottled at 100",
        "entry proof",
        casks=[{"entry_proof": entry}],
    )
    for kind, verdict, entry in (("meets", MET, 100.0), ("fails", NOT, 100.2), ("boundary", MET, 100.04))
]
ASM = {"kind": "malt", "bottling": {"bottled_on": "2030-01-19"}}  # the time of older labels is over
CASES += three(
    "us.american-single-malt",
    "american single malt",
    [US_MALT],
    [{**US_MALT, "capacity_L": 701.0}],
    [{**US_MALT, "capacity_L": 700.0}],
    "not more than 700 L",
    **ASM,
)
CASES += three(
    "us.straight-american-single-malt",
    "straight american single malt",
    [US_MALT],
    [{**US_MALT, **YOUNG}],
    [{**US_MALT, **TWO}],
    "2 years",
    **ASM,
)
for market, claim in (
    ("us.scotch-whisky", "scotch whisky"),
    ("eu.scotch-whisky", "scotch whisky"),
    ("uk.scotch-whisky", "scotch whisky"),
):
    CASES += three(
        market,
        claim,
        [{}],
        [{"country": "England"}],
        [{"filled_on": "2023-02-10", "distilled_on": "2023-02-01"}],
        "Scotland, 3 years",
        kind="malt",
    )
IRISH = {"country": "Ireland", "state": None}
THREE = {"filled_on": "2023-02-10", "distilled_on": "2023-02-01"}
SHORT = {"filled_on": "2023-02-11", "distilled_on": "2023-02-01"}
for rule in ("us.irish-whisky", "eu.irish-whiskey", "ie.whiskey"):
    claim = "irish whisky" if rule.startswith("us") else "irish whiskey"
    CASES += three(rule, claim, [IRISH], [{**IRISH, **SHORT}], [{**IRISH, **THREE}], "3 years in Ireland", kind="malt")
CANADIAN = {"country": "Canada", "state": None}
CASES += three(  # by the law of Canada, whose B.02.020(1) was repealed on the day after
    "us.canadian-whisky",
    "canadian whisky",
    [CANADIAN],
    [{**CANADIAN, **SHORT}],
    [{**CANADIAN, **THREE}],
    "3 years in Canada",
    kind="malt",
    brief={"due": "2024-12-17"},
)
GIVEN_NOW = {"kind": "malt", "casks": [CANADIAN]}
CASES.append(Case("us.canadian-whisky", "open", OPEN, "since the repeal", "canadian whisky", GIVEN_NOW))

# the categories of Scotch whisky: SI 2009/2890 reg. 3(2)
CASES += three(
    "uk.single-malt-scotch",
    "single malt",
    [{}, {}],
    [{}, OTHER_HOUSE],
    [{"grain": "malted barley 100"}, THREE],
    "one distillery, malted barley only",
    kind="malt",
    edge=MET,
)
CASES += three(
    "uk.single-grain-scotch",
    "single grain",
    [GRAIN],
    [{"still": "pot"}],
    [{**GRAIN, "distilled_proof": 94.79}],
    "one distillery, other cereals",
    kind="malt",
)
CASES += three(
    "uk.blended-malt-scotch",
    "blended malt",
    [{}, OTHER_HOUSE],
    [{}, {}],
    [{}, {**OTHER_HOUSE, **THREE}],
    "several distilleries",
    kind="malt",
)
CASES += three(
    "uk.blended-grain-scotch",
    "blended grain",
    [GRAIN, {**GRAIN, **OTHER_HOUSE}],
    [GRAIN, GRAIN],
    [GRAIN, {**GRAIN, **OTHER_HOUSE, **THREE}],
    "several distilleries",
    kind="malt",
)
CASES += three(
    "uk.blended-scotch",
    "blended scotch",
    [{}, GRAIN],
    [{"still": "pot"}, {**OTHER_HOUSE, "still": "pot"}],
    [{}, {**GRAIN, **THREE}],
    "malt with grain",
    kind="malt",
)
CASES += three(
    "uk.whisky-scotch", "whisky", [{}], [{"capacity_L": 701.0}], [{"capacity_L": 700.0}], "700 L", kind="malt"
)
CASES += three(
    "uk.distilled-in",
    "distilled in 2021",
    [{}],
    [{}, {"distilled_on": "2020-12-31"}],
    [{"distilled_on": "2021-01-01"}, {"distilled_on": "2021-12-31", "filled_on": "2022-01-03"}],
    "one calendar year",
    kind="malt",
    brief={"age_statement": "4 years"},  # reg. 12(2)(c): the age or the year of bottling stands beside it
)
CASES += three(
    "uk.pure-malt",
    "pure malt",
    [{"country": "England"}],
    [{}],
    [{}, {"country": "England"}],
    "not of Scotch whisky",
    kind="malt",
)
WALES = {"country": "Wales"}
CASES += three(
    "uk.whisky",
    "whisky",
    [WALES],
    [{**WALES, "distilled_proof": 94.8}],
    [{**WALES, "distilled_proof": 94.79}],
    "below 94.8 % vol",
    kind="malt",
)
CASES += three(
    "eu.whisky",
    "whisky",
    [{}],
    [{"distilled_proof": 94.8}],
    [{"distilled_proof": 94.79}],
    "below 94.8 % vol",
    kind="malt",
)
CASES += three(
    "eu.single-malt",
    "single malt",
    [{}],
    [{"grain": "malted barley 99, wheat 1"}],
    [{}, THREE],
    "malted barley only",
    kind="malt",
)

# what is always judged, market by market: age to the day, strength to the digit
PLACES = {
    "eu": {"country": "Ireland"},
    "uk": WALES,
    "ie": IRISH,
}
for market, of in PLACES.items():
    CASES += three(
        f"{market}.minimum-age",
        "minimum age",
        [of],
        [{**of, **SHORT}],
        [{**of, **THREE}],
        "3 years to the day",
        kind="malt",
    )
    CASES += [
        Case(
            f"{market}.minimum-strength",
            kind,
            verdict,
            f"{abv} % vol",
            "minimum strength",
            {"kind": "malt", "abv": abv, "casks": [of]},
        )
        for kind, verdict, abv in (("meets", MET, 46.0), ("fails", NOT, 39.99), ("boundary", MET, 40.0))
    ]
    CASES += [
        Case(
            f"{market}.age-statement",
            kind,
            verdict,
            f"{age} of exactly 5 years",
            "age statement",
            {"kind": "malt", "casks": [{**of, "filled_on": "2021-02-10"}], "brief": {"age_statement": age}},
        )
        for kind, verdict, age in (("meets", MET, "4 years"), ("fails", NOT, "6 years"), ("boundary", MET, "5 years"))
    ]
for rule, claim in (("uk.minimum-age-scotch", "minimum age"),):
    CASES += three(rule, claim, [{}], [SHORT], [THREE], "3 years to the day", kind="malt")
CASES += [
    Case("uk.minimum-strength-scotch", kind, verdict, f"{abv} % vol", "minimum strength", {"kind": "malt", "abv": abv})
    for kind, verdict, abv in (("meets", MET, 46.0), ("fails", NOT, 39.99), ("boundary", MET, 40.0))
]
CASES += [
    Case(
        "uk.age-statement-scotch",
        kind,
        verdict,
        f"{age} of exactly 5 years",
        "age statement",
        {"kind": "malt", "casks": [{"filled_on": "2021-02-10"}], "brief": {"age_statement": age}},
    )
    for kind, verdict, age in (("meets", MET, "4 years"), ("fails", NOT, "50 months"), ("boundary", MET, "5 years"))
]
CASES += [
    us("minimum-strength", kind, verdict, f"{proof} proof", "minimum strength", proof=proof)
    for kind, verdict, proof in (("meets", MET, 90.0), ("fails", NOT, 79.94), ("boundary", MET, 79.95))
]
CASES += [
    us(
        "bottling-strength",
        kind,
        verdict,
        f"{proof / 2} on a 40 label",
        "bottling strength",
        proof=proof,
        bottling={"label_abv": 40.0},
    )
    for kind, verdict, proof in (("meets", MET, 80.0), ("fails", NOT, 79.3), ("boundary", MET, 79.4))
]
for market in ("eu", "uk"):
    CASES += [
        Case(
            f"{market}.bottling-strength",
            kind,
            verdict,
            f"{abv} on a 40 label",
            "bottling strength",
            {"kind": "malt", "abv": abv, "bottling": {"label_abv": 40.0}, "casks": [PLACES[market]]},
        )
        for kind, verdict, abv in (("meets", MET, 40.1), ("fails", NOT, 40.31), ("boundary", MET, 40.3))
    ]
    CASES += [
        Case(
            f"{market}.standard-of-fill",
            kind,
            verdict,
            f"{size} L",
            "standard of fill",
            {"kind": "malt", "casks": [PLACES[market]], "brief": {"bottle_size_L": size}},
        )
        for kind, verdict, size in (("meets", MET, 0.7), ("fails", NOT, 0.75), ("boundary", MET, 2.001))
    ]
CASES += [
    us("standard-of-fill", kind, verdict, f"{size} L", "standard of fill", brief={"bottle_size_L": size})
    for kind, verdict, size in (("meets", MET, 0.75), ("fails", NOT, 0.749), ("boundary", MET, 0.331))
]
FOUR = {"filled_on": "2022-02-10", "distilled_on": "2022-02-01"}
NEARLY = {"filled_on": "2022-02-11", "distilled_on": "2022-02-01"}
CASES += [
    us("age-statement", kind, verdict, f"{stated}", "age statement", casks=[FOUR], brief={"age_statement": stated})
    for kind, verdict, stated in (("meets", MET, "3 years"), ("fails", NOT, "49 months"), ("boundary", MET, "4 years"))
]
CASES.append(
    us(
        "age-statement",
        "fails",
        NOT,
        "finished time does not count for bourbon",
        "age statement",
        casks=[],
        stock=[{"cask": "C-1", **FOUR}, {"cask": "W-1", **USED, "filled_on": "2025-02-10"}],
        brief={"age_statement": "4 years", "claims": "bourbon"},
        lines=[{"component": "W-1", "kind": "cask", "filled_on": "2025-02-10"}],
        movements=[{"moved_at": "2025-02-10", "from": "C-1", "to": "W-1", "reason": "finish"}],
    )
)
CASES += three("us.age-statement-required", "age statement", [{}], [NEARLY], [FOUR], "4 years, no age stated")
BOND = {"filled_on": "2022-02-10", "distilled_on": "2022-02-01"}
CASES += three(
    "us.bottled-in-bond", "bottled in bond", [{}], [{**BOND, "filled_on": "2022-02-11"}], [BOND], "4 years to the day"
)
CASES += [
    us("bottled-in-bond", kind, verdict, f"{proof} proof", "bottled in bond", proof=proof)
    for kind, verdict, proof in (("boundary", MET, 100.04), ("open", OPEN, 100.5), ("fails", NOT, 101.0))
]


def bottles(*volumes: float) -> list[dict[str, Any]]:
    return [{"net_volume_L": volume / 1000} for volume in volumes]


# 27 CFR 19.356(b): 2.0 percent from 999 to 376 mL; SI 2009/2890 has none. Fill at 60 °F in a batch for the US alone.
CASES += [
    us(
        "net-contents",
        kind,
        verdict,
        f"one bottle of {700 + off} mL",
        "net contents",
        fill=bottles(700 + off, 700 - off / 2, 703, 697),
    )
    for kind, verdict, off in (("meets", MET, 2.0), ("fails", NOT, 14.1), ("boundary", MET, 14.0))
]
CASES.append(
    us("net-contents", "fails", NOT, "all of twelve bottles short", "net contents", fill=bottles(*[699.0] * 12))
)
CASES += [
    us(
        "net-contents",
        kind,
        verdict,
        f"{size} mL off by {off} percent",
        "net contents",
        bottling={"bottle_size_L": size / 1000},
        fill=[{"bottle_size_L": size / 1000, "net_volume_L": size * (1 + sign * off / 100) / 1000} for sign in (1, -1)],
    )
    for size, limit in ((1000.0, 1.5), (750.0, 2.0), (375.0, 3.0), (100.0, 4.5))
    for kind, verdict, off in (("boundary", MET, limit), ("fails", NOT, limit + 0.01))
]
# 76/211/EEC Annex I: the average, none below twice the tolerable negative error (15 mL from 500 to 1000 mL)
for market in ("eu", "uk"):
    of = {"kind": "malt", "casks": [PLACES[market]], "bottling": {"bottle_size_L": 0.7, "bottles": 600}}
    CASES += [
        Case(f"{market}.net-contents", kind, verdict, says, "net contents", {**of, "fill": bottles(*volumes)})
        for kind, verdict, says, volumes in (
            ("meets", MET, "the average above the label", [701.0] * 20),
            ("boundary", MET, "the average at the label", [702.0] * 10 + [698.0] * 10),
            ("fails", NOT, "the average surely below", [698.0, 698.5] * 10),
            ("fails", NOT, "one below twice the tolerable error", [705.0] * 39 + [669.9]),
            ("boundary", MET, "one in forty at twice the tolerable error", [705.0] * 39 + [670.0]),
            # SI 2006/659 Sch. 2: of 20 bottles 1 may be short, of 50 there may be 3; of 40 either plan may be meant
            ("open", OPEN, "two of forty below the tolerable error", [705.0] * 38 + [684.0] * 2),
            ("fails", NOT, "four of forty below the tolerable error", [705.0] * 36 + [684.0] * 4),
            ("fails", NOT, "two of twenty below the tolerable error", [705.0] * 18 + [684.0] * 2),
            ("boundary", MET, "one of twenty below the tolerable error", [705.0] * 19 + [684.0]),
            ("boundary", MET, "three of fifty below the tolerable error", [705.0] * 47 + [684.0] * 3),
            ("open", OPEN, "below, but by chance perhaps", [690.0, 709.8] * 10),
            ("open", OPEN, "too few bottles", [701.0] * 4),
        )
    ]
