"""The next bench card of a remedy: the trial as it is, and the change in half, as proposed, and half as much again."""

from __future__ import annotations

from hashlib import sha256
from typing import Any

from pipeline.writing.spoken import spoken
from plugins.bench.answers.remedy import WATER, shares_after
from plugins.bench.cards.card import Asked, Recipe, plan_card
from plugins.bench.cards.measure import Bench, CannotMake

STEPS = (0.5, 1.0, 1.5)
Row = dict[str, Any]


def next_card(document: Row, card: str, bench: Bench, tasters: tuple[str, ...]) -> Row | None:
    """The card that the analysis calls ``card``; None where there is none or a bench cannot measure it out."""
    remedy = next((row for row in document["remedies"] if row["card"] == card), None)
    if remedy is None:
        return None
    trial = next(row for row in document["trials"] if row["trial"] == remedy["trial"])
    shares = {part["component"]: float(part["share"]) for part in trial["components"]}
    strengths = strengths_of(document)
    if not set(remedy["change"]) <= set(strengths):
        return None
    families = tuple(dict.fromkeys([remedy["fault"], *leads(remedy)]))
    asked = Asked(
        _name(document, remedy), document["batch"], tasters, families,
        f"Does it mend what {trial['trial']} lacks or has too much of: {spoken(remedy['fault'])}?",
    )  # fmt: skip
    nosed = min(bench.nosing_abv, _abv(shares, strengths))
    recipes = _ladder(asked, shares, strengths, remedy, nosed) if remedy["component"] == WATER else []
    recipes = recipes or _steps(asked, shares, strengths, remedy)
    # a trial poured anew has a name of its own: its millilitres are not those of the first time
    base = Recipe(f"{asked.flight}-0", shares, strengths, about=f"{trial['trial']} as it is")
    try:
        return plan_card(asked, [base, *recipes], bench)
    except CannotMake:
        return None


def _steps(asked: Asked, shares: dict[str, float], strengths: dict[str, float], remedy: Row) -> list[Recipe]:
    made: list[Recipe] = []
    name, points = remedy["component"], float(remedy["points"])
    own = shares.get(name, 0.0)
    for number, part in enumerate(STEPS, start=1):
        step = part * points
        if own + step / 100.0 > 0.95 or (step < 0 and part > 1.0 and own + step / 100.0 <= 0.0):
            continue
        about = f"{abs(step):g} points {'more' if step > 0 else 'less'} of {name}"
        made.append(Recipe(f"{asked.flight}-{number}", shares_after(shares, name, step), strengths, about=about))
    return made


def _ladder(
    asked: Asked, shares: dict[str, float], strengths: dict[str, float], remedy: Row, nosed: float
) -> list[Recipe]:
    """Rungs of a strength ladder below the strength at which the bench noses, at which the fault was found."""
    water = float(remedy["points"]) / 100.0
    return [
        Recipe(
            f"{asked.flight}-{number}", shares, strengths, nosing_abv=nosed * (1.0 - part * water),
            about=f"{100 * part * water:.3g} % of the volume as water",
        )
        for number, part in enumerate(STEPS, start=1)
    ]  # fmt: skip


def _abv(shares: dict[str, float], strengths: dict[str, float]) -> float:
    """% vol of a blend by shares of alcohol, without the contraction of mixing (under 0.1)."""
    return 1.0 / sum(share / strengths[name] for name, share in shares.items())


def strengths_of(document: Row) -> dict[str, float]:
    """% vol of each component as it was last poured."""
    return {
        part["component"]: float(part["strength_abv"])
        for trial in document["trials"]
        for part in trial["components"]
        if part["strength_abv"] is not None
    }


def leads(remedy: Row) -> list[str]:
    """The five families that the change moves most."""
    return sorted(remedy["moves"], key=lambda family: (-abs(remedy["moves"][family]["mean"]), family))[:5]


def _name(document: Row, remedy: Row) -> str:
    """A flight name of its own for every content, so that codes of a card once printed are never another's."""
    content = repr(sorted(remedy["change"].items())) + str(remedy["points"]) + remedy["component"]
    batch, trial = str(document["batch"]), str(remedy["trial"])
    own = trial if batch in trial else f"{batch}-{trial}"  # short: it is written on glasses and lines
    return f"{own}-{sha256(content.encode()).hexdigest()[:4]}"
