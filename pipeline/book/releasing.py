"""Whether a release may be signed, and what of the record is kept as it was signed."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from pipeline.book.releases import BY_ANOTHER, BY_ONE
from pipeline.book.taking import Refused, Taking
from pipeline.book.versions import compare, told
from pipeline.common.codes import as_typed, in_groups
from pipeline.common.file_names import safe_name
from pipeline.common.files import same_name, sha256
from pipeline.sheets.rulings_sheet import RELEASE
from pipeline.site.people import people_of

READY = "reconciled"
SHA256 = re.compile(r"\b[0-9a-f]{64}\b", re.IGNORECASE)


def sign(made: dict[str, Any], row: int, taking: Taking) -> dict[str, Any]:
    """The release of a row, bound to the record that its signer saw. Raises Refused in words."""
    name = made["finding"]
    stood = taking.book.standings().get(name.casefold())
    if stood is None:
        raise Refused("ruling.unknown-batch", f"Row {row} releases {name}, which is no batch with a record.")
    said = f"Row {row} releases {stood['name']}"
    _check_code(made, said, stood, taking)
    _check_day(made, said, stood, taking)
    if made["ruling"] == RELEASE:
        _check_ready(said, stood)
        _check_person(made, said, stood, taking)
    else:
        _check_against(made, said, stood, taking)
        made["document"] = _document(made, said, taking)
    alone = made["ruling"] == RELEASE and not people_of(taking.site).two_can_release(taking.day)
    made.update(finding=stood["name"], record=stood["code"], alone=alone, files=_files(said, stood, taking))
    made["message"] = BY_ONE if alone else BY_ANOTHER if made["ruling"] == RELEASE else ""
    return made


def _check_code(made: dict[str, Any], said: str, stood: dict[str, Any], taking: Taking) -> None:
    now = stood.get("code") or ""
    if not now:
        raise Refused("ruling.not-reconciled", f"{said}, whose record is not whole: a step failed. Run again first.")
    if not made["record"]:
        raise Refused(
            "ruling.no-record-code",
            f"{said} without the code of the record that was looked at.",
            f"Look at the record, copy its code into the column record ({in_groups(now)} is that of now), or use the "
            "row of exceptions/open.xlsx, where it is filled in.",
        )
    if as_typed(made["record"]) != now:
        changes = _changes(as_typed(made["record"]), stood, taking)
        raise Refused(
            "ruling.other-version",
            f"{said} as of {made['record']}, but its record is {in_groups(now)} now. {changes}",
            "Look at the record of now, and release it again with its code.",
        )


def _changes(code: str, stood: dict[str, Any], taking: Taking) -> str:
    """What changed between an earlier version and the one of now, as far as it is known."""
    lines = [line for line in taking.book.files() if line["outcome"] == "record" and line.get("code") == code]
    own = [line for line in lines if line["of"].casefold() == stood["name"].casefold()]
    path = taking.originals.folder.parent / own[-1]["name"] if own else None
    if path is None or not path.is_file():
        return "No version with the other code is known."
    changes = told(compare(taking.originals.read(own[-1]["sha256"]), path.read_bytes(), ()))
    return f"Changed: {changes}." if changes else "Its sources or findings changed."


def _check_day(made: dict[str, Any], said: str, stood: dict[str, Any], taking: Taking) -> None:
    day, last = str(made["ruled_on"])[:10], stood.get("last_fact") or ""
    if day > taking.day.isoformat():
        late = f"{said} on {day}; it was taken on {taking.day} ({taking.site.timezone})."
        raise Refused("ruling.date-impossible", f"{late} Nobody signs ahead of the day.")
    if day < last:
        raise Refused(
            "ruling.date-impossible", f"{said} on {day}, before the last thing that was measured or done: {last}."
        )


def _check_ready(said: str, stood: dict[str, Any]) -> None:
    if stood["status"] not in (READY, "released"):
        law = f" {stood['of_law']} of its open findings are verdicts of law." if stood.get("of_law") else ""
        raise Refused(
            "ruling.not-reconciled",
            f"{said}, which is {stood['status']}; only a reconciled batch can be released.{law}",
            "Settle what is open, then release it with the code that its record has then.",
        )


def _check_person(made: dict[str, Any], said: str, stood: dict[str, Any], taking: Taking) -> None:
    if not people_of(taking.site).may_release(made["by"], stood.get("ruled_by") or (), taking.day):
        others = ", ".join(people_of(taking.site).with_role("release", taking.day))
        raise Refused(
            "ruling.same-person",
            f"{said} by {made['by']}, who ruled on something in this batch.",
            f"Let another of those release it who may: {others}.",
        )


def _check_against(made: dict[str, Any], said: str, stood: dict[str, Any], taking: Taking) -> None:
    if not stood.get("of_law"):
        raise Refused("ruling.nothing-against", f"{said} against the verdict, but no verdict of law is open on it.")
    if stood.get("but_for_law") != READY:
        raise Refused(
            "ruling.not-reconciled",
            f"{said} against the verdict; without its verdicts of law it would be {stood.get('but_for_law')}, "
            "not reconciled.",
            "Settle everything else first.",
        )
    if not people_of(taking.site).two_can_release(taking.day):
        raise Refused(
            "ruling.one-person",
            f"{said} against the verdict, which takes two persons whom the site lists.",
            "List two or more who may release in site.toml: [[people]], or [rulings] by.",
        )
    if not made.get("section"):
        raise Refused("ruling.incomplete", f"{said} against the verdict without the section of law (column section).")


def _document(made: dict[str, Any], said: str, taking: Taking) -> tuple[str, str]:
    """Name and SHA-256 of the document that ``evidence`` names: a file dropped before, or one kept elsewhere."""
    text = made["evidence"]
    for line in reversed(taking.book.files()):
        if line["outcome"] in ("taken", "returned") and same_name(line["name"]) == same_name(text.strip()):
            return line["name"], line["sha256"]
    stated = SHA256.search(text)
    if not stated:
        raise Refused(
            "ruling.no-document",
            f"{said} against the verdict; evidence names no document that was dropped and states no SHA-256.",
            "Drop the document first and write its file name under evidence; or write there its name and SHA-256.",
        )
    return SHA256.sub("", text).strip(" ,;:()"), stated.group().lower()


def _files(said: str, stood: dict[str, Any], taking: Taking) -> dict[str, str]:
    """Path → SHA-256 of the record's files as they lie, kept for good. Raises Refused where one is not as published."""
    out, known = taking.originals.folder.parent, taking.book.published()
    kept = {}
    for report in taking.house.plugins.reports:
        if report.signed:
            path = report.path.replace("{" + report.per.rpartition(".")[2] + "}", safe_name(stood["name"]))
            kept[path] = taking.originals.keep(_lying(out / path, known.get(path), said))
    return kept


def _lying(path: Path, digest: str | None, said: str) -> bytes:
    data = path.read_bytes() if path.is_file() else b""
    if not data or sha256(data) != digest:
        raise Refused(
            "ruling.record-not-published",
            f"{said}, but {path.name} is not as it was published: it is held open, was changed, or is gone.",
            "Close it in the other program, run again, look at it, and release it then.",
        )
    return data
