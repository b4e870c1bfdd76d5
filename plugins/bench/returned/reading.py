"""Returned bench cards: what each taster said of each glass, once, and what is wrong with the rest."""

from __future__ import annotations

import difflib
from dataclasses import dataclass, field
from typing import Any

import pandas as pd

from pipeline import Finding
from plugins.bench.cards.tasters import folded
from plugins.bench.declared.kinds import FAMILIES

JUDGED = ("place", "preferred", "difference", "score")
TEXTS = ("nose", "palate", "finish", "remark")
SAID = (*JUDGED, *TEXTS, *FAMILIES)
Row = dict[str, Any]


@dataclass
class Returned:
    """``rows``: one of each flight, taster and code, with the glass's trial, batch, role, strength and components;

    ``empty``: flight and taster whose rows say nothing; ``findings`` on what could not be used as it stands.
    """

    rows: list[Row] = field(default_factory=list)
    empty: list[tuple[str, str, tuple[int, ...]]] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)


def read_choices(choices: pd.DataFrame, glasses: pd.DataFrame) -> Returned:
    """Rows of ``bench_choices`` with the frame ``glasses``."""
    made = Returned()
    if not len(choices):
        return made
    glass_rows: list[Row] = glasses.to_dict("records")  # type: ignore[assignment]
    key_of = dict(zip(zip(folded(glasses["flight"]), folded(glasses["code"]), strict=True), glass_rows, strict=True))
    flights = {flight for flight, _ in key_of}
    table = choices.assign(_flight=folded(choices["flight"]), _who=folded(choices["taster"]))
    for flight, part in table.groupby("_flight", sort=True):
        if flight not in flights:
            made.findings.append(_no_key(part))
            continue
        codes = {code: row for (where, code), row in key_of.items() if where == flight}
        strange: dict[str, list[tuple[Row, set[str]]]] = {}
        for _, own in part.groupby("_who", sort=True):
            _of_taster(own, codes, made, strange)
        made.findings += [_unknown(rows, codes) for rows in strange.values()]
    return made


def _of_taster(
    own: pd.DataFrame, codes: dict[str, Row], made: Returned, strange: dict[str, list[tuple[Row, set[str]]]]
) -> None:
    groups: dict[str, list[Row]] = {}
    for row in own.assign(_code=folded(own["code"])).sort_values("tasted_at", kind="stable").to_dict("records"):
        if any(_there(row[name]) for name in SAID):
            groups.setdefault(str(row["_code"]), []).append(row)  # type: ignore[arg-type]
    first = own.iloc[0]
    if not groups:
        name = str(next(iter(codes.values()))["flight"])
        made.empty.append((name, str(first["taster"]), _facts(own["facts"])))
        return
    twice: list[Row] = []
    rows = []
    for code, said in groups.items():
        if code not in codes:
            strange.setdefault(code, []).append((said[0], set(groups)))
            continue
        whole, differs = _merged(said)
        twice += said if differs else []
        glass = codes[code]
        facts = tuple(dict.fromkeys([*whole["facts"], *glass["facts"]]))
        known = {name: glass[name] for name in ("flight", "code", "trial", "batch", "role", "strength", "components")}
        rows.append({**whole, **known, "taster": str(first["taster"]), "facts": facts})
    if twice:
        made.findings.append(_twice(rows[0] if rows else twice[0], twice))
    made.rows += rows


def _merged(said: list[Row]) -> tuple[Row, bool]:
    """Rows of one glass as one: what one leaves empty another fills in; where they differ the first day counts."""
    whole, differs = dict(said[0]), False
    facts = list(whole["facts"])
    for other in said[1:]:
        clash = [n for n in SAID if _there(whole[n]) and _there(other[n]) and whole[n] != other[n]]
        if clash:
            differs = True
            continue
        whole.update({name: other[name] for name in SAID if not _there(whole[name])})
        facts += [fact for fact in other["facts"] if fact not in facts]
    whole["facts"] = tuple(facts)
    return whole, differs


def _there(value: Any) -> bool:
    return value is not None and not bool(pd.isna(value))


def _facts(column: Any) -> tuple[int, ...]:
    return tuple(sorted({fact for facts in column for fact in facts}))


def judged(rows: list[Row], count: int) -> tuple[list[Row], bool]:
    """The rows of one taster in one flight of ``count`` glasses that judge, and whether they judge all of it."""
    judging = [row for row in rows if any(_there(row[name]) for name in JUDGED)]
    one = sum(_there(row["preferred"]) and bool(row["preferred"]) for row in judging) == 1
    return judging, len(judging) >= count or one and not any(_there(row["place"]) for row in judging)


def _no_key(part: pd.DataFrame) -> Finding:
    flight = str(part["flight"].iloc[0])
    return Finding(
        "bench.no-key",
        "review",
        f"Tasters' pages of flight {flight} came back, but no sheet says what stands behind its codes.",
        subject=flight,
        facts=_facts(part["facts"]),
        column="flight",
        observed=flight,
        expected="a flight whose page Glasses is in",
        remedy="Drop the bench card with its page Glasses, or correct the flight's name.",
    )


def _unknown(rows: list[tuple[Row, set[str]]], codes: dict[str, Row]) -> Finding:
    """Lines of one code that is not the flight's, each with the codes that its taster judged."""
    row = rows[0][0]
    batch = next(iter(codes.values()))["batch"]
    who = " and ".join(dict.fromkeys(str(each["taster"]) for each, _ in rows))
    free = sorted(str(glass["code"]) for code, glass in codes.items() if not any(code in used for _, used in rows))
    near = difflib.get_close_matches(str(row["code"]), free, 1, 0.5) or (free if len(free) == 1 else [])
    asked = f"; {near[0]} has no line of theirs: was it that?" if near else "."
    return Finding(
        "bench.unknown-code",
        "review" if free else "note",  # who judged all glasses too has most likely mended it since
        f"{who} judged code {row['code']} in flight {row['flight']}, which was never given out{asked}",
        subject=str(row["code"]),
        batch=str(batch) if _there(batch) else "",
        facts=tuple(dict.fromkeys(fact for each, _ in rows for fact in each["facts"])),
        column="code",
        observed=str(row["code"]),
        expected=", ".join(sorted(str(glass["code"]) for glass in codes.values())),
        remedy="Correct the tasters' page, or the page Glasses, and drop it again; until then it does not count.",
    )


def _twice(kept: Row, said: list[Row]) -> Finding:
    days = sorted({f"{row['tasted_at']:%Y-%m-%d}" for row in said if _there(row["tasted_at"])})
    batch = kept.get("batch")
    return Finding(
        "bench.tasted-twice",
        "review",
        f"{said[0]['taster']} tasted flight {said[0]['flight']} twice ({' and '.join(days)}) and said different things "
        f"of {len({str(row['code']) for row in said})} of its glasses; the first day counts: each taster counts once.",
        subject=str(said[0]["flight"]),
        batch=str(batch) if _there(batch) else "",
        facts=_facts(row["facts"] for row in said),
        column="taster",
        observed=" and ".join(days),
        expected="one tasting of each taster",
        remedy="Void the rows that do not count (column void), or make a new flight with codes of its own.",
    )
