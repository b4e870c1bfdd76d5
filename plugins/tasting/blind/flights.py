"""Blind flights: codes, serving orders, one workbook per taster, and the key that resolves them.

``blind_flight`` is pure: the same session, samples and tasters give the same codes, orders and bytes. The
workbooks come back as tasting sheets; the key comes into the inbox as ``blind_codes`` (when the last sheet is
in, so that nobody reads it before), and the stage ``tasted`` puts the samples' names for the codes.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from random import Random
from typing import Any

from plugins.tasting.blind.serving_orders import orders

FIRST_CODE, LAST_CODE = 100, 999
MANY_GLASSES = 10
KEY_COLUMNS = ("session", "code", "sample_behind", "taster", "position", "repeat")
HEADER = (
    *("Sample code", "Taster", "Date", "Session", "Order", "Nose", "Palate", "Finish", "Score"),
    *("Nosing strength (% vol)", "Decision", "Remark"),
)
WIDTHS = (13, 16, 12, 14, 8, 34, 34, 34, 8, 14, 13, 28)
DECISIONS = ("use", "leave", "watch", "recask", "finish", "reject")


class CannotSet(ValueError):
    """A flight that cannot be set as asked; the message says why and what to do."""


@dataclass(frozen=True)
class Glass:
    """One glass of one taster."""

    session: str
    code: str
    sample: str
    taster: str
    position: int
    repeat: str


@dataclass(frozen=True)
class Flight:
    """A set flight: ``sheets`` are workbooks by file name, ``key`` the bytes of the key, ``remarks`` for who pours."""

    glasses: list[Glass]
    sheets: dict[str, bytes]
    key_name: str
    key: bytes
    remarks: list[str] = field(default_factory=list)


def blind_flight(
    session: str,
    samples: Sequence[str],
    tasters: Sequence[str],
    on: date,
    nosing_strength_abv: float = 20.0,
    score_top: float = 10.0,
) -> Flight:
    """Codes, orders and workbooks of a flight.

    A sample that is named twice is poured twice under two codes: a blind duplicate. ``on`` is the day of the
    tasting. Raises CannotSet, in words.
    """
    session, samples, tasters = session.strip(), _clean(samples), _clean(tasters)
    _check(session, samples, tasters)
    random = Random("\n".join([session, *samples, "", *tasters]))
    glasses = _pour(session, samples, tasters, random)
    sheets = {
        f"tasting_{_file_part(session)}_{_file_part(taster)}.xlsx": _workbook(
            [glass for glass in glasses if glass.taster == taster], on, nosing_strength_abv, score_top
        )
        for taster in tasters
    }
    if len(sheets) < len(tasters):
        raise CannotSet("Two tasters' names make one file name; tell them apart by more than punctuation.")
    return Flight(
        glasses, sheets, f"blind_key_{_file_part(session)}.csv", key_bytes(glasses), _remarks(samples, tasters)
    )


def _clean(names: Sequence[str]) -> list[str]:
    return [name.strip() for name in names if name.strip()]


def _check(session: str, samples: list[str], tasters: list[str]) -> None:
    if not session:
        raise CannotSet("A blind flight needs a session's name, by which its codes are found again.")
    if len(set(samples)) < 2:
        raise CannotSet("A blind flight needs at least two samples.")
    if not tasters:
        raise CannotSet("A blind flight needs at least one taster.")
    if len({name.casefold() for name in tasters}) < len(tasters):
        raise CannotSet("A taster is named twice; each gets one workbook.")
    codes = LAST_CODE - FIRST_CODE + 1
    if len(samples) * len(tasters) > codes:
        raise CannotSet(
            f"{len(samples)} glasses for {len(tasters)} tasters need {len(samples) * len(tasters)} codes, and there "
            f"are {codes} of three digits; split the flight into sessions."
        )


def _pour(session: str, samples: list[str], tasters: list[str], random: Random) -> list[Glass]:
    """One glass per taster and sample, each with a code of its own, in the orders of a Williams design."""
    codes = random.sample(range(FIRST_CODE, LAST_CODE + 1), len(samples) * len(tasters))
    glass_of = list(range(len(samples)))
    random.shuffle(glass_of)
    rows = orders(len(samples))
    if len(tasters) < len(rows):
        random.shuffle(rows)
    repeats: dict[int, str] = {}
    for at, sample in enumerate(samples):
        if samples.count(sample) > 1:
            repeats[at] = str(samples[: at + 1].count(sample))
    made = []
    for number, taster in enumerate(tasters):
        for position, label in enumerate(rows[number % len(rows)], start=1):
            at = glass_of[label]
            code = str(codes.pop())
            made.append(Glass(session, code, samples[at], taster, position, repeats.get(at, "")))
    return made


def _remarks(samples: list[str], tasters: list[str]) -> list[str]:
    told = []
    if len(samples) > MANY_GLASSES:
        told.append(
            f"{len(samples)} glasses are more than 8 to {MANY_GLASSES} small ones that a nose stands in one sitting "
            "(common practice, no source); pour them as two flights with a rest between."
        )
    whole = len(orders(len(samples)))
    if len(tasters) % whole:
        told.append(
            f"Places and neighbours are fully balanced with {whole} tasters, or twice as many; with {len(tasters)} "
            "they are as even as that allows."
        )
    if len(set(samples)) == len(samples):
        told.append("No sample is poured twice: name one twice, and the noise of a single glass can be told.")
    return told


def key_bytes(glasses: list[Glass]) -> bytes:
    """The key as a CSV that the inbox takes as ``blind_codes``, sorted for who pours: by sample, then taster."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(KEY_COLUMNS)
    for glass in sorted(glasses, key=lambda glass: (glass.sample, glass.repeat, glass.taster)):
        writer.writerow([glass.session, glass.code, glass.sample, glass.taster, glass.position, glass.repeat])
    return out.getvalue().encode("utf-8")


def _file_part(name: str) -> str:
    return "".join(letter if letter.isalnum() or letter in "-." else "-" for letter in name).strip("-.") or "flight"


def _workbook(glasses: list[Glass], on: date, strength: float, score_top: float) -> bytes:
    from openpyxl import Workbook
    from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
    from openpyxl.worksheet.datavalidation import DataValidation

    from pipeline.writing.plain import spreadsheet_safe
    from pipeline.writing.workbooks import workbook_bytes

    book = Workbook()
    page: Any = book.active
    page.title = "Flight"
    first = glasses[0]
    above = [
        f"Blind flight {first.session} for {first.taster}",
        f"Nosed at {strength:g} % vol. Take the glasses in this order; score from 0 to {score_top:g}; "
        "? doubtful, ! striking.",
        "Between glasses: water, plain bread, a rest of two minutes; after the fifth glass ten minutes. Spit.",
        "Do not speak of the glasses until all sheets are in. Drive nothing and work no machine afterwards.",
    ]
    for line in above:
        page.append([spreadsheet_safe(line)])
    page["A1"].font = Font(size=14, bold=True)
    page.append([])
    page.append(list(HEADER))
    thin = Side(style="thin", color="999999")
    top = len(above) + 2
    for column, width in enumerate(WIDTHS, start=1):
        cell = page.cell(top, column)
        cell.font, cell.fill = Font(bold=True), PatternFill("solid", fgColor="E4DCCF")
        cell.alignment = Alignment(wrap_text=True, vertical="bottom")
        page.column_dimensions[cell.column_letter].width = width
    for row, glass in enumerate(glasses, start=top + 1):
        values = [
            spreadsheet_safe(glass.code),
            spreadsheet_safe(glass.taster),
            on,
            spreadsheet_safe(glass.session),
            glass.position,
            *[None] * 4,
            strength,
        ]
        for column in range(1, len(HEADER) + 1):
            cell = page.cell(row, column, values[column - 1] if column <= len(values) else None)
            cell.alignment = Alignment(wrap_text=True, vertical="top")
            cell.border = Border(bottom=thin)
            if column == 1:
                cell.font, cell.number_format = Font(bold=True, size=13), "@"
            if column == 3:
                cell.number_format = "yyyy-mm-dd"
        page.row_dimensions[row].height = 62
    choices = DataValidation(type="list", formula1='"' + ",".join(DECISIONS) + '"', allow_blank=True)
    page.add_data_validation(choices)
    letter = page.cell(top, HEADER.index("Decision") + 1).column_letter
    choices.add(f"{letter}{top + 1}:{letter}{top + len(glasses)}")
    page.freeze_panes = page.cell(top + 1, 2)
    page.page_setup.orientation, page.page_setup.fitToHeight = "landscape", 0
    page.sheet_properties.pageSetUpPr.fitToPage = True
    page.print_title_rows = f"{top}:{top}"
    return workbook_bytes(book)
