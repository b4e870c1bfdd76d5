"""The sheet of finished goods: what became of bottled lots."""

from __future__ import annotations

from pipeline import SheetColumn, SheetKind

CAUSES = (
    ("ship", ("shipped", "sold", "dispatch", "despatch", "tax paid", "taxpaid", "duty paid", "delivery", "out")),
    ("export", ("exported", "for export", "without payment of tax")),
    ("in bond", ("transfer in bond", "under bond", "bond transfer", "to bonded premises", "duty suspended")),
    ("sample", ("samples", "trade sample", "laboratory sample")),
    ("breakage", ("broken", "breakages", "leakage")),
    ("destroy", ("destroyed", "destruction")),
    ("lost", ("missing", "stolen", "theft", "loss", "shortage")),
    ("rework", ("reworked", "dumped back", "dump back", "dump for rework", "back to tank")),
    ("return", ("returned", "customer return", "returned goods", "back in stock")),
    ("overage", ("found", "surplus", "over")),
)
BACK = ("return", "overage")
"""Causes by which goods come in."""

REMOVALS = SheetKind(
    "removals",
    key=("removed_on", "lot_code", "cause", "line"),
    meaning="bottled goods of a lot that left the finished stock, or came back into it",
    looks_like="a list of removals from the finished goods",
    dates="removed_on",
    measured=True,
    columns=(
        SheetColumn(
            "removed_on",
            "date",
            required=True,
            past=True,
            words="date; removed; date removed; removal date; shipped on; date shipped; left on; despatched on",
            example="2026-04-08",
        ),
        SheetColumn(
            "lot_code",
            "name",
            required=True,
            words="lot; lot no; lot number; lot id; bottle code; lot code removed",
            example="L6091A",
        ),
        SheetColumn(
            "cause",
            "choice",
            required=True,
            choices=CAUSES,
            words="reason; removal cause; kind of removal; cause of removal; disposition; removed for; why",
            example="ship",
        ),
        SheetColumn("batch", "name", words="batch id; from batch"),
        SheetColumn(
            "bottle_size",
            "number",
            quantity="volume",
            unit="L",
            low=0.0,
            default_unit="mL",
            words="size; bottle ml=mL; size ml=mL; size cl=cL; bottle cl=cL; format; bottle volume",
        ),
        SheetColumn("cases", "count", low=0.0, words="case count; full cases; no of cases; number of cases; cs"),
        SheetColumn("bottles_per_case", "count", low=0.0, words="per case; case size; pack; bottles case"),
        SheetColumn(
            "bottles", "count", low=0.0, words="bottle count; number of bottles; no of bottles; loose bottles"
        ),
        SheetColumn("case_serials", "text", words="case serial numbers; case numbers; serials; case no"),
        SheetColumn("recipient", "text", words="to; customer; consignee; sent to; delivered to; account of"),
        SheetColumn("into", "name", words="into vessel; into tank; reworked into; dumped into; to vessel; to tank"),
        SheetColumn("place", "text", words="place of destruction; where destroyed"),
        SheetColumn("manner", "text", words="manner of destruction; how destroyed"),
        SheetColumn("witness", "text", words="witnessed by; seen by; in presence of"),
        SheetColumn("reference", "text", words="order; invoice; delivery note; document; bill; order no; invoice no"),
        SheetColumn("line", "name", words="line no; entry no; seq; row no"),
        SheetColumn("by", "text", words="signed; initials; done by; operator"),
        SheetColumn("remark", "text", words="remarks; note; notes; comment; comments"),
    ),
)  # fmt: skip
