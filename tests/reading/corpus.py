"""Lab sheets as people write them, each with the strength and the volume that its writer meant, and slips in some.

A file is a layout (which columns, in which units, in which format) and at most one slip, of one day of its own, with
rows for casks that have a history, for a tank and for a vessel that nothing is known of. What was meant is kept apart
from what is written: a figure is worked out backwards from the spirit, never by the code that is tested but for the
formula of density itself.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import cache

import numpy as np
from openpyxl import Workbook

from plugins.proof import (
    LITRES_PER_GALLON,
    T_20C,
    T_60F,
    abv_from_mass_fraction,
    density,
    mass_fraction_from_density,
    mass_fraction_from_proof,
    proof_from_mass_fraction,
)
from tests.reading import arranged

Arrangement = Callable[[list[str], Sequence[arranged.Cells], date], arranged.Grid]
CASKS = [f"HB-{number}" for number in range(101, 107)]
TANK, NEW = "T-2", "R-77"
GLASS = 25e-6
FIRST_DAY = date(2024, 1, 8)
GAL_PER_CASK, TANK_GAL = 46.0, 310.0
PROOF = {name: 117.0 + place for place, name in enumerate([*CASKS, TANK, NEW])}


class Percent(float):
    """A share in a cell that the spreadsheet shows in per cent."""


@dataclass
class Row:
    """A row as written, and what was meant: proof at 60 °F and US gallons at 60 °F; None where no reading was meant."""

    vessel: str
    cells: dict[str, object]
    proof: float | None
    gallons: float | None = None


@dataclass
class File:
    """A file as dropped: its bytes, and what was meant where."""

    name: str
    data: bytes
    meant: list[Spot] = field(default_factory=list)
    slip: str = ""


@dataclass
class Spot:
    """Where a row stands: its day, row number and columns in the sheet, all from 1."""

    row: Row
    day: date
    number: int
    columns: range


@dataclass(frozen=True)
class Layout:
    """Headers of the strength, the temperature and the amount; which way the strength is written."""

    name: str
    strength: str
    way: str
    temperature: str = "Temp (°F)"
    amount: str = "Volume (gal)"
    further: tuple[tuple[str, str], ...] = ()  # header and way of columns that state the strength once more


@cache
def written(way: str, proof: float, degC: float) -> float:
    """The figure that an instrument shows, or a book says, of a spirit: the physics run backwards."""
    fraction = mass_fraction_from_proof(proof)
    at_60F, at_20C = float(proof), float(abv_from_mass_fraction(fraction))
    if way in ("proof corrected", "abv corrected", "share", "abv as proof", "proof as abv"):
        figures = {
            "proof corrected": round(at_60F, 1),
            "abv corrected": round(at_20C, 1),
            "share": round(at_20C / 100, 4),
        }
        return figures.get(way, round(at_20C if way == "abv as proof" else at_60F, 1))
    rho = float(density(fraction, degC))
    if way == "density":
        return round(rho / 1000.0, 5)
    base = T_60F if way == "proof" else T_20C
    mark = mass_fraction_from_density(rho * (1.0 + GLASS * (degC - base)), base)
    shown = proof_from_mass_fraction(mark) if way == "proof" else abv_from_mass_fraction(mark)
    return round(float(shown), 1)


LAYOUTS = [
    Layout("observed", "Observed Proof", "proof"),
    Layout("plain", "Proof", "proof", amount="Wine gallons"),
    Layout("metric", "ABV", "abv", "Temp (°C)", "Volume (L)"),
    Layout("corrected", "Corrected proof", "proof corrected"),
    Layout("true", "True proof", "proof corrected", amount="WG"),
    Layout("corr", "Proof (corr.)", "proof corrected"),
    Layout("at 60", "Proof @ 60", "proof corrected"),
    Layout("at 60 F", "Proof (60 °F)", "proof corrected", "Jar temp (°F)"),
    Layout("at 20", "ABV @ 20 °C", "abv corrected", "Temp (°C)", "Bulk litres"),
    Layout("at 20 C", "Alcohol (% vol at 20 °C)", "abv corrected", "Temp (°C)", "Volume (L)"),
    Layout("meter", "Density (g/cm3)", "density", "Cell temp (°C)", "Volume (L)"),
    Layout("both", "Observed Proof", "proof", further=(("Corrected proof", "proof corrected"),)),
    Layout("two", "Observed Proof", "proof", further=(("ABV @ 20 °C", "abv corrected"),)),
    Layout("meter two", "Density (g/cm3)", "density", "Temp (°C)", "Volume (L)", (("ABV @ 20 °C", "abv corrected"),)),
]
BARE = [
    Layout("reading", "Reading", "abv", "Temp (°C)", "Volume (L)"),
    Layout("observed", "Observed", "abv", "Temp (°C)", "Bulk litres"),
    Layout("strength", "Strength", "abv", "Temp (°C)", "Volume (L)"),
]
SLIPS = ("none",) + (
    "percent cell",
    "other strength",
    "share",
    "density",
    "other volume",
    "refused",
    "check row",
    "beside",
    "decimal",
)


def files(layouts: list[Layout], everything: bool) -> Iterator[File]:
    """Every layout with every slip that it can have, at one temperature, in one form and arrangement each, in turn.

    With ``everything`` at both temperatures and in all forms.
    """
    ways = [(degC, form) for degC in JARS for form in FORMS]
    kinds = [(layout, slip) for layout in layouts for slip in SLIPS if layout.further or slip != "beside"]
    turns = [(way, *kind) for way in ways for kind in kinds] if everything else []
    turns = turns or [(ways[place % len(ways)], *kind) for place, kind in enumerate(kinds)]
    for number, ((degC, form), layout, slip) in enumerate(turns):
        arrangement = arranged.ARRANGEMENTS[number % len(arranged.ARRANGEMENTS)]
        workbook = slip == "percent cell" or arrangement in arranged.ONLY_IN_WORKBOOKS
        yield _file(layout, slip, degC, "xlsx" if workbook else form, number, arrangement)


def _file(layout: Layout, slip: str, degC: float, form: str, number: int, arrangement: Arrangement) -> File:
    day = FIRST_DAY + timedelta(days=2 * number)
    rows = list(_rows(layout, slip, degC, number))
    heads = ["Vessel", "Date", layout.strength, layout.temperature, layout.amount]
    heads += [head for head, _ in layout.further] + ["Status"]
    grid = arrangement(heads, [{"Vessel": row.vessel, **row.cells} for row in rows], day)
    ending = "xlsx" if form == "xlsx" else "csv"
    made = File(f"{number:03d}-{layout.name}-{slip}-{arrangement.__name__}.{ending}", _bytes(grid, form))
    made.slip = slip
    made.meant = [Spot(rows[p], day, number, range(first, last + 1)) for p, day, number, first, last in grid.spots]
    return made


def _rows(layout: Layout, slip: str, degC: float, number: int) -> Iterator[Row]:
    """One row a vessel; the slip is in one of the casks, in the tank and in the new vessel."""
    struck = {CASKS[number % len(CASKS)], TANK, NEW}
    for vessel, proof in PROOF.items():
        gallons = TANK_GAL if vessel == TANK else GAL_PER_CASK
        row = Row(vessel, _cells(layout, proof, gallons, degC), proof, gallons)
        if vessel in struck:
            _slip(row, layout, slip, degC)
        yield row
    if slip == "check row":
        for name in ("water", "Check sample", "Water check 2", "rinse"):
            yield Row(name, _cells(layout, 118.0, 1.0, degC), None)


def _cells(layout: Layout, proof: float, gallons: float, degC: float) -> dict[str, object]:
    degrees = round(degC * 1.8 + 32.0, 1) if "F" in layout.temperature else degC
    litres = "L" in layout.amount or "litres" in layout.amount
    cells: dict[str, object] = {
        layout.strength: written(layout.way, proof, degC),
        layout.temperature: degrees,
        layout.amount: round(_litres(gallons, proof), 1) if litres else gallons,
        "Status": "OK",
    }
    return cells | {head: written(way, proof, degC) for head, way in layout.further}


@cache
def _litres(gallons: float, proof: float) -> float:
    """Litres at 20 °C of what fills so many gallons at 60 °F."""
    fraction = mass_fraction_from_proof(proof)
    return gallons * LITRES_PER_GALLON * float(density(fraction, T_60F) / density(fraction, T_20C))


FORMS = ("csv", "semicolon", "xlsx")
JARS = (11.0, 27.5)  # °C
OTHER_WAY = {
    "proof": "abv as proof",
    "proof corrected": "abv as proof",
    "abv": "proof as abv",
    "abv corrected": "proof as abv",
}


def _slip(row: Row, layout: Layout, slip: str, degC: float) -> None:
    """Write a figure as no one meant it."""
    cells, proof = row.cells, row.proof or 0.0
    if slip == "other strength":
        cells[layout.strength] = written(OTHER_WAY.get(layout.way, "abv corrected"), proof, degC)
    elif slip == "density" != layout.way:
        cells[layout.strength] = written("density", proof, degC)
    elif slip in ("share", "density"):
        cells[layout.strength] = written("share", proof, degC)
    elif slip == "percent cell":
        way = layout.way if layout.way.startswith("abv") else "abv corrected"
        cells[layout.strength] = Percent(written(way, proof, degC) / 100.0)
    elif slip == "other volume":
        figure, litres = float(str(cells[layout.amount])), "L" in layout.amount or "litres" in layout.amount
        cells[layout.amount] = round(figure / LITRES_PER_GALLON if litres else figure * LITRES_PER_GALLON, 1)
        row.gallons = (
            row.gallons if row.vessel != NEW else None
        )  # of a vessel that nobody knows any volume may be right
    elif slip == "refused":
        cells["Status"], row.proof, row.gallons = (
            ("invalid", "bubbles", "out of range")[len(row.vessel) % 3],
            None,
            None,
        )
    elif slip == "beside":
        head, _ = layout.further[0]
        cells[head] = round(float(str(cells[head])) - 4.0, 1)
        row.proof = proof - 2.0  # nobody knows which of the two was meant
    elif slip == "decimal":
        cells[layout.strength] = float(f"{float(str(cells[layout.strength])) * 10.0:.6g}")


def _bytes(grid: arranged.Grid, form: str) -> bytes:
    if form == "xlsx":
        book = Workbook()
        sheet = book.worksheets[0]
        for number, row in enumerate(grid.cells, start=1):
            for at, cell in enumerate(row, start=1):
                if cell != "":
                    written_cell = sheet.cell(number, at, cell)  # type: ignore[arg-type]
                    if isinstance(cell, Percent):
                        written_cell.number_format = "0.00%"
        for cells in grid.merged:
            sheet.merge_cells(cells)
        raw = io.BytesIO()
        book.save(raw)
        return raw.getvalue()
    mark = ";" if form == "semicolon" else ","
    text = "\n".join(
        mark.join(str(cell).replace(".", ",") if mark == ";" and isinstance(cell, float) else str(cell) for cell in row)
        for row in grid.cells
    )
    return (text + "\n").encode("utf-8")


def stock() -> dict[str, str]:
    """The house behind the sheets: its inventory, its vessels, and a gauge of each cask before the first file."""
    casks = "Cask,Filled,Entry proof,Entry volume (gal),Capacity (gal),As of\n"
    casks += "".join(f"{name},2021-03-01,{PROOF[name] + 1:.1f},47.0,53,2023-12-01\n" for name in CASKS)
    gauges = "Cask,Date,Observed Proof,Temp (°F),Volume (gal)\n"
    gauges += "".join(f"{name},2023-11-20,{PROOF[name]:.1f},60,{GAL_PER_CASK}\n" for name in CASKS)
    gauges += f"{TANK},2023-11-20,{PROOF[TANK]:.1f},60,{TANK_GAL}\n"
    return {
        "casks.csv": casks,
        "gauges.csv": gauges,
        "vessels.csv": f"Vessel,Kind,Capacity (gal)\n{TANK},tank,500\n{NEW},drum,\n",
    }


def apart(meant: float | None, held: float, allowed: float) -> bool:
    """Whether the book holds another figure than the one that was meant, or one where none was."""
    if np.isnan(held):
        return False
    return meant is None or abs(held - meant) > allowed
