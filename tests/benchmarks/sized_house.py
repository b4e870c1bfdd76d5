"""A house of any size as sheets: casks, readings, drawn batches with their vats, and tasting notes. Seeded.

Every batch draws its own casks; each cask is weighed and gauged before, each vat after. Casks beyond those of the
batches stand in the inventory; further readings are regauges of any cask.
"""

from __future__ import annotations

import csv
import random
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from pathlib import Path

from tests.support import write_site

SITE = 'house = "Sized"\nmarkets = ["EU"]\ntimezone = "UTC"\nafter_taking = "leave"\n'
WORDS = "vanilla caramel oak clove orange peel smoke honey malt toffee pepper leather apple pear plum nutmeg".split()
OTHER = "a the with hint of some very then slowly old nice rather dry long short clean".split()
TASTERS = ("Ilka Vordren", "Thessaly Brume", "Borin Hask", "Oda Fenn")
START = datetime(2021, 1, 1, 8)


def write(path: Path, head: str, rows: Iterable[Sequence[object]]) -> Path:
    with path.open("w", encoding="utf-8", newline="") as out:
        made = csv.writer(out, lineterminator="\n")
        made.writerow(head.split(";"))
        made.writerows(rows)
    return path


def sized_house(
    inbox: Path, batches: int = 3, casks: int = 0, readings: int = 0, notes: int = 0, each: int = 10, seed: int = 1
) -> Path:
    """Sheets for so many batches of ``each`` casks, further ``casks``, ``readings`` and ``notes`` in an inbox."""
    inbox.mkdir(parents=True, exist_ok=True)
    write_site(inbox, SITE)
    draw = random.Random(seed)
    names = [f"C-{number:05d}" for number in range(1, batches * each + casks + 1)]
    strength = {cask: draw.uniform(58.0, 64.0) for cask in names}
    _inventory(inbox, names, strength)
    if batches:
        _batches(inbox, names, strength, batches, each, draw)
    if readings:
        rows = (_gauge(draw.choice(names), strength, START + timedelta(minutes=20 * n), draw) for n in range(readings))
        write(inbox / "lab_more.csv", GAUGES, rows)
    if notes:
        tasting_sheet(inbox / "tastings.csv", names, notes, draw)
    return inbox


def _inventory(inbox: Path, names: list[str], strength: dict[str, float]) -> None:
    head = "Cask;As of;Filled;Spirit;State;Country;Entry proof;Entry volume (L);Capacity (L);Cask use;Location"
    rows = (
        (cask, "2026-01-05", f"{2016 + place % 5}-03-{1 + place % 27:02d}", "Single malt", "Oskermark", "USA",
         round(2 * strength[cask] + 3, 1), 195, 200, "first fill", f"A-{place // 60}-{place % 60:02d}")
        for place, cask in enumerate(names)
    )  # fmt: skip
    write(inbox / "inventory.csv", head, rows)


GAUGES = "Vessel;Taken at;Reading;Scale;Temp (°C);Instrument;Net weight"


def _gauge(
    vessel: str, strength: dict[str, float], at: datetime, draw: random.Random, net: str = ""
) -> tuple[object, ...]:
    return vessel, f"{at:%Y-%m-%d %H:%M}", round(strength[vessel] + draw.gauss(0, 0.05), 2), "%vol", 20, "H-1", net


def _batches(
    inbox: Path, names: list[str], strength: dict[str, float], batches: int, each: int, draw: random.Random
) -> None:
    briefs, blends, gauges = [], [], []
    for number in range(batches):
        batch, vat = f"B-{number + 1:04d}", f"V-{number + 1:04d}"
        day = datetime(2026, 1, 10, 9) + timedelta(hours=2 * number)
        mine = names[number * each : (number + 1) * each]
        mass = ethanol = 0.0
        for cask in mine:
            net = round(draw.uniform(140, 180), 1)
            mass, ethanol = mass + net, ethanol + net * strength[cask]
            gauges.append(_gauge(cask, strength, day - timedelta(days=9), draw))
            blends.append((batch, cask, f"{net} kg", "weighed", f"{day:%Y-%m-%d %H:%M}"))
        strength[vat] = ethanol / mass
        gauges.append(_gauge(vat, strength, day + timedelta(hours=30), draw, f"{mass:.1f} kg"))
        label = round(strength[vat], 1)
        briefs.append((batch, "Malt", "EU", vat, "yes", label, "700 mL", "5 years", f"{day:%Y-%m-%d}"))
    write(inbox / "briefs.csv", "Batch;Product;Market;Vessel;Vessel empty;Bottling ABV;Bottle size;Age statement;Due",
          briefs)  # fmt: skip
    write(inbox / "blends.csv", "Batch;Component;Drawn weight;Basis;Drawn at", blends)
    write(inbox / "lab.csv", GAUGES, gauges)


def tasting_sheet(path: Path, names: list[str], notes: int, draw: random.Random) -> Path:
    """So many different notes, four tasters a sample, twelve samples a session."""

    def words() -> str:
        return " ".join(draw.choice(WORDS if draw.random() < 0.4 else OTHER) for _ in range(9))

    rows = []
    for number in range(notes):
        sample, taster = number // len(TASTERS), TASTERS[number % len(TASTERS)]
        day = datetime(2025, 1, 6) + timedelta(days=sample // 12)
        score = round(draw.uniform(4, 9), 1)
        note = words(), words(), words(), score
        rows.append((names[sample % len(names)], taster, f"{day:%Y-%m-%d}", f"{day:P-%Y%m%d}", *note))
    return write(path, "Sample;Taster;Tasted at;Session;Nose;Palate;Finish;Score", rows)
