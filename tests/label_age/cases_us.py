"""The United States: 27 CFR parts 5 and 19, class by class, with what a label may not hide."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from tests.label_age.bulk import Case
from tests.label_age.family import LIMIT as AT
from tests.label_age.family import MET, NOT, OPEN, Claim, Row, added, around, each

TYPE, PLACE, ADDED = "27 CFR 5.143(c)(2)", "27 CFR 5.143(b)", "27 CFR 5.155(b)"
CLASS, LIMIT, NONE, OTHER_WOOD = "27 CFR 5.143(a)", "27 CFR 5.155(c)(1)", "27 CFR 5.155(c)(3)", "27 CFR 5.155(c)(6)"
STRAIGHT, STRAIGHT_TYPE = "27 CFR 5.143(c)(4)-(6)", "27 CFR 5.143(c)(5)"
STATE = "27 CFR 5.66(f)(1)(iii)"
USED = {"new_oak": False, "wood_use": "refill"}
PROOF = {"distilled_proof_unit": "proof", "entry_proof_unit": "proof"}
TWO = {"filled_on": "2024-02-10", "distilled_on": "2024-02-01"}
OTHERS = ("oats", "triticale", "millet", "sorghum", "rice", "spelt", "buckwheat", "quinoa", "amaranth", "malted wheat")
WORDS = {"oats": "oat"}


def mash(grain: str, share: float) -> dict[str, Any]:
    other = "rye" if grain == "corn" else "corn"
    return {"grain": f"{grain} {share:g}, {other} {100 - share:g}"}


def grain_rows(grain: str, least: float, section: str, alone: str = MET) -> list[Row]:
    """A mash before, at and after the least share, of the grain ``alone``, one that leaves it open, and none stated."""
    rows = [
        (f"{AT if share == least else ''}{share:g} % {grain}", section, verdict, {"cask": mash(grain, share)})
        for share, verdict in ((least - 0.1, NOT), (least, MET), (least + 0.1, MET), (100.0, alone))
    ]
    part = {"cask": {"grain": f"{grain} {least - 5:g}"}}
    return [
        *rows,
        ("a mash that leaves it open", section, OPEN, part),
        ("no mash", section, OPEN, {"cask": {"grain": None}}),
    ]


def still_rows(most: float, section: str) -> list[Row]:
    return around("distilled_proof", most, 0.1, section, least=False)


def entry_rows(section: str) -> list[Row]:
    return around("entry_proof", 125, 0.1, section, least=False)


def country_rows(section: str, names: tuple[str, ...] = ()) -> list[Row]:
    """A type made abroad wants the country or American type beside it."""
    return [
        ("distilled in Canada", section, NOT, {"cask": {"country": "Canada"}}),
        ("no country of distillation", section, OPEN, {"cask": {"country": None}}),
        ("one of two casks from Mexico", section, NOT, {"beside": {"country": "Mexico"}}),
    ]


CUSTOMARY = ("plain caramel", "caramel", "honey", "sugar syrup", "vanilla", "glycerin", "e150d colour")


def addition_rows(*less: str) -> list[Row]:
    """Harmless materials to 2.5 % by volume (27 CFR 5.155); more, other materials, or no quantity."""
    rows: list[Row] = []
    for name in CUSTOMARY:
        rows += [
            added(name, LIMIT, MET, 2.4),
            added(name, LIMIT, MET, 2.5),
            added(name, LIMIT, NOT, 2.6),
            added(name, LIMIT, OPEN, None),
        ]
    rows += [
        added("oak chips", ADDED, NOT, 0.1),
        added("oak staves", ADDED, NOT, None),
        added("beading oil", ADDED, NOT, 0.01),
        added("quiddity", ADDED, OPEN, 0.1),
        added("quiddity", LIMIT, NOT, 2.6),
        ("more was added than is listed", ADDED, OPEN, {"brief": {"all_listed": False}}),
        ("all is listed", ADDED, MET, {"brief": {"all_listed": True}}),
        ("two materials of 1.3 % each", LIMIT, NOT, {"lines": _two(1.3), "volume_60F_gal": 1000.0}),
        ("two materials of 1.25 % each", LIMIT, MET, {"lines": _two(1.25), "volume_60F_gal": 1000.0}),
        ("3 % of a vat not gauged", LIMIT, OPEN, {"lines": _two(1.5), "entry": "expected", "volume_60F_gal": 1000.0}),
        ("15 kg of honey in 1,000 gal", LIMIT, MET, {"lines": [_weighed(15.0)], "volume_60F_gal": 1000.0}),
        ("100 kg of honey in 1,000 gal", LIMIT, OPEN, {"lines": [_weighed(100.0)], "volume_60F_gal": 1000.0}),
        ("200 kg of honey in 1,000 gal", LIMIT, NOT, {"lines": [_weighed(200.0)], "volume_60F_gal": 1000.0}),
    ]
    return [row for row in rows if row[0] not in less]


def _two(percent: float) -> list[dict[str, Any]]:
    names = ("honey", "plain caramel")
    return [{"component": n, "kind": "addition", "ethanol_kg": 0.0, "volume_60F_gal": 10 * percent} for n in names]


def _weighed(kg: float) -> dict[str, Any]:
    return {"component": "honey", "kind": "addition", "ethanol_kg": 0.0, "mass_kg": kg, "drawn_basis": "weighed"}


def nothing_rows(section: str = NONE) -> list[Row]:
    """Nothing may be added but water, however little."""
    names = (*CUSTOMARY, "oak chips", "quiddity", "beading oil", "sherry")
    rows = [added(name, section, NOT, 0.01) for name in names]
    return [
        *rows,
        added("honey", section, NOT, None),
        ("neutral spirit added", section, NOT, {"lines": [_spirit("neutral spirit")]}),
        ("water added", section, MET, {"lines": [{"component": "water", "kind": "water", "volume_60F_gal": 5.0}]}),
        ("more was added than is listed", section, OPEN, {"brief": {"all_listed": False}}),
        ("all is listed", section, MET, {"brief": {"all_listed": True}}),
    ]


def _spirit(name: str) -> dict[str, Any]:
    return {"component": name, "kind": "addition", "ethanol_kg": 5.0}


def strength_rows() -> list[Row]:
    return [
        ("79.9 proof", CLASS, NOT, {"proof": 79.9}),
        ("80 proof", CLASS, MET, {"proof": 80.0}),
        ("80.1 proof", CLASS, MET, {"proof": 80.1}),
    ]


def new_wood_rows(section: str, used: str = NOT) -> list[Row]:
    """Charred new oak, and each that is not."""
    return [
        *each("charred", section, {False: used, None: OPEN}),
        ("a second fill", section, used, {"cask": USED}),
        ("new or not is not stated", section, OPEN, {"cask": {"new_oak": None, "wood_use": None}}),
        ("first fill", section, used, {"cask": {"new_oak": None, "wood_use": "first fill"}}),
        ("chestnut", section, NOT, {"cask": {"species": "chestnut"}}),
    ]


def moved(first: dict[str, Any], reason: str, **cask: Any) -> dict[str, Any]:
    """The spirit of C-1 lay half a year in W-1 at last."""
    return {
        "stock": [{"cask": "W-1", "filled_on": "2025-08-10", **first, **cask}],
        "lines": [{"component": "W-1", "kind": "cask", "filled_on": "2025-08-10"}],
        "movements": [{"moved_at": "2025-08-10", "from": "C-1", "to": "W-1", "reason": reason}],
        "casks": [first],
    }


def finish_rows(first: dict[str, Any]) -> list[Row]:
    section = "27 CFR 5.143(c), as the authority reads it"
    return [
        ("a second charred new cask", section, MET, moved(first, "recask")),
        ("a second charred new cask, called a finish", section, MET, moved(first, "finish")),
        ("a finish in a used cask", section, NOT, moved(first, "finish", **USED)),
        ("a used cask", section, NOT, moved(first, "recask", **USED)),
        (
            "a finish in chestnut",
            OTHER_WOOD,
            NOT,
            moved(first, "finish", species="chestnut", new_oak=None, wood_use=None),
        ),
    ]


CASES: list[Case] = []
# ---------------------------------------------------------------- 27 CFR 5.143(a): the class
CASES += Claim("us.whisky", "whisky", CLASS).cases(
    still_rows(189.9, CLASS)[:0],
    around("distilled_proof", 189.9, 0.1, CLASS, least=False),
    each("grain", CLASS, {"molasses 100": NOT, "corn 60": OPEN, None: OPEN, "wheat 100": MET, "buckwheat 100": MET}),
    each("species", CLASS, {"chestnut": NOT, "stainless steel": NOT}),
    addition_rows(),
    strength_rows(),
    [
        (
            "corn whisky from steel, which must be called that",
            "27 CFR 5.143(c)(3)",
            NOT,
            {"cask": {"species": "stainless steel", "grain": "corn 85, rye 15", **USED}},
        )
    ],
)
# ---------------------------------------------------------------- 27 CFR 5.143(c)(2): types from charred new oak
TYPES = {"bourbon": "corn", "rye": "rye", "wheat": "wheat", "malt": "malted barley", "rye malt": "malted rye"}
for name, grain in TYPES.items():
    word = name.replace(" ", "-")
    full = mash(grain, 60)
    if name == "bourbon":
        base = Claim("us.bourbon", "bourbon", TYPE, {"casks": [full]})
        additions = nothing_rows()
        places = [
            ("aged in Canada", PLACE, NOT, {"cask": {"matured_in": "Canada"}}),
            ("aged in Kentucky", PLACE, MET, {"cask": {"matured_in": "Kentucky, US"}}),
            ("distilled in Canada", PLACE, NOT, {"cask": {"country": "Canada"}}),
            ("distilled in Canada, aged in the United States", PLACE, NOT,
             {"cask": {"country": "Canada", "matured_in": "US"}}),
            ("one of two aged in Mexico", PLACE, NOT, {"beside": {"matured_in": "Mexico"}}),
            ("no country", PLACE, OPEN, {"cask": {"country": None}}),
        ]  # fmt: skip
    else:
        base = Claim(f"us.{word}-whisky", f"{name} whisky", TYPE, {"casks": [full]})
        additions, places = addition_rows(), country_rows(PLACE)
    CASES += base.cases(
        grain_rows(grain, 51, TYPE),
        still_rows(160, TYPE),
        entry_rows(TYPE),
        new_wood_rows(TYPE),
        finish_rows(full),
        additions,
        places,
        strength_rows(),
    )
    # ------------------------------------------------------------ 27 CFR 5.143(c)(5): straight
    claim = "straight bourbon" if name == "bourbon" else f"straight {name} whisky"
    states = [
        ("two distilleries of one State", STRAIGHT, MET, {"beside": {"distillery": "Stony Ford"}}),
        (
            "two distilleries of two States",
            STRAIGHT,
            NOT,
            {"beside": {"distillery": "Stony Ford", "state": "Southmark"}},
        ),
        (
            "two distilleries, one State not known",
            STRAIGHT,
            OPEN,
            {"beside": {"distillery": "Stony Ford", "state": None}},
        ),
    ]
    ages = [
        (f"{AT}2 years to the day", STRAIGHT, MET, {"cask": {**full, **TWO}}),
        ("a day short of 2 years", STRAIGHT, NOT, {"cask": {"filled_on": "2024-02-11", "distilled_on": "2024-02-01"}}),
        ("one young cask of two", STRAIGHT, NOT, {"beside": {"filled_on": "2025-02-11", "distilled_on": "2025-02-01"}}),
    ]
    CASES += Claim(f"us.straight-{word}", claim, STRAIGHT_TYPE, {"casks": [full]}).cases(
        grain_rows(grain, 51, TYPE),
        still_rows(160, STRAIGHT),
        entry_rows(STRAIGHT),
        new_wood_rows(STRAIGHT),
        nothing_rows(),
        states,
        ages,
        finish_rows(full),
        [("distilled in Canada", PLACE, NOT, {"cask": {"country": "Canada"}})],
    )
    # ------------------------------------------------------------ a State in the designation
    at_home = {**full, "state": "Kentucky", "matured_in": "Kentucky, US"}
    for rule, kind in ((base.rule, base.claim), (f"us.straight-{word}", claim)):
        CASES += Claim(f"us.state-{rule[3:]}", f"kentucky {kind}", STATE, {"casks": [at_home]}).cases(
            each("state", STATE, {"Tennessee": NOT, None: OPEN}),
            each("matured_in", PLACE, {"Indiana": NOT, None: OPEN, "US": OPEN, "Kentucky": MET}),
            [("one of two from Indiana", STATE, NOT, {"beside": {"state": "Indiana"}})],
            grain_rows(grain, 51, TYPE)[:1],
        )
    # ------------------------------------------------------------ 27 CFR 5.143(c)(7): from used oak
    seven = "27 CFR 5.143(c)(7)"
    CASES += Claim(
        f"us.whisky-from-{word}-mash", f"whisky distilled from {name} mash", seven, {"casks": [{**full, **USED}]}
    ).cases(
        grain_rows(grain, 51, seven, NOT if grain == "corn" else MET),  # of corn alone it is corn whisky, (c)(3)
        still_rows(160, seven),
        [("charred new oak", seven, NOT, {"cask": {"new_oak": True, "wood_use": "virgin"}})],
        [("distilled in Canada", PLACE, NOT, {"cask": {"country": "Canada"}})],
        [("no country", PLACE, OPEN, {"cask": {"country": None}})],
        addition_rows(),
    )
# ---------------------------------------------------------------- other named grains
for grain in OTHERS:
    name = WORDS.get(grain, grain)
    word = name.replace(" ", "-")
    CASES += Claim(f"us.{word}-whisky", f"{name} whisky", TYPE, {"casks": [mash(grain, 60)]}).cases(
        grain_rows(grain, 51, TYPE), still_rows(160, TYPE), new_wood_rows(TYPE), country_rows(PLACE)
    )
    # the table names straight whisky of five grains: whether of another, no text read says
    straight = Claim(
        f"us.straight-{word}", f"straight {name} whisky", STRAIGHT_TYPE, {"casks": [mash(grain, 60)]}, OPEN
    )
    short = {**mash(grain, 60), "filled_on": "2024-02-11", "distilled_on": None}
    CASES += straight.cases(
        grain_rows(grain, 51, TYPE)[:1],
        [(f"{AT}2 years to the day", STRAIGHT, OPEN, {"cask": {**mash(grain, 60), **TWO}})],
        [("a day short", STRAIGHT, NOT, {"cask": short})],
        [added("honey", NONE, NOT, 0.1)],
    )
    seven = "27 CFR 5.143(c)(7)"
    CASES += Claim(f"us.whisky-from-{word}-mash", f"whisky distilled from {name} mash", seven,
                   {"casks": [{**mash(grain, 60), **USED}]}).cases(
        grain_rows(grain, 51, seven),
        still_rows(160, seven)[:3],
        [("charred new oak", seven, NOT, {"cask": {"new_oak": True, "wood_use": "virgin"}})],
        [("distilled in Canada", PLACE, NOT, {"cask": {"country": "Canada"}})],
    )  # fmt: skip
# ---------------------------------------------------------------- corn whisky, (c)(3) and (6)
CORN = {"grain": "corn 85, rye 15", **USED}
STEEL = {"species": "stainless steel", "new_oak": None, "wood_use": None, "charred": None, "entry_proof": None}
THREE = "27 CFR 5.143(c)(3)"
CASES += Claim("us.corn-whisky", "corn whisky", THREE, {"casks": [CORN]}).cases(
    grain_rows("corn", 80, THREE),
    still_rows(160, THREE),
    entry_rows(THREE),
    [
        ("charred new oak", THREE, NOT, {"cask": {"new_oak": True, "wood_use": "virgin"}}),
        ("uncharred new oak", THREE, MET, {"cask": {"new_oak": True, "wood_use": "virgin", "charred": False}}),
        ("never in wood, no entry proof", THREE, MET, {"cask": STEEL}),
        ("never in wood, 130 proof into the tank", THREE, MET, {"cask": {**STEEL, "entry_proof": 130.0}}),
    ],
    addition_rows(),
    country_rows(PLACE),
)
CASES += Claim("us.straight-corn", "straight corn whisky", "27 CFR 5.143(c)(6)", {"casks": [CORN]}).cases(
    grain_rows("corn", 80, THREE),
    entry_rows(THREE),
    nothing_rows(),
    [
        ("charred new oak", THREE, NOT, {"cask": {"new_oak": True, "wood_use": "virgin"}}),
        (f"{AT}2 years to the day", "27 CFR 5.143(c)(6)", MET, {"cask": {**CORN, **TWO}}),
        ("a day short", "27 CFR 5.143(c)(6)", NOT, {"cask": {"filled_on": "2024-02-11", "distilled_on": None}}),
    ],
)
for rule, claim in (("corn-whisky", "corn whisky"), ("straight-corn", "straight corn whisky")):
    at_home = {**CORN, "state": "Texas", "matured_in": "Texas"}
    CASES += Claim(f"us.state-{rule}", f"texas {claim}", STATE, {"casks": [at_home]}).cases(
        each("state", STATE, {"Tennessee": NOT, None: OPEN}), each("matured_in", PLACE, {"Ohio, US": NOT, None: OPEN})
    )
FLAT = {"grain": "corn 40, rye 30, wheat 30"}
CASES += Claim("us.straight", "straight", STRAIGHT).cases(
    still_rows(160, STRAIGHT), nothing_rows(), country_rows(PLACE)
)
CASES += Claim("us.state-straight", "ohio straight", STATE, {"casks": [{"state": "Ohio", "matured_in": "Ohio"}]}).cases(
    each("state", STATE, {"Iowa": NOT, None: OPEN}), each("matured_in", PLACE, {"Iowa": NOT, None: OPEN})
)
CASES += Claim("us.straight-whisky", "straight whisky", "27 CFR 5.143(c)(4)", {"casks": [FLAT]}).cases(
    each("grain", "27 CFR 5.143(c)(4)", {
        "corn 50.9, rye 49.1": MET, "corn 51, rye 49": NOT, "corn 70, rye 30": NOT, "rye 51, corn 49": NOT,
        "malted barley 100": NOT, "wheat 51, corn 49": NOT, "malted rye 51, corn 49": NOT, "corn 40": OPEN, None: OPEN,
    }),
    each("grain", "27 CFR 5.143(c)(4)", {
        f"{grain} {share}, corn {100 - share}": verdict
        for grain in OTHERS for share, verdict in ((50.9, MET), (51, NOT))
    }),
    nothing_rows(),
    entry_rows(STRAIGHT),
)  # fmt: skip
FOUR_C, FORD = "27 CFR 5.143(c)(4)", {"distillery": "Stony Ford"}
BOURBON, RYE = mash("corn", 70), mash("rye", 95)
CORN_STRAIGHT = mash("corn", 85)
for _says, verdict, *mixed_casks in (
    ("straight bourbon and straight rye of one distillery", MET, BOURBON, RYE),
    ("straight bourbon and straight rye of one State", MET, BOURBON, {**RYE, **FORD}),
    ("straight bourbon and straight rye of two States", NOT, BOURBON, {**RYE, **FORD, "state": "Southmark"}),
    ("straight bourbon and straight rye, a State not known", OPEN, BOURBON, {**RYE, **FORD, "state": None}),
    ("straight bourbons of two distilleries of one State", MET, BOURBON, {**BOURBON, **FORD}),
    ("straight bourbons of one distillery", NOT, BOURBON, BOURBON),
    ("straight bourbon and a whisky of no leading grain", MET, BOURBON, FLAT),
    ("straight bourbon and straight corn whisky", MET, CORN_STRAIGHT, {**CORN_STRAIGHT, **USED}),
    ("straight bourbon and rye a day short of 2 years", NOT, BOURBON, {**RYE, "filled_on": "2024-02-11"}),
    ("straight bourbon and rye of no stated grain", OPEN, BOURBON, {"grain": None}),
    ("straight bourbon and light whisky", NOT, BOURBON, {**RYE, "distilled_proof": 165.0}),
):
    given = {"casks": mixed_casks}
    CASES += [*replace(Claim("us.straight-whisky", "straight whisky", FOUR_C, given), verdict=verdict).cases(
        [added("honey", NONE, NOT, 0.1)] if verdict == MET else []
    )]  # fmt: skip
CASES += [*Claim("us.blend-of-straights", "blend of straight whiskies", "27 CFR 5.143(c)(12)",
                 {"casks": [BOURBON, RYE]}, NOT).cases([("with honey", "27 CFR 5.143(c)(12)", MET,
                                                        added("honey", "", MET, 1.0)[3])])]  # fmt: skip
CASES += Claim("us.tennessee-whisky", "tennessee whisky", "Tenn. Code 57-2-106",
               {"casks": [{"state": "Tennessee", "matured_in": "Tennessee"}]}, OPEN).cases(
    each("state", "Tenn. Code 57-2-106", {"Kentucky": NOT}),
    each("matured_in", "Tenn. Code 57-2-106", {"Kentucky": NOT}),
    [("corn 50 %", "Tenn. Code 57-2-106", NOT, {"cask": mash("corn", 50)})],
    [("79.9 proof", "Tenn. Code 57-2-106", NOT, {"proof": 79.9})],
    [("used oak", "Tenn. Code 57-2-106", NOT, {"cask": USED})],
)  # fmt: skip
# ---------------------------------------------------------------- light whisky and mixtures
LIGHT = {"spirit": "light whisky", "distilled_proof": 165.0, **USED}
NEUTRAL = {"spirit": "neutral spirits", "distilled_proof": 190.0, "grain": "corn 100", "state": "Southmark", **USED}
EIGHT = "27 CFR 5.143(c)(8)"
CASES += Claim("us.light-whisky", "light whisky", EIGHT, {"casks": [LIGHT]}).cases(
    around("distilled_proof", 160, 0.1, EIGHT, least=True, at=NOT),
    [(f"{AT}190 proof", CLASS, NOT, {"cask": {"distilled_proof": 190.0}})],
    [("189.9 proof", CLASS, MET, {"cask": {"distilled_proof": 189.9}})],
    [("charred new oak", EIGHT, NOT, {"cask": {"new_oak": True, "wood_use": "virgin"}})],
    country_rows(PLACE),
    addition_rows(),
)


def parts(first: dict[str, Any], many: int, second: dict[str, Any], few: int, **more: Any) -> dict[str, Any]:
    """So many casks of one kind, of 20 proof gallons each, and so many of another."""
    return {"casks": [*([first] * many), *([second] * few)], **more}


def mixed(first: dict[str, Any], second: dict[str, Any], section: str, verdicts: dict[int, str]) -> list[Row]:
    """So many of a hundred casks are of the first kind, the others of the second."""
    edges = (5, 20, 51)
    return [
        (f"{AT if n in edges else ''}{n} of 100 are the first", section, v, parts(first, n, second, 100 - n))
        for n, v in verdicts.items()
    ]


TEN, ELEVEN, TWELVE, THIRTEEN = (f"27 CFR 5.143(c)({n})" for n in (10, 11, 12, 13))
HUNDREDTHS = {0: NOT, 50: NOT, 51: MET, 52: MET}
BLENDS = {**TYPES, "corn": "corn"}
for name, grain in BLENDS.items():
    word = name.replace(" ", "-")
    whole = {**mash(grain, 85), **(USED if name == "corn" else {})}
    whisky = "bourbon whisky" if name == "bourbon" else f"{name} whisky"
    blended = Claim(f"us.blended-{word}", f"blended {whisky}", ELEVEN, parts(whole, 2, NEUTRAL, 1))
    abroad = {**whole, "country": "Mexico"}
    CASES += blended.cases(
        mixed(whole, NEUTRAL, ELEVEN, HUNDREDTHS),
        [
            ("the straight part is young", ELEVEN, NOT, parts({**whole, "filled_on": "2024-03-01"}, 2, NEUTRAL, 1)),
            ("the straight part made in Mexico", PLACE, NOT, parts(abroad, 2, NEUTRAL, 1)),
            ("the straight part of no stated grain", ELEVEN, OPEN, parts({**whole, "grain": None}, 2, NEUTRAL, 1)),
            ("nothing but straight", ELEVEN, NOT, parts(whole, 3, whole, 0)),
            ("79.9 proof", CLASS, NOT, {"proof": 79.9}),
        ],
        addition_rows(),
    )
    if name in ("bourbon", "corn"):
        other = {**mash("corn", 90), **({} if name == "corn" else USED)}
        CASES += [
            *blended.cases(
                [("the other kind of corn whisky for its straight part", ELEVEN, NOT, parts(other, 2, NEUTRAL, 1))]
            )
        ][1:]
    far = {**whole, "distillery": "Stony Ford", "state": "Southmark"}
    two, short = ({**far, "filled_on": day} for day in ("2024-02-10", "2024-02-11"))
    honey = added("honey", "", MET, 1.0)[3]
    both = Claim(f"us.blended-straight-{word}", f"blended straight {whisky}", THIRTEEN, parts(whole, 1, far, 1))
    CASES += both.cases(
        [
            ("of one State", THIRTEEN, NOT, parts(whole, 1, {**whole, "distillery": "Stony Ford"}, 1)),
            ("one part is neutral spirits", THIRTEEN, NOT, parts(whole, 2, NEUTRAL, 1)),
            ("one part is a day short of 2 years", THIRTEEN, NOT, parts(whole, 1, short, 1)),
            (f"{AT}one part is 2 years to the day", THIRTEEN, MET, parts(whole, 1, two, 1)),
            ("made in Mexico", PLACE, NOT, parts(abroad, 1, {**far, "country": "Mexico"}, 1)),
            ("of one State with honey", THIRTEEN, MET, {**parts(whole, 2, whole, 0), **honey}),
        ],
        addition_rows(),
    )  # fmt: skip
STRAIGHT_ONE = mash("corn", 60)
CASES += Claim("us.blended-whisky", "blended whisky", TEN, parts(STRAIGHT_ONE, 1, NEUTRAL, 2)).cases(
    mixed(STRAIGHT_ONE, NEUTRAL, TEN, {0: NOT, 19: NOT, 20: MET, 21: MET, 100: NOT}),
    addition_rows(),
    country_rows(PLACE)[:2],
)
NINE, FOURTEEN = "27 CFR 5.143(c)(9)", "27 CFR 5.143(c)(14)"
CASES += Claim("us.blended-light-whisky", "blended light whisky", NINE, parts(STRAIGHT_ONE, 1, LIGHT, 9)).cases(
    mixed(STRAIGHT_ONE, LIGHT, NINE, {0: NOT, 1: MET, 19: MET, 20: NOT, 100: NOT}),
    addition_rows(),
    [("made in Canada", PLACE, NOT, {"cask": {"country": "Canada"}})],
)
CASES += Claim("us.blend-of-straights", "blend of straight whiskies", TWELVE,
               parts(STRAIGHT_ONE, 1, {**mash("rye", 60), "distillery": "Stony Ford", "state": "Southmark"}, 1)).cases(
    addition_rows(), country_rows(PLACE)[:2],
    [("one part is neutral spirits", TWELVE, NOT, parts(STRAIGHT_ONE, 1, NEUTRAL, 1))],
    [("of one distillery", TWELVE, NOT, parts(STRAIGHT_ONE, 2, STRAIGHT_ONE, 0))],
)  # fmt: skip
PLAIN = {**mash("corn", 60), **USED}
CASES += Claim("us.spirit-whisky", "spirit whisky", FOURTEEN, parts(PLAIN, 1, NEUTRAL, 9)).cases(
    mixed(PLAIN, NEUTRAL, FOURTEEN, {4: NOT, 5: MET, 6: MET, 100: NOT}),
    mixed(STRAIGHT_ONE, {**NEUTRAL, "distillery": "N"}, FOURTEEN, {19: MET, 20: NOT}),
    addition_rows(),
)
# ---------------------------------------------------------------- bottled in bond, 27 CFR 5.88
BOND = "27 CFR 5.88"
FOUR = {"filled_on": "2022-02-10", "distilled_on": "2022-02-08"}
CASES += Claim("us.bottled-in-bond", "bottled in bond", BOND).cases(
    [
        (f"{AT}4 years to the day", f"{BOND}(a)(3)", MET, {"cask": FOUR}),
        ("a day short", f"{BOND}(a)(3)", NOT, {"cask": {"filled_on": "2022-02-11", "distilled_on": "2022-02-08"}}),
        ("another season", f"{BOND}(a)(2)", NOT, {"beside": {"distilled_on": "2020-11-01", "filled_on": "2020-11-02"}}),
        ("another distillery", f"{BOND}(a)(2)", NOT, {"beside": {"distillery": "Stony Ford"}}),
        ("another type", f"{BOND}(a)(1)", NOT, {"beside": {"spirit": "rye"}}),
        ("no type stated, and another grain leads", f"{BOND}(a)(1)", NOT,
         {"cask": {"spirit": None}, "beside": {"spirit": None, **mash("rye", 95)}}),
        ("one type stated, and another grain leads", f"{BOND}(a)(1)", NOT, {"beside": mash("rye", 95)}),
        ("no type stated, one of two from used oak", f"{BOND}(a)(1)", NOT,
         {"cask": {"spirit": None}, "beside": {"spirit": None, **USED}}),
        ("no type stated, one of two a light whisky", f"{BOND}(a)(1)", NOT,
         {"cask": {"spirit": None}, "beside": {"spirit": None, "distilled_proof": 165.0}}),
        ("no type stated, a grain not stated", f"{BOND}(a)(1)", OPEN,
         {"cask": {"spirit": None}, "beside": {"spirit": None, "grain": None}}),
        ("no type and no grain stated", f"{BOND}(a)(1)", OPEN, {"cask": {"spirit": None, "grain": None}, "beside": {}}),
        ("another mash of the same type", f"{BOND}(a)(1)", MET, {"beside": mash("corn", 60)}),
        ("a cask of no stated type", f"{BOND}(a)(1)", OPEN, {"beside": {"spirit": None}}),
        ("a cask of no stated distillery", f"{BOND}(a)(2)", OPEN, {"beside": {"distillery": None}}),
        ("Canadian", f"{BOND}(b)", OPEN, {"cask": {"country": "Canada"}}),
        ("of no stated country", f"{BOND}(b)", OPEN, {"cask": {"country": None}}),
        ("100.7 proof", f"{BOND}(a)(6)", NOT, {"proof": 100.7}),
        ("99.3 proof", f"{BOND}(a)(6)", NOT, {"proof": 99.3}),
        ("99.9 proof", f"{BOND}(a)(6)", OPEN, {"proof": 99.9}),
        ("in steel", f"{BOND}(a)(3)", NOT, {"cask": {"species": "stainless steel"}}),
    ],
    nothing_rows(f"{BOND}(a)(4)"),
)  # fmt: skip
# ---------------------------------------------------------------- age, 27 CFR 5.74
AGE, OVER = "27 CFR 5.74", "27 CFR 5.74(a)(2)"


def stated(age: str, claims: str, **cask: Any) -> dict[str, Any]:
    return {"brief": {"claims": claims, "age_statement": age}, "cask": cask}


AGED = Claim(
    "us.age-statement", "age statement", AGE, {"brief": {"claims": "straight bourbon", "age_statement": "5 years"}}
)
CASES += AGED.cases(
    [
        ("distilled after it was filled", OVER, OPEN, {"cask": {"distilled_on": "2025-01-01"}}),
        ("a year, on straight", OVER, NOT, stated("1 year", "straight bourbon")),
        ("2 years, on Scotch whisky", OVER, NOT, stated("2 years", "scotch whisky")),
        (f"{AT}3 years, on Irish whisky", OVER, MET, stated("3 years", "irish whisky")),
        ("35 months, on Canadian whisky", OVER, NOT, stated("35 months", "canadian whisky")),
        ("23 months, on straight", OVER, NOT, stated("23 months", "straight bourbon")),
        (f"{AT}2 years, on straight", OVER, MET, stated("2 years", "straight bourbon")),
        ("3 years, in bond", OVER, NOT, stated("3 years", "straight bourbon; bottled in bond")),
        ("4 years, in bond", OVER, MET, stated("4 years", "straight bourbon; bottled in bond")),
        ("a year, on bourbon", OVER, MET, stated("1 year", "bourbon")),
        ("6 years", OVER, NOT, stated("6 years", "bourbon")),
        ("less than 6 years", AGE, NOT, stated("less than 6 years", "bourbon")),
        *((said, OVER, OPEN, stated(said, "bourbon")) for said in
          ("5 summers", "5 years?", "approx. 5 years", "about 4 years", "~5 years", "5 or 6 years",
           "probably 4 years")),
        *((said, OVER, MET, stated(said, "bourbon")) for said in
          ("5", "5 years old", "5 in oak", "aged five years", "5 yo", "60 months")),
        ("neutral spirits alone", "27 CFR 5.74(e)(2)", NOT,
         stated("5 years", "", spirit="neutral spirits", distilled_proof=190.0)),
        ("in used oak, on bourbon", "27 CFR 5.1", NOT, stated("5 years", "bourbon", **USED)),
        ("in used oak, on whisky from bourbon mash", "27 CFR 5.1", MET,
         stated("5 years", "whisky distilled from bourbon mash", **USED)),
        ("in used oak, on a single malt", "27 CFR 5.1", MET, stated("5 years", "american single malt", **USED)),
        ("in used oak, on corn whisky", "27 CFR 5.1", MET, stated("5 years", "corn whisky", **{**CORN, **USED})),
        ("in used oak, on light whisky", "27 CFR 5.1", MET, stated("5 years", "light whisky", **LIGHT)),
        ("in chestnut", "27 CFR 5.1", NOT, stated("5 years", "", species="chestnut", new_oak=None, wood_use=None)),
        ("of no stated species", "27 CFR 5.1", OPEN, stated("5 years", "", species=None)),
    ]
)  # fmt: skip
UNSAID = Claim("us.age-statement-required", "age statement", AGE, {"brief": {"claims": "straight bourbon"}})
YOUNG = {"filled_on": "2022-02-11", "distilled_on": "2022-02-08"}
CASES += UNSAID.cases(
    [
        (
            f"{AT}4 years to the day",
            "27 CFR 5.74(b)",
            MET,
            {"cask": FOUR},
        ),
        ("a day short", "27 CFR 5.74(b)", NOT, {"cask": YOUNG}),
        ("a day short, in bond", "27 CFR 5.74(b)", MET, {"cask": YOUNG, "brief": {"claims": "bottled in bond"}}),
        ("one of two a day short", "27 CFR 5.74(b)", NOT, {"beside": YOUNG}),
        ("young neutral spirits beside it", "27 CFR 5.74(b)", MET, {"beside": {**YOUNG, "distilled_proof": 190.0}}),
        ("a second charred new cask", "27 CFR 5.74(b)", MET, moved({}, "finish")),
        (
            "rye whisky of Canada from used oak",
            "27 CFR 5.74(b)",
            NOT,
            {"cask": {**RYE, **USED, "country": "Canada"}, "brief": {"claims": "american type rye whisky"}},
        ),
        (
            "rye whisky of Canada from charred new oak",
            "27 CFR 5.74(b)",
            MET,
            {"cask": {**RYE, "country": "Canada"}, "brief": {"claims": "american type rye whisky"}},
        ),
    ]
)
CASES += Claim("us.distilled-in", "distilled in 2021", "27 CFR 5.74(f)", {"brief": {"age_statement": "4 years"}}).cases(
    each("distilled_on", "27 CFR 5.74(f)", {"2020-12-31": NOT, "2021-01-01": MET, None: OPEN}),
    [("no age beside it", "27 CFR 5.74(f)(2)", NOT, {"brief": {"age_statement": None}})],
    [("another year beside it", "27 CFR 5.74(f)", NOT, {"beside": {"distilled_on": "2020-12-31"}})],
)
# ---------------------------------------------------------------- words of strength, 27 CFR 5.87
CASES += Claim(
    "us.entry-proof", "original cask strength", "27 CFR 5.87(b)", {"casks": [{"entry_proof": 110.0}], "proof": 110.0}
).cases(
    around("entry_proof", 110, 0.1, "27 CFR 5.87(b)", least=True)[:1],
    [("bottled 0.1 proof lower", "27 CFR 5.87(b)", NOT, {"proof": 109.9})],
    [("entry not stated", "27 CFR 5.87(b)", OPEN, {"cask": {"entry_proof": None}})],
    [("one of two entered lower", "27 CFR 5.87(b)", NOT, {"beside": {"entry_proof": 109.0}})],
)
# ---------------------------------------------------------------- standard of fill of 2020, 27 CFR 5.203
FILL = "27 CFR 5.203"


def filled(litres: float, container: str | None, day: str = "2024-06-01") -> dict[str, Any]:
    return {"bottling": {"bottled_on": day, "bottle_size_L": litres, "container": container}}


BOTTLES, CANS = (1800, 1750, 1000, 900, 750, 720, 700, 375, 200, 100, 50), (355, 200, 100, 50)
for day, section in (("2020-12-29", "27 CFR 5.47a"), ("2022-03-10", "27 CFR 5.47a"), ("2022-03-11", FILL),
                     ("2025-01-09", FILL)):  # fmt: skip
    first = Claim("us.standard-of-fill", "standard of fill", section, filled(0.7, "bottle", day))
    CASES += first.cases(
        [
            (f"{size} mL in a {container} on {day}", section, MET if size in sizes else NOT,
             filled(size / 1000, container, day))
            for container, sizes in (("bottle", BOTTLES), ("can", CANS))
            for size in (1800, 1750, 1000, 900, 750, 720, 710, 700, 475, 375, 355, 331, 200, 100, 51, 50, 49)
        ],
        [("750 mL in what is not stated", section, MET, filled(0.75, None, day))],
        [("355 mL in what is not stated", section, OPEN, filled(0.355, None, day))],
    )  # fmt: skip
CASES += Claim("us.standard-of-fill", "standard of fill", FILL, filled(0.71, "can", "2025-01-10")).cases(
    [("710 mL a day before", FILL, NOT, filled(0.71, "can", "2025-01-09"))]
)
# ---------------------------------------------------------------- headspace, 27 CFR 5.202(b)
SPACE = "27 CFR 5.202(b)"


def bottle(headspace: float | None, size: float = 0.7, **brief: Any) -> dict[str, Any]:
    row = {"headspace": headspace, "bottle_size_L": size, "net_volume_L": size}
    return {"fill": [row, {**row, "headspace": 2.0}], **({"brief": brief} if brief else {})}


CASES += Claim("us.headspace", "headspace", SPACE, bottle(7.9)).cases(
    [
        (f"{AT}8 %", SPACE, MET, bottle(8.0)),
        ("8.1 %", SPACE, NOT, bottle(8.1)),
        ("not measured of one bottle", SPACE, MET, bottle(None)),
        ("0.095, perhaps a fraction", SPACE, OPEN, bottle(0.095)),
        ("20 % of a bottle of 100 mL", SPACE, MET, bottle(20.0, 0.1)),
        ("20 % of a bottle of 250 mL, filled with 200", SPACE, NOT, bottle(20.0, 0.2)),
        (f"{AT}187 mL in a bottle of 199 mL", SPACE, MET, bottle(6.0, 0.187)),
        ("187 mL in a bottle of 203 mL, 8.1 %", SPACE, NOT, bottle(8.1, 0.187)),
        ("8.1 % of a distinctive bottle", SPACE, OPEN, bottle(8.1, claims="distinctive liquor bottle")),
        ("8 % of a distinctive bottle", SPACE, MET, bottle(8.0, claims="distinctive liquor bottle")),
    ]
)
CASES += [*Claim("us.distinctive-bottle", "distinctive liquor bottle", "27 CFR 5.202(d)", verdict=OPEN).cases([])]
# ---------------------------------------------------------------- words whose rules nothing here tests
for rule, claim, section in (
    ("us.distillations", "triple distilled", "27 CFR 5.89"),
    ("us.pure", "pure whisky", "27 CFR 5.91"),
    ("us.specialty", "finished whisky", "27 CFR 5.156 and 5.166"),
):
    CASES += Claim(rule, claim, section, verdict=OPEN).cases([added("honey", section, OPEN, 1.0)])
CASES += Claim("us.barrel-proof", "barrel proof", "27 CFR 5.87(a)", {"drawn_proof": 100.0}, OPEN).cases(
    [
        ("2 proof below", "27 CFR 5.87(a)", OPEN, {"proof": 98.0}),
        ("2.1 proof below", "27 CFR 5.87(a)", NOT, {"proof": 97.9}),
        ("planned 2 proof below", "27 CFR 5.87(a)", OPEN, {"brief": {"bottling_proof": 98.0}}),
        ("planned 3 proof below", "27 CFR 5.87(a)", NOT, {"brief": {"bottling_proof": 97.0}}),
    ]
)
# ---------------------------------------------------------------- whisky of other countries
ABROAD = {
    "scotch": ("scotch whisky", 17, {"kind": "malt", "casks": [{}]}, "England"),
    "irish": ("irish whisky", 18, {"kind": "malt", "casks": [{"country": "Ireland", "still": "pot"}]}, "Scotland"),
    "canadian": ("canadian whisky", 19, {"kind": "malt", "casks": [{"country": "Canada"}]}, "US"),
}
for word, (claim, number, held, elsewhere) in ABROAD.items():
    section = f"27 CFR 5.143(c)({number})"
    law = OPEN if word == "canadian" else MET  # what the law of Canada asks since 18 December 2024 was not found
    earlier = ("bottled on 17 December 2024", section, MET, {"bottling": {"bottled_on": "2024-12-17"}})
    grain = {"grain": "wheat 90 %, malted barley 10 %", "still": "column"}
    CASES += Claim(f"us.{word}-whisky", claim, section, held, law).cases(
        [("malt and grain whisky of one distillery", section, NOT, {"beside": grain})],
        [("a mixture of two distilleries", section, NOT, {"beside": {"distillery": "Stony Ford"}})],
        [(f"made in {elsewhere}", section, NOT, {"cask": {"country": elsewhere}})],
        [("79.9 proof", CLASS, NOT, {"proof": 79.9, "abv": 40.0})],
        [
            (
                "bottled on 18 January 2025",
                f"27 CFR 5.143(c)({number - 1})",
                law,
                {"bottling": {"bottled_on": "2025-01-18"}},
            )
        ],
    )
    blended = Claim(f"us.blended-{word}", f"blended {claim}", section, held, law)
    CASES += blended.but(beside={"distillery": "Stony Ford"}).cases(
        [earlier],
        [
            (f"{AT}80 proof", CLASS, law, {"proof": 80.0, "abv": 40.0}),
            ("79.9 proof", CLASS, NOT, {"proof": 79.9, "abv": 40.0}),
        ],
        [(f"made in {elsewhere}", section, NOT, {"cask": {"country": elsewhere}})],
    )
    CASES += replace(blended, verdict=NOT).cases(  # one cask alone
        [("two casks of malt whisky of one distillery", section, NOT, {"beside": {}})],
        [("malt and grain whisky of one distillery", section, law, {"beside": grain})],
    )
CASES += Claim("us.words-of-scotland", "highland whisky", "27 CFR 5.90", {"kind": "malt", "casks": [{}]}).cases(
    [("distilled in England", "27 CFR 5.90", NOT, {"cask": {"country": "England"}})],
    [("one of two from England", "27 CFR 5.90", NOT, {"beside": {"country": "England"}})],
)
# ---------------------------------------------------------------- what the brief plans, and water to come
PLAN = {"proof": 121.0, "abv": 60.5, "brief": {"bottling_proof": 100.0}}
CASES += Claim("us.minimum-strength", "minimum strength", CLASS, PLAN).cases(
    [
        (f"planned at {proof:g} proof, the vat at 121", CLASS, verdict, {"brief": {"bottling_proof": proof}})
        for proof, verdict in ((79.0, NOT), (79.9, NOT), (80.0, MET), (80.1, MET))
    ],
    [("no strength planned", CLASS, MET, {"brief": {"bottling_proof": None}})],
    [("labelled 39.5 % vol", CLASS, NOT, {"bottling": {"label_abv": 39.5}})],
)
CASES += Claim("us.bottling-strength", "bottling strength", "27 CFR 19.356(c)", PLAN, OPEN).cases(
    [("bottled so", "27 CFR 19.356(c)", NOT, {"bottling": {"label_abv": 50.0}})],
    [("the vat at 99 proof", "27 CFR 19.356(c)", NOT, {"proof": 99.0, "abv": 49.5})],
    [("the vat at 100.6 proof", "27 CFR 19.356(c)", MET, {"proof": 100.6, "abv": 50.3})],
)
CASES += [*Claim("us.bottled-in-bond", "bottled in bond", BOND, PLAN, OPEN).cases([])]
CASES += Claim("us.bottled-in-bond", "bottled in bond", f"{BOND}(a)(6)", {"proof": 100.0}).cases(
    [
        (f"planned at {proof:g} proof, the vat at 100", f"{BOND}(a)(6)", verdict, {"brief": {"bottling_proof": proof}})
        for proof, verdict in ((90.0, NOT), (99.3, NOT), (99.5, OPEN), (101.0, NOT))
    ],
    [("labelled 45 % vol", f"{BOND}(a)(6)", NOT, {"bottling": {"label_abv": 45.0}})],
)
