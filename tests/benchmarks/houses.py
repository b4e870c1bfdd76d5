"""Invented houses of any size as the sheets that their people drop, and the folders they are dropped into."""

from __future__ import annotations

import os
import shutil
import tempfile
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd

from tests.benchmarks.processes import Cost, vatting
from tests.make_docs import ROOT
from tests.tasting.test_words import random_notes
from tests.validation.generator import Stock, honest

SITE = 'timezone = "UTC"\n[watch]\nnotice = "events"\n'
SHEET = 50  # rows of a sheet that comes new
MOST_ROWS = 400_000  # of one sheet: larger ones go back
LONG_AGO = (1.7e9, 1.7e9)  # a file of then has rested
INSTRUMENTS = """Instrument,Kind,Scale,Base temperature (°C),Glass expansion (per K)
H-2,hydrometer,proof,15.5556,0.000025
H-7,hydrometer,%vol,20,0.000025
D-1,density meter,kg/m3,,
"""
VAT = "V-{},2026-03-06 {:02d}:{:02d},{:.1f},%vol,20.00,H-7,\n"


@dataclass(frozen=True)
class House:
    """How large a house is: casks, readings of each cask, batches of 6 to 20 casks, tasting notes.

    ``new`` sheets of fifty readings are held back; the first names the casks of batch B-1.
    """

    casks: int
    gauges: int = 4
    batches: int = 3
    notes: int = 0
    new: int = 1

    def __str__(self) -> str:
        return f"{self.casks:,} casks, {self.casks * self.gauges:,} readings, {self.batches:,} batches" + (
            f", {self.notes:,} notes" if self.notes else ""
        )


@cache
def sheets(house: House) -> tuple[dict[str, str], tuple[str, ...]]:
    """The sheets of a house by file name, and those held back."""
    stock = honest(house.casks * house.gauges, seed=1, gauges=house.gauges)
    readings = _readings(stock).sample(frac=1.0, random_state=1)
    held = SHEET * house.new
    new = [readings[at : at + SHEET].to_csv(index=False) for at in range(0, held, SHEET)]
    briefs, blends, vats = _batches(house, new[0])
    made = {"casks.csv": _inventory(stock), "instruments.csv": INSTRUMENTS, "briefs.csv": briefs, "blends.csv": blends}
    for number, at in enumerate(range(held, len(readings), MOST_ROWS)):
        made[f"lab_{number}.csv"] = readings[at : at + MOST_ROWS].to_csv(index=False) + (vats if at == held else "")
    return made | ({"notes.csv": _notes(house)} if house.notes else {}), tuple(new)


def _inventory(stock: Stock) -> str:
    casks = stock.frames["casks"]
    shown = {
        "Cask": casks["cask"],
        "As of": casks["as_of"].dt.strftime("%Y-%m-%d"),
        "Filled": casks["filled_on"].dt.strftime("%Y-%m-%d"),
        "Entry proof": casks["entry_proof"].where(casks["entry_proof_unit"] == "proof").round(1),
        "Entry volume (L)": casks["entry_volume_L"],
        "Capacity (L)": casks["capacity_L"],
    }
    return pd.DataFrame(shown).to_csv(index=False)


def _readings(stock: Stock) -> pd.DataFrame:
    lab = stock.frames["readings"]
    shown = {
        "Cask": lab["vessel"],
        "Taken at": lab["taken_at"].dt.strftime("%Y-%m-%d %H:%M"),
        "Reading": lab["reading"],
        "Scale": lab["scale"],
        "Temp (°C)": lab["temperature_degC"].round(2),
        "Instrument": lab["instrument"],
        "No": lab["reading_no"],
    }
    return pd.DataFrame(shown)


def _batches(house: House, first: str) -> tuple[str, str, str]:
    """Briefs, blend sheets, and the readings of their vats."""
    random = np.random.default_rng(3)
    briefs, blends, vats = "Batch,Vessel,Market,Volume (L)\n", "Batch,Component,Drawn at,Drawn volume (L),Basis\n", ""
    for batch in range(1, house.batches + 1):
        named = [f"C-{cask:05d}" for cask in random.choice(house.casks, random.integers(6, 21), replace=False) + 1]
        if batch == 1:
            named = list(dict.fromkeys(line.split(",")[0] for line in first.splitlines()[1:]))[:20]
        briefs += f"B-{batch},V-{batch},EU,{len(named) * 60}\n"
        blends += "".join(f"B-{batch},{cask},2026-03-05,60,metered\n" for cask in named)
        vats += VAT.format(batch, 8, 0, 57.0)
    return briefs, blends, vats


def _notes(house: House) -> str:
    """Six tasters on each sample, eight samples a day."""
    days = np.datetime64("2023-01-02") + np.arange(house.notes) // 48
    rows = (
        f"C-{at // 6 % house.casks + 1:05d},Taster {at % 6 + 1},{days[at]},{note},{at % 5 + 4}\n"
        for at, note in enumerate(random_notes(house.notes))
    )
    return "Sample,Taster,Date,Nose,Score\n" + "".join(rows)


class Place:
    """An inbox with outputs in a temporary folder, removed when the program ends."""

    def __init__(self) -> None:
        self._folder = tempfile.TemporaryDirectory(prefix="vatting-benchmark-")
        self.inbox, self.out = Path(self._folder.name) / "inbox", Path(self._folder.name) / "outputs"
        self.inbox.mkdir()
        self.drop("site.toml", SITE)

    def drop(self, name: str, text: str) -> Path:
        """Lay a file into the inbox that has rested there."""
        path = self.inbox / name
        path.write_text(text, "utf-8")
        os.utime(path, LONG_AGO)
        return path

    def run(self) -> Cost:
        return vatting("run", self.inbox, "--out", self.out)


@cache
def settled(house: House) -> tuple[Place, Cost]:
    """A house of which all sheets are taken, and what that cost from nothing. Rows of the table share it."""
    place = Place()
    for name, text in sheets(house)[0].items():
        place.drop(name, text)
    return place, place.run()


@cache
def demo() -> tuple[Place, Cost]:
    """The example inbox, taken from nothing."""
    place = Place()
    for path in (ROOT / "inbox_example").iterdir():
        shutil.copy(path, place.inbox)
        os.utime(place.inbox / path.name, LONG_AGO)
    return place, place.run()
