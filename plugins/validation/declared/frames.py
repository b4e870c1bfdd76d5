"""What the validation stages give: for every row looked at, what it was held against and the verdict."""

from __future__ import annotations

from pipeline import Column, Frame

HELD_AGAINST = ("proofs.proof_60F", "casks.proof", "casks.entry_proof")

READING_KEY = ("vessel", "taken_at", "instrument", "reading_no")
HELD = (
    Column("vessel", "text", "", "cask, tank or vat that was read", ("readings.vessel",)),
    Column("taken_at", "moment", "", "when it was read", ("readings.taken_at",)),
    Column("instrument", "text", "", "with what", ("readings.instrument",)),
    Column("reading_no", "text", "", "which of several", ("readings.reading_no",)),
    Column("previous_proof", "float", "proof", "last strength of the filling before this reading", HELD_AGAINST),
    Column("previous_on", "moment", "", "when that was", ("readings.taken_at", "casks.gauged_on", "casks.filled_on")),
    Column("previous_basis", "text", "", "gauge, inventory or entry", HELD_AGAINST),
    Column("change_proof", "float", "proof", "this reading less the previous", ("proofs.proof_60F", *HELD_AGAINST)),
    Column("days", "float", "d", "days since the previous", ("readings.taken_at",)),
    Column("other_proof", "float", "proof", "strength that the likely slip would give back", ("readings.reading",)),
    Column("verdict", "text", "", "what was found, in words", ("proofs.proof_60F", *HELD_AGAINST)),
)

DOUBTFUL_READINGS = Frame(
    "doubtful_readings", READING_KEY, HELD, "readings that do not fit the earlier gauges of their filling"
)
READING_CHECKS = Frame(
    "reading_checks", READING_KEY, HELD, "each reading held against the earlier gauges of the same filling"
)

CASK_CHECKS = Frame(
    "cask_checks",
    key=("cask", "filling", "as_of", "filled_on"),
    meaning="each inventory row held against itself and against earlier exports",
    columns=(
        Column("cask", "text", "", "cask", ("casks.cask",)),
        Column("filling", "text", "", "filling, where the export names it", ("casks.filling",)),
        Column("as_of", "date", "", "day that the row describes", ("casks.as_of",)),
        Column("filled_on", "date", "", "day of filling", ("casks.filled_on",)),
        Column("entry_proof_60F", "float", "proof", "entry strength as proof at 60 °F", ("casks.entry_proof",)),
        Column("proof_60F", "float", "proof", "strength as proof at 60 °F", ("casks.proof",)),
        Column(
            "fullness", "float", "1", "stated volume as a share of the capacity", ("casks.volume_L", "casks.capacity_L")
        ),
        Column("verdict", "text", "", "codes of what was found, separated by spaces", ("casks.filled_on",)),
    ),
)

BLEND_CHECKS = Frame(
    "blend_checks",
    key=("batch", "component", "drawn_at", "line"),
    meaning="each line of a blend sheet held against its plan and its brief",
    columns=(
        Column("batch", "text", "", "batch", ("blends.batch",)),
        Column("component", "text", "", "cask, vessel or addition", ("blends.component",)),
        Column("drawn_at", "moment", "", "when it was drawn", ("blends.drawn_at",)),
        Column("line", "text", "", "which of several", ("blends.line",)),
        Column(
            "planned_equals_drawn",
            "bool",
            "",
            "drawn volume is the planned one to the figure",
            ("blends.drawn_volume_L",),
        ),
        Column("has_brief", "bool", "", "whether the batch has a brief", ("briefs.batch",)),
        Column("verdict", "text", "", "codes of what was found, separated by spaces", ("blends.drawn_volume_L",)),
    ),
)
