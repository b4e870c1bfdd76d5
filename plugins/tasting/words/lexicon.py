"""The lexicon: terms with their families, and the words that modify them, read from data.

A plugin's file adds to ``lexicon`` (columns term, family; optional stage, polarity, pole) or to
``lexicon_modifiers`` (term, kind, value); site.toml adds words as ``[lexicon.words]`` term = "family",
and a sheet of kind ``lexicon_words`` more.
A later entry for one term replaces an earlier one, so a site's own word wins.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping
from typing import Protocol

from plugins.tasting.declared.kinds import FAMILIES
from plugins.tasting.words.matching import Lexicon
from plugins.tasting.words.terms import PLAIN_WEIGHT, STRONG, Modifier, Term, words_of

POLES = ("", "low", "noun")
MATURITIES = ("", "young", "over", "closed")
WEIGHED = ("intensity", "after")
KINDS_OF_MODIFIER = (
    *WEIGHED,
    "excess",
    "lack",
    "less",
    "more",
    "same",
    "negation",
    "doubt",
    "aside",
    "ignore",
    "other",
)


class TextFile(Protocol):
    """What the engine gives for a data file."""

    @property
    def plugin(self) -> str: ...

    @property
    def name(self) -> str: ...

    @property
    def text(self) -> str: ...


def read_lexicon(
    files: Iterable[TextFile],
    modifier_files: Iterable[TextFile],
    words: Mapping[str, str],
    plain_files: Iterable[TextFile] = (),
    own: Iterable[Term] = (),
) -> tuple[Lexicon, list[str]]:
    """The lexicon in force, and one sentence for each entry that cannot be used (it is left out)."""
    terms: dict[tuple[str, ...], Term] = {}
    problems: list[str] = []
    for file in files:
        for line, row in _rows(file, ("term", "family"), problems):
            term = Term(
                row["term"],
                row["family"],
                row.get("stage") or "any",
                row.get("polarity") or "neutral",
                row.get("pole") or "",
                row.get("maturity") or "",
            )
            _add(terms, term, f"{file.plugin}: {file.name} line {line}", problems)
    for word, family in words.items():
        _add(terms, Term(word.strip(), family.strip()), "site.toml [lexicon.words]", problems)
    for term in own:
        _add(terms, term, "the house's list of words", problems)
    modifiers: dict[str, Modifier] = {}
    for file in modifier_files:
        for line, row in _rows(file, ("term", "kind", "value"), problems):
            _add_modifier(modifiers, row, f"{file.plugin}: {file.name} line {line}", problems)
    lines = [line for file in plain_files for line in file.text.splitlines() if not line.startswith("#")]
    plain = frozenset(word for line in lines for word in line.split())
    return Lexicon(tuple(terms.values()), tuple(modifiers.values()), plain), problems


def _rows(file: TextFile, wanted: tuple[str, ...], problems: list[str]) -> list[tuple[int, dict[str, str]]]:
    reader = csv.DictReader(io.StringIO(file.text.lstrip("\ufeff")))
    missing = [name for name in wanted if name not in (reader.fieldnames or [])]
    if missing:
        problems.append(f"{file.plugin}: {file.name} has no column {', '.join(missing)}; none of its words count.")
        return []
    return [(reader.line_num, {key: (value or "").strip() for key, value in row.items() if key}) for row in reader]


def _add(terms: dict[tuple[str, ...], Term], term: Term, where: str, problems: list[str]) -> None:
    words = tuple(words_of(term.term))
    if not words:
        problems.append(f"{where}: an entry of family {term.family} has no word.")
    elif term.family not in FAMILIES:
        known = ", ".join(FAMILIES)
        problems.append(f"{where}: the word {term.term!r} has the unknown family {term.family!r}; known are {known}.")
    elif term.pole not in POLES:
        problems.append(
            f"{where}: the word {term.term!r} has the unknown pole {term.pole!r}; use low, noun or nothing."
        )
    elif term.maturity not in MATURITIES:
        problems.append(
            f"{where}: the word {term.term!r} has the unknown maturity {term.maturity!r}; use young or over."
        )
    else:
        terms[words] = term


def _add_modifier(modifiers: dict[str, Modifier], row: dict[str, str], where: str, problems: list[str]) -> None:
    kind, term = row["kind"], row["term"]
    if kind == "verdict" or (kind == "doubt" and not words_of(term.strip("?()"))):
        return  # marks are read as such; verdicts come from the sheet's own column
    weight = STRONG if kind == "excess" else PLAIN_WEIGHT
    if kind in WEIGHED:
        try:
            weight = float(row["value"])
        except ValueError:
            weight = -1.0
    if kind not in KINDS_OF_MODIFIER or not 0.0 <= weight <= 2.0:
        problems.append(f"{where}: the modifier {term!r} ({kind}, {row['value']}) is not understood and left out.")
        return
    modifiers[term] = Modifier(term, kind, weight)
