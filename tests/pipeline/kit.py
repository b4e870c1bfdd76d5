"""What the engine's tests share: the toy house, small files, and runs of the whole path."""

from __future__ import annotations

import io
import json
import shutil
import zipfile
from collections.abc import Iterable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from types import ModuleType
from typing import Any

import pandas as pd

from pipeline.contract.findings import Finding
from pipeline.inbox.judging import judge
from pipeline.runs.run import Result
from pipeline.runs.run import run as run_once
from pipeline.sheets.judged import Judged
from pipeline.site.house import House, build_house
from pipeline.testing import workbook_bytes as xlsx  # noqa: F401, tests take it from here
from tests.pipeline import toy_plugin
from tests.support import write_site

NOW = datetime(2026, 6, 1, 12, 0, tzinfo=UTC)
DAY = date(2026, 6, 1)
HEADER = "Cask,Date,Reading,Temp (°C),Batch"
HEAD = ["Cask", "Date", "Reading", "Temp (°C)"]
PLAIN = [HEAD, ["C-1", datetime(2026, 3, 2, 9, 40), 120.5, 20], ["C-2", datetime(2026, 3, 3), 118, 21.5]]
ROWS = ["C-1,2026-03-02,120,20,B-1", "C-2,2026-03-02,118,21,B-1", "C-3,2026-03-05,110,19,B-2"]


class FakeEntry:
    """Stands for an entry point."""

    dist = None

    def __init__(self, module: ModuleType) -> None:
        self.module = module

    def load(self) -> ModuleType:
        return self.module


def use(monkeypatch: Any, *modules: ModuleType) -> None:
    """Let the given modules be the built-in plugins."""
    found = [(module.__name__.split(".")[-1].removesuffix("_plugin"), FakeEntry(module), True) for module in modules]
    monkeypatch.setattr("pipeline.site.loading._entry_points", lambda: found)


def toy_house(monkeypatch: Any, site: str = 'timezone = "UTC"\n', folder: Path | None = None) -> House:
    """The house with the toy plugin alone."""
    use(monkeypatch, toy_plugin)
    return build_house(site, folder or Path())


def csv(*rows: str, header: str = HEADER, newline: str = "\n") -> bytes:
    """A small CSV of toy readings."""
    return (newline.join([header, *rows]) + newline).encode("utf-8")


def repacked(data: bytes, change: Any) -> bytes:
    """A workbook with each part's bytes passed through ``change(name, data)``."""
    made = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as source, zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as target:
        for info in source.infolist():
            target.writestr(info.filename, change(info.filename, source.read(info)))
    return made.getvalue()


def judged(house: House, name: str, data: bytes, day: date = DAY) -> Judged:
    return judge(name, data, house.site, house, day)


def column(item: Judged, name: str, sheet: int = 0) -> list[Any]:
    """The values of one frame column of a judged file; none of a file that goes back."""
    return item.sheets[sheet].values[name] if not item.returned else []


def said(item: Judged) -> list[Finding]:
    return [*item.findings, *(finding for rows in item.sheets for finding in rows.findings)]


def codes(findings: Iterable[Finding]) -> list[str]:
    return [finding.code for finding in findings]


class Room:
    """An inbox and outputs of a test's own, with a clock that goes on an hour with every run."""

    def __init__(self, folder: Path, site: str = 'timezone = "UTC"\n') -> None:
        self.inbox, self.out = folder / "inbox", folder / "out"
        self.inbox.mkdir()
        self.site = folder / "site"
        self.now = NOW
        self.set_site(site)

    def set_site(self, text: str) -> None:
        write_site(self.inbox, text)

    def drop(self, name: str, data: bytes) -> None:
        (self.inbox / name).write_bytes(data)

    def run(self, *files: tuple[str, bytes], anew: bool = False) -> Result:
        """Drop files and run; the stages are looked at even if nothing is new. ``anew``: nothing kept counts."""
        for name, data in files:
            self.drop(name, data)
        (self.out / "kept" / "finished.json").unlink(missing_ok=True)
        if anew:
            shutil.rmtree(self.out / "kept", ignore_errors=True)
        self.now += timedelta(hours=1)
        return run_once(self.inbox, self.out, now=self.now)

    def rule(self, *rows: str, name: str = "rulings.csv") -> Result:
        """Rulings as a reviewer's sheet: finding, ruling, corrected value."""
        lines = ["finding;ruling;corrected_value;reason;by;ruled_on", *rows]
        return self.run((name, ("\n".join(lines) + "\n").encode("utf-8")))

    def bytes(self) -> dict[str, bytes]:
        """Every published output."""
        kept = ("originals", "log", "returned", "kept")
        return {
            path.relative_to(self.out).as_posix(): path.read_bytes()
            for path in sorted(self.out.rglob("*"))
            if path.is_file()
            and path.relative_to(self.out).parts[0] not in kept
            and not path.name.startswith((".vatting", "book.sqlite"))
        }

    def journal(self) -> list[dict[str, Any]]:
        """What the journal says of what came; its first line, number 0, speaks of the outputs."""
        text = (self.out / "originals" / "journal.jsonl").read_text("utf-8")
        return [line for line in map(json.loads, text.splitlines()) if line["outcome"] != "begun"]


def finding(result: Result, code: str, subject: str | None = None) -> Finding:
    """The one finding with a code (and subject)."""
    found = [f for f in result.worked.findings if f.code == code and subject in (None, f.subject)]
    assert len(found) == 1, [(f.code, f.subject, f.message) for f in result.worked.findings]
    return found[0]


def have(result: Result, code: str) -> list[Finding]:
    return [f for f in result.worked.findings if f.code == code]


def by_vessel(result: Result, name: str = "reading", frame: str = "gauges") -> dict[str, Any]:
    """Vessel → value of one column of a frame, for frames with a row a vessel."""
    table = result.worked.frames[frame]
    assert not table["vessel"].duplicated().any()
    return dict(zip(table["vessel"], table[name], strict=True))


def same_frames(one: dict[str, pd.DataFrame], other: dict[str, pd.DataFrame]) -> None:
    assert set(one) == set(other)
    for name, frame in one.items():
        pd.testing.assert_frame_equal(frame, other[name], obj=name)
