"""Signatures that were taken, each bound to the file whose bytes it names, whichever of the two came first."""

from __future__ import annotations

from dataclasses import asdict
from datetime import datetime
from typing import Any

from pipeline.book.book import Book
from pipeline.contract.findings import Finding, Place
from pipeline.contract.signatures import Signature, signature_of
from pipeline.contract.site import Site
from pipeline.site.people import folded, people_of
from pipeline.site.signatures import refuses


class Signatures:
    """All signatures of a book that count, as they were judged on the day on which each was taken."""

    def __init__(self, book: Book) -> None:
        self._by_file: dict[str, list[dict[str, Any]]] = {}
        for line in book.files():
            kept = line.get("signature")
            if kept and not kept["refused"]:
                self._by_file.setdefault(kept["file"], []).append(kept)

    def signed_by(self, file: str, name: str) -> Signature | None:
        """The first signature of the file with this SHA-256 by the person whom a typed name means; None: only typed."""
        for kept in self._by_file.get(file, []):
            if folded(name) in map(folded, kept["names"]):
                return signature_of(kept)
        return None


def as_kept(signature: Signature, site: Site, taken: datetime) -> dict[str, Any]:
    """A signature for its journal line, with why it does not count, or the names of the person whose it is."""
    refused, person = refuses(signature, site, taken), people_of(site).who(signature.who)
    names = [person.name, *person.aliases] if person and not refused else []
    return {**asdict(signature), "refused": refused, "names": names}


def finding_of(line: dict[str, Any]) -> list[Finding]:
    """What is to be said of the signature that a journal line keeps."""
    kept = line.get("signature")
    if not kept or not kept["refused"]:
        return []
    said = f"{line['name']} signs nothing: {kept['refused']}. It claims {kept['who']} signed {kept['name']}."
    remedy = f"Ask {kept['who']} whether they signed; then sign again with vatting sign, or have the key put in order."
    place = Place(line["name"])
    return [Finding("signature.does-not-count", "review", said, subject=line["name"], place=place, remedy=remedy)]
