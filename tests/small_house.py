"""A house of two dozen casks, gauged and tasted over two years: what one more sheet changes in its outputs."""

from __future__ import annotations

import shutil
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from pipeline.runs.run import run
from tests.support import write_site

CASKS = [f"C-{place:02d}" for place in range(1, 25)]
TASTERS = ("Ada", "Bea", "Cy")
NOW = datetime(2026, 11, 1, tzinfo=UTC)
GAUGE_HEADS = "Cask No.,Date,Observed Proof,Temp (°F),Net weight (kg)\n"
TASTING_HEADS = "Sample,Taster,Date,Session,Nose,Palate,Finish,Score,Decision\n"
WORDS = ("vanilla", "honey", "smoke", "caramel", "clove", "orange", "toast", "cherry")


def sheets() -> dict[str, str]:
    """Inventory, three gauges a cask and one of this month, two sessions of earlier months and one of this."""
    rng = np.random.default_rng(16)
    casks = "Cask,Filled,Spirit,Wood,Fill,Location,Entry proof,Entry volume (L),Capacity (L),As of\n"
    gauges, notes = GAUGE_HEADS, TASTING_HEADS
    for place, cask in enumerate(CASKS):
        filled = f"2020-0{1 + place % 6}-10"
        wood = ("oak,virgin", "oak,refill", "chestnut,refill")[place % 3]
        casks += f"{cask},{filled},Malt,{wood},W{1 + place % 2}-{1 + place % 3}-{place},120,198,205,2026-01-05\n"
        loss, weight = 0.03 + 0.004 * rng.normal(), 175.0
        for day, years in (("2023-05-04", 3.0), ("2024-05-06", 4.0), ("2025-05-05", 5.0)):
            proof, net = 120 + 0.3 * years + rng.normal(0, 0.2), weight * np.exp(-loss * years)
            gauges += f"{cask},{day},{proof:.1f},60,{net:.1f}\n"
    gauges += f"{CASKS[0]},2026-03-02,122.0,60,146.0\n"
    sessions = (
        ("P-1", "2025-11-03", CASKS[:12]),
        ("P-2", "2026-02-10", CASKS[8:19]),
        ("P-3", "2026-03-02", CASKS[19:20]),
    )
    for session, day, tasted in sessions:
        for cask in tasted:
            for taster in TASTERS:
                notes += tasting(cask, taster, day, session, rng)
    return {"casks.csv": casks, "gauges.csv": gauges, "tastings.csv": notes}


def tasting(cask: str, taster: str, day: str, session: str, rng: np.random.Generator) -> str:
    """A row of a tasting sheet."""
    nose, palate = (" ".join(rng.choice(WORDS, 2, replace=False)) for _ in range(2))
    return f'{cask},{taster},{day},{session},"{nose}","{palate}",long,{rng.integers(5, 10)},leave\n'


class House:
    """The house's inbox and outputs in a folder, run once."""

    def __init__(self, folder: Path) -> None:
        self.inbox, self.out = folder / "inbox", folder / "out"
        self.inbox.mkdir(parents=True)
        site = 'house = "Small"\ntimezone = "UTC"\nmarkets = ["US"]\nafter_taking = "leave"\n'
        write_site(self.inbox, site)
        for name, text in sheets().items():
            (self.inbox / name).write_text(text, "utf-8")
        run(self.inbox, self.out, now=NOW)

    def changed_by(self, name: str, text: str, folder: Path) -> set[str]:
        """Files of casks and tastings that one more sheet changes, adds or removes; the house itself stays."""
        shutil.copytree(self.inbox, folder / "inbox")
        shutil.copytree(self.inbox.parent / "site", folder / "site")
        shutil.copytree(self.out, folder / "out")
        (folder / "inbox" / name).write_text(text, "utf-8")
        fates = {fate.name: fate for fate in run(folder / "inbox", folder / "out", now=NOW).fates}
        assert fates[name].outcome == "taken" and fates[name].rows == text.count("\n") - 1
        before, after = pages(self.out), pages(folder / "out")
        return {path for path in before | after if before.get(path) != after.get(path)}


def pages(out: Path) -> dict[str, bytes]:
    """Bytes of all files of casks and tastings, by path."""
    found = (path for folder in ("casks", "tastings") for path in (out / folder).rglob("*") if path.is_file())
    return {path.relative_to(out).as_posix(): path.read_bytes() for path in found}


def of_subjects(changed: set[str]) -> set[str]:
    """Of changed files those of single casks, sessions and tasters: no overview, no long table."""
    return {path for path in changed if path.count("/") > 1}
