"""Strengths and volumes in the words of a label: ``43 % vol``, ``45% ALC/VOL``, ``86 proof``, ``700 ml e``."""

from __future__ import annotations

import re
from collections.abc import Iterator

from plugins.label_age.wording.reading import NUMBER, Reading, bounded, number, stands_alone

ALCOHOL = r"(?:alc(?:ohol)?|alk(?:ohol)?|alcool|alcol)"
PERCENT = re.compile(rf"{NUMBER}\s*(?:%|per\s?cent\b)", re.IGNORECASE)
BEFORE = re.compile(rf"\b(?:{ALCOHOL}|abv)\b\.?\s*[:–-]?\s*$", re.IGNORECASE)
BY_VOLUME = re.compile(
    rf"\s*\(?\s*(?:(?:{ALCOHOL}\b\.?\s*(?:/|by|per|in|de)?\s*)?(?:vol(?:ume|umen|umes)?\b\.?|abv\b|a\.b\.v\.?)"
    rf"|(?:by|in|en)\s+vol(?:ume|umen)?\b\.?|{ALCOHOL}\b\.?)",
    re.IGNORECASE,
)
BY_MASS = re.compile(
    rf"\s*\(?\s*(?:{ALCOHOL}\b\.?)?\s*(?:/|by|in|per)?\s*(?:w/w|wt\b|weight|mass?\b|gew)", re.IGNORECASE
)
PROOF = re.compile(rf"{NUMBER}\s*°?\s*(?:u\.?s\.?\s+|american\s+)?proof\b(?!\s*(?:gal|spirit))", re.IGNORECASE)
OTHER_PROOF = re.compile(r"\b(?:british|uk|imperial|sikes|under|over)\b", re.IGNORECASE)
OTHER_STRENGTH = re.compile(
    r"\b(?:entry|entered|barrell?ed at|into (?:the )?(?:casks?|barrels?|wood)|distilled (?:to|at|off)|filled|fill|"
    r"off the still|still strength|serve|serving|dilute|reduced from|cut from)\b",
    re.IGNORECASE,
)
VOLUME = re.compile(
    rf"{NUMBER}\s*(ml|millilit(?:re|er)s?|cl|centilit(?:re|er)s?|dl|lit(?:re|er|ro)s?|ltr|l)\b(?:\s*(?:e|℮)(?!\w))?",
    re.IGNORECASE,
)
OTHER_VOLUME = re.compile(
    r"\b(?:casks?|barrels?|butts?|hogsheads?|fass|fässern?|fûts?|tank|vat|serv\w*|serves?|glass|measure|portion|water|"
    r"kcal|kj|energy|units?|miniature)\b",
    re.IGNORECASE,
)
LITRES = {"m": 0.001, "c": 0.01, "d": 0.1, "l": 1.0}
THOUSANDS = re.compile(r"[1-9]\d{0,3}[.,]\d{3}")


def strengths(text: str) -> Iterator[Reading]:
    """% by volume and US proof, where they are the strength of what is in the bottle."""
    for found in PERCENT.finditer(text):
        before, after = text[: found.start()], text[found.end() :]
        by_volume, named = BY_VOLUME.match(after), BEFORE.search(before)
        if BY_MASS.match(after) or not (by_volume or named) or not _is_of_bottle(text, found.start()):
            continue
        end = found.end() + (by_volume.end() if by_volume else 0)
        start = named.start() if named else found.start()
        yield Reading("strength", number(found[1]), start, end, found[1])
    for found in PROOF.finditer(text):
        around = text[max(0, found.start() - 12) : found.end() + 12]
        if _is_of_bottle(text, found.start()) and not OTHER_PROOF.search(around):
            yield Reading("proof", number(found[1]), found.start(), found.end(), found[1])


def _is_of_bottle(text: str, start: int) -> bool:
    return (
        stands_alone(text, start) and not bounded(text, start, least=True) and not OTHER_STRENGTH.search(text[:start])
    )


def volumes(text: str) -> Iterator[Reading]:
    """Net contents in litres; a volume of casks, of a serving, or one that may be thousands is none."""
    for found in VOLUME.finditer(text):
        alone = stands_alone(text, found.start()) and not bounded(text, found.start(), least=True)
        if not alone or OTHER_VOLUME.search(text) or THOUSANDS.fullmatch(found[1]):
            continue
        litres = number(found[1]) * LITRES[found[2][0].lower()]
        yield Reading("net contents", round(litres, 9), found.start(), found.end(), found[1])
