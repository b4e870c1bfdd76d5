"""A reading in words that a person can hold against the paper it was written on."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pipeline import InWords

SHOWN = {"%vol": "% vol", "%mass": "% mass", "kg/m3": "kg/m³", "g/cm3": "g/cm³", "sg60": "SG 60/60 °F"}
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def reading_in_words(row: Mapping[str, Any], before: Mapping[str, Any] | None, site: Any) -> str:
    """``HB-104 on 2 Mar 2026: 62.4 % vol at 18 °C is 126.1 proof; last 127.1 on 3 Feb 2026``.

    ``row`` and ``before``, the vessel's reading before it, are rows of the frame ``proofs``.
    """
    scale = row["scale"] or ""
    shown = f"{row['reading']:g} {SHOWN.get(scale, scale)}".rstrip()
    warm = row["temperature_degC"]
    if warm is not None:
        degrees, unit = (warm * 1.8 + 32.0, "°F") if row["temperature_unit"] == "degF" else (warm, "°C")
        shown += f" at {round(degrees, 2):g} {unit}"
    figure, unit = _strength(row, site)
    said = f"{row['vessel']} on {_day(row['taken_at'])}: {shown} is {figure} {unit}"
    if before is None:
        return f"{said}; no reading before it"
    return f"{said}; last {_strength(before, site)[0]} on {_day(before['taken_at'])}"


def _strength(row: Mapping[str, Any], site: Any) -> tuple[str, str]:
    """The strength as the house's market states it: proof, or % vol at 20 °C."""
    metric = bool(site.markets) and "US" not in site.markets
    value = row["abv_20C" if metric else "proof_60F"]
    return ("not known" if value is None else f"{value:.1f}"), "% vol at 20 °C" if metric else "proof"


def _day(moment: str) -> str:
    year, month, day = (int(part) for part in moment[:10].split("-"))
    clock = f" {moment[11:16]}" if len(moment) > 10 else ""
    return f"{day} {MONTHS[month - 1]} {year}{clock}"


READING = InWords("proofs", reading_in_words)
