"""Each statement of a label: what the sheets say of it and what the rules say of it, as one result."""

from __future__ import annotations

from collections.abc import Iterator

from plugins.label_age.comparing.as_labelled import Judged, ages_of, sizes_of, strengths_of, words_of
from plugins.label_age.comparing.labels import Label, Statement, Unread
from plugins.label_age.comparing.result import Compared, Result
from plugins.label_age.comparing.sheets import Sheets, compare
from plugins.label_age.facts.logic import FALSE, TRUE, UNKNOWN
from plugins.label_age.judging.verdict import Verdict
from plugins.label_age.rules.versions import claim_words
from plugins.label_age.wording.lines import shown
from plugins.label_age.wording.names_said import is_class
from plugins.label_age.wording.reading import KINDS

QUOTED = 48
"""Characters of the label's words in a finding's first sentence, which holds at most 25 words."""
SEVERITIES = {"not allowed": "stop", "contradicts": "stop", "cannot tell": "review"}
CODES = {
    "not allowed": "label.words-not-allowed",
    "contradicts": "label.words-contradict",
    "cannot tell": "label.words-cannot-tell",
}
STRENGTH_TESTS = ("bottling strength", "minimum strength")


def statements_of(label: Label, judged: Judged, sheets: Sheets) -> Iterator[Result]:
    """One result for each statement that was read, in the label's order."""
    for statement in label.statements:
        verdicts = _verdicts(statement, label, judged)
        compared = _within(statement, label) or compare(statement.reading, sheets)
        yield _result(statement, label, compared, verdicts, sheets)


def unread_of(label: Label) -> Iterator[Result]:
    """One result for each piece of text that was not read; the first of a label brings the finding of all."""
    for piece in label.unread:
        yield _unread(piece)


def _unread(piece: Unread) -> Result:
    why = f"Not read: {piece.why}." if piece.why else "No statement was read in these words."
    return Result("words", "not judged", why, piece.facts, piece.quoted, "", piece.panel)


def reads(statement: Statement) -> str:
    """What the words were read as, with the unit."""
    reading = statement.reading
    value = reading.value
    if reading.kind == "strength":
        return f"{value:g} % vol"
    if reading.kind == "proof":
        return f"{value:g} proof, {value / 2:g} % vol"
    if reading.kind == "net contents":
        return f"{1000 * value:g} mL"
    return words_of(value) if reading.kind == "age" else str(value)


def _verdicts(statement: Statement, label: Label, judged: Judged) -> list[Verdict]:
    """The verdicts that speak of the statement, the gravest first."""
    reading = statement.reading
    if reading.kind == "claim":
        asked = [(str(reading.value), 0)]
    elif reading.kind == "age":
        asked = [("age statement", ages_of(label).index(words_of(reading.value)))]
    elif reading.kind in ("strength", "proof"):
        said = reading.value / (2 if reading.kind == "proof" else 1)
        asked = [(test, strengths_of(label).index(said)) for test in STRENGTH_TESTS]
    elif reading.kind == "net contents":
        asked = [("standard of fill", sizes_of(label).index(reading.value))]
    elif reading.kind == "distilled year":
        asked = [(f"distilled in {reading.value}", 0)]
    else:
        asked = []
    found = [verdict for claim, number in asked if (verdict := judged.on(claim, number))]
    if reading.kind == "distilled year":
        found = [verdict for verdict in found if verdict.section]
    return sorted(found, key=lambda verdict: (FALSE, UNKNOWN, TRUE).index(verdict.truth))


def _within(statement: Statement, label: Label) -> Compared | None:
    """That the label says otherwise elsewhere: another strength, age, size, year or batch."""
    kind = statement.reading.kind
    if kind in ("claim", "casks", "colouring", "no colouring", "name and address") or kind.startswith(
        ("place", "country")
    ):
        return None
    alike = label.of("strength", "proof") if kind in ("strength", "proof") else label.of(kind)
    other = next((one for one in alike if _value(one) != _value(statement)), None)
    if other is None:
        return None
    said = f"The {other.panel} of the label says “{other.quoted}”."
    return Compared("contradicts", said, f"“{other.quoted}”", other.facts, "elsewhere it says")


def _value(statement: Statement) -> object:
    value = statement.reading.value
    return value / 2 if statement.reading.kind == "proof" else value


def _result(statement: Statement, label: Label, compared: Compared, verdicts: list[Verdict], sheets: Sheets) -> Result:
    gravest = verdicts[0] if verdicts else None
    word = _word(statement, compared, gravest)
    reason = " ".join(part for part in (compared.reason, *_reasons(statement, verdicts, sheets)) if part)
    loud = word in CODES and not (word == "cannot tell" and _waits(statement, compared, gravest))
    facts = tuple(dict.fromkeys((*statement.facts, *compared.facts, *(gravest.facts if gravest else ()))))
    return Result(
        _named(statement), word, reason or "Nothing here judges these words.", facts, statement.quoted,
        reads(statement), statement.panel, " and ".join(dict.fromkeys(v.section for v in verdicts if v.section)),
        any(verdict.unverified for verdict in verdicts), _first(word, statement, compared, label) if loud else "",
        CODES[word] if loud else "", SEVERITIES[word] if loud else "", compared.expected,
        gravest.remedy if gravest and word == "not allowed" else "",
    )  # fmt: skip


def _named(statement: Statement) -> str:
    return KINDS["class" if is_class(statement.reading) else statement.reading.kind]


def _word(statement: Statement, compared: Compared, gravest: Verdict | None) -> str:
    """One result of what sheets and rules say; the gravest counts, and silence of both is never agreement."""
    if gravest and gravest.truth == FALSE and not gravest.finding == "label.age-statement-missing":
        return "not allowed"
    if compared.word == "contradicts":
        return "contradicts"
    if compared.word == "cannot tell" or (gravest and gravest.truth == UNKNOWN):
        return "cannot tell"
    if compared.word == "agrees" or gravest:
        return "agrees"
    return "stated" if statement.reading.kind == "name and address" else "not judged"


def _reasons(statement: Statement, verdicts: list[Verdict], sheets: Sheets) -> Iterator[str]:
    if statement.reading.kind == "claim" and not _briefed(str(statement.reading.value), sheets):
        yield "The brief does not claim it."
    for verdict in verdicts:
        yield verdict.opening if len(verdicts) == 1 else f"{verdict.claim.capitalize()}: {verdict.opening}"


def _briefed(claim: str, sheets: Sheets) -> bool:
    from plugins.label_age.facts.batch import claims_of

    said = sheets.brief["claims"]
    return claim in {claim_words(one) for one in claims_of(said if isinstance(said, str) else None)}


def _waits(statement: Statement, compared: Compared, gravest: Verdict | None) -> bool:
    """Whether nothing but time is wanting: what is bottled later, and the brief agrees."""
    if statement.reading.kind in ("batch", "lot", "bottled year", "casks"):
        return True
    return bool(gravest and gravest.not_due and compared.word in ("agrees", ""))


def _first(word: str, statement: Statement, compared: Compared, label: Label) -> str:
    quoted = shown(statement.quoted, QUOTED)
    if word == "contradicts":
        other = f"; {compared.whose} {shown(compared.expected, 32)}" if compared.expected else ""
        return f"The {label.market} label says “{quoted}”{other}. Correct whichever is wrong."
    if word == "not allowed":
        return f"The {label.market} label may not say “{quoted}”: change the words, or what they speak of."
    return f"Whether the {label.market} label may say “{quoted}” cannot be told: bring what is missing."
