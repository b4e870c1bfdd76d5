"""A fake of what the engine hands to records, for tests and for looking at pages: five invented batches."""

from __future__ import annotations

import inspect
from dataclasses import dataclass, field, replace
from datetime import date
from types import SimpleNamespace
from typing import Any

import pandas as pd

from pipeline.book.releases import Signed
from pipeline.book.rulings import HistoryLine
from pipeline.contract.findings import Finding, Place, Ruling
from pipeline.outputs.run_info import RunInfo
from pipeline.outputs.standings import stamped
from pipeline.testing import site_with
from plugins.records import reports
from tests.records.fake_claims import add_labels, add_tasting
from tests.records.fake_findings import finding, some_findings, taken_files
from tests.records.fake_tables import PLANS, add_batch, add_figures, table

NAMES = ("briefs", "components", "balances", "losses", "imbalances", "figures_to_check", "component_ages", "ages")
VERSIONS = {
    "vatting": "0.1.0",
    "plugins": {"blending": "0.1.0", "proof": "0.1.0", "records": "0.1.0"},
    "rules": {"label_age/uk.toml": "5d41402abc4b", "label_age/us.toml": "7d793037a076"},
}


@dataclass
class Sources:
    """Facts under 1000 stand in readings.xlsx, others in the batch's blend sheet, row by row."""

    corrected: dict[int, list[tuple[int, dict[str, Any]]]] = field(default_factory=dict)

    def place(self, fact: int, column: str = "") -> Place:
        if fact < 1000:
            return Place("gauges february.xlsx", "Lab", f"{'F' if column == 'temperature' else 'C'}{fact % 1000}")
        return Place(f"blend sheet {fact // 1000}.csv", "", f"B{fact % 1000}")

    def spot(self, fact: int) -> Any:
        return SimpleNamespace(kind="readings" if fact < 1000 else "blends", number=1)

    def files(self, facts: Any) -> list[dict[str, Any]]:
        found: dict[tuple[str, str], set[int]] = {}
        for fact in facts:
            place = self.place(fact)
            found.setdefault((place.file, place.sheet), set()).add(fact % 1000)
        return [
            {"file": file, "sha256": f"{abs(hash_of(file)):064x}", "sheet": sheet, "rows": sorted(lines)}
            for (file, sheet), lines in sorted(found.items())
        ]

    def newest(self, facts: Any) -> int:
        return 1 if list(facts) else 0

    def last_day(self, facts: Any) -> str:
        return "2026-02-10"

    def corrections(self, fact: int) -> Any:
        return iter(self.corrected.get(fact, ()))

    def file(self, number: int) -> dict[str, Any]:
        return {"taken_at": "2026-03-21T09:30:00Z", "name": "gauges february.xlsx"}

    def head(self, number: int) -> str:
        return f"{number}:{number:064x}" if number else ""


def hash_of(text: str) -> int:
    return int.from_bytes(text.encode("utf-8").ljust(32, b"~")[:32], "big")


@dataclass
class World:
    """Frames of all batches and what else documents and reports may ask for."""

    frames: dict[str, pd.DataFrame | None]
    findings: list[Finding]
    run: RunInfo
    sources: Sources = field(default_factory=Sources)
    published: dict[str, dict[str, pd.DataFrame]] = field(default_factory=dict)
    site: Any = None

    def batches(self) -> list[str]:
        components = self.frames["components"]
        return [] if components is None else list(dict.fromkeys(components["batch"]))

    def give(self, name: str, batch: str | None, documents: dict[str, Any]) -> Any:
        """What the engine hands over for a parameter."""
        if name == "batch":
            return batch
        if name in documents:
            return documents[name] if batch is None else documents[name][batch]
        if name == "published" and batch is not None:
            return {p: {f: of_batch(t, batch) for f, t in frames.items()} for p, frames in self.published.items()}
        if name in ("findings", "run", "sources", "published", "site"):
            return getattr(self, name)
        frame = self.frames.get(name)
        return frame if batch is None or frame is None else of_batch(frame, batch)

    def call(self, function: Any, batch: str | None = None, **documents: Any) -> Any:
        """Call a document or report as the engine does."""
        wanted = inspect.signature(function.function).parameters
        return function(**{name: self.give(name, batch, documents) for name in wanted})

    def record(self, batch: str) -> dict[str, Any]:
        return stamped(self.call(reports.batch_record, batch), "")

    def sign(self, batch: str, word: str = "release", by: str = "M. Orrin", **more: Any) -> Signed:
        """A release of the record of a batch as it stands."""
        code = self.record(batch)["signing"]["code"]
        reason = "All figures checked; label approved."
        made = Signed(word, by, "2026-02-11", "2026-02-11T10:15:00Z", reason, code, 40, alone=True, **more)
        self.run.releases.setdefault(batch.casefold(), []).append(made)
        return made

    def records(self) -> dict[str, dict[str, Any]]:
        return {batch: self.record(batch) for batch in self.batches()}


def of_batch(frame: pd.DataFrame, batch: str) -> pd.DataFrame:
    return frame[frame["batch"] == batch].reset_index(drop=True) if "batch" in frame else frame


def world() -> World:
    """Five invented batches: one reconciled, one held, one whose age claim fails, one not gauged, one released."""
    lines: dict[str, list[dict[str, Any]]] = {name: [] for name in (*NAMES, "labels", "notes", "profiles", "scores")}
    for number, plan in enumerate(PLANS, start=1):
        add_batch(lines, number, *plan)
    add_figures(lines)
    add_labels(lines)
    add_tasting(lines)
    frames: dict[str, Any] = {name: table(found) for name, found in lines.items()}
    frames["tastings"] = table([{"sample": "B-26-01", "taster": "Ilse", "facts": (901,)}])
    run = RunInfo(
        files=taken_files(),
        versions=dict(VERSIONS),
        book_date=date(2026, 3, 20),
    )
    run.history = [
        HistoryLine(
            "F-AAAAAAAAAA",
            "blend.stale-gauge",
            "C-0088",
            "The gauge of C-0088 is 140 days old.",
            Ruling("accept", "Regauged by dip; within a tenth.", "M. Orrin", "2026-02-10", number=39),
            "dip book p. 12",
            "in force",
            "open.xlsx",
        )
    ]
    site = site_with(markets=("US",), book_date=run.book_date)
    site.values["house"] = "Fenholm Distillery"
    made = World(frames, some_findings(), run, site=site)
    made.sign("B-25-11")
    return made


def crowd(world_: World, batches: int, findings: int) -> World:
    """The same world with many batches and many findings, for speed and for caps."""
    frames = dict(world_.frames)
    for name in ("components", "balances", "losses", "imbalances", "component_ages", "ages", "briefs"):
        one = of_batch(frames[name], "B-26-01")
        frames[name] = pd.concat(
            [frames[name], *(one.assign(batch=f"B-{n:04d}") for n in range(batches))], ignore_index=True
        )
    many = [
        finding(
            "proof.no-temperature",
            ("stop", "review", "note")[n % 3],
            f"Row {n} has no temperature; the reading was left out.",
            subject=f"K-{n:05d}",
            facts=(500_000 + n,),
            column="temperature",
            remedy="State the temperature.",
            place=Place(f"readings {n % 40}.csv", "", f"D{n}"),
        )
        for n in range(findings)
    ]
    return replace(world_, frames=frames, findings=[*world_.findings, *many])


__all__ = ["World", "crowd", "finding", "table", "world"]
