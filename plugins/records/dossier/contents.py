"""What goes into the dossier of a batch, and what stays out with its reason."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pipeline.book.book import Book
from pipeline.book.chain import Link, read_chain
from pipeline.book.journal import Originals
from pipeline.common.errors import NotKnown, OutputError
from pipeline.common.file_names import safe_name
from pipeline.common.files import sha256
from pipeline.common.names import fold
from pipeline.site.house import House
from pipeline.stages.work import Worked
from pipeline.writing.plain import csv_bytes, plain_rows
from plugins.records.dossier.others import Others, others_of

Row = dict[str, Any]
AS_SIGNED = "as signed"
AS_IT_STANDS = "as it stands; nobody signed this version"
WITHHELD = "it names others"
SETTINGS = "they are the house's settings, of all its batches"
READ_ME = """This is the dossier of one batch, laid out as RFC 8493 (BagIt) says.

Is it whole?  Linux, macOS:  sha256sum -c manifest-sha256.txt tagmanifest-sha256.txt   (in this folder's parent)
Windows:  Get-Content manifest-sha256.txt | ForEach-Object {{ $d, $p = $_ -split '  ', 2;
          if ((Get-FileHash $p -Algorithm SHA256).Hash -ne $d) {{ "changed: $p" }} }}
Is it of that journal?  python check_dossier.py DOSSIER [HEAD]. That program is not in here on purpose: its SHA-256
          stands on the printed record. A head that you kept on paper says more than the one in here.

record/       the record {stands}
originals/    sheets that hold nothing of others, byte for byte, as they were dropped
rows_used.csv the rows that the record rests on, of all sheets, with the cell of each value
journal.jsonl the journal's chain: all lines by their beginnings, this batch's with what they say
rulings.json  rulings and releases
dossier.json  what is in here, and what was left out and why

Signatures (NAME.signature.json beside a signed sheet) are Ed25519 over the lines schema, file, name, who, meaning, at,
public; each "name: value" with a line end, the first the schema alone. Any program for Ed25519 checks them.

A control record: no return, accepted by no authority. Figures of record are the gauges that were signed for.
"""


@dataclass
class Dossier:
    """The package of one batch: path below ``data/`` → bytes, and what dossier.json says."""

    batch: str
    stands: str = AS_IT_STANDS
    payload: dict[str, bytes] = field(default_factory=dict)
    originals: list[Row] = field(default_factory=list)
    left_out: list[Row] = field(default_factory=list)
    signed: dict[str, str] = field(default_factory=dict)
    names_others: list[str] = field(default_factory=list)
    head: str = ""


def gather(batch: str, out: Path, house: House, worked: Worked, book: Book) -> Dossier:
    """All that goes into the dossier. Raises NotKnown for a batch without a record; OutputError where outputs differ
    from what was published."""
    published, wanted = book.published(), fold(f"batches/{safe_name(batch)}/record.json")
    record_path = next((path for path in published if fold(path) == wanted), "")
    if not record_path:
        raise NotKnown(f"there is no record of a batch {batch}")
    folder = record_path.rpartition("/")[0]
    stands = {name: _as_published(out, f"{folder}/{name}", published)
              for name in ("record.json", "record.html", "record.xlsx", "label.html")}  # fmt: skip
    record = json.loads(stands["record.json"])
    made, originals = Dossier(record["batch"]), Originals(out / "originals")
    others = others_of(record["batch"], worked.frames, house.site.house)
    made.payload |= {f"record/{name}": data for name, data in stands.items() if data}
    _add_signed(made, record, originals)
    made.names_others = [path for path, data in sorted(made.payload.items())
                         if path.endswith((".json", ".html")) and others.in_text(data.decode("utf-8"))]  # fmt: skip
    lines = originals.lines()
    used = _lines_of(record, lines)
    _add_originals(made, record, used, originals, others)
    made.payload["rows_used.csv"] = _rows_used(record, house, worked, others)
    made.payload["rulings.json"] = _json({name: record[name] for name in ("rulings", "releases")})
    made.payload["journal.jsonl"] = _journal(originals, {int(line["number"]) for line in used}, others)
    made.head = originals.head
    made.payload["README.txt"] = READ_ME.format(stands=made.stands).encode("utf-8")
    told = {"schema": "vatting.dossier/1", "batch": made.batch, "stands": made.stands, "status": record["status"],
            "head": made.head, "originals": made.originals, "left_out": made.left_out, "signed": made.signed,
            "files_that_name_others": made.names_others}  # fmt: skip
    made.payload["dossier.json"] = _json(told)
    return made


def _as_published(out: Path, path: str, published: Mapping[str, str]) -> bytes:
    if path not in published:
        return b""
    data = (out / path).read_bytes() if (out / path).is_file() else b""
    if sha256(data) != published[path]:
        raise OutputError(f"{path} is not as it was published; run vatting run, then make the dossier again")
    return data


def _add_signed(made: Dossier, record: Row, originals: Originals) -> None:
    """The files as they were signed, of the last release in force."""
    standing = [one for one in record["releases"] if one["state"] == "in force"]
    for path, digest in sorted(standing[-1]["files"].items()) if standing else ():
        name = path.rpartition("/")[2]
        made.payload[f"record/signed/{name}"] = originals.read(digest)
        made.signed[name] = digest
        made.stands = AS_SIGNED


def _lines_of(record: Row, lines: list[Row]) -> list[Row]:
    """The journal's lines that are this batch's: its files, rulings on it, its releases, its versions, its settings."""
    files = {source["sha256"] for source in record["sources"]}
    ruled = {(one["file"], one["taken_at"]) for one in record["rulings"]}
    signed = {one["taken_at"] for one in record["releases"]}
    key = fold(record["batch"])
    found = [
        line
        for line in lines
        if line.get("sha256") in files
        or (line.get("name"), line["taken_at"]) in ruled
        or (line["taken_at"] in signed and key in (fold(str(one.get("finding"))) for one in line.get("resolved", ())))
        or (line["outcome"] == "record" and fold(str(line.get("of", ""))) == key)
    ]  # fmt: skip
    digests = {line.get("sha256") for line in found}
    found += [line for line in lines if (line.get("signature") or {}).get("file") in digests and line not in found]
    settings = {line["settings"] for line in found}
    found += [line for line in lines if line["outcome"] == "settings" and line["sha256"] in settings]
    return sorted(found, key=lambda line: int(line["number"]))


def _add_originals(made: Dossier, record: Row, used: list[Row], originals: Originals, others: Others) -> None:
    """Each file that the batch rests on: whole where it holds nothing of others, else its digest with the reason."""
    seen: set[str] = set()
    for line in used:
        digest = line.get("sha256")
        if line["outcome"] not in ("taken", "settings") or digest in seen or digest is None:
            continue
        seen.add(digest)
        data = originals.read(digest)
        why = SETTINGS if line["outcome"] == "settings" else others.in_file(line["name"], data)
        if why:
            name = WITHHELD if others.in_text(line["name"]) else line["name"]
            made.left_out.append({"name": name, "sha256": digest, "bytes": len(data), "why": why})
            continue
        path = f"originals/{safe_name(line['name']).replace('%', '_')}"
        path = (
            path if path not in made.payload else f"originals/{digest[:12]}-{safe_name(line['name']).replace('%', '_')}"
        )
        made.payload[path] = data
        made.originals.append({"path": path, "sha256": digest, "number": int(line["number"])})


def _rows_used(record: Row, house: House, worked: Worked, others: Others) -> bytes:
    """Every value of the rows that the record rests on, with file, sheet and cell."""
    wanted = {(source["sha256"], source["sheet"], row) for source in record["sources"] for row in source["rows"]}
    sources, rows = worked.sources, list[list[Any]]()
    for kind in house.kinds:
        frame = worked.frames[kind.name] if kind.name in worked.frames else None
        for row in plain_rows(frame) if frame is not None else ():
            spot = sources.spot(row["facts"][0])
            file = sources.file(spot.number)
            if (file["sha256"], spot.sheet.name, spot.row) in wanted:
                for name, value in row.items():
                    if name != "facts" and value is not None:
                        cell = sources.place(row["facts"][0], name).cell
                        shown = WITHHELD if others.in_text(str(value)) else value
                        rows.append([file["sha256"], spot.sheet.name, spot.row, cell, kind.name, name, shown])
    rows.sort(key=lambda one: tuple(map(str, one[:2])) + (one[2], *map(str, one[3:6])))
    return csv_bytes(["file_sha256", "sheet", "row", "cell", "kind", "column", "value"], rows)


def _journal(originals: Originals, mine: set[int], others: Others) -> bytes:
    """The chain with the bodies of this batch's lines; of others, and of lines that name them, the beginnings alone."""
    data = originals.path.read_bytes()
    made = []
    for link in read_chain(data).links:
        line = data[link.offset :].split(b"\n", 1)[0]
        shown = link.number == 0 or (link.number in mine and not others.in_text(link.body.decode("utf-8")))
        made.append(line if shown else _beginning(line, link))
    return b"\n".join(made) + b"\n"


def _beginning(line: bytes, link: Link) -> bytes:
    """The beginning of a line, closed as an object of its own."""
    return line[: len(line) - len(link.body) - 1] + b"}"


def _json(data: Any) -> bytes:
    return (json.dumps(data, ensure_ascii=False, indent=1) + "\n").encode("utf-8")
