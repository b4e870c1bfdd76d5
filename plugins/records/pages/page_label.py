"""What label.html shows: what the label may say, must say and may not, with reasons and sections."""

from __future__ import annotations

from typing import Any

from plugins.records.record import words
from plugins.records.record.claims import ORDER, read
from plugins.records.record.plain import rows

Row = dict[str, Any]
RESULTS = ("not allowed", "contradicts", "missing", "cannot tell", "not judged", "stated", "agrees")
"""Results of the label proof, the gravest first."""


def view(record: Row, frames: dict[str, Any], site: Any, run: Any) -> Row:
    """Everything that the template of a label sheet needs.

    ``frames``: this batch's labels, designations, statements, grounds, component_ages and label_words (None where
    missing).
    """
    labels = rows(frames.get("labels"))
    markets = list(dict.fromkeys(row["market"] for row in (*labels, *rows(frames.get("label_words")))))
    return {
        "record": record,
        "house": site.house,
        "book_date": run.book_date,
        "problems": list(run.problems),
        "markets": [market(name, record["label"], frames) for name in markets],
        "age": words.age(*(record["age"][name] for name in ("years", "months", "days"))),
        "youngest": youngest(record["age"]["youngest_component"], rows(frames.get("component_ages"))),
        "statement": statement(labels),
        "verdicts": tally(labels),
    }


def market(name: str, label: list[Row], frames: dict[str, Any]) -> Row:
    """One market: verdicts that need a person first, statements, and what else the batch may be called."""
    claims = read([row for row in label if row["market"] == name], frames.get("labels"), frames.get("grounds"))
    named = [row for row in of(frames.get("designations"), name) if row["verdict"] is not None]
    said = {row["claim"] for row in claims}
    statements = of(frames.get("statements"), name)
    return {
        "name": name,
        "verdicts": tally(claims),
        "claims": claims,
        "proof": label_proof(of(frames.get("label_words"), name)),
        "states": [row for row in statements if row["applies"] == "met"],
        "open": [row for row in statements if row["applies"] != "met"],
        "may": [row for row in named if row["verdict"] == "met"],
        "nearly": [near(row) for row in named if row["verdict"] != "met" and row["claim"] not in said],
    }


def of(frame: Any, name: str) -> list[Row]:
    return [row for row in rows(frame) if row["market"] == name]


def label_proof(found: list[Row]) -> Row | None:
    """The words of a label with their results, the gravest first; None where no words were dropped."""
    if not found:
        return None
    ordered = sorted(found, key=lambda row: (RESULTS.index(row["result"]), row["number"]))
    counts = [(result, sum(row["result"] == result for row in found)) for result in RESULTS]
    silent = [row for row in ordered if row["result"] == "not judged" and row["words"]]
    return {
        "rows": [row for row in ordered if row not in silent],
        "unread": [{**row, "why": row["reason"] if row["statement"] != "words" else odd(row)} for row in silent],
        "counts": [(result, number) for result, number in counts if number],
    }


def odd(row: Row) -> str:
    """Why words were not read, where that is more than that no statement is in them."""
    return str(row["reason"]) if row["reason"].startswith("Not read") else ""


def near(row: Row) -> Row:
    """A claim that nearly holds, and what stops it."""
    stopped = words.count(row["stopped_by"] or 0, "component")
    said = f"{stopped} of {row['components']} stop it: {row['stops']}." if row["stops"] else ""
    return {**row, "stopped": said, "from": words.day(row.get("met_from"))}


def tally(found: list[Row]) -> list[tuple[str, int]]:
    """How many verdicts of each kind, the worst first; kinds without any are left out."""
    counts = [(verdict, sum(row["verdict"] == verdict for row in found)) for verdict in ORDER]
    return [(verdict, number) for verdict, number in counts if number]


def youngest(name: str | None, ages: list[Row]) -> str:
    """The days between which the youngest component's age was counted."""
    found = next((row for row in ages if row["component"] == name), None)
    if found is None or not found["counted_from"] or not found["counted_to"]:
        return ""
    return f"in wood from {found['counted_from'][:10]} to {found['counted_to'][:10]}"


def statement(labels: list[Row]) -> str:
    """The words on age that the brief asks for, as the verdicts used them."""
    import json

    for row in labels:
        if row["claim"] == "age statement":
            said = json.loads(row["facts_used"] or "{}").get("stated_age")
            if isinstance(said, str) and said != "not known":
                return said
    return ""
