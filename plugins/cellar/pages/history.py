"""The page of a cask from the document ``cask_course``: its pictures, and what they say."""

from __future__ import annotations

from datetime import date
from typing import Any

from markupsafe import Markup

from plugins.cellar.pages.cask_course import Row, units
from plugins.cellar.pages.charts import Dot, Forecast, course
from plugins.cellar.pages.words import METHOD, settled

EU_LEVEL, US_LEVEL = (40.0, "40 % vol"), (80.0, "80 proof")
OF_A_POINT = {"volume": ("basis",), "strength": ("instrument", "kind")}
"""What a point of a picture names beside its day: the first of these that is known."""


def history(cask: Row, site: Any) -> Row:
    """Each filling with its pictures, its figures, its outlook and where it went."""
    told = units(site)
    fillings = [_filling(row, cask["cask"], told) for row in cask["fillings"]]
    rate: Row = next((row["rate"] for row in fillings if row["rate"]), {})
    said = settled(rate.get("loss_settled_on"), rate.get("strength_settled_on"))
    return {**cask, "house": site.house, "fillings": fillings, "units": told, "method": f"{METHOD} {said}"}


def _filling(row: Row, cask: str, told: Row) -> Row:
    ahead, levels = row["ahead"], [US_LEVEL if told["us"] else EU_LEVEL]
    known = [one for one in ahead if one["volume_20C_L"] is not None or one["proof_60F"] is not None]
    return {
        **row,
        "now": ahead[0] if ahead else None,
        "ahead": known,
        "outlook": _outlook(row["outlook"], ahead) if row["outlook"] else None,
        "volume_picture": _picture("volume", cask, row, told["volume"], []),
        "strength_picture": _picture("strength", cask, row, told["strength"], levels),
    }


def _outlook(row: Row, ahead: list[Row]) -> Row:
    """What lies below a line already does so by the first day of the forecast: nobody looked earlier."""
    first = ahead[0]["day"] if ahead else ""
    return {name: f"by {day}" if day == first else day for name, day in row.items()}


def ordinal(day: str) -> int:
    return date.fromisoformat(day).toordinal()


def _picture(what: str, cask: str, row: Row, unit: str, levels: list[tuple[float, str]]) -> Markup:
    dots = []
    for point in row["points"]:
        if point[what] is not None:
            by = next(point[name] for name in OF_A_POINT[what] if point[name])
            says = f"{point['at']}, {by}: {point[f'{what}_said']:.1f} {unit}"
            dots.append(Dot(ordinal(point["at"]), point[what], point[f"{what}_spread"] or 0.0, point["kind"], says))
    band = [
        Forecast(ordinal(one["day"]), one[f"{what}_low"], one[what], one[f"{what}_high"])
        for one in row["ahead"]
        if one[what] is not None
    ]
    label = f"{what.capitalize()} of {cask} in {unit} over time; the figures stand in the table below"
    return course(dots, band, levels, unit, label)
