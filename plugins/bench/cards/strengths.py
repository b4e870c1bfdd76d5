"""Strengths of casks asked for at a prompt: as stated there, else as last gauged."""

from __future__ import annotations

import csv
import re
from pathlib import Path

import numpy as np

from plugins import proof
from plugins.bench.cards.measure import CannotMake

CASK = re.compile(
    r"^(?P<name>[^=]+?)\s*(?:=\s*(?P<value>\d+(?:[.,]\d+)?)\s*(?P<unit>%\s*vol|%|proof)?)?$", re.IGNORECASE
)
GAUGES = Path("casks") / "gauges.csv"


def strengths_of(text: str, out: Path) -> tuple[dict[str, float], tuple[str, ...]]:
    """``C-1=62.3%vol,C-2=116proof,C-3`` → % vol at 20 °C by cask, and which gauges were taken for those without one.

    A bare number is % vol. Raises CannotMake, in words.
    """
    found: dict[str, float] = {}
    last: dict[str, tuple[str, float]] | None = None
    told = []
    for part in (part.strip() for part in re.split(r"[;,](?!\d)", text) if part.strip()):
        match = CASK.match(part)
        if not match:
            raise CannotMake(f"{part!r} names no cask and strength; write it as C-0101=62.3%vol, or C-0101 alone.")
        name = match["name"]
        if name in found:
            raise CannotMake(f"{name} is named twice.")
        if match["value"]:
            found[name] = _stated(part, match["value"], match["unit"])
            continue
        last = last_gauges(out) if last is None else last
        if name.casefold() not in last:
            raise CannotMake(f"No gauge of {name} is known in {out / GAUGES}; state its strength: {name}=62.3%vol.")
        day, found[name] = last[name.casefold()]
        told.append(f"{name} {found[name]:.1f} % vol of {day}")
    return found, (f"Strengths as last gauged: {', '.join(told)}.",) if told else ()


def _stated(part: str, value: str, unit: str | None) -> float:
    number = float(value.replace(",", "."))
    scale = "proof" if (unit or "").casefold() == "proof" else "%vol"
    fraction = proof.mass_fraction_from_strength(np.array([number]), np.array([scale]))
    abv = float(proof.abv_from_mass_fraction(fraction)[0])
    if not 0.0 < abv <= 100.0:
        raise CannotMake(f"{part!r}: {number:g} is no strength of spirit.")
    return abv


def last_gauges(out: Path) -> dict[str, tuple[str, float]]:
    """By cask, without regard to case: day and % vol at 20 °C of the last gauge that the outputs print."""
    found: dict[str, tuple[str, float]] = {}
    path = out / GAUGES
    if not path.exists():
        return found
    with path.open(encoding="utf-8-sig", newline="") as lines:
        for row in csv.DictReader(lines):
            day, name = str(row.get("taken_at") or ""), str(row.get("vessel") or "").casefold()
            try:
                abv = float(row.get("abv_20C") or "nan")
            except ValueError:
                continue
            if abv > 0.0 and day >= found.get(name, ("", 0.0))[0]:
                found[name] = (day, abv)
    return {name: (day[:10], abv) for name, (day, abv) in found.items()}
