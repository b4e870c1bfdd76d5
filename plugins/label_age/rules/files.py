"""Rule files: one a market, every version kept, checked as a whole before any of it counts."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import Any

from plugins.label_age.facts.catalogue import BY_NAME
from plugins.label_age.facts.words import plain
from plugins.label_age.rules.check import quarrels
from plugins.label_age.rules.conditions import BadCondition, Share, nearest, parse
from plugins.label_age.rules.demands import BadDemand, check_tested, check_text, line_of_demand, read_demands
from plugins.label_age.rules.versions import (
    BrokenFile,
    DataFile,
    Need,
    Rule,
    RuleBook,
    claim_words,
    references,
    referred,
)
from plugins.label_age.wording.reading import KINDS

SOURCES = ("seen", "seen in an earlier edition", "second-hand", "memory")
JUDGED = ("when claimed", "always", "by other rules", "for the label sheet")
RULE_KEYS = {
    "id", "claim", "names", "judged", "section", "in_force_from", "in_force_until", "plain", "source", "unverified",
    "applies", "need", "finding", "remedy", "note", "edition", "of", "says", "values", "demands", "text", "read",
    "read_as", "read_words",
}  # fmt: skip
NEEDED = ("id", "claim", "section", "in_force_from", "plain", "source")
FINDING_CODE = re.compile(r"label\.[a-z]+(-[a-z]+)*")


def read_rules(files: Iterable[DataFile]) -> tuple[RuleBook, list[BrokenFile]]:
    """All rule files. A file with one fault counts not at all and is named; the others still work."""
    ordered = sorted(files, key=lambda file: (file.plugin != "label_age", file.plugin, file.name))
    book, broken = _read_texts(tuple(_Read(file.plugin, file.name, file.text) for file in ordered))
    return book, list(broken)


@dataclass(frozen=True)
class _Read:
    plugin: str
    name: str
    text: str


@lru_cache(maxsize=8)
def _read_texts(files: tuple[_Read, ...]) -> tuple[RuleBook, tuple[BrokenFile, ...]]:
    book, broken = RuleBook(), []
    for file in files:
        try:
            market, names, rules = _read_file(file)
            _check_names(market, names, book)
            _check_new(rules, book, file)
        except _Fault as fault:
            broken.append(BrokenFile(label(file), fault.line, str(fault)))
            continue
        book.markets[market] = tuple(dict.fromkeys((*book.markets.get(market, ()), *names)))
        book.rules.extend(rules)
    broken.extend(_check_whole(book, _bad_reference))
    broken.extend(_check_whole(book, _quarrel))
    return book, tuple(broken)


def label(file: DataFile) -> str:
    """How a rule file is named in sentences: two plugins may call theirs alike."""
    return file.name if file.plugin == "label_age" else f"{file.plugin}: {file.name}"


class _Fault(Exception):
    def __init__(self, message: str, line: int | None = None) -> None:
        super().__init__(message)
        self.line = line


def _read_file(file: DataFile) -> tuple[str, list[str], list[Rule]]:
    try:
        table = tomllib.loads(file.text)
    except tomllib.TOMLDecodeError as error:
        found = re.search(r"at line (\d+)", str(error))
        raise _Fault(f"not TOML: {error}", int(found[1]) if found else None) from error
    market, names = table.get("market"), table.get("names", [])
    if not isinstance(market, str) or not market:
        raise _Fault('expected market = "…" at the top')
    if not isinstance(names, list) or not all(isinstance(name, str) for name in names):
        raise _Fault("names wants a list of texts")
    strange = set(table) - {"market", "names", "rule"}
    if strange:
        raise _Fault(f"unknown key {sorted(strange)[0]!r} at the top{nearest(sorted(strange)[0], ('market', 'names'))}")
    rules = table.get("rule", [])
    if not isinstance(rules, list) or not rules:
        raise _Fault("expected at least one [[rule]]")
    made = [_rule(number, entry, market, file) for number, entry in enumerate(rules)]
    return market, [plain(market), *(plain(name) for name in names)], made


def _rule(number: int, table: dict[str, Any], market: str, file: DataFile) -> Rule:
    line = _line_of(file.text, number)
    try:
        return _rule_from(table, market, file, number)
    except (BadCondition, BadDemand, _Fault) as error:
        named = table.get("id") or f"number {number + 1}"
        at = getattr(error, "line", None) or line
        if isinstance(error, BadDemand) and line:
            at = line_of_demand(file.text, line, error.key)
        raise _Fault(f"rule {named}: {error}", at) from error


def _rule_from(table: dict[str, Any], market: str, file: DataFile, number: int) -> Rule:
    strange = sorted(set(table) - RULE_KEYS)
    if strange:
        raise _Fault(f"unknown key {strange[0]!r}{nearest(strange[0], RULE_KEYS)}")
    missing = [key for key in NEEDED if key not in table]
    if missing:
        raise _Fault(f"expected {', '.join(missing)}")
    for key in ("id", "claim", "section", "plain", "source", "judged", "finding", "remedy", "note", "of", "says"):
        if key in table and not (isinstance(table[key], str) and table[key].strip()):
            raise _Fault(f"{key} wants a text, found {table[key]!r}")
    judged = table.get("judged", "when claimed")
    for value, allowed, key in ((table["source"], SOURCES, "source"), (judged, JUDGED, "judged")):
        if value not in allowed:
            raise _Fault(f"{key} is one of {', '.join(allowed)}; found {value!r}")
    since, until = table["in_force_from"], table.get("in_force_until")
    if type(since) is not date or type(until) not in (date, type(None)) or (until and until < since):
        raise _Fault("in_force_from and in_force_until want dates such as 2022-03-11, in order")
    unverified = table.get("unverified", table["source"] != "seen")
    if not isinstance(unverified, bool) or (table["source"] == "memory" and not unverified):
        raise _Fault("a rule from memory is unverified")
    edition = table.get("edition", 1)
    if type(edition) is not int or edition < 1:
        raise _Fault(f"edition counts from 1, found {edition!r}")
    of = table.get("of", "batch")
    if of not in ("batch", "spirit") or (of == "spirit" and judged != "by other rules"):
        raise _Fault('of is "batch" or "spirit"; a rule of a spirit is judged "by other rules" alone')
    finding = table.get("finding", "label.not-met")
    if not FINDING_CODE.fullmatch(finding):
        raise _Fault(f"finding wants a code such as label.not-met, found {finding!r}")
    claimed = judged in ("when claimed", "always")
    names = [claim_words(name) for name in _names(table)] if claimed else []
    values = _values(table)
    _check_says(table.get("says", ""), judged, dict(values))
    text, read = check_text(table)
    demands = read_demands(table.get("demands"))
    needs = tuple(_needs(table, file, number, of))
    check_tested(demands, [key for need in needs for key in need.tests])
    applies = parse(table["applies"]) if "applies" in table else None
    return Rule(
        id=table["id"], market=market, claim=table["claim"], names=tuple(dict.fromkeys(names)), judged=judged,
        section=table["section"], since=since, until=until, plain=table["plain"], source=table["source"],
        unverified=unverified, applies=applies, needs=needs, finding=finding,
        remedy=table.get("remedy", ""), note=table.get("note", ""), file=label(file), of=of, edition=edition,
        says=table.get("says", ""), values=values, line=_line_of(file.text, number), demands=demands,
        text=text, read=read, read_as=_read_as(table, judged), read_words=_read_words(table, judged),
    )  # fmt: skip


def _read_as(table: dict[str, Any], judged: str) -> tuple[str, ...]:
    """What the words of a label must have been read as, all of it on one panel, to show the statement."""
    given = table.get("read_as", [])
    kinds = [given] if isinstance(given, str) else given
    if not isinstance(kinds, list) or (kinds and judged != "for the label sheet"):
        raise _Fault('read_as wants kinds of statement, of a rule "for the label sheet": read_as = "net contents"')
    for kind in kinds:
        if kind not in KINDS:
            raise _Fault(f"read_as is one of {', '.join(KINDS)}; found {kind!r}{nearest(str(kind), KINDS)}")
    return tuple(kinds)


def _read_words(table: dict[str, Any], judged: str) -> tuple[str, ...]:
    """Words of which any must stand on a label to show the statement, in plain words."""
    given = table.get("read_words", [])
    texts = isinstance(given, list) and all(isinstance(words, str) and plain(words) for words in given)
    if not texts or (given and judged != "for the label sheet"):
        raise _Fault('read_words wants a list of words, of a rule "for the label sheet"')
    return tuple(plain(words) for words in given)


def _names(table: dict[str, Any]) -> list[str]:
    names = table.get("names", [])
    if not isinstance(names, list) or not all(isinstance(name, str) and name.strip() for name in names):
        raise _Fault("names wants a list of texts")
    return [table["claim"], *names]


def _values(table: dict[str, Any]) -> tuple[tuple[str, Any], ...]:
    """Shares that ``says`` may name."""
    given = table.get("values", {})
    if not isinstance(given, dict):
        raise _Fault("values wants a table of shares")
    made = tuple((name, parse({"at_least": 0, **share})) for name, share in given.items() if isinstance(share, dict))
    if len(made) != len(given) or not all(isinstance(share, Share) for _, share in made):
        raise _Fault('a value is a share: { share = "spirit", by = "proof_gallons", where = { … } }')
    return made


def _check_says(says: str, judged: str, values: dict[str, Any]) -> None:
    if judged == "for the label sheet" and not says:
        raise _Fault("a rule for the label sheet wants says, the words that the label states")
    for name in re.findall(r"{([^}]*)}", says):
        if name not in BY_NAME and name not in values:
            raise _Fault(f"says names {{{name}}}, which is no fact and no value{nearest(name, [*BY_NAME, *values])}")


def _needs(table: dict[str, Any], file: DataFile, number: int, of: str) -> Iterator[Need]:
    needs, demands = table.get("need", []), table["demands"]
    if not isinstance(needs, list) or not (needs or any(isinstance(demand, dict) for demand in demands.values())):
        raise _Fault("expected at least one [[rule.need]]")
    for position, need in enumerate(needs):
        line = _line_of(file.text, number, position)
        if not isinstance(need, dict):
            raise _Fault("a need is a table of its own: [[rule.need]]", line)
        condition = {key: value for key, value in need.items() if key not in ("plain", "section", "tests")}
        tests = _tests(need, demands, line)
        try:
            plain_words = need.get("plain", "; ".join(str(demands[key]) for key in tests))
            yield Need(_sentence(plain_words, line), need.get("section", table["section"]), parse(condition, of), tests)
        except BadCondition as error:
            raise _Fault(f"need {position + 1}: {error}", line) from error


def _sentence(words: Any, line: int | None) -> str:
    if not isinstance(words, str) or not words.strip():
        raise _Fault(f'plain wants a sentence: plain = "…"; found {words!r}', line)
    return words


def _tests(need: dict[str, Any], demands: dict[str, Any], line: int | None) -> tuple[str, ...]:
    """The demands that a need tests: one of them, or a list."""
    tests = need.get("tests")
    keys = [tests] if isinstance(tests, str) else tests
    if not isinstance(keys, list) or not keys or not all(isinstance(key, str) for key in keys):
        raise _Fault('a need says which demand it tests: tests = "still strength"', line)
    for key in keys:
        if key not in demands:
            raise _Fault(f"the need tests {key!r}, which is no demand of its rule{nearest(key, demands)}", line)
    return tuple(keys)


def _line_of(text: str, rule: int, need: int | None = None) -> int | None:
    """The line of the n-th [[rule]], or of a need of it; None where a file writes them otherwise."""
    return _headings(text).get((rule, need))


@lru_cache(maxsize=32)
def _headings(text: str) -> dict[tuple[int, int | None], int]:
    """Lines of the headings of rules and of their needs, by their numbers."""
    found: dict[tuple[int, int | None], int] = {}
    rules, needs = -1, -1
    for number, line in enumerate(text.splitlines(), start=1):
        heading = re.sub(r"\s", "", line.split("#", 1)[0]) if line.lstrip().startswith("[") else ""
        if heading == "[[rule]]":
            rules, needs = rules + 1, -1
            found[rules, None] = number
        elif heading == "[[rule.need]]":
            needs += 1
            found[rules, needs] = number
    return found


def _check_names(market: str, names: list[str], book: RuleBook) -> None:
    for other, known in book.markets.items():
        doubled = sorted(set(names) & set(known))
        if other != market and doubled:
            raise _Fault(f"the name {doubled[0]!r} means the market {other} already")


def _check_new(rules: list[Rule], book: RuleBook, file: DataFile) -> None:
    seen = {(rule.id, rule.since, rule.edition): rule.file for rule in book.rules}
    for number, rule in enumerate(rules):
        line = _line_of(file.text, number)
        key = (rule.id, rule.since, rule.edition)
        if key in seen:
            where = seen[key]
            raise _Fault(
                f"rule {rule.id}: a version of {rule.version}, edition {rule.edition}, stands in {where} already", line
            )
        other = next((r for r in book.rules if r.id == rule.id and r.market != rule.market), None)
        if other:
            raise _Fault(f"rule {rule.id} belongs to market {other.market} in {other.file}", line)
        seen[key] = label(file)


def _check_whole(book: RuleBook, look: Callable[[RuleBook], BrokenFile | None]) -> list[BrokenFile]:
    """Leave out files whose rules do not fit to the others, until ``look`` finds none."""
    broken: list[BrokenFile] = []
    while True:
        fault = look(book)
        if fault is None:
            return broken
        broken.append(fault)
        book.rules = [rule for rule in book.rules if rule.file != fault.name]
        standing = {rule.market for rule in book.rules}
        book.markets = {code: names for code, names in book.markets.items() if code in standing}


def _quarrel(book: RuleBook) -> BrokenFile | None:
    """Two rules that answer for one claim, where both apply."""
    for one, other, name in quarrels(book):
        said = f"rules {one.id} ({one.file}, line {one.line}) and {other.id} both answer for the claim {name!r}; "
        said += "let their applies part the cases, or write the one as a version of the other, with its id"
        return BrokenFile(other.file, other.line, said)
    return None


def _bad_reference(book: RuleBook) -> BrokenFile | None:
    known = {rule.id: rule.of for rule in book.rules}
    refers = {rule.id: set[str]() for rule in book.rules}
    for rule in book.rules:
        refers[rule.id] |= referred(rule)
        lost = sorted(referred(rule) - set(known))
        if lost:
            said = f"rule {rule.id} refers to {lost[0]!r}, which is not there{nearest(lost[0], known)}"
            return BrokenFile(rule.file, rule.line, said)
        for node in references(rule):
            if known[node.rule] != node.of:
                said = f"rule {rule.id} refers to {node.rule!r}, which is a rule of a {known[node.rule]}, "
                said += f"where one of a {node.of} is wanted"
                return BrokenFile(rule.file, rule.line, said)
    for rule in book.rules:
        if _reaches(rule.id, rule.id, refers):
            return BrokenFile(rule.file, rule.line, f"rule {rule.id} refers to itself in a circle")
    return None


def _reaches(start: str, target: str, refers: dict[str, set[str]]) -> bool:
    todo, seen = list(refers[start]), set[str]()
    while todo:
        rule = todo.pop()
        if rule == target:
            return True
        if rule not in seen:
            seen.add(rule)
            todo.extend(refers[rule])
    return False
