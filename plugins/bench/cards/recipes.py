"""From what a person asks at a prompt to the trials of a card."""

from __future__ import annotations

import re
from typing import Any

import numpy as np

from plugins.bench.cards import designs
from plugins.bench.cards.card import Asked, Recipe
from plugins.bench.cards.designs import Array, CannotDesign
from plugins.bench.cards.measure import CannotMake
from plugins.bench.cards.optimal import d_optimal


def asked_of(options: dict[str, Any], notes: tuple[str, ...] = ()) -> Asked:
    """What the card is made for."""
    question = "Is the blend better at another strength?" if options["design"] == "ladder" else ""
    named = [name.strip() for name in str(options["families"]).split(",") if name.strip()]
    tasters = tuple(name.strip() for name in re.split(r"[,;]", options["tasters"]) if name.strip())
    return Asked(options["flight"].strip(), options["batch"].strip(), tasters, tuple(named), question, notes)


def recipes_of(options: dict[str, Any], strengths: dict[str, float]) -> list[Recipe]:
    """The trials of the design asked for; ``strengths`` % vol by cask. Raises CannotDesign or CannotMake, in words."""
    names = list(strengths)
    flight = options["flight"].strip()
    if options["design"] == "ladder":
        made = _ladder(options, flight, names, strengths)
    else:
        rows = _rows(options, len(names))
        made = [_recipe(f"{flight}-{at}", row, names, strengths) for at, row in enumerate(rows, start=1)]
    best = (options.get("best") or "").strip()
    if best:
        if best not in strengths:
            raise CannotMake(f"{best} is not among the casks; state it with its strength.")
        single = Recipe(f"{flight}-{best}", {best: 1.0}, strengths, "best single")
        made = [recipe for recipe in made if set(recipe.parts) != {best}] + [single]
    return made


def _numbers(text: str, count: int | None = None, what: str = "numbers") -> Array:
    try:
        values = np.array([float(part) for part in re.split(r"[;,]", text) if part.strip()])
    except ValueError as error:
        raise CannotDesign(f"{text!r} are no {what}, separated by commas.") from error
    if count is not None and len(values) == 1:
        values = np.repeat(values, count)
    if not len(values) or (count is not None and len(values) != count):
        raise CannotDesign(f"{text!r}: one for each of the {count} casks is needed.")
    return values


def _shares(options: dict[str, Any], count: int) -> Array:
    if not options["parts"]:
        raise CannotDesign(f"The design {options['design']} starts from parts: --parts 60,30,10.")
    parts = _numbers(options["parts"], None, "parts")
    if len(parts) != count:
        raise CannotDesign(f"{len(parts)} parts for {count} casks; one for each is needed.")
    if (parts < 0.0).any() or parts.sum() <= 0.0:
        raise CannotDesign("Parts are above nought.")
    return parts / parts.sum()


def _rows(options: dict[str, Any], count: int) -> Array:
    design = options["design"]
    if design == "equal":
        return designs.equal_parts(count)
    if design == "singles":
        return np.eye(count)
    if design == "base":
        return designs.dominant_base(count, _numbers(options["steps"]) / 100.0)
    if design == "centroid":
        return designs.simplex_centroid(count)
    if design == "lattice":
        return designs.simplex_lattice(count, 2)
    if design == "optimal":
        low = _numbers(options["least"] or "0", count) / 100.0
        high = _numbers(options["most"] or "100", count) / 100.0
        mixtures = designs.within_bounds(low, high)
        runs = options["runs"] or (count if options["model"] == "linear" else count * (count + 1) // 2)
        return mixtures[np.unique(d_optimal(mixtures, runs, options["model"]))]
    start = _shares(options, count)
    if design == "leave-out":
        return np.vstack([start, designs.leave_out(start)])
    steps = _numbers(options["steps"]) / 100.0
    rows = [start]
    for at in range(count):
        rows += [row for step in steps if start[at] + step <= 1.0 for row in designs.cox_direction(start, at, step)]
    return np.vstack(rows)


def _recipe(trial: str, row: Array, names: list[str], strengths: dict[str, float]) -> Recipe:
    parts = {name: float(share) for name, share in zip(names, row, strict=True) if share > 1e-9}
    about = ", ".join(f"{name} {100.0 * share:.3g} %" for name, share in parts.items())
    return Recipe(trial, parts, strengths, "single" if len(parts) == 1 else "trial", None, "", about)


def _ladder(options: dict[str, Any], flight: str, names: list[str], strengths: dict[str, float]) -> list[Recipe]:
    start = _shares(options, len(names)) if options["parts"] else np.full(len(names), 1.0 / len(names))
    ends = _numbers(options["strengths"], None, "strengths")
    if len(ends) != 2:
        raise CannotDesign("--strengths are two: from and to, in % vol.")
    parts = {name: float(share) for name, share in zip(names, start, strict=True) if share > 0.0}
    weakest = min(strengths[name] for name in parts)
    if ends.max() > weakest:
        raise CannotMake(f"The ladder begins at {ends.max():g} % vol, above the weakest sample's {weakest:g}.")
    rungs = designs.strength_ladder(float(ends[0]), float(ends[1]), options["rungs"])
    return [
        Recipe(f"{flight}-{abv:.4g}", parts, strengths, "trial", float(abv), "", f"nosed at {abv:.4g} % vol")
        for abv in rungs
    ]
