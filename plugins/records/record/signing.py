"""What a release is bound to: the digest of what its signer sees, and the releases that were signed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from pipeline.book.releases import BY_ANOTHER, BY_ONE, MEANING, Signed, state_of
from pipeline.common.codes import short_digest
from pipeline.sheets.rulings_sheet import RELEASE
from pipeline.site.people import look
from plugins.records.record.plain import json_bytes

Row = dict[str, Any]
LEFT_OUT = (
    "status",
    "findings",
    "label",
    "rulings",
    "made_by",
    "head",
    "late",
    "retention",
    "step",
    "step_why",
    "next",
)
OF_FINDINGS = ("id", "code", "severity", "observed", "expected", "subject", "rule", "ruling")
OF_RULINGS = ("finding", "ruling", "corrected_value", "by", "ruled_on")


def digest(record: Row) -> str:
    """24 hex digits over a record's figures, verdicts, sources, and the findings and rulings that bear on its status.

    Words may be improved and notes come without another digest: no figure hangs on them.
    """
    seen = {name: value for name, value in record.items() if name not in LEFT_OUT}
    seen["label"] = [{name: said for name, said in claim.items() if name != "reason"} for claim in record["label"]]
    counts = [found for found in record["findings"] if found["severity"] != "note"]
    seen["findings"] = [{name: found[name] for name in OF_FINDINGS} for found in counts]
    held = [ruled for ruled in record["rulings"] if ruled["state"] == "in force" and ruled["ruling"] != "withdrawn"]
    seen["rulings"] = [{name: ruled[name] for name in OF_RULINGS} for ruled in held]
    return short_digest(json_bytes(seen))


def ruled_by(rulings: Iterable[Row]) -> list[str]:
    """Who ruled on something, but for what two persons ruled alike; refused rulings are none."""
    by_finding: dict[str, list[Row]] = {}
    for ruled in rulings:
        if not ruled["state"].startswith("refused") and ruled["ruling"] != "withdrawn":
            by_finding.setdefault(ruled["finding"], []).append(ruled)
    alone: set[str] = set()
    for found in by_finding.values():
        if len({look(ruled["by"]) for ruled in found if ruled["state"] == "in force"}) < 2:
            alone.update(ruled["by"] for ruled in found)
    return sorted(alone)


def releases(signed: Sequence[Signed], status: str, code: str | None) -> list[Row]:
    """All releases that were signed, in order, each with how it stands now."""
    stood = {"status": status, "code": f":{code}" if code else ""}
    return [
        {
            "meaning": MEANING[one.ruling],
            "ruling": one.ruling,
            "by": one.by,
            "how": one.how,
            "persons": (BY_ONE if one.alone else BY_ANOTHER) if one.ruling == RELEASE else None,
            "signed_on": one.ruled_on,
            "taken_at": one.taken_at,
            "reason": one.reason,
            "section": one.section or None,
            "evidence": one.evidence or None,
            "document": {"name": one.document[0], "sha256": one.document[1]} if one.document[1] else None,
            "record": one.code,
            "files": dict(one.files),
            "state": state_of(one, stood, signed[at + 1 :]),
        }
        for at, one in enumerate(signed)
    ]


def in_force(record: Row) -> list[Row]:
    """The releases that give a record its status."""
    return [signed for signed in record["releases"] if signed["state"] == "in force"]


def corrected(facts: Iterable[int], sources: Any) -> list[Row]:
    """The corrections that made facts what they are, in the order in which they came."""
    found = {(number, about["cell"]): (number, about) for fact in facts for number, about in sources.corrections(fact)}
    return [
        {
            "column": about["column"],
            "original": about.get("original") or None,
            "corrected": str(about["corrected_value"]),
            "place": about.get("place") or None,
            "by": about["by"],
            "ruled_on": str(about["ruled_on"]),
            "taken_at": sources.file(number)["taken_at"],
            "reason": about["reason"],
            "evidence": about["evidence"] or None,
            "finding": about["finding"],
        }
        for number, about in (found[key] for key in sorted(found))
    ]
