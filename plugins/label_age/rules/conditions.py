"""The language of conditions: TOML tables into a small tree, checked against the catalogue.

A condition is one table with one of these forms (README.md has them with examples):
``fact`` with one test; ``all``, ``any``, ``not``; ``every`` or ``some`` with a group, beside any
other form; ``same`` with ``every``; ``share`` of a group; ``rule``. Nothing is evaluated as code.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from plugins.label_age.facts.ages import age_key
from plugins.label_age.facts.catalogue import BY_NAME, GROUPS, SEEN_FROM, Fact
from plugins.label_age.facts.words import plain

NUMBER_TESTS = ("at_least", "at_most", "more_than", "less_than")
TESTS = {
    "number": (*NUMBER_TESTS, "is", "one_of", "within"),
    "age": NUMBER_TESTS,
    "flag": ("is",),
    "text": ("is", "one_of"),
    "texts": ("mentions",),
}
EXTRAS = ("of", "unsure_within", "unsure", "assume", "given", "open_above_while", "uncertainty",
          "must_be_known", "quiet")  # fmt: skip
WEIGHTS = ("proof_gallons", "lpa", "volume_60F_gal", "volume_20C_L", "mass_kg", "number")


class BadCondition(ValueError):
    """A condition that is not of the language; the message says what was expected."""


@dataclass(frozen=True)
class Check:
    """A fact and one test of it.

    ``limit`` is a number, age key, bool, plain text, tuple of them, or a Fact. ``centre`` is the
    fact or number that ``within`` measures from. A failed number within ``unsure_within`` of the
    limit is unknown because of ``unsure``. ``assume`` is taken as given where the fact is unknown.
    ``given`` is taken as given where the fact is known and the test holds: what no sheet says beside it.
    ``open_above_while`` names a flag: while it is unknown, a number above the limit may yet come down.
    ``uncertainty`` names the fact's standard uncertainty: where twice it reaches over the limit, the verdict says so.
    ``must_be_known``: what is not known does not pass, and is not told of beside alternatives. ``quiet``: where it
    does not hold, the alternative that it stands in is none, and is not told of.
    ``shown`` are the texts of the limit as the rule file writes them.
    """

    fact: Fact
    test: str
    limit: Any
    centre: Any = None
    unsure_within: float = 0.0
    unsure: str = ""
    assume: str = ""
    given: str = ""
    open_above_while: Fact | None = None
    shown: tuple[str, ...] = ()
    uncertainty: Fact | None = None
    must_be_known: bool = False
    quiet: bool = False


@dataclass(frozen=True)
class Both:
    parts: tuple[Any, ...]


@dataclass(frozen=True)
class Either:
    parts: tuple[Any, ...]


@dataclass(frozen=True)
class Negation:
    part: Any


@dataclass(frozen=True)
class Quantified:
    """``word`` is ``every`` or ``some``; ``group`` a group of the catalogue."""

    word: str
    group: str
    part: Any


@dataclass(frozen=True)
class Same:
    """The fact has one value throughout the group."""

    group: str
    fact: Fact
    assume: str = ""
    given: str = ""


@dataclass(frozen=True)
class OtherRule:
    """Another rule, in the version in force on the same day; ``of`` is what it must be a rule of."""

    rule: str
    of: str = "batch"


@dataclass(frozen=True)
class Difference:
    """A limit that lies ``plus`` above a fact."""

    fact: Fact
    plus: float


@dataclass(frozen=True)
class Share:
    """How much of a group, in per cent of ``by``, passes ``part``; of ``number`` each row counts alike."""

    group: str
    by: str
    part: Any
    test: str
    limit: float


_SEEN: dict[Any, Any] = {}


def parse(table: Any, scope: str = "batch") -> Any:
    """A condition from its TOML table; ``scope`` is the group that the table stands in.

    Equal conditions are one object, so that each is judged once however many rules have it.
    Raises BadCondition saying what was found and what was expected.
    """
    node = _parsed(table, scope)
    return _SEEN.setdefault(node, node)


def _parsed(table: Any, scope: str) -> Any:
    if not isinstance(table, dict):
        raise BadCondition(f'expected a table such as {{ fact = "age", at_least = "3 years" }}, found {table!r}')
    for word in ("every", "some"):
        if word in table:
            return _quantified(word, table, scope)
    if "share" in table:
        return _share(table, scope)
    forms = [form for form in ("fact", "all", "any", "not", "rule") if form in table]
    if len(forms) != 1:
        raise BadCondition(
            f"expected exactly one of fact, all, any, not, rule, share, every or some, found {_keys(table)}"
        )
    form = forms[0]
    if form == "fact":
        return _check(table, scope)
    if len(table) > 1:
        raise BadCondition(f"{form} stands alone in its table, found {_keys(table)}")
    if form == "rule":
        if scope not in ("batch", "spirit"):
            raise BadCondition(f"rule speaks of the batch or of a spirit: it cannot stand inside every = {scope!r}")
        return OtherRule(_text(table["rule"], "rule"), scope)
    if form == "not":
        return Negation(parse(table["not"], scope))
    if not isinstance(table[form], list) or not table[form]:
        raise BadCondition(f"{form} wants a list of conditions")
    parts = tuple(parse(part, scope) for part in table[form])
    return Both(parts) if form == "all" else Either(parts)


def _quantified(word: str, table: dict[str, Any], scope: str) -> Any:
    rest = {key: value for key, value in table.items() if key != word}
    group = table[word]
    if group not in GROUPS or group == "batch":
        raise BadCondition(f"{word} wants one of {', '.join(g for g in GROUPS if g != 'batch')}, found {group!r}")
    if scope != "batch":
        raise BadCondition(f"{word} = {group!r} stands inside another every or some")
    if "same" in rest:
        strange = set(rest) - {"same", "assume", "given"}
        if word != "every" or strange:
            raise BadCondition(f"same goes with every, assume and given only, found {_keys(table)}")
        return Same(group, _fact(rest["same"], group), *_assumptions(rest))
    return Quantified(word, group, parse(rest, group))


def _share(table: dict[str, Any], scope: str) -> Share:
    group, by, tests = table["share"], table.get("by"), [test for test in NUMBER_TESTS if test in table]
    strange = set(table) - {"share", "by", "where", *NUMBER_TESTS}
    if scope != "batch" or group not in ("spirit", "bottle") or strange or len(tests) != 1 or "where" not in table:
        raise BadCondition(
            'a share is written { share = "spirit", by = "proof_gallons", where = { … }, at_least = 20 }, '
            f"found {_keys(table)}"
        )
    if by not in WEIGHTS:
        raise BadCondition(f"by is one of {', '.join(WEIGHTS)}; found {by!r}")
    return Share(group, by, parse(table["where"], group), tests[0], _number(table[tests[0]], tests[0]))


def _check(table: dict[str, Any], scope: str) -> Check:
    fact = _fact(table["fact"], scope)
    tests = [key for key in table if key not in ("fact", *EXTRAS)]
    allowed = TESTS[fact.kind]
    if len(tests) != 1 or tests[0] not in allowed:
        found = ", ".join(tests) or "none"
        kind = f"{'an' if fact.kind == 'age' else 'a'} {fact.kind}"
        raise BadCondition(f"{fact.name} is {kind}: expected one of {', '.join(allowed)}, found {found}")
    test = tests[0]
    limit = _limit(table[test], test, fact, scope)
    centre = None
    if test == "within":
        if "of" not in table:
            raise BadCondition('within wants the number or fact it is measured from: of = "label_abv_20C"')
        centre = _fact(table["of"], scope) if isinstance(table["of"], str) else _number(table["of"], "of")
    while_fact = _fact(table["open_above_while"], scope) if "open_above_while" in table else None
    if ("unsure_within" in table) != ("unsure" in table):
        raise BadCondition("unsure_within and unsure (the reason) go together")
    reach = _number(table.get("unsure_within", 0.0), "unsure_within")
    assume, given = _assumptions(table)
    unsure = table.get("unsure", "")
    beside = _fact(table["uncertainty"], scope) if "uncertainty" in table else None
    known, quiet = table.get("must_be_known", False), table.get("quiet", False)
    if not isinstance(known, bool) or not isinstance(quiet, bool):
        raise BadCondition("must_be_known and quiet are true or false")
    return Check(
        fact, test, limit, centre, reach, unsure, assume, given, while_fact, _shown(table[test]), beside, known, quiet
    )


def _assumptions(table: dict[str, Any]) -> tuple[str, str]:
    """What is taken as given where the fact is unknown, and where it is known."""
    if "assume" in table and "given" in table:
        raise BadCondition("assume (the fact is unknown) and given (the fact is known) do not go together")
    assume, given = (_text(table[word], word) if word in table else "" for word in ("assume", "given"))
    return assume, given


def _shown(value: Any) -> tuple[str, ...]:
    return tuple(item for item in (value if isinstance(value, list) else [value]) if isinstance(item, str))


def _limit(value: Any, test: str, fact: Fact, scope: str) -> Any:
    if test == "mentions" or test == "one_of":
        if not isinstance(value, list) or not value:
            raise BadCondition(f"{test} wants a list, found {value!r}")
        return tuple(_plain_value(item, fact) for item in value)
    if isinstance(value, dict):
        if "fact" not in value or set(value) - {"fact", "minus"}:
            raise BadCondition(f'{test} wants a value or {{ fact = "…" }}, perhaps with minus, found {_keys(value)}')
        of = _fact(value["fact"], scope)
        return Difference(of, -_number(value["minus"], "minus")) if "minus" in value else of
    return _plain_value(value, fact)


def _plain_value(value: Any, fact: Fact) -> Any:
    if fact.kind == "number":
        return _number(value, fact.name)
    if fact.kind == "flag":
        if not isinstance(value, bool):
            raise BadCondition(f"{fact.name} is true or false, found {value!r}")
        return value
    if fact.kind == "age":
        try:
            return age_key(value)
        except (TypeError, ValueError) as error:
            raise BadCondition(f'{fact.name} wants an age such as "4 years", found {value!r}') from error
    return plain(_text(value, fact.name))


def _fact(name: Any, scope: str) -> Fact:
    if name not in BY_NAME:
        raise BadCondition(f"no fact is called {name!r}{nearest(str(name), BY_NAME)}")
    fact = BY_NAME[name]
    if fact.group not in SEEN_FROM[scope]:
        group = "spirit" if fact.group == "component" else fact.group
        raise BadCondition(f'{name} is a fact of {GROUPS[fact.group]}: put every = "{group}" beside it')
    return fact


def nearest(name: str, known: Iterable[str]) -> str:
    """``; the nearest is …``, or nothing when nothing is near."""
    return _nearest(name, tuple(sorted(known)))


@lru_cache(maxsize=1024)
def _nearest(name: str, known: tuple[str, ...]) -> str:
    from rapidfuzz import fuzz, process

    best = process.extractOne(name, known, scorer=fuzz.ratio, score_cutoff=55)
    return f"; the nearest is {best[0]!r}" if best else ""


def _number(value: Any, name: str) -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise BadCondition(f"{name} wants a number, found {value!r}")
    return float(value)


def _text(value: Any, name: str) -> str:
    if not isinstance(value, str) or not value.strip():
        raise BadCondition(f"{name} wants a text, found {value!r}")
    return value


def _keys(table: dict[str, Any]) -> str:
    return ", ".join(table) or "an empty table"


def checks_of(node: Any) -> Iterator[Check | Same | OtherRule]:
    """Every check, sameness and reference to another rule in a condition."""
    if isinstance(node, (Both, Either)):
        for part in node.parts:
            yield from checks_of(part)
    elif isinstance(node, (Negation, Quantified, Share)):
        yield from checks_of(node.part)
    elif node is not None:
        yield node
