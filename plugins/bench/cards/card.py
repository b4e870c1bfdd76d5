"""A bench card as plain data: trials in millilitres, glasses under codes, orders, liquid needed, and what to know.

``plan_card`` is pure: equal arguments give equal cards. ``book.card_bytes`` makes the workbook of one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import ceil
from typing import Any

import numpy as np

from plugins.bench.cards.measure import (
    Bench,
    CannotMake,
    blend_abv,
    glass,
    made_for,
    measured,
    premix,
    share_spread,
    too_small,
    water_for,
)
from plugins.bench.cards.serving import codes, servings

SCHEMA = "vatting.bench_card/1"
SHARED = ("best single", "standard")  # stand in every flight of a card
REST = "Let each glass rest 5 to 10 minutes before nosing (common practice, no source)."
AGAIN = "A blend that wins is nosed again after 24 to 48 hours (common practice, no source)."
LADDER_ML = 30.0
Row = dict[str, Any]


@dataclass(frozen=True)
class Recipe:
    """One trial: ``parts`` are shares of alcohol (any scale) and ``strengths`` % vol at 20 °C, by component.

    ``role``: trial, best single, single or standard. ``nosing_abv`` other than the bench's makes a ladder's rung.
    """

    trial: str
    parts: Mapping[str, float]
    strengths: Mapping[str, float]
    role: str = "trial"
    nosing_abv: float | None = None
    proposal: str = ""
    about: str = ""


@dataclass(frozen=True)
class Asked:
    """What a card is made for. ``families`` get a column each on the tasters' page; ``question`` is its heading; no
    code is one of the names that are ``taken``, as those of the stock."""

    flight: str
    batch: str = ""
    tasters: tuple[str, ...] = ()
    families: tuple[str, ...] = ()
    question: str = ""
    notes: tuple[str, ...] = field(default=())
    taken: frozenset[str] = frozenset()


def plan_card(asked: Asked, recipes: Sequence[Recipe], bench: Bench) -> Row:
    """A card of one or more flights, each with a blind duplicate. Raises CannotMake, in words."""
    _check(asked, recipes)
    flights = _flights(asked.flight, recipes, bench)
    seats = max(len(asked.tasters), 1)
    poured = {
        recipe.trial: sum(chosen.count(recipe) for _, chosen in flights) + sum(c[0] == recipe for _, c in flights)
        for recipe in recipes
    }
    trials = [_trial(recipe, bench, seats, poured[recipe.trial]) for recipe in recipes]
    by_name = {trial["trial"]: trial for trial in trials}
    free = iter(codes(asked.flight, sum(len(chosen) + 1 for _, chosen in flights), asked.taken))
    glasses: list[Row] = []
    orders: list[Row] = []
    for flight, chosen in flights:
        roles = [(recipe, recipe.role) for recipe in chosen] + [(chosen[0], "duplicate")]
        own = [_glass(flight, next(free), recipe, role, by_name, bench) for recipe, role in roles]
        glasses += [{**item, "order": at} for at, item in enumerate(sorted(own, key=lambda g: g["code"]), start=1)]
        served = servings(flight, [item["code"] for item in own], seats)
        names = asked.tasters or ("",)
        orders += [{"flight": flight, "taster": who, "codes": row} for who, row in zip(names, served, strict=True)]
    return {
        "schema": SCHEMA,
        "card": asked.flight,
        "batch": asked.batch,
        "question": asked.question,
        "flights": [flight for flight, _ in flights],
        "trials": trials,
        "glasses": glasses,
        "orders": orders,
        "needed": _needed(trials),
        "families": list(asked.families),
        "standard": any(recipe.role == "standard" for recipe in recipes),
        "step_ml": bench.step_ml,
        "notes": [*asked.notes, *_notes(asked, recipes, trials, flights, bench)],
    }


def _check(asked: Asked, recipes: Sequence[Recipe]) -> None:
    if not asked.flight.strip():
        raise CannotMake("A flight needs a name, by which its codes are found again.")
    tried = [recipe for recipe in recipes if recipe.role not in SHARED]
    if not tried:
        raise CannotMake("A flight needs at least one trial.")
    names = [recipe.trial.casefold() for recipe in recipes]
    twice = sorted({recipe.trial for recipe in recipes if names.count(recipe.trial.casefold()) > 1})
    if twice:
        raise CannotMake(f"Two trials are called {', '.join(twice)}; each needs a name of its own.")
    if len({name.casefold() for name in asked.tasters}) < len(asked.tasters):
        raise CannotMake("A taster is named twice; each tastes once.")
    for recipe in recipes:
        unknown = [name for name in recipe.parts if not recipe.strengths.get(name, 0.0) > 0.0]
        if unknown:
            raise CannotMake(
                f"The strength of {', '.join(unknown)} is not known, so {recipe.trial} cannot be turned into "
                "millilitres; gauge it or state it."
            )


def _flights(name: str, recipes: Sequence[Recipe], bench: Bench) -> list[tuple[str, list[Recipe]]]:
    """Flights of at most ``bench.glasses``, with what they share in each and room for the duplicate."""
    shared = [recipe for recipe in recipes if recipe.role in SHARED]
    tried = [recipe for recipe in recipes if recipe.role not in SHARED]
    room = bench.glasses - len(shared) - 1
    if room < 1:
        raise CannotMake(f"{bench.glasses} glasses hold no trial beside {len(shared)} others and a duplicate.")
    count = ceil(len(tried) / room)
    size = ceil(len(tried) / count)
    parts = [tried[at : at + size] for at in range(0, len(tried), size)]
    names = [name] if len(parts) == 1 else [f"{name}.{at}" for at in range(1, len(parts) + 1)]
    return [(own, [*part, *shared]) for own, part in zip(names, parts, strict=True)]


def _trial(recipe: Recipe, bench: Bench, seats: int, glasses: int) -> Row:
    # by volume, the base first
    names = sorted(recipe.parts, key=lambda name: (-recipe.parts[name] / recipe.strengths[name], name))
    shares = np.array([recipe.parts[name] for name in names], dtype=np.float64)
    strengths = np.array([recipe.strengths[name] for name in names], dtype=np.float64)
    nosed = bench.nosing_abv if recipe.nosing_abv is None else recipe.nosing_abv
    rough = float((shares / shares.sum() * strengths).sum())
    least = made_for(seats, glasses, rough, nosed, bench.pour_ml)
    try:
        ml = measured(shares, strengths, bench, least)
    except CannotMake as error:
        raise CannotMake(f"{recipe.trial}: {error}") from error
    alcohol = ml * strengths
    spread = share_spread(ml, strengths, bench.step_ml)
    small = too_small(ml, bench.step_ml)
    parts = [
        {
            "component": name, "ml": float(ml[at]), "strength_abv": float(strengths[at]),
            "share": float(alcohol[at] / alcohol.sum()), "asked": float(shares[at] / shares.sum()),
            "spread": float(spread[at]), "small": bool(small[at]),
            "how": _how(float(ml[at]), names[0], bench.step_ml) if small[at] and at else "",
        }
        for at, name in enumerate(names)
    ]  # fmt: skip
    return {
        "trial": recipe.trial, "role": recipe.role, "proposal": recipe.proposal, "about": recipe.about,
        "parts": parts, "total_ml": float(np.round(ml.sum(), 9)), "abv": blend_abv(ml, strengths),
        "nosing_abv": nosed, "glasses": glasses * seats,
    }  # fmt: skip


def _how(ml: float, base: str, step: float) -> str:
    part, rest = premix(ml, step)
    return (
        f"under ten steps of {step:g} ml: mix {part:g} ml of it with {rest:g} ml of {base}, take {10.0 * ml:g} ml of "
        f"that and {9.0 * ml:g} ml less of {base}"
    )


def _glass(flight: str, code: str, recipe: Recipe, role: str, trials: dict[str, Row], bench: Bench) -> Row:
    trial = trials[recipe.trial]
    spirit, water = glass(trial["abv"], trial["nosing_abv"], bench.pour_ml)
    return {
        "flight": flight, "code": code, "trial": recipe.trial, "role": role, "nosing_abv": trial["nosing_abv"],
        "spirit_ml": spirit, "water_ml": water,
        "water_per_30_ml": water_for(LADDER_ML, trial["abv"], trial["nosing_abv"]),
    }  # fmt: skip


def _needed(trials: list[Row]) -> list[Row]:
    """Millilitres of each component over all trials, names in order."""
    found: dict[str, float] = {}
    for trial in trials:
        for part in trial["parts"]:
            found[part["component"]] = found.get(part["component"], 0.0) + part["ml"]
    return [{"component": name, "ml": round(found[name], 9)} for name in sorted(found)]


def _notes(
    asked: Asked, recipes: Sequence[Recipe], trials: list[Row], flights: list[tuple[str, list[Recipe]]], bench: Bench
) -> list[str]:
    told = [REST, AGAIN]
    best = [recipe for recipe in recipes if recipe.role == "best single"]
    if best:
        told.append(f"Best single named before tasting: {', '.join(best[0].parts)} ({best[0].trial}).")
    if len(flights) > 1:
        told.append(f"{len(flights)} flights of at most {bench.glasses} glasses; an hour or a day between them.")
    whole = len(flights[0][1]) + 1
    full = whole if whole % 2 == 0 else 2 * whole
    if not asked.tasters:
        told.append("No tasters are named: copy the rows of the page Tasting for each, in another order.")
    elif len(asked.tasters) % full:
        told.append(
            f"Places and neighbours are fully balanced with {full} tasters; with {len(asked.tasters)} they are as even "
            "as that allows."
        )
    much = [trial["trial"] for trial in trials if trial["total_ml"] > bench.most_ml]
    if much:
        told.append(f"More than {bench.most_ml:g} ml is made of {', '.join(much)}: so many glasses need it.")
    thin = [t["trial"] for t in trials if t["parts"][0]["ml"] < bench.base_ml - 1e-9 and len(t["parts"]) > 1]
    if thin:
        told.append(f"So many parts leave less than {bench.base_ml:g} ml of the largest in {', '.join(thin)}.")
    small = [trial["trial"] for trial in trials if any(part["small"] for part in trial["parts"])]
    if small:
        told.append(
            f"Parts under ten times the step of {bench.step_ml:g} ml in {', '.join(small)}: their error scales to the "
            "vat. Mix them into the base first, as the remark says, and pour 100 ml to confirm before a vat is poured."
        )
    return told
