"""Ages in the words of a label: ``Aged 12 years``, ``12-year-old``, ``12 ans d'âge``, ``aged twelve years``."""

from __future__ import annotations

import re
from collections.abc import Iterator

from plugins.label_age.facts.ages import NUMBER_WORDS, StatedAge, read_stated_age
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
AGE = re.compile(
    rf"(?P<years>{FIGURE})[\s-]*{YEARS}(?!\w)(?:[\s,-]*(?:and|und|et|y|e|&)?\s*(?P<and>{FIGURE})[\s-]*{MONTHS}(?!\w))?"
    rf"|(?P<months>{FIGURE})[\s-]*{MONTHS}(?!\w)|(?P<days>{FIGURE})[\s-]*{DAYS}(?!\w)",
    re.IGNORECASE,
)
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
    for found in AGE.finditer(text):
        if not stands_alone(text, found.start()) or bounded(text, found.start()):
            continue
        before, after = BEFORE.search(text[: found.start()]), AFTER.match(text, found.end())
        alone = AROUND.fullmatch(text[: found.start()]) and AROUND.fullmatch(text[found.end() :])
        if not (before or after or alone):
            continue
        age = _age(found)
        if age is not None:
            start = before.start() if before else found.start()
            yield Reading("age", age, start, after.end() if after else found.end(), found[0])


def _age(found: re.Match[str]) -> StatedAge | None:
    """The age as the brief's column would state it."""
    parts = ((found["years"], "years"), (found["and"] or found["months"], "months"), (found["days"], "days"))
    return read_stated_age(" ".join(f"{_figure(said)} {unit}" for said, unit in parts if said))


def _figure(said: str) -> str:
    return str(WORDS.get(re.sub(r"\s", "-", said.casefold()), said))
