"""Signatures that were taken, each bound to the file whose bytes it names, whichever of the two came first."""

from __future__ import annotations

from collections.abc import Iterable
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


def settings_signed(lines: Iterable[dict[str, Any]], digest: str) -> str:
    """Who signed the settings with this SHA-256 and may change settings; empty for nobody."""
    kept = (line["signature"] for line in lines if line.get("signature"))
    return next((one["names"][0] for one in kept if one["file"] == digest and one.get("may_configure")), "")


def as_kept(signature: Signature, site: Site, taken: datetime, before: Site | None = None) -> dict[str, Any]:
    """A signature for its journal line, with why it does not count, or the names of the person whose it is.

    Settings in force cannot name who may sign them: where those ``before`` them name somebody, they decide.
    """
    of_settings = signature.file == site.sha256
    judges, day = site, taken.astimezone(site.zone).date()
    if of_settings and before is not None and people_of(before).with_role("configure", day):
        judges = before
    people = people_of(judges)
    refused, cannot = refuses(signature, judges, taken), people.refuses(signature.who, "configure", day)
    refused = refused or (cannot if of_settings else "")
    person = people.who(signature.who)
    names = [person.name, *person.aliases] if person and not refused else []
    kept = {**asdict(signature), "refused": refused, "names": names}
    return kept | {"may_configure": True} if names and not cannot else kept


def finding_of(line: dict[str, Any]) -> list[Finding]:
    """What is to be said of the signature that a journal line keeps."""
    kept = line.get("signature")
    if not kept:
        return []
    if not kept["refused"]:
        return [_signs_settings(line)] if kept["file"] == line["settings"] else []
    said = f"{line['name']} signs nothing: {kept['refused']}. It claims {kept['who']} signed {kept['name']}."
    remedy = f"Ask {kept['who']} whether they signed; then sign again with vatting sign, or have the key put in order."
    place = Place(line["name"])
    return [Finding("signature.does-not-count", "review", said, subject=line["name"], place=place, remedy=remedy)]


def _signs_settings(line: dict[str, Any]) -> Finding:
    kept = line["signature"]
    said = f"{kept['names'][0]} signed the settings in force, site.toml {kept['file'][:12]}, at {kept['at']}."
    remedy = "Nothing is to be done; a later change of the settings wants a signature of its own."
    return Finding("site.signed", "note", said, subject=line["name"], place=Place(line["name"]), remedy=remedy)
