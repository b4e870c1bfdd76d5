"""What each page of the cellar shows, as plain values for its template."""

from __future__ import annotations

from datetime import date
from typing import Any

from markupsafe import Markup

from pipeline.common.names import fold
from plugins.cellar.pages.cellar_book import Book, Row
from plugins.cellar.pages.charts import Dot, Forecast, course
from plugins.proof import LITRES_PER_GALLON

EU_LEVEL, US_LEVEL = 40.0, 80.0
SOONEST = 25
MOST_CHECKS = 60
METHOD = (
    "A year’s loss is a constant share of what is there. A cask’s own gauges count by their uncertainty and are drawn "
    "towards casks of its warehouse, floor, wood and age where they tell little; a cask with one gauge follows "
    "the house curve. Strength is what the hydrometer shows (apparent), with obscuration added where it was measured; "
    "it may rise or fall. Bands hold with 95 in 100 as long as nothing changes; they are no guarantee."
)


def units(site: Any) -> Row:
    """Which units the pictures speak: gallons and proof for a house that sells in the US, else litres and % vol."""
    us = "US" in {str(market).upper() for market in site.markets}
    return {
        "us": us,
        "volume": "wine gallons" if us else "litres",
        "strength": "proof at 60 °F" if us else "% vol at 20 °C",
        "per_litre": 1.0 / LITRES_PER_GALLON if us else 1.0,
    }


def history(name: str, book: Book, site: Any) -> Row:
    """The page of a cask: each filling with its pictures, its figures, its outlook and where it went."""
    key = fold(name)
    fillings = [_filling(row, book, site) for row in reversed(book.casks[key])]
    before, after = book.beside[key]
    return {
        "house": site.house,
        "book_date": site.book_date.isoformat() if site.book_date else "",
        "cask": name,
        "fillings": fillings,
        "lineage": book.lineage.get(key, []),
        "method": METHOD,
        "units": units(site),
        "tasted": key in book.tasted,
        "before": before,
        "after": after,
    }


def _filling(row: Row, book: Book, site: Any) -> Row:
    key = (fold(row["cask"]), fold(row["filling"]))
    points, ahead = book.points.get(key, []), book.ahead.get(key, [])
    told = units(site)
    today = site.book_date.toordinal() if site.book_date else 0
    return {
        **row,
        "points": points,
        "ahead": [one for one in ahead if one["volume_20C_L"] is not None or one["proof_60F"] is not None],
        "now": ahead[0] if ahead else None,
        "rate": book.rates.get(key),
        "outlook": book.outlooks.get(key),
        "checks": book.checks.get(key, []),
        "volume_picture": _volumes(row, points, ahead, told, today),
        "strength_picture": _strengths(row, points, ahead, told, today),
    }


def ordinal(moment: str) -> int:
    return date.fromisoformat(moment[:10]).toordinal()


def _volumes(row: Row, points: list[Row], ahead: list[Row], told: Row, today: int) -> Markup:
    per = told["per_litre"]
    dots = [
        Dot(
            ordinal(point["at"]),
            point["volume_20C_L"] * per,
            (point["volume_uncertainty_L"] or 0.0) * per,
            point["kind"],
            f"{point['at'][:10]}, {point['basis']}: {point['volume_20C_L'] * per:.1f} {told['volume']}",
        )
        for point in points
        if point["volume_20C_L"] is not None
    ]
    band = [
        Forecast(ordinal(one["day"]), *(one[f"volume_20C_L{end}"] * per for end in ("_low", "", "_high")))
        for one in ahead
        if one["volume_20C_L"] is not None
    ]
    label = f"Volume of {row['cask']} in {told['volume']} over time; the figures stand in the table below"
    return course(dots, band, [], told["volume"], label, today)


def _strengths(row: Row, points: list[Row], ahead: list[Row], told: Row, today: int) -> Markup:
    shown = "proof_apparent_60F" if told["us"] else "abv_apparent_20C"
    dots = []
    for point in points:
        value = point[shown]
        if value is not None:
            spread = (point["proof_uncertainty"] or 0.0) * (1.0 if told["us"] else 0.5)
            says = f"{point['at'][:10]}, {point['instrument'] or point['kind']}: {value:.1f} {told['strength']}"
            dots.append(Dot(ordinal(point["at"]), value, spread, point["kind"], says))
    name = "proof_60F" if told["us"] else "abv_20C"
    band = [
        Forecast(ordinal(one["day"]), one[f"{name}_low"], one[name], one[f"{name}_high"])
        for one in ahead
        if one[name] is not None
    ]
    levels = [(US_LEVEL, "80 proof")] if told["us"] else [(EU_LEVEL, "40 % vol")]
    label = f"Strength of {row['cask']} in {told['strength']} over time; the figures stand in the table below"
    return course(dots, band, levels, told["strength"], label, today)


def cellar(book: Book, site: Any) -> Row:
    """The index of the cellar: stock tables, house curves, what leaves a line soonest, the inventory, all casks."""
    live = [row for fillings in book.casks.values() for row in fillings if not row["ended_at"]]
    listed = [_line(row, book) for row in live]
    tables: dict[str, list[Row]] = {}
    for row in book.tables:
        tables.setdefault(row["table"], []).append(row)
    checks = [row for rows in book.checks.values() for row in rows]
    verdicts = {name: sum(row["verdict"] == name for row in checks) for name in VERDICTS}
    apart = [row for row in checks if row["verdict"] not in ("agrees", "not compared")]
    return {
        "house": site.house,
        "book_date": site.book_date.isoformat() if site.book_date else "",
        "units": units(site),
        "casks": sorted(listed, key=lambda row: (row["warehouse"] or "", row["floor"] or "", row["cask"])),
        "ended": sum(len(fillings) for fillings in book.casks.values()) - len(live),
        "tables": tables,
        "whole": _whole(tables.get("age", [])),
        "evaporation": [row for row in book.evaporation if row["casks"] or row["factor"] in ("house", "age")],
        "unknown_levels": sum(not row["casks"] for row in book.evaporation),
        "verdicts": {VERDICTS[name]: count for name, count in verdicts.items() if count},
        "apart": apart[:MOST_CHECKS],
        "more_apart": max(len(apart) - MOST_CHECKS, 0),
        "soonest": _soonest(listed),
        "method": METHOD,
    }


VERDICTS = {
    "agrees": "agree",
    "differs": "differ in volume",
    "missing": "missing",
    "unknown": "unknown",
    "emptied": "emptied and still listed",
    "not compared": "cannot be compared: no measured volume",
}


def _whole(ages: list[Row]) -> Row:
    names = ("casks", "without_volume", "volume_20C_L", "lpa", "proof_gallons")
    return {name: sum(row[name] or 0.0 for row in ages) for name in names}


def _line(row: Row, book: Book) -> Row:
    key = (fold(row["cask"]), fold(row["filling"]))
    ahead = book.ahead.get(key, [])
    return {**row, "now": ahead[0] if ahead else None, "rate": book.rates.get(key), "outlook": book.outlooks.get(key)}


def _soonest(listed: list[Row]) -> list[Row]:
    """The casks that reach a line first, by the early end of their intervals."""
    says = {
        "below_40_vol": "leaves 40 % vol",
        "below_80_proof": "leaves 80 proof",
        "half": "half gone",
        "dry": "dry",
    }
    made = []
    for row in listed:
        for name, said in says.items():
            out = row["outlook"] or {}
            if out.get(f"{name}_from"):
                ends = {"early": out[f"{name}_from"], "likely": out[name], "late": out[f"{name}_to"]}
                made.append({"cask": row["cask"], "what": said, **ends})
    return sorted(made, key=lambda one: (one["early"], one["cask"]))[:SOONEST]
