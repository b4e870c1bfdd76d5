"""What a document says of a release: the code of its version, how its subject stands, and what was released before."""

from __future__ import annotations

from typing import Any

from pipeline.book.book import Book
from pipeline.common.codes import number_of, numbered

SIGNING = "signing"


def stamped(data: Any, before: str) -> Any:
    """A document whose ``signing`` has a ``code`` gets the number of its version there; ``before``: the last code."""
    signing = data.get(SIGNING) if isinstance(data, dict) else None
    if not signing or not signing["code"]:
        return data
    return {**data, SIGNING: {**signing, "code": numbered(signing["code"], before)}}


def standing_of(subject: str, data: Any) -> dict[str, Any]:
    """What the book keeps of a document: subject as written, status and signing; empty where it states no status."""
    if not isinstance(data, dict) or not data.get("status"):
        return {}
    return {"name": subject, "status": data["status"], **(data.get(SIGNING) or {})}


def last_codes(book: Book) -> dict[str, str]:
    """Subject (case-folded) → code of its document's last version, by the book and the journal."""
    found = {name: stood["code"] for name, stood in book.standings().items() if stood.get("code")}
    for line in book.files():
        if line["outcome"] == "record" and line.get("code"):
            name = line["of"].casefold()
            found[name] = max(found.get(name, ""), line["code"], key=number_of)
    return found
