"""What the cellar gives of the stock: tables, the inventory held against the book, accounts, lineage."""

from __future__ import annotations

from pipeline import Column, Frame
from plugins.cellar.declared.frames import CASK, FILLING

NOW = ("cask_contents.volume_20C_L", "cask_contents.lpa", "cask_contents.proof_gallons")

STOCK_TABLES = Frame(
    "stock_tables",
    key=("table", "level"),
    meaning="what lies in wood on the book date, by age, wood, fill, spirit, warehouse and owner",
    columns=(
        Column("table", "text", "", "age, wood, fill, spirit, warehouse or owner"),
        Column("place", "int", "", "place in its table", ("fillings_of_casks.filled_on",)),
        Column("level", "text", "", "which", ("casks.filled_on", "casks.species", "casks.wood_use", "casks.spirit")),
        Column("casks", "int", "", "casks", ("fillings_of_casks.cask",)),
        Column("without_volume", "int", "", "of these, casks whose volume nobody states", NOW),
        Column("volume_20C_L", "float", "L", "litres at 20 °C, reckoned to the book date", NOW),
        Column("lpa", "float", "L", "litres of pure alcohol, reckoned to the book date", NOW),
        Column(
            "lpa_low",
            "float",
            "L",
            "as if every cask held the lower end of its 95 % interval: what one and the same cause could do to all",
            NOW,
        ),
        Column("lpa_high", "float", "L", "as if every cask held the upper end", NOW),
        Column("proof_gallons", "float", "proof gal", "proof gallons, reckoned to the book date", NOW),
        Column("mean_age", "float", "years", "mean age, whole casks", ("fillings_of_casks.filled_on",)),
    ),
)

CHECKS = Frame(
    "stock_checks",
    key=("cask", "filling", "as_of"),
    meaning="the last inventory of each warehouse held against the book",
    columns=(
        CASK,
        FILLING,
        Column("as_of", "date", "", "day of the inventory", ("casks.as_of",)),
        Column("warehouse", "text", "", "warehouse", ("casks.location",)),
        Column("floor", "text", "", "floor", ("casks.location",)),
        Column("location", "text", "", "place", ("casks.location",)),
        Column(
            "verdict",
            "text",
            "",
            "agrees, missing, unknown, emptied, differs, or not compared",
            ("casks.cask", "components.emptied", "cask_histories.volume_20C_L"),
        ),
        Column("listed_L", "float", "L", "volume in the inventory", ("casks.volume_L",)),
        Column("book_L", "float", "L", "volume by the book that day", ("cask_histories.volume_20C_L",)),
        Column("book_low_L", "float", "L", "lower end of its 95 % interval", ("cask_histories.volume_20C_L",)),
        Column("book_high_L", "float", "L", "upper end of its 95 % interval", ("cask_histories.volume_20C_L",)),
        Column("apart", "float", "", "difference over its standard uncertainty", ("casks.volume_L",)),
        Column("why", "text", "", "what was compared, or why nothing could be", ("casks.volume_basis",)),
    ),
)

LINES = Frame(
    "account_lines",
    key=("line",),
    meaning="every line of the accounts: what came, went, was gauged or lost, rounded as the law rounds it",
    columns=(
        Column("line", "int", "", "number of the line, in order of time"),
        Column("month", "text", "", "month, such as 2026-02", ("account_lines.at",)),
        Column(
            "at",
            "moment",
            "",
            "when",
            ("casks.filled_on", "proofs.taken_at", "blends.drawn_at", "bottlings.bottled_on"),
        ),
        Column("account", "text", "", "in wood, or in vats"),
        Column("spirit", "text", "", "spirit, or product", ("casks.spirit", "briefs.product")),
        Column("owner", "text", "", "owner", ("casks.owner",)),
        Column("cask", "text", "", "cask, in wood", ("casks.cask",)),
        Column("batch", "text", "", "batch, in vats", ("components.batch",)),
        Column("vessel", "text", "", "vessel that holds no batch", ("movements.to", "components.component")),
        Column("entry", "text", "", "received, drawn, watered, bottled, lost, gained …"),
        Column("told", "text", "", "what happened, in words"),
        Column("basis", "text", "", "how the quantity was had", ("cask_histories.basis", "components.drawn_basis")),
        Column(
            "proof_gallons_official",
            "float",
            "proof gal",
            "to the nearest tenth, half up (27 CFR 30.51), + in and - out; a loss: the difference of such figures",
            ("account_lines.proof_gallons",),
        ),
        Column(
            "proof_gallons", "float", "proof gal", "unrounded", ("components.proof_gallons", "proofs.content_mass_kg")
        ),
        Column("lpa_rounded", "float", "L", "to the nearest tenth, half up (the house's rule)", ("account_lines.lpa",)),
        Column("lpa", "float", "L", "unrounded", ("components.lpa", "proofs.content_mass_kg")),
        Column("watered_L", "float", "L", "litres of water at 20 °C", ("components.volume_20C_L",)),
        Column(
            "gauged_official",
            "float",
            "proof gal",
            "content found by a gauge; no part of the sum",
            ("proofs.content_mass_kg",),
        ),
        Column(
            "bottles",
            "float",
            "",
            "of finished goods: bottles, + in and - out",
            ("bottlings.bottles", "removals.bottles"),
        ),
    ),
)

ACCOUNTS = Frame(
    "month_accounts",
    key=("month", "account", "spirit", "entry"),
    meaning="month totals of proof gallons and litres of pure alcohol; opening and entries make up what is on hand",
    columns=(
        Column("month", "text", "", "month, such as 2026-02", ("account_lines.month",)),
        Column("account", "text", "", "in wood, or in vats", ("account_lines.account",)),
        Column("spirit", "text", "", "spirit, or product", ("account_lines.spirit",)),
        Column("entry", "text", "", "opening, an entry, or on hand", ("account_lines.entry",)),
        Column("lines", "int", "", "lines it is the sum of", ("account_lines.line",)),
        Column(
            "proof_gallons_official",
            "float",
            "proof gal",
            "sum of rounded lines",
            ("account_lines.proof_gallons_official",),
        ),
        Column("proof_gallons", "float", "proof gal", "sum of unrounded lines", ("account_lines.proof_gallons",)),
        Column("lpa_rounded", "float", "L", "sum of rounded lines", ("account_lines.lpa_rounded",)),
        Column("lpa", "float", "L", "sum of unrounded lines", ("account_lines.lpa",)),
        Column("watered_L", "float", "L", "litres of water at 20 °C", ("account_lines.watered_L",)),
        Column(
            "gauged_official",
            "float",
            "proof gal",
            "gauges of the month; no part of the sum",
            ("account_lines.gauged_official",),
        ),
        Column("bottles", "float", "", "of finished goods: bottles", ("account_lines.bottles",)),
    ),
)

LINEAGES = Frame(
    "lineages",
    key=("batch", "number"),
    meaning="from a bottle's batch to its casks and their gauges, and from a cask to every batch it went into",
    columns=(
        Column("batch", "text", "", "batch", ("components.batch",)),
        Column("number", "int", "", "number of the row in its batch"),
        Column("component", "text", "", "line of the blend", ("blends.component",)),
        Column("drawn_at", "moment", "", "when it was drawn", ("blends.drawn_at",)),
        Column("cask", "text", "", "cask that the spirit lay in", ("stays.cask", "components.component")),
        Column("filling", "text", "", "its filling", ("fillings_of_casks.filling",)),
        Column("filled_on", "date", "", "day of that filling", ("casks.filled_on",)),
        Column("through", "text", "", "vessels and earlier batches on the way", ("stays.through",)),
        Column("lpa", "float", "L", "litres of pure alcohol of the line", ("components.lpa",)),
        Column("share_percent", "float", "%", "share of the line in the batch's pure alcohol", ("components.lpa",)),
        Column("gauge", "text", "", "figure that counts as its strength", ("components.strength_source",)),
        Column(
            "bottled",
            "text",
            "",
            "bottling runs and lot codes of the batch",
            ("bottlings.lot_code", "bottlings.bottled_on"),
        ),
        Column("doubt", "text", "", "what no sheet tells", ("stays.doubt",)),
    ),
)

BESIDE = Frame(
    "casks_beside",
    key=("cask",),
    meaning="the casks in order of their names, each with its neighbours",
    columns=(
        CASK,
        Column("before", "text", "", "the cask before it; missing at the start", ("casks.cask",)),
        Column("after", "text", "", "the cask after it; missing at the end", ("casks.cask",)),
    ),
)
