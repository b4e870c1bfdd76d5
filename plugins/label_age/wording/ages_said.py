"""Ages in the words of a label: ``Aged 12 years``, ``12-year-old``, ``12 ans d'âge``, ``aged twelve years``."""

from __future__ import annotations

import re
from collections.abc import Iterator

from plugins.label_age.facts.ages import NUMBER_WORDS, read_stated_age
from plugins.label_age.wording.reading import Reading, bounded, stands_alone

OTHER_WORDS = {
    "zwei": 2, "drei": 3, "vier": 4, "fünf": 5, "sechs": 6, "sieben": 7, "acht": 8, "neun": 9, "zehn": 10, "elf": 11,
    "zwölf": 12, "fünfzehn": 15, "sechzehn": 16, "achtzehn": 18, "zwanzig": 20, "fünfundzwanzig": 25, "dreißig": 30,
    "deux": 2, "trois": 3, "quatre": 4, "cinq": 5, "sept": 7, "huit": 8, "neuf": 9, "dix": 10, "onze": 11,
    "douze": 12, "quinze": 15, "seize": 16, "dix-huit": 18, "vingt": 20, "tres": 3, "cuatro": 4, "cinco": 5,
    "ocho": 8, "diez": 10, "doce": 12, "quince": 15, "dieci": 10, "dodici": 12,
}  # fmt: skip
WORDS = {word.replace(" ", "-"): count for word, count in NUMBER_WORDS.items()} | OTHER_WORDS
SPELLED = "|".join(re.escape(word).replace(r"\-", r"[\s-]") for word in sorted(WORDS, key=len, reverse=True))
FIGURE = rf"(?<![\w.,·'’])(?<!\w-)(?:\d{{1,4}}(?:[.,]\d{{1,2}})?(?![.,·]\d)|{SPELLED})"
YEARS = r"(?:years?|yrs?|y\.?o\.?|jahren?|jährig\w*|ans|années|años?|anni|anos|jaar|jarige?|år|年)"
MONTHS = r"(?:months?|monaten?|mois|meses|mesi|maanden)"
DAYS = r"(?:days?|tagen?|jours|días|giorni)"
UNIT = rf"(?:(?P<y>{YEARS})|(?P<m>{MONTHS})|(?P<d>{DAYS}))(?!\w)"
ONE = re.compile(rf"(?P<figure>{FIGURE})[\s-]*{UNIT}", re.IGNORECASE)
JOIN = re.compile(r"[\s,]*(?:(?:and|und|et|y|e|&)\s)?\s*", re.IGNORECASE)
SMALLER = re.compile(
    r"(?:an?|one|half|ein\w*|une?|\d+|[¼½¾])?[\s-]*(?:days?|weeks?|months?|hours?|half|tag\w*|wochen?|monat\w*|jours?|"
    r"semaines?|mois|[¼½¾])",
    re.IGNORECASE,
)
"""What may follow an age and belong to it: then only a part of it was understood."""
AGED = r"(?:aged|age|matured|mature|stored|rested|gereift|gelagert|alter|âgée?|âge|vieillie?|envejecido|invecchiato)"
BEFORE = re.compile(
    rf"\b{AGED}\b(?P<gap>[:\s]*(?:(?!\b(?:since|from|and|und|et)\b)[^\W\d]+[\s:,-]+){{0,5}})$", re.IGNORECASE
)
AFTER = re.compile(
    r"[\s-]*(?:old\b|alt\b|d.âge\b|de edad\b|of age\b|in (?:oak|wood|the wood|casks?|barrels?)\b|im fass\b|en fûts?\b)",
    re.IGNORECASE,
)
AROUND = re.compile(r"[\W_]*(?:a|an|the)?[\W_]*", re.IGNORECASE)
FURTHER = re.compile(
    r"\b(?:finish\w*|further|additional(?:ly)?|extra|last|final(?:ly)?|then|another|nachgereift|weitere|tradition|ago|"
    r"experience|generations?|heritage|history|since|seit|depuis)\b",
    re.IGNORECASE,
)


def ages(text: str) -> Iterator[Reading]:
    """Ages of what is in the bottle: beside a word for ageing, or alone on their line.

    Years of tradition, months of a finish, a bound from above and a rough figure are none.
    """
    if FURTHER.search(text):
        return
    end = 0
    while found := ONE.search(text, end):
        parts, start, end = _whole(text, found)
        if not stands_alone(text, start) or bounded(text, start) or SMALLER.match(text, _joined(text, end)):
            continue
        before, after = BEFORE.search(text[:start]), AFTER.match(text, end)
        alone = AROUND.fullmatch(text[:start]) and AROUND.fullmatch(text[end:])
        age = read_stated_age(parts) if before or after or alone else None
        if age is not None:
            end = after.end() if after else end
            yield Reading("age", age, before.start() if before else start, end, parts)


def _whole(text: str, found: re.Match[str]) -> tuple[str, int, int]:
    """An age of one part or several (4 years, 3 months and 2 days) in the words of the brief, and its span."""
    start, parts = found.start(), []
    more: re.Match[str] | None = found
    while more:
        parts.append(f"{_figure(more['figure'])} {'years' if more['y'] else 'months' if more['m'] else 'days'}")
        found = more
        joined = _joined(text, found.end())
        more = ONE.match(text, joined) if joined > found.end() else None
    return " ".join(parts), start, found.end()


def _joined(text: str, at: int) -> int:
    """Where the next word begins behind a comma or an and."""
    joined = JOIN.match(text, at)
    return joined.end() if joined else at


def _figure(said: str) -> str:
    return str(WORDS.get(re.sub(r"\s", "-", said.casefold()), said))
