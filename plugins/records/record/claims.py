"""Verdicts on label claims as people read them: the first sentence of the reason, and the grounds in their parts."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from plugins.records.record import words
from plugins.records.record.plain import rows

if TYPE_CHECKING:
    import pandas as pd

Row = dict[str, Any]
ORDER = {verdict: place for place, verdict in enumerate(words.LABEL_ORDER)}
PARTS = {
    "missing": "Missing",
    "demand": "Demands",
    "given": "Taken as given",
    "not tested": "Not tested",
    "law": "Law as read",
    "unverified": "Unverified",
    "figure": "Figures",
    "assumed": "Assumed",
    "confirmed": "Confirmed here",
}
"""Parts of the grounds in the order in which they are read, each with its heading."""


def read(claims: list[Row], labels: pd.DataFrame | None, grounds: pd.DataFrame | None) -> list[Row]:
    """Claims, the worst verdict first, with what ``labels`` (None where missing) has of each beside the record.

    ``said`` is the first sentence without its verdict, ``parts`` the grounds by heading, ``sums`` how many of which,
    ``more`` the rest of the reason where no grounds stand for it.
    """
    of_label = {_key(row): row for row in rows(labels)}
    found: dict[tuple[Any, ...], list[Row]] = {}
    for ground in rows(grounds):
        found.setdefault(_key(ground), []).append(ground)
    made = [_read(claim, of_label.get(_key(claim), {}), found.get(_key(claim), [])) for claim in claims]
    return sorted(made, key=lambda claim: ORDER.get(claim["verdict"], len(ORDER)))


def _key(row: Row) -> tuple[Any, ...]:
    return row["market"], row["claim"]


def _read(claim: Row, label: Row, grounds: list[Row]) -> Row:
    first, rest = sentences(claim["reason"] or "", label.get("opening"))
    parts = [(part, _worst_first([ground for ground in grounds if ground["part"] == part])) for part in PARTS]
    return {
        **claim,
        "said": _without(claim["verdict"] or "", first),
        "version": label.get("rule_version"),
        "parts": [{"part": part, "title": PARTS[part], "rows": of} for part, of in parts if of],
        "sums": _sums({part: of for part, of in parts if of}),
        "more": "" if grounds else rest,
    }


def _worst_first(grounds: list[Row]) -> list[Row]:
    """Demands that do not hold first, each followed by those that stand under it; other grounds as they are."""
    groups: list[list[Row]] = []
    for ground in grounds:
        if ground["under"] and groups:
            groups[-1].append(ground)
        else:
            groups.append([ground])
    groups.sort(key=lambda group: ORDER.get(group[0]["holds"], 0))
    return [ground for group in groups for ground in group]


def sentences(reason: str, opening: float | None) -> tuple[str, str]:
    """The first sentence of a reason, which has so many characters (None: all of it is one), and the rest."""
    at = len(reason) if opening is None else int(opening)
    return reason[:at], reason[at:].strip()


def _without(verdict: str, sentence: str) -> str:
    """A sentence without the verdict that it begins with, which stands beside it."""
    if sentence.casefold().startswith(f"{verdict}: ".casefold()):
        sentence = sentence[len(verdict) + 2 :]
    return sentence[:1].upper() + sentence[1:]


def _sums(parts: dict[str, list[Row]]) -> str:
    """``2 facts missing, 6 demands (1 not met), 3 taken as given``."""
    held = [ground["holds"] for ground in parts.get("demand", ()) if not ground["under"]]
    apart = [f"{held.count(verdict)} {verdict}" for verdict in ORDER if verdict != "met" and verdict in held]
    said = [words.count(len(parts["missing"]), "fact") + " missing"] if "missing" in parts else []
    if held:
        said.append(words.count(len(held), "demand") + (f" ({', '.join(apart)})" if apart else " (all met)"))
    said += [f"{len(parts[part])} {name}" for part, name in (("given", "taken as given"), ("not tested", "not tested"),
                                                             ("assumed", "assumed")) if part in parts]  # fmt: skip
    return ", ".join(said)
