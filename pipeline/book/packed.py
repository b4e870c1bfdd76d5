"""A sheet's typed rows as the blocks that the book keeps of it."""

from __future__ import annotations

import json

from pipeline.book.blocks import pack
from pipeline.common.libraries import np
from pipeline.contract.findings import Finding, Place
from pipeline.sheets.keys import natural_keys
from pipeline.sheets.rows import SheetRows

as_json = json.JSONEncoder(ensure_ascii=False).encode


def pack_sheet(rows: SheetRows) -> dict[str, bytes]:
    """Block name → bytes: the filled columns, ``.rows``, ``.keys``, and ``.void`` where a row withdraws."""
    count = len(rows.rows)
    frame = rows.kind.frame()
    blocks = {
        name: pack(frame.column(name), listed) for name, listed in rows.values.items() if listed != [None] * count
    }
    blocks[".rows"] = np.array(rows.rows, "<i8").tobytes()
    blocks[".keys"] = json.dumps(natural_keys(rows.kind, rows.values, count), ensure_ascii=False).encode("utf-8")
    if any(rows.void):
        blocks[".void"] = np.array(rows.void, bool).tobytes()
    return blocks


def pack_finding(finding: Finding) -> str:
    """A finding of entry as JSON text."""
    place = finding.place
    kept = {
        name: getattr(finding, name)
        for name in (
            "code",
            "severity",
            "message",
            "subject",
            "column",
            "observed",
            "expected",
            "rule",
            "remedy",
            "key",
        )
        if getattr(finding, name)
    }
    return as_json({**kept, "place": [place.file, place.sheet, place.cell]})


def unpack_finding(text: str) -> Finding:
    kept = json.loads(text)
    return Finding(**{**kept, "place": Place(*kept["place"])})
