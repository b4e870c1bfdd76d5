"""What a label lacks: statements that the rules for the label sheet demand, and what the brief asks for."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from plugins.label_age.comparing.as_labelled import Judged
from plugins.label_age.comparing.labels import Label, Statement
from plugins.label_age.comparing.result import Result
from plugins.label_age.comparing.sheets import Sheets
from plugins.label_age.facts.ages import is_stated
from plugins.label_age.facts.batch import claims_of
from plugins.label_age.facts.logic import FALSE, TRUE
from plugins.label_age.facts.words import plain, says
from plugins.label_age.rules.versions import Rule, claim_words
from plugins.label_age.wording.lines import shown
from plugins.label_age.wording.names_said import is_class
from plugins.label_age.wording.reading import KINDS

CODE = "label.words-missing"
UNSURE = "label.words-cannot-tell"
HINTS = {
    "class": re.compile(r"whisk|bourbon|scotch|malt|\brye\b|spirit", re.IGNORECASE),
    "strength": re.compile(r"%|\bvol|\balc|\babv", re.IGNORECASE),
    "proof": re.compile(r"proof|°", re.IGNORECASE),
    "net contents": re.compile(r"\d\s*(?:ml|cl|dl|l)\b|lit(?:re|er)|\boz\b", re.IGNORECASE),
    "age": re.compile(r"\b(?:years?|months?|old|aged|jahre?|ans|años?|anni|jaar)\b|\d\s*y", re.IGNORECASE),
    "colouring": re.compile(r"colou?r|caramel|farbstoff|colorant|e\s?150", re.IGNORECASE),
}
"""What in words that were not read may be a statement of the kind; then it is not said to be missing."""


def lacking(label: Label, judged: Judged, sheets: Sheets) -> Iterator[Result]:
    """Results of all demands: those of the rules first, then those of the brief."""
    rules = {(rule.id, rule.section): rule for rule in judged.court.law(label.market, _day(judged))}
    for row in judged.demands:
        yield _of_rule(label, row, rules[row["rule_id"], row["rule"]])
    yield from _age(label, judged, sheets)
    yield from _claims(label, judged, sheets)


def _day(judged: Judged) -> Any:
    return judged.court.facts.days[judged.position]


def _of_rule(label: Label, row: dict[str, Any], rule: Rule) -> Result:
    """Whether what a rule for the label sheet demands stands on the label."""
    if not rule.read_as and not rule.read_words:
        reason = f"Look yourself whether the label has it: {row['says']} {row['reason']}"
        return Result(rule.claim, "not judged", reason, label.facts, rule=rule.section, unverified=row["unverified"])
    found = [_standing(label, kind) for kind in rule.read_as]
    panels = set.intersection(*({s.panel for s in there} for there in found)) if found else {""}
    worded = not rule.read_words or any(
        says(text, words) for text in map(plain, label.texts) for words in rule.read_words
    )
    if all(found) and panels and worded:
        quotes = " · ".join(there[0].quoted for there in found)
        reason = f"It stands there; its wording was not judged. {rule.plain}"
        return Result(rule.claim, "stated", reason, label.facts, quotes,
                      panel=", ".join(sorted(panels)), rule=rule.section, unverified=row["unverified"])  # fmt: skip
    if all(found) and worded:
        return _apart(label, rule, row, found)
    lacks = [kind for kind, there in zip(rule.read_as, found, strict=True) if not there]
    return _missing(label, rule, row, lacks)


def _standing(label: Label, kind: str) -> list[Statement]:
    if kind == "class":
        return [statement for statement in label.of("claim") if is_class(statement.reading)]
    return label.of(kind)


def _apart(label: Label, rule: Rule, row: dict[str, Any], found: list[list[Statement]]) -> Result:
    """All of it is there, but on several panels: whether one look holds them only the bottle shows."""
    quotes = " · ".join(f"{there[0].quoted} ({there[0].panel})" for there in found)
    kinds = ", ".join(KINDS[kind] for kind in rule.read_as)
    first = f"The {label.market} label has {kinds} on several panels: bring them onto one."
    return Result(rule.claim, "cannot tell", rule.plain, label.facts, quotes, rule=rule.section,
                  unverified=row["unverified"], first=first, code=UNSURE, severity="review")  # fmt: skip


def _missing(label: Label, rule: Rule, row: dict[str, Any], kinds: list[str]) -> Result:
    lacks = " and ".join(KINDS[kind] for kind in kinds) or rule.claim
    doubt = next((piece for kind in kinds for piece in doubts(label, kind)), "")
    if doubt:
        reason = f"Its {lacks} may stand in words that were not read: “{doubt}”. {rule.plain}"
        return Result(rule.claim, "cannot tell", reason, label.facts, rule=rule.section, unverified=row["unverified"],
                      first=_may_stand(label, lacks), code=UNSURE, severity="review")  # fmt: skip
    if row["applies"] != "met":
        reason = f"No words say its {lacks}, and whether they must is not known. {row['reason']}"
        return Result(rule.claim, "cannot tell", reason, label.facts, rule=rule.section, unverified=row["unverified"])
    first = f"The {label.market} label lacks its {shown(lacks, 80)}: add it."
    reason = f"No words on it say so. {rule.plain} It would say: {row['says']}"
    severity = "review" if row["unverified"] else "stop"
    return Result(rule.claim, "missing", reason, label.facts, rule=rule.section, unverified=row["unverified"],
                  first=first, code=CODE, severity=severity, expected=row["says"])  # fmt: skip


def doubts(label: Label, kind: str) -> Iterator[str]:
    """Pieces that were not read and may hold a statement of the kind."""
    hint = HINTS.get(kind)
    for piece in label.unread:
        if piece.why or (hint and hint.search(piece.quoted)):
            yield piece.quoted


def _may_stand(label: Label, lacks: str) -> str:
    return f"Whether the {label.market} label states its {shown(lacks, 60)} cannot be told: read the words yourself."


def _age(label: Label, judged: Judged, sheets: Sheets) -> Iterator[Result]:
    """An age that a rule or the brief wants and the label does not state."""
    if label.of("age"):
        return
    verdict, wanted = judged.on("age statement"), sheets.brief["age_statement"]
    doubt = next(doubts(label, "age"), "")
    if doubt and (is_stated(wanted) or (verdict and verdict.truth != TRUE)):
        yield Result("age", "cannot tell", f"An age may stand in words that were not read: “{doubt}”.", label.facts,
                     first=_may_stand(label, "age"), code=UNSURE, severity="review")  # fmt: skip
    elif verdict and verdict.truth == FALSE:
        first = f"The {label.market} label lacks an age that must stand on it: add the age of the youngest."
        yield Result("age", "missing", verdict.opening, _facts(label, verdict.facts), rule=verdict.section,
                     unverified=verdict.unverified, first=first, code=CODE, severity="stop", expected="an age",
                     remedy=verdict.remedy)  # fmt: skip
    elif is_stated(wanted):
        yield _asked(label, sheets, "age", str(wanted))
    elif verdict and verdict.truth != TRUE:
        yield Result("age", "cannot tell", f"No words state an age. {verdict.opening}", _facts(label, verdict.facts),
                     rule=verdict.section, unverified=verdict.unverified)  # fmt: skip


def _claims(label: Label, judged: Judged, sheets: Sheets) -> Iterator[Result]:
    """Claims of the brief that no words of the label make; a longer claim on it holds a shorter one."""
    text = sheets.brief["claims"]
    said = [str(statement.reading.value) for statement in label.of("claim")]
    said += ["distilled in year" for _ in label.of("distilled year")]
    for claim in claims_of(text if isinstance(text, str) else None):
        known = any(claim_words(claim) in judged.court.book.known_claims(m) for m in judged.court.book.markets)
        texts = said if known else [*said, *map(plain, label.texts)]
        if any(says(words, claim_words(claim)) for words in texts):
            continue
        if says(plain(" ".join(label.texts)), claim_words(claim)):
            reason = f"The brief asks for {claim}; the words stand there, but over several lines or among others."
            yield Result("claim", "cannot tell", reason, _facts(label, tuple(sheets.brief["facts"])))
        else:
            yield _asked(label, sheets, "claim", claim)


def _asked(label: Label, sheets: Sheets, statement: str, wanted: str) -> Result:
    quoted = shown(wanted, 40)
    first = f"The {label.market} label does not say “{quoted}”, as the brief asks: add it, or change the brief."
    return Result(statement, "missing", f"The brief asks for {wanted}; no words on the label say it.",
                  _facts(label, tuple(sheets.brief["facts"])), first=first, code=CODE, severity="review",
                  expected=wanted)  # fmt: skip


def _facts(label: Label, more: tuple[int, ...]) -> tuple[int, ...]:
    return tuple(dict.fromkeys((*label.facts, *more)))
