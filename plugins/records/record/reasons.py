"""Why a batch has its status, in sentences, from its record alone."""

from __future__ import annotations

from typing import Any

from plugins.records.record import words
from plugins.records.record.concerns import HELD, RECONCILED, RELEASED


def why(record: dict[str, Any], release: Any = None) -> list[str]:
    """Sentences for the head of a record; ``release`` is the signed release, if any, in force or not."""
    status = record["status"]
    if status == RELEASED and release is not None:
        return [f"Released by {release.by} on {release.ruled_on}: {release.reason}"]
    reasons = held(record) if status == HELD else reconciled() if status == RECONCILED else in_review(record)
    if release is not None:
        reasons.append(f"The release signed by {release.by} on {release.ruled_on} does not hold any more.")
    return reasons


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
