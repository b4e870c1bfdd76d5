"""Makes inbox_example: ``python -m tests.make_inbox inbox_example``.

An invented distillery's files of two years, with 300 tasted samples and three batches: one that reconciles, one
in which a temperature was keyed in the other scale, and one whose age claim fails. The truth behind them is in
``make_inbox_world``; the same call gives the same bytes.
"""

from __future__ import annotations

import sys
from datetime import date, datetime
from pathlib import Path

from tests import make_inbox_bench as bench
from tests import make_inbox_books as books
from tests import make_inbox_brief as brief
from tests import make_inbox_label as label
from tests import make_inbox_north as north
from tests import make_inbox_nosings as nosings
from tests import make_inbox_room as room
from tests import make_inbox_stock as stock
from tests import make_inbox_tastings as tastings
from tests.make_inbox_batches import batches
from tests.make_inbox_lab import Reading, found_by_lab
from tests.make_inbox_world import casks


def files() -> dict[str, bytes]:
    """Every file of the inbox by name."""
    stored = casks()
    made = batches(stored)
    emptied = {cask.name for batch in made for cask in batch.casks}
    lab = books.LabBooks(stored, emptied)
    last = {name: _gauge(reading) for name, reading in lab.last(stock.EXPORTED).items()}
    northern = north.north_casks()
    shelf = north.bottles(northern)
    texts = {
        "site.toml": stock.SITE,
        "new_fills_2024-25.csv": books.entries_2024(lab),
        "regauge_2025_spring.csv": books.spring_2025(lab),
        "regauge_2025_winter.csv": books.winter_2025(lab),
        "briefs_2026.csv": room.briefs(made),
        "blend_B-26-03.csv": room.blend_list(made[2]),
        "tastings_2026.csv": tastings.spring(stored),
        "north_store_2026-01-09.csv": north.inventory(northern),
        "brief_B-27-01.csv": brief.brief(),
        "house_profiles.csv": brief.profiles(),
        "sample_register.csv": north.register(shelf),
        "north_walk_round.csv": nosings.walk_round(shelf),
    }
    nosed = {**nosings.panel_sheets(shelf), **nosings.blind_sheets(shelf)}
    return (
        {name: text.encode("utf-8") for name, text in texts.items()}
        | nosed
        | {
            "instruments.xlsx": stock.instruments(),
            "vats.xlsx": stock.vessels(),
            "warehouse_2026-01-09.xlsx": stock.inventory(stored, last),
            "lab_book_2024.xlsx": books.book_2024(lab),
            "regauge_2025_fall.xlsx": books.fall_2025(lab),
            "lab_book_2026.xlsx": books.spring_2026(lab),
            "density_meter_export.csv": books.meter_export(lab),
            "dump_and_vat_gauges_2026.xlsx": books.dump_book(made, stored),
            "blend_sheet_B-26-01.xlsx": room.blend_sheet(made[0]),
            "blend_sheet_B-26-02.xlsx": room.blend_sheet(made[1]),
            "bottling_log_2026.xlsx": room.bottling_log(made),
            "nosing_sheets_2025-11.xlsx": tastings.november(stored),
            "label_text_B-26-03_EU.xlsx": label.label(),
            "bench_card_B-27-02-F1_filled.xlsx": bench.returned(northern),
        }
    )


def _gauge(reading: Reading) -> tuple[date, float]:
    day = reading.moment.date() if isinstance(reading.moment, datetime) else reading.moment
    return day, round(found_by_lab(reading), 1)


def main(folder: Path) -> None:
    """Write all files into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, data in files().items():
        (folder / name).write_bytes(data)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
