"""The sheet of a label's words at the door: heads and panels in several languages, keys, odd files."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from pipeline.sheets.keys import natural_keys
from pipeline.site.house import build_house
from tests.pipeline.kit import column, judged, said, xlsx

HOUSE = build_house("", Path())
HEADS = [
    ("Batch", "Market", "Panel", "Line", "Words"), ("Batch No.", "Destination", "Label panel", "No.", "Label text"),
    ("Charge", "Markt", "Etikett", "Zeile", "Wortlaut"), ("Numéro de lot", "Marché", "Étiquette", "Ligne", "Texte"),
    ("Lote", "Mercado", "Etiqueta", "Línea", "Texto"), ("Partita", "Mercato", "Etichetta", "Riga", "Testo"),
]  # fmt: skip
ROW = ("B-1", "EU", "Front", "1", "Single Malt Whisky\n43 % vol")


@pytest.mark.parametrize("heads", HEADS, ids=[heads[0] for heads in HEADS])
@pytest.mark.parametrize("name", ["a.csv", "a.xlsx"])
def test_heads_in_several_languages(heads: tuple[str, ...], name: str) -> None:
    """A designer's table is known by its heads, whatever the file is called, and its words keep their lines."""
    item = judged(HOUSE, name, _file(name, heads, ROW))
    assert [rows.kind.name for rows in item.sheets] == ["label_text"]
    assert (column(item, "batch"), column(item, "market"), column(item, "panel")) == (["B-1"], ["EU"], ["front"])
    assert column(item, "words") == ["Single Malt Whisky\n43 % vol"]
    assert not [finding for finding in said(item) if finding.severity != "note"]


@pytest.mark.parametrize(
    ("written", "kept"),
    [("front", "front"), ("Vorderseite", "front"), ("recto", "front"), ("anverso", "front"), ("BACK LABEL", "back"),
     ("Rückseite", "back"), ("contre-étiquette", "back"), ("verso", "back"), ("neck", "neck"), ("côté", "side")],
)  # fmt: skip
def test_panels_in_several_languages(written: str, kept: str) -> None:
    """The side of the bottle goes by its words."""
    item = judged(HOUSE, "a.csv", _file("a.csv", HEADS[0], ("B-1", "EU", written, "1", "x")))
    assert column(item, "panel") == [kept]


def test_an_unknown_panel_is_named_with_its_cell() -> None:
    """A row whose panel nobody knows is not taken; the others are."""
    rows = (("B-1", "EU", "lid", "1", "x"), ROW)
    item = judged(HOUSE, "a.xlsx", _file("a.xlsx", HEADS[0], *rows))
    (finding,) = [finding for finding in said(item) if finding.code == "sheet.unusable-row"]
    assert "lid" in finding.message and finding.place.cell == "C2"
    assert column(item, "panel") == ["front"]


def test_rows_without_a_line_are_told_apart_by_their_words() -> None:
    """Two rows of one panel without a number are two rows; a repeated one is the same row."""
    heads = ("Batch", "Market", "Panel", "Words")
    rows = [("B-1", "EU", "front", words) for words in ("One", "Two", "One")]
    (sheet,) = judged(HOUSE, "a.csv", _file("a.csv", heads, *rows)).sheets
    keys = natural_keys(sheet.kind, sheet.values, len(sheet.rows))
    assert keys[0] == keys[2] != keys[1]


def test_words_are_text_whatever_they_look_like() -> None:
    """A figure, a formula's text and a leading plus stay the words that they are."""
    rows = [("B-1", "EU", "front", str(n), words) for n, words in enumerate(("0070", "+43 % vol", "=1+1"))]
    assert column(judged(HOUSE, "a.csv", _file("a.csv", HEADS[0], *rows)), "words") == ["0070", "+43 % vol", "=1+1"]


def test_a_row_without_words_is_not_taken() -> None:
    """The words themselves must be there."""
    item = judged(HOUSE, "a.csv", _file("a.csv", HEADS[0], ("B-1", "EU", "front", "1", ""), ROW))
    assert [finding.code for finding in said(item) if finding.severity != "note"] == ["sheet.unusable-row"]


def _file(name: str, *rows: tuple[Any, ...]) -> bytes:
    if name.endswith("xlsx"):
        return xlsx({"Words": [list(row) for row in rows]})
    quoted = [",".join('"' + str(cell).replace('"', '""') + '"' for cell in row) for row in rows]
    return ("\n".join(quoted) + "\n").encode()
