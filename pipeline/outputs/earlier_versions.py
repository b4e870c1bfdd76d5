"""Earlier versions of a published document: what is said when it changes."""

from __future__ import annotations

import json

from pipeline.book.versions import compare, told
from pipeline.contract.findings import Finding


def changed_finding(batch: str, path: str, old: bytes, new: bytes, left_out: tuple[str, ...]) -> Finding | None:
    """The finding that a published document differs from the version before; None if it does not."""
    changes = told(compare(old, new, left_out))
    if not changes:
        return None
    was = json.loads(old).get("status", "")
    return Finding(
        "record.changed",
        "note",
        f"The record of {batch} differs from the one published before{f' ({was})' if was else ''}: "
        f"{changes}. Cause: {_cause(old, new)}.",
        subject=batch,
        batch=batch,
        remedy=f"The earlier version is kept beside {path} under earlier/.",
    )


def _cause(old: bytes, new: bytes) -> str:
    def files(data: bytes) -> dict[str, str]:
        return {item["sha256"]: item["file"] for item in json.loads(data).get("sources", [])}

    before, after = files(old), files(new)
    added = sorted({name for sha, name in after.items() if sha not in before})
    gone = sorted({name for sha, name in before.items() if sha not in after})
    said = [f"{', '.join(added)} came" if added else "", f"{', '.join(gone)} no longer counts" if gone else ""]
    return "; ".join(part for part in said if part) or "a ruling, the settings or a new version"
