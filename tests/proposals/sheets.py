"""A room of small sheets, run through the whole path."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pandas as pd

from pipeline.runs.run import Result, run
from tests.made_once import run_from_nothing
from tests.support import write_site

SITE = 'house = "Own House"\nmarkets = ["EU"]\ntimezone = "UTC"\n'
CASKS = (
    "cask,as_of,spirit,grain,distillery,country,distilled_proof,filled_on,entry_proof,entry_volume,species,capacity,"
    "volume,volume_basis,proof,gauged_on,owner,hold,status"
)
TARGET = "target,family,intensity,low,high,weight\nH-1,smoke_peat,3,,,2\nH-1,body,4,,,1\nH-1,fresh_fruit,3,,,1\n"
FLAVOURS = ("smoke_peat", "body", "fresh_fruit")


def cask(name: str, volume: str = "200 L", basis: str = "regauge", proof: float = 120.0, **given: str) -> str:
    """One row of an inventory: a single malt filled in 2015."""
    row = {
        "cask": name, "as_of": "2026-01-09", "spirit": "Single malt", "grain": "malted barley 100",
        "distillery": "Own House", "country": "Ruritania", "distilled_proof": "139", "filled_on": "2015-03-01",
        "entry_proof": "126", "entry_volume": "250 L", "species": "oak", "capacity": "260 L", "volume": volume,
        "volume_basis": basis, "proof": f"{proof}", "gauged_on": "2026-01-05", "owner": "", "hold": "", "status": "",
    } | given  # fmt: skip
    return ",".join(row[name] for name in CASKS.split(","))


def inventory(*rows: str) -> bytes:
    return ("\n".join([CASKS, *rows]) + "\n").encode()


def tastings(table: dict[str, tuple[float, ...]]) -> bytes:
    """Two tasters' figures for each cask."""
    lines = ["sample,taster,tasted_at," + ",".join(FLAVOURS)]
    for name, values in table.items():
        for taster in ("Ada", "Bo"):
            lines.append(f"{name},{taster},2026-02-01," + ",".join(f"{value:g}" for value in values))
    return ("\n".join(lines) + "\n").encode()


def brief(**given: Any) -> bytes:
    """A brief of 700 litres at 46 % vol like house profile H-1."""
    row = {
        "batch": "B-1", "product": "Own Malt", "market": "EU", "vessel": "V-1", "vessel_empty": "yes",
        "volume": "700 L", "bottling_abv": "46", "bottle_size": "700 mL", "age_statement": "8 years",
        "claims": "single malt", "target": "H-1", "max_casks": "6", "whole_casks": "no", "due": "2026-09-01",
    } | {name: str(value) for name, value in given.items()}  # fmt: skip
    return f"{','.join(row)}\n{','.join(row.values())}\n".encode()


NAMES = [f"C-{at:02d}" for at in range(10)]
TASTES = {name: (float(at % 4) * 2.0, 3.0 + at % 3, 1.0 + at % 5) for at, name in enumerate(NAMES)}


def stock(**files: bytes) -> dict[str, bytes]:
    """The sheets of ten tasted casks and the house profile, and what else is given."""
    casks = inventory(*(cask(name) for name in NAMES))
    return {"casks": casks, "tasted": tastings(TASTES), "targets": TARGET.encode()} | files


class Cellar:
    """An inbox with outputs in a test's own folder."""

    def __init__(self, folder: Path) -> None:
        self.inbox, self.out = folder / "inbox", folder / "out"
        self.inbox.mkdir()
        write_site(self.inbox, SITE)
        self.now = datetime(2026, 6, 1, 12, 0, tzinfo=UTC)

    def run(self, **files: bytes) -> Result:
        """Drop files (``name=bytes`` becomes name.csv) and run."""
        for name, data in files.items():
            (self.inbox / f"{name}.csv").write_bytes(data)
        self.now += timedelta(hours=1)
        work = run if self.out.exists() else run_from_nothing
        return work(self.inbox, self.out, now=self.now)

    def stocked(self, **files: bytes) -> Result:
        """Ten tasted casks, the house profile, and what else is given."""
        return self.run(**stock(**files))


def stock_row(result: Result, name: str) -> dict[str, Any]:
    frame: pd.DataFrame = result.worked.frames["stock"]
    found: dict[str, Any] = frame[frame["cask"] == name].iloc[0].to_dict()
    return found


def codes(result: Result) -> list[str]:
    return [f.code for f in result.worked.findings if f.code.startswith(("proposals.", "targets.", "trials."))]
