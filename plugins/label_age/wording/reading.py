"""A statement read from a line, and what stands around a number that forbids to read it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

KINDS = {
    "strength": "strength in % vol",
    "proof": "strength in proof",
    "net contents": "net contents",
    "age": "age",
    "distilled year": "year of distillation",
    "bottled year": "year of bottling",
    "batch": "batch",
    "lot": "lot",
    "single cask": "single cask",
    "casks": "casks",
    "place of distillation": "place of distillation",
    "place of ageing": "place of ageing",
    "place of bottling": "place of bottling",
    "country of origin": "country of origin",
    "colouring": "colouring",
    "no colouring": "no colouring",
    "name and address": "name and address",
    "claim": "claim",
    "class": "class and type",
}
"""What a statement can be of, and its words; ``class`` is a claim that names the drink."""

NUMBER = r"(?<![\w.,·'’])(\d{1,4}(?:[.,]\d{1,3})?)(?![.,·]?\d)"
SIGNS = "+*/=^<>~≈±×÷≥≤$€£#&@"
DASHES = "-–—−"
BOUND = re.compile(
    r"\b(over|more than|above|up to|less than|under|below|about|approx(?:imately)?|circa|ca|around|nearly|almost|"
    r"between|not more than|at most|max(?:imum)?|über|mehr als|weniger als|unter|bis zu|etwa|plus de|moins de|environ|"
    r"jusqu.?à|más de|menos de|oltre|meno di|per|pro|par)[\s.:]*$",
    re.IGNORECASE,
)
LEAST = re.compile(
    r"\b(at least|min(?:imum)?|no less than|not less than|mindestens|au moins|al menos|almeno)[\s.:]*$", re.IGNORECASE
)


@dataclass(frozen=True)
class Reading:
    """One statement: its ``kind`` (a key of KINDS), what it says as a ``value``, and where in its line it stands.

    ``value``: % vol, proof, litres, a StatedAge, a year, a name, plain words. ``written``: the digits as they stand.
    """

    kind: str
    value: Any
    start: int
    end: int
    written: str = ""


def number(written: str) -> float:
    """A number with a decimal point or comma."""
    return float(written.replace(",", "."))


def stands_alone(text: str, start: int) -> bool:
    """Whether the number that begins there is no end of a range, no part of a formula or number, and no negative."""
    before = text[:start].rstrip()
    if re.search(r"\d\s*[.,]$", before):
        return False
    if not before or before[-1] not in SIGNS + DASHES:
        return True
    if before[-1] in SIGNS:
        return False
    rest = before[:-1].rstrip()
    attached = len(before) == start
    if rest and (rest[-1].isdigit() or rest[-1] in "%°"):
        return False
    return not attached or bool(rest and len(rest) == len(before) - 1 and (rest[-1].isalpha() or rest[-1] in ".:"))


def bounded(text: str, start: int, least: bool = False) -> bool:
    """Whether words before the number make it a bound or a rough figure; ``least``: a lower bound is one too."""
    before = text[:start]
    return BOUND.search(before) is not None or (least and LEAST.search(before) is not None)
