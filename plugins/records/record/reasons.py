"""Why a batch has its status, in sentences, from its record alone."""

from __future__ import annotations

from typing import Any

from plugins.records.record import words
from plugins.records.record.concerns import HELD, RECONCILED
from plugins.records.record.signing import in_force


def why(record: dict[str, Any]) -> list[str]:
    """Sentences for the head of a record."""
    status = record["status"]
    signed = in_force(record)
    if signed:
        return [f"{against(one)}{told(one)}" for one in signed]
    reasons = held(record) if status == HELD else reconciled() if status == RECONCILED else in_review(record)
    last = record["releases"][-1:]
    reasons += [f"The release signed by {one['by']} on {one['signed_on']} {stands(one)}." for one in last]
    return reasons


def told(signed: dict[str, Any]) -> str:
    """A release that is in force, in words."""
    persons = f" ({signed['persons']})" if signed["persons"] else ""
    return (
        f"{signed['meaning'].capitalize()} by {signed['by']}{persons}, signed {signed['signed_on']}, "
        f"taken {words.moment(signed['taken_at'])}: {signed['reason']}"
    )


def against(signed: dict[str, Any]) -> str:
    if not signed["document"]:
        return ""
    document = f"{signed['document']['name']} (SHA-256 {signed['document']['sha256'][:24]}…)"
    return f"Section contested: {signed['section']}; document: {document}. "


def stands(signed: dict[str, Any]) -> str:
    state = str(signed["state"])
    if state.startswith("lapsed"):
        return "does not hold any more: the record changed"
    return "was withdrawn" if state == "withdrawn" else state


def reconciled() -> list[str]:
    return [
        "The account closes within the house’s tolerance and nothing that concerns the batch is open. "
        "It awaits a signed release."
    ]


def held(record: dict[str, Any]) -> list[str]:
    stops = open_findings(record, "stop")
    if not stops:
        return ["Some of its figures could not be worked out, because a step failed: see the top of the page."]
    return [f"{words.count(stops, 'open stop finding')} must be settled first."]


def in_review(record: dict[str, Any]) -> list[str]:
    reasons = []
    reviews = open_findings(record, "review")
    if reviews:
        reasons.append(
            f"{words.count(reviews, 'review finding')} still {'wants' if reviews == 1 else 'want'} a person."
        )
    expected, gauged = record["balance"]["expected"], record["balance"]["gauged"]
    if gauged is None:
        reasons.append("It is drawn but not yet gauged.")
    if expected is None:
        reasons.append("What is to be expected could not be calculated.")
    if not reasons:
        reasons.append("What was gauged does not agree with what was expected within the house’s tolerance.")
    return reasons


def open_findings(record: dict[str, Any], severity: str) -> int:
    return sum(found["severity"] == severity and found["ruling"] is None for found in record["findings"])
