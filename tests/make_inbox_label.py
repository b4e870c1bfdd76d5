"""The words on the label of the third batch, as the designer of its European label sends them."""

from __future__ import annotations

from tests.make_inbox_sheets import Sheet, workbook
from tests.make_inbox_world import HOUSE

FRONT = "Oskerby\nSingle Malt Whisky\nAged 5 years\n46 % vol · 700 ml e"
BACK = (
    "Made slowly, in a valley where nobody hurries.\nHoney, orange peel and a little smoke.",
    "Distilled in Oskermark and rested in oak.",
    "Batch 26-30",
    f"Bottled by {HOUSE}",
)
"""The batch is 26-03: the slip that the label proof shows."""


def label() -> bytes:
    """A page a bottle: the front in one cell, the back a row a line; heads in the designer's language."""
    rows = [["B-26-03", "EU", "Vorderseite", "1", FRONT]]
    rows += [["B-26-03", "EU", "Rückseite", str(line), words] for line, words in enumerate(BACK, start=1)]
    return workbook(
        [Sheet("Texte", "Charge|Markt|Etikett|Zeile|Wortlaut".split("|"), rows, ["Oskerby Single Malt, EU"])]
    )
