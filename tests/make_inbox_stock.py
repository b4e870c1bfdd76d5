"""What changes seldom: certificates, vats with their dip tables, the inventory export, the settings."""

from __future__ import annotations

from datetime import date
from random import Random
from typing import Any

from tests.make_inbox_lab import INSTRUMENTS, Instrument
from tests.make_inbox_sheets import Sheet, workbook
from tests.make_inbox_world import HOUSE, LITRES_PER_GALLON, SEED, Cask

EXPORTED = date(2026, 1, 9)
US_GALLON_IN3 = 231.0
CM_PER_INCH = 2.54

SITE = f"""\
# {HOUSE}: an invented distillery in an invented valley. Settings not named here have their defaults.
house = "{HOUSE}"
markets = ["US", "EU"]
timezone = "America/New_York"
date_order = "mdy"
after_taking = "leave"   # the files stay here, so that a checkout stays clean

[instruments]
thermometer = "T-1"

[tolerances]
dump_loss_percent = 1.5
process_loss_percent = 1.0

[rulings]
by = ["Ilka Vordren", "Thessaly Brume"]
"""


def instruments() -> bytes:
    """The certificates, one sheet for each instrument."""
    return workbook([_certificate(tool) for tool in INSTRUMENTS])


def _certificate(tool: Instrument) -> Sheet:
    unit = "°F" if tool.base.endswith("°F") else "°C"
    header = (
        f"Serial No|Instrument type|Graduated in|Reference temperature ({unit})|Range from|Range to|Division|"
        "Test point|Correction to add|Uncertainty (k=2)|Calibrated|Valid until|Certificate No"
    ).split("|")
    rows = [
        [tool.name, tool.kind, tool.scale, float(tool.base.split()[0]), tool.low, tool.high, tool.graduation,
         point, correction, tool.expanded, date(2024, 1, 22), date(2026, 7, 31), tool.certificate]
        for point, correction in tool.points
    ]  # fmt: skip
    return Sheet(tool.name, header, rows, [f"Certificate of calibration {tool.certificate}", "Checking room, Oskerby"])


# --- vats ------------------------------------------------------------------------------------------


def vat_1_gallons(depth_in: float) -> float:
    """VAT-1 is an upright cylinder of 46 in over a dished bottom that holds 6 gal."""
    return 6.0 + 3.141592653589793 * 23.0**2 * depth_in / US_GALLON_IN3


def vat_3_litres(depth_cm: float) -> float:
    """VAT-3 is an upright cylinder of 1.20 m over a bottom that holds 14 L."""
    return 14.0 + 3.141592653589793 * 60.0**2 * depth_cm / 1000.0


def vessels() -> bytes:
    """The list of vats and the dip tables of those that have one."""
    strapped, until = date(2023, 6, 14), date(2028, 6, 30)
    listed = [
        ["VAT-1", "blending vat, dip rod", 760, 4, strapped, until],
        ["VAT-2", "blending vat on load cells", 420, 2, None, None],
        ["VAT-3", "marrying vat, sight glass", "1950 L", "10 L", strapped, until],
    ]
    first = [["VAT-1", depth, round(vat_1_gallons(depth), 1), strapped, until] for depth in range(0, 101, 5)]
    third = [["VAT-3", depth, round(vat_3_litres(depth), 1), strapped, until] for depth in range(0, 161, 10)]
    return workbook(
        [
            Sheet("Vats", ["Tank", "Type", "Capacity (gal)", "Undrainable (gal)", "Strapped on", "Expires"], listed,
                  [f"{HOUSE} - vats and tanks"]),
            Sheet("VAT-1 dip table", ["Vat", "Wet dip (in)", "Contents at dip (gal)", "Table date", "Expires"], first,
                  ["Dip table VAT-1", "Dip point: manway lip, port side"]),
            Sheet("VAT-3 dip table", ["Vat", "Level (cm)", "Contents at dip (L)", "Table date", "Expires"], third,
                  ["Dip table VAT-3"]),
        ]
    )  # fmt: skip


# --- inventory -------------------------------------------------------------------------------------

IN_RICK = (
    "Barrel No|Stock date|Spirit type|Mash bill|Distiller|State|Country of origin|Distilled|Off still proof|"
    "Date barrelled|Barrel entry proof|Original WG|Wood|New oak|Charred|Toast|Char|Fill|Barrel size (gal)|Rick|WG|"
    "Basis|Current proof|Last gauge|Owned by|On hold"
).split("|")
SEASONED = (
    "Cask No|Stock date|Make|Mash bill|Distillery|State|Country|Distillation date|Distillation proof|Filled|"
    "Fill proof|Fill volume (L)|Wood species|New wood|Charred|Toast level|Char level|Cask use|Previous contents|"
    "Cask size|Bin|Bulk volume|Volume source|Last proof|Gauge date|Owner|Hold"
).split("|")


def inventory(casks: list[Cask], last: dict[str, tuple[date, float]]) -> bytes:
    """The warehouse export: new wood by rick in gallons, seasoned casks in litres.

    ``last``: per cask the day of its last gauge and the proof that the lab worked out from it.
    """
    rng = Random(f"{SEED} inventory")
    new = [cask for cask in casks if cask.wood.new]
    seasoned = [cask for cask in casks if not cask.wood.new]
    title = f"{HOUSE} - warehouse inventory as of {EXPORTED:%B} {EXPORTED.day}, {EXPORTED.year}"
    sheets = []
    for rick in sorted({cask.location[0] for cask in new}):
        listed = [_in_rick(cask, *last[cask.name], rng) for cask in new if cask.location[0] == rick]
        sheets.append(Sheet(f"Rick {rick}", IN_RICK, listed, [title, f"Rick {rick}, new wood"]))
    total: list[Any] = ["Total casks", *[None] * (len(SEASONED) - 1)]
    total[SEASONED.index("Cask size")] = len(seasoned)
    rows = [_seasoned(cask, *last[cask.name], rng) for cask in seasoned]
    above = [title, "Seasoned and refill casks"]
    return workbook([*sheets, Sheet("Seasoned", SEASONED, [*rows, total], above)])


def _yes(value: bool) -> str:
    return "Y" if value else "N"


def _estimate(cask: Cask, rng: Random) -> float:
    """Wet gallons by dip at the bung, to a tenth and a per cent or so off."""
    return round(cask.on(EXPORTED).litres_60F / LITRES_PER_GALLON * (1.0 + rng.gauss(0.0, 0.01)), 1)


def _in_rick(cask: Cask, gauged_on: date, strength: float, rng: Random) -> list[Any]:
    wood = cask.wood
    return [
        cask.name, EXPORTED, cask.spirit, cask.grain, HOUSE, "Oskermark", "USA", cask.distilled_on,
        cask.distilled_proof, cask.filled_on, cask.entry_proof, cask.entry_gal, wood.species, _yes(wood.new),
        _yes(wood.charred), wood.toast, wood.char, wood.use, wood.size_gal, cask.location, _estimate(cask, rng),
        "estimate", strength, gauged_on, cask.owner, cask.hold or None,
    ]  # fmt: skip


def _seasoned(cask: Cask, gauged_on: date, strength: float, rng: Random) -> list[Any]:
    wood = cask.wood
    return [
        cask.name, EXPORTED, cask.spirit, cask.grain, HOUSE, "Oskermark", "USA", cask.distilled_on,
        cask.distilled_proof, cask.filled_on, cask.entry_proof, round(cask.entry_gal * LITRES_PER_GALLON, 1),
        wood.species, _yes(wood.new), _yes(wood.charred), wood.toast, wood.char, wood.use, wood.held or None,
        f"{round(wood.size_gal * LITRES_PER_GALLON / 5) * 5} L", cask.location,
        f"{round(_estimate(cask, rng) * LITRES_PER_GALLON)} L", "estimate", strength, gauged_on, cask.owner,
        cask.hold or None,
    ]  # fmt: skip
