"""What the cellar gives of lots: every way that spirit took, and what became of each lot."""

from __future__ import annotations

from pipeline import Column, Frame

WHENCE = ("blends.component", "movements.from", "briefs.vessel", "bottlings.batch", "samples.source")
WHITHER = ("blends.batch", "movements.to", "bottlings.lot_code", "bottlings.remainder_to", "removals.recipient")
WHEN = ("blends.drawn_at", "movements.moved_at", "bottlings.bottled_on", "removals.removed_on", "samples.drawn_on")
HOW_MUCH = ("components.volume_20C_L", "movements.volume_L", "bottlings.bottles", "removals.bottles")

PASSAGES = Frame(
    "passages",
    key=("number",),
    meaning="every way that spirit took: cask or vessel to batch, batch to lot, and back by remainder, heel, rework",
    columns=(
        Column("number", "int", "", "number of the row, in order of time"),
        Column("at", "moment", "", "when, at the earliest; missing where no sheet says", WHEN),
        Column("at_latest", "moment", "", "when, at the latest: the end of the day where no time is stated", WHEN),
        Column("from_kind", "text", "", "cask, vessel, batch, lot, addition or elsewhere", WHENCE),
        Column("from_name", "text", "", "which", WHENCE),
        Column("from_filling", "text", "", "of a cask: the day of its filling", ("casks.filled_on",)),
        Column("to_kind", "text", "", "cask, vessel, batch, lot, sample or elsewhere", WHITHER),
        Column("to_name", "text", "", "which", WHITHER),
        Column("to_filling", "text", "", "of a cask: the day of its filling", ("casks.filled_on",)),
        Column("how", "text", "", "drawn, recask, heel, remainder, bottled, rework, ship …", ("movements.reason",)),
        Column("volume_20C_L", "float", "L", "litres at 20 °C; bottles by their size; missing: not stated", HOW_MUCH),
        Column("proof_gallons", "float", "proof gal", "unrounded; missing: not stated", HOW_MUCH),
        Column("lpa", "float", "L", "litres of pure alcohol; missing: not stated", HOW_MUCH),
        Column("bottles", "float", "", "bottles", ("bottlings.bottles", "removals.bottles", "removals.cases")),
        Column("doubt", "text", "", "why it is not sure that spirit went this way", ("briefs.vessel_empty",)),
    ),
)

LOTS = Frame(
    "lots",
    key=("lot",),
    meaning="each bottled lot: its runs, what left it, and what should be on hand",
    columns=(
        Column("lot", "text", "", "lot code; batch and day where none is stated", ("bottlings.lot_code",)),
        Column("coded", "bool", "", "whether the sheet states a lot code", ("bottlings.lot_code",)),
        Column("batches", "text", "", "batches it was bottled from", ("bottlings.batch",)),
        Column("first_on", "date", "", "first day of bottling", ("bottlings.bottled_on",)),
        Column("last_on", "date", "", "last day of bottling", ("bottlings.bottled_on",)),
        Column("bottles", "float", "", "bottles filled", ("bottlings.bottles",)),
        Column("removed", "float", "", "bottles that removals say left", ("removals.bottles", "removals.cases")),
        Column("returned", "float", "", "bottles that came back or were found", ("removals.bottles",)),
        Column("unsaid", "int", "", "removals that do not say how many bottles", ("removals.cases",)),
        Column("on_hand", "float", "", "filled, less removed, with what came back; missing where sheets do not say",
               ("bottlings.bottles", "removals.bottles")),
    ),
)  # fmt: skip
