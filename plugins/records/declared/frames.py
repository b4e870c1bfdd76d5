"""The frame by which pages of single records are made month by month."""

from __future__ import annotations

from pipeline import Column, Frame

WHEN = ("proofs.taken_at", "samples.drawn_on", "movements.moved_at", "removals.removed_on", "bottlings.bottled_on",
        "fill_checks.checked_at")  # fmt: skip

MONTHS = Frame(
    "record_months",
    key=("month",),
    meaning="months with gauges, samples, bottlings, tests or destructions, each of which is a record of its own",
    columns=(
        Column("month", "text", "", "month, such as 2026-02", WHEN),
        Column("rows", "int", "", "rows dated in it", WHEN),
    ),
)
