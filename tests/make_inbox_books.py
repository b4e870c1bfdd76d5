"""The lab's books of two years, laid out as each writer does it."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from random import Random
from typing import Any

from tests.make_inbox_batches import Batch
from tests.make_inbox_lab import DM1, H1, H2, Asked, Instrument, Reading, lab_room, read_all
from tests.make_inbox_sheets import Sheet, decimal_comma, slashed, text, workbook
from tests.make_inbox_world import HOUSE, SEED, Cask

ANALYSTS = ("TB", "IV", "MF")
SURVEYS = (
    date(2024, 3, 12), date(2024, 6, 11), date(2024, 9, 17), date(2024, 12, 10),
    date(2025, 3, 18), date(2025, 6, 10), date(2025, 9, 16), date(2025, 12, 9), date(2026, 3, 10),
)  # fmt: skip
USUAL = "Barrel|Date|Hydrometer No.|Observed Proof|Temp (°F)|Read by|Remarks"
SOLIDS = "Solids (mg/100 mL)"
A_DAY = 15  # casks that one person gauges in a day


class LabBooks:
    """All regauges, by survey day; ``meter`` are the checks by density meter."""

    def __init__(self, casks: list[Cask], emptied: set[str]) -> None:
        self.surveys: dict[date, list[Reading]] = {}
        self.meter: list[Reading] = []
        for survey in SURVEYS:
            there = [cask for cask in casks if cask.filled_on <= survey - timedelta(days=14)]
            if survey > date(2026, 1, 1):
                there = [cask for cask in there if cask.name not in emptied]
            self.surveys[survey] = self._survey(survey, there)
        self.entries = self._entries([cask for cask in casks if cask.filled_on >= SURVEYS[0]])

    def _survey(self, survey: date, there: list[Cask]) -> list[Reading]:
        rng = Random(f"{SEED} survey {survey}")
        asked: list[Asked] = []
        checks: list[Asked] = []
        for place, cask in enumerate(there):
            day = survey + timedelta(days=place // A_DAY)
            by = ANALYSTS[(place // A_DAY + survey.month) % len(ANALYSTS)]
            tool, unit = _tool(survey, place)
            at = datetime(day.year, day.month, day.day) + timedelta(hours=14, minutes=5 + 6 * (place % A_DAY))
            asked.append((Reading(cask.name, at if tool is DM1 else day, tool, unit=unit, by=by), cask.on(day)))
            if tool is not DM1 and rng.random() < 0.2:
                checks.append((Reading(cask.name, at, DM1, by=by, more={"purpose": "check"}), cask.on(day)))
        readings = read_all(asked, rng, lab_room)
        for reading in readings:
            if rng.random() < 0.04:
                reading.remark = rng.choice(("slow to settle", "bubbles, read twice", "bung tight", "sample cloudy"))
        self.meter += read_all(checks, rng, lab_room)
        return readings

    @staticmethod
    def _entries(filled: list[Cask]) -> list[Reading]:
        rng = Random(f"{SEED} entries")
        asked: list[Asked] = [
            (Reading(cask.name, cask.filled_on, H1, by="MF", more={"purpose": "entry"}), cask.on(cask.filled_on))
            for cask in filled
        ]
        return read_all(asked, rng, lambda day, rng: rng.uniform(64.0, 72.0))

    def last(self, before: date) -> dict[str, Reading]:
        """Per cask its last hydrometer gauge before a day."""
        rows = [reading for readings in (self.entries, *self.surveys.values()) for reading in readings]
        found: dict[str, Reading] = {}
        for reading in sorted((r for r in rows if _day(r) < before), key=_day):
            found[reading.vessel] = reading
        return found


def _day(reading: Reading) -> date:
    return reading.moment.date() if isinstance(reading.moment, datetime) else reading.moment


def _tool(survey: date, place: int) -> tuple[Instrument, str]:
    """The proof hydrometer in 2024 and winter, the one in % vol in 2025's spring; both in autumn."""
    if survey == date(2025, 3, 18):
        return H2, "°F" if place % 7 == 3 else "°C"
    if survey == date(2025, 6, 10):
        return DM1, "°C"
    if survey == date(2025, 9, 16):
        return (H2, "°C") if place % 3 == 2 else (H1, "°F")
    return H1, "°F"


def _plain(reading: Reading) -> str:
    """A figure as written down: 71, 71.5."""
    return f"{reading.temperature:g}"


def book_2024(books: LabBooks) -> bytes:
    """One sheet a quarter; each writer words the header in his own way."""
    headers = {
        date(2024, 3, 12): USUAL,
        date(2024, 6, 11): USUAL,
        date(2024, 9, 17): "Bbl No|Gauge date|Hyd No|Obs Proof|Jar temp °F|Initials|Notes",
        date(2024, 12, 10): "Barrel No.|Date of gauge|Hyd. No|Hydrometer proof|Temperature, °F|Tech|Note",
    }
    names = ("Spring regauge", "Summer regauge", "Fall regauge", "Winter regauge")
    sheets = []
    for name, (survey, header) in zip(names, headers.items(), strict=True):
        typed = survey == date(2024, 9, 17)
        rows: list[list[Any]] = [
            [r.vessel, slashed(_day(r)) if typed else _day(r), r.instrument.name, r.reading, r.temperature, r.by,
             r.remark or None]
            for r in books.surveys[survey]
        ]  # fmt: skip
        if typed:
            rows.append([f"Total barrels gauged: {len(rows)}", None, None, None, None, None, None])
        above = [f"{HOUSE} - lab book 2024", f"{name}, thermometer T-1"]
        sheets.append(Sheet(name, header.split("|"), rows, above))
    return workbook(sheets)


def entries_2024(books: LabBooks) -> str:
    rows = [
        [r.vessel, _day(r).isoformat(), r.instrument.name, r.reading, r.temperature, "fill", r.by]
        for r in books.entries
    ]
    header = "Cask number|Test date|Hydrometer no|Hydrometer proof|Spirit temp (°F)|Reason|Tech"
    return text(header.split("|"), rows)


def spring_2025(books: LabBooks) -> str:
    """H-2 in % vol; each temperature with its own unit, as the thermometer happened to be set."""
    rows = [
        [r.vessel, f"{_day(r):%m/%d/%Y}", r.instrument.name, r.reading, f"{_plain(r)} {r.unit}", r.by, r.remark]
        for r in books.surveys[date(2025, 3, 18)]
    ]
    return text("Cask no|Test date|Hydrometer no|Observed ABV|Sample temp|Analyst|Comments".split("|"), rows)


def fall_2025(books: LabBooks) -> bytes:
    """Both hydrometers mixed, with the units in columns of their own and a total under the list."""
    header = "Package No|Date of gauge|Hyd No|Reading|Unit|Temp|Temp unit|Tech|Note".split("|")
    units = {"H-1": "proof", "H-2": "% vol"}
    rows: list[list[Any]] = [
        [r.vessel, _day(r), r.instrument.name, r.reading, units[r.instrument.name], r.temperature, r.unit, r.by,
         r.remark or None]
        for r in books.surveys[date(2025, 9, 16)]
    ]  # fmt: skip
    rows.append(["Total", None, None, len(rows), None, None, None, None, None])
    above = ["Fall regauge 2025", "H-1 was away for cleaning on some racks"]
    return workbook([Sheet("Sept 2025", header, rows, above)])


def winter_2025(books: LabBooks) -> str:
    rows = [
        [r.vessel, slashed(_day(r)), r.instrument.name, r.reading, r.temperature, r.by, r.remark]
        for r in books.surveys[date(2025, 12, 9)]
    ]
    header = "Barrel no|Date read|Hydrometer no|Proof reading|Temp [°F]|Operator|Observation"
    return text(header.split("|"), rows)


def spring_2026(books: LabBooks) -> bytes:
    rows = [
        [r.vessel, _day(r), r.instrument.name, r.reading, r.temperature, r.by, r.remark or None]
        for r in books.surveys[date(2026, 3, 10)]
    ]
    return workbook([Sheet("Spring regauge", USUAL.split("|"), rows, [f"{HOUSE} - lab book 2026"])])


def meter_export(books: LabBooks) -> bytes:
    """What the bench meter's own program writes: semicolons, decimal commas, Windows letters."""
    readings = sorted([*books.meter, *books.surveys[date(2025, 6, 10)]], key=lambda r: (str(r.moment), r.vessel))
    rows = [
        [r.vessel, f"{r.moment:%Y-%m-%d %H:%M}", r.instrument.name, decimal_comma(r.reading, 5),
         decimal_comma(r.temperature, 2), "U-tube", r.by]
        for r in readings
    ]  # fmt: skip
    header = "Sample of|Measured at|Device|Density (g/cm³)|Cell temperature (°C)|Type of reading|Operator"
    above = [["Bench meter DM-1"], ["Export of results"], []]
    return text(header.split("|"), rows, above, delimiter=";", end="\r\n").encode("cp1252")


def dump_book(batches: list[Batch], casks: list[Cask]) -> bytes:
    """Gauges at dumping, one sheet for each batch, and those of the vats."""
    sheets = []
    for batch in batches:
        weights = f"Gross ({batch.scale})|Tare ({batch.scale})"
        header = f"Barrel|Date time|Hydrometer No.|Hydrometer proof|Temp (°F)|{weights}|{SOLIDS}|Reason|By".split("|")
        readings = [*batch.dump, *(_beside(batch, casks) if batch.vat == "VAT-2" else [])]
        rows = [
            [r.vessel, r.moment, r.instrument.name, r.reading, r.temperature, r.more.get("gross"), r.more.get("tare"),
             r.more.get("solids"), r.more["purpose"], r.by]
            for r in readings
        ]  # fmt: skip
        if not batch.has_solids:
            header.remove(SOLIDS)
            rows = [[*row[:7], *row[8:]] for row in rows]
        sheets.append(Sheet(f"{batch.name} dump", header, rows, [f"Dump gauges {batch.name} {batch.product}"]))
    columns = "Tank|Date time|Meter|Density (g/cm³)|Cell temp (°C)|Wet dip|Tank temp (°F)|Net wt"
    rows = [
        [r.vessel, r.moment, r.instrument.name, r.reading, r.temperature, r.more.get("dip"), r.more.get("tank_F"),
         r.more.get("weight"), r.more.get("solids"), r.more["purpose"], r.by]
        for batch in batches
        for r in batch.vat_gauges
    ]  # fmt: skip
    above = ["Vat gauges 2026", "Dip to the tenth, rod or sight glass"]
    return workbook([*sheets, Sheet("Vats", f"{columns}|{SOLIDS}|Gauge purpose|By".split("|"), rows, above)])


def _beside(batch: Batch, casks: list[Cask]) -> list[Reading]:
    """Ryes that stay were gauged on the same morning, to see what is left for autumn."""
    rng = Random(f"{SEED} beside {batch.name}")
    stay = [cask for cask in casks if cask.spirit == "Rye whiskey" and cask not in batch.casks]
    asked: list[Asked] = []
    for place, cask in enumerate(stay):
        reading = Reading(cask.name, batch.at(0, 9, 10 + 5 * place), H1, by="IV", more={"purpose": "regauge"})
        asked.append((reading, cask.on(batch.day)))
    return read_all(asked, rng, lab_room)
