"""An inbox written from plain texts, taken by the tool, and its outputs read back as any other program would."""

from __future__ import annotations

import csv
import hashlib
import io
import json
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from pipeline.runs.run import Result
from pipeline.runs.run import run as run_once
from tests.made_once import run_from_nothing
from tests.support import write_site

NOW = datetime(2026, 6, 1, 12, 0, tzinfo=UTC)
SITE = 'house = "Audit House"\nmarkets = ["US"]\ntimezone = "America/New_York"\n'
READINGS = "vessel,taken_at,reading,scale,state,temperature,instrument,method,net_weight,purpose"
RULINGS = "finding,ruling,corrected_value,evidence,reason,by,ruled_on"
BRIEFS = "batch,product,market,vessel,vessel_empty,bottling_proof,bottle_size"
NOT_COMPARED = ("kept/", "log/", "book.sqlite", ".vatting.lock")


class Room:
    """One inbox with its outputs."""

    def __init__(self, folder: Path, site: str = SITE) -> None:
        self.inbox, self.out = folder / "in", folder / "out"
        self.inbox.mkdir(parents=True, exist_ok=True)
        self.site = folder / "site"
        self.write("site.toml", site)

    def write(self, name: str, text: str) -> None:
        if name == "site.toml":
            write_site(self.inbox, text)
        else:
            (self.inbox / name).write_text(text, encoding="utf-8")

    def table(self, name: str, header: str, rows: Iterable[Sequence[object]]) -> None:
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(header.split(","))
        writer.writerows(rows)
        self.write(name, out.getvalue())

    def rule(self, name: str, *rows: Sequence[object]) -> None:
        self.table(name, RULINGS, rows)

    def run(self) -> Result:
        """Take and publish; a room's first run may be a copy of another's with the same files."""
        if self.out.exists() or any(not path.is_file() or path.is_symlink() for path in self.inbox.iterdir()):
            return run_once(self.inbox, self.out, now=NOW)
        return run_from_nothing(self.inbox, self.out, now=NOW)

    def record(self, batch: str) -> dict[str, Any]:
        return json.loads((self.out / "batches" / batch / "record.json").read_text("utf-8"))

    def open(self, code: str = "") -> list[dict[str, Any]]:
        found = json.loads((self.out / "exceptions" / "open.json").read_text("utf-8"))["findings"]
        return [finding for finding in found if finding["code"].startswith(code)]

    def csv(self, path: str) -> list[dict[str, str]]:
        return list(csv.DictReader(io.StringIO((self.out / path).read_text("utf-8"))))

    def gauges(self) -> dict[str, dict[str, str]]:
        return {row["vessel"]: row for row in self.csv("casks/gauges.csv")}

    def tree(self, out: Path | None = None) -> dict[str, str]:
        """Path → SHA-256 of every output that a second run or a rebuild must leave as it is."""
        root = out or self.out
        files = (path for path in sorted(root.rglob("*")) if path.is_file())
        named = ((path.relative_to(root).as_posix(), path) for path in files)
        return {
            name: hashlib.sha256(path.read_bytes()).hexdigest()
            for name, path in named
            if not name.startswith(NOT_COMPARED)
        }


def simple_batch(room: Room, gauge: float = 120.1, empty: str = "yes", age_statement: str = "") -> None:
    """Cask K1 at 120 proof, 150 kg of it drawn into V1 for B1, the vat gauged at ``gauge`` proof."""
    room.table("casks.csv", "cask,filled_on,as_of", [("K1", "2018-03-01", "2026-01-01")])
    brief = ("B1", "P", "US", "V1", empty, 120, "750 mL", age_statement)
    room.table("briefs.csv", BRIEFS + ",age_statement", [brief])
    room.table("blends.csv", "batch,component,drawn_weight,drawn_at", [("B1", "K1", "150 kg", "2026-01-10")])
    cask = ("K1", "2026-01-05", 120, "proof", "at 60 °F", "60 °F", "H-1", "", "", "")
    room.table("readings.csv", READINGS, [cask, vat_gauge(gauge)])


def vat_gauge(proof: float) -> tuple[object, ...]:
    return ("V1", "2026-01-11", proof, "proof", "at 60 °F", "60 °F", "H-1", "", "149.9 kg", "")
