"""The blending room's sheets: briefs, blend sheets, bottling log."""

from __future__ import annotations

from typing import Any

from tests.make_inbox_batches import Batch
from tests.make_inbox_sheets import Sheet, text, workbook
from tests.make_inbox_world import HOUSE, LITRES_PER_GALLON


def briefs(batches: list[Batch]) -> str:
    header = "Batch no|Expression|Market|Vat|Vat empty|Batch size|Bottle proof|Label ABV|Bottle"
    rows = []
    for batch in batches:
        volume = batch.content.litres_60F
        metric = "EU" in batch.market
        rows.append(
            [batch.name, batch.product, batch.market, batch.vat, "yes",
             f"{round(volume, -1):.0f} L" if metric else f"{round(volume / LITRES_PER_GALLON, -1):.0f} gal",
             "" if metric else f"{batch.wanted:.0f}", "46" if metric else "", f"{batch.bottle_mL} mL", batch.age,
             batch.claims, batch.due.isoformat()]
        )  # fmt: skip
    return text(f"{header}|Age on label|Class and type|Bottle by".split("|"), rows)


def blend_sheet(batch: Batch) -> bytes:
    """The first two batches' sheets, in pounds."""
    header = "Batch|Barrel No.|Line|Planned (gal)|Net weight (lb)|Volume (gal)|Temp (°F)|Measured by|Dumped on"
    rows: list[list[Any]] = [
        [batch.name, line["component"], place, line.get("planned_gal"), line.get("weight"), line.get("volume_gal"),
         line.get("temperature_F"), "scale" if "weight" in line else "flow meter", line["at"],
         "yes" if line.get("emptied") else None, _remark(line, place, len(batch.drawn))]
        for place, line in enumerate(batch.drawn, start=1)
    ]  # fmt: skip
    net = sum(float(line.get("weight", 0.0)) for line in batch.drawn if line.get("emptied"))
    rows.append([None, "Total barrels", None, None, net, *[None] * 6])
    safety = f"Into {batch.vat}, empty and rinsed dry; no open flame, fans on"
    above = [f"Blend sheet {batch.name} - {batch.product}", safety]
    return workbook([Sheet(batch.name, f"{header}|Emptied|Remarks".split("|"), rows, above)])


def _remark(line: dict[str, Any], place: int, last: int) -> str | None:
    if line["component"] == "Water":
        return "last trim" if place == last else "RO water"
    return None


def blend_list(batch: Batch) -> str:
    """The malt's sheet, typed as a list, in kilograms and litres with the unit in the cell."""
    header = "Blend no|Ingredient|Seq|Net wt|Volume|Spirit temp|How measured|Added at|Cask emptied"
    rows = []
    for place, line in enumerate(batch.drawn, start=1):
        weight = f"{line['weight']:.1f} kg" if "weight" in line else ""
        volume = f"{line['volume_gal']:.1f} gal" if "volume_gal" in line else ""
        degrees = f"{line['temperature_F']:.0f} °F" if "temperature_F" in line else ""
        how = "scale" if weight else "flowmeter"
        emptied = "y" if line.get("emptied") else ""
        added = f"{line['at']:%Y-%m-%d %H:%M}"
        rows.append([batch.name, line["component"], place, weight, volume, degrees, how, added, emptied])
    return text(header.split("|"), rows)


def bottling_log(batches: list[Batch]) -> bytes:
    header = "Batch no|Bottling date|Run no|Size ml|Bottles filled|Per case|Cases|Part case|Breakage|Retained bottles"
    rows = [
        [batch.name, line["day"], line["run"], batch.bottle_mL, line["bottles"], 6, line["bottles"] // 6,
         line["bottles"] % 6, line["broken"], line["kept"], batch.wanted / 2.0, line["remainder_gal"], line["lot"],
         "remainder to next batch's drum" if line["remainder_gal"] else None]
        for batch in batches
        for line in batch.bottled
    ]  # fmt: skip
    header += "|Label strength|Left in tank (gal)|Lot no|Remarks"
    return workbook([Sheet("Log 2026", header.split("|"), rows, [f"{HOUSE} - bottling log"])])
