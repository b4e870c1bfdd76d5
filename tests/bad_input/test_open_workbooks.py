"""Workbooks of the open format (.ods): read as the others are, with what they hide; bounded, and refused in words."""

from __future__ import annotations

import io
import random
import zipfile

import pytest

from pipeline.tables.open_workbooks import read_open_workbook
from pipeline.tables.tables import Limits, Unreadable
from tests.bad_input.kit import column, judged, said

SPACES = " ".join(
    f'xmlns:{name}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"' for name in ("office", "table", "text", "style")
)
STRUCK = (
    '<style:style style:name="ce1" style:family="table-cell"><style:text-properties '
    'style:text-line-through-style="solid"/></style:style>'
    '<style:style style:name="ta2" style:family="table"><style:table-properties table:display="false"/></style:style>'
)


def text(words: str, more: str = "") -> str:
    return f'<table:table-cell office:value-type="string" {more}><text:p>{words}</text:p></table:table-cell>'


def number(value: object, shown: str = "", kind: str = "float") -> str:
    said = f"<text:p>{shown or value}</text:p>"
    return f'<table:table-cell office:value-type="{kind}" office:value="{value}">{said}</table:table-cell>'


def day(stated: str) -> str:
    return (
        f'<table:table-cell office:value-type="date" office:date-value="{stated}"><text:p>x</text:p></table:table-cell>'
    )


def row(*cells: str, more: str = "") -> str:
    return f"<table:table-row {more}>{''.join(cells)}</table:table-row>"


HEAD = row(*map(text, ("Cask", "Date", "Observed Proof", "Temp (°F)", "Volume (gal)")))
ONE = (text("C-1"), day("2026-03-02T09:40:00"), number(120.0), number(68.0), number(50.0))


def ods(
    *rows: str,
    styles: str = STRUCK,
    after: str = "",
    columns: str = "",
    content: str = "",
    strength: str = "Observed Proof",
) -> bytes:
    head = HEAD.replace("Observed Proof", strength)
    table = f'<table:table table:name="Lab">{columns}{head}{"".join(rows)}</table:table>{after}'
    content = content or (
        f'<?xml version="1.0"?><office:document-content {SPACES}><office:automatic-styles>{styles}'
        f"</office:automatic-styles><office:body><office:spreadsheet>{table}</office:spreadsheet></office:body>"
        "</office:document-content>"
    )
    raw = io.BytesIO()
    with zipfile.ZipFile(raw, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        packed.writestr("content.xml", content)
    return raw.getvalue()


REST = '<table:table-cell table:number-columns-repeated="16379"/>'
BLANKS = row('<table:table-cell table:number-columns-repeated="16384"/>', more='table:number-rows-repeated="1048570"')


def test_an_open_workbook_is_read_as_any_other() -> None:
    """Names, moments and figures are those of the cells; a million blank rows behind them are none."""
    second = (text("C-2"), day("2026-03-03"), number(121.0), number("68", "68 °F"), number(51.0))
    made = judged("a.ods", ods(row(*ONE, REST), row(*second, REST), BLANKS))
    assert column(made, "vessel") == ["C-1", "C-2"] and said(made) == []
    assert column(made, "taken_at") == ["2026-03-02T09:40:00", "2026-03-03"]
    assert column(made, "temperature_degC") == pytest.approx([20.0, 20.0])


def test_what_an_open_workbook_hides_or_strikes_out_is_said() -> None:
    """Rows that are hidden, filtered out, folded away or have a line through them are told, not taken."""

    def of(cask: str, more: str = "", line: str = "") -> str:
        return row(text(cask, line), *ONE[1:], more=more)

    rows = [
        of("C-1"),
        of("C-2", 'table:visibility="collapse"'),
        of("C-3", 'table:visibility="filter"'),
        of("C-4", line='table:style-name="ce1"'),
        f'<table:table-row-group table:display="false">{of("C-5")}</table:table-row-group>',
    ]
    hidden = '<table:table table:name="Old" table:style-name="ta2">' + HEAD + row(*ONE) + "</table:table>"
    made = judged("a.ods", ods(*rows, after=hidden))
    assert column(made, "vessel") == ["C-1"]
    told = " ".join(finding.message for finding in said(made))
    assert "C-2, C-3, C-5" in told and "C-4" in told and "'Old' is hidden" in told


def test_percent_cells_merged_names_and_comments() -> None:
    """A percent cell is what it shows, a merged name is that of each row, and a comment is no part of its cell."""
    comment = "<office:annotation><text:p>look</text:p></office:annotation>"
    first = text("C-1", 'table:number-rows-spanned="2"').replace("<text:p>", f"{comment}<text:p>", 1)
    rows = [
        row(first, ONE[1], number(0.62, "62%", "percentage"), *ONE[3:]),
        row("<table:covered-table-cell/>", day("2026-03-03"), number(0.61, "61%", "percentage"), *ONE[3:]),
    ]
    made = judged("a.ods", ods(*rows, strength="ABV"))
    assert column(made, "vessel") == ["C-1", "C-1"] and said(made) == []
    assert column(made, "reading") == pytest.approx([62.0, 61.0]) and column(made, "reading_unit") == ["%vol"] * 2


def test_a_formula_without_a_value_is_asked_about() -> None:
    """Neither a formula that was never calculated nor an error is read as a figure."""
    never = '<table:table-cell table:formula="of:=1+1"/>'
    wrong = text("#DIV/0!", 'table:formula="of:=1/0"')
    made = judged("a.ods", ods(row(*ONE), row(text("C-2"), *ONE[1:4], never), row(text("C-3"), *ONE[1:4], wrong)))
    assert column(made, "vessel") == ["C-1"] and [fault.place.cell for fault in said(made)] == ["E3", "E4"]


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (ods(row(*ONE, more='table:number-rows-repeated="1048570"')), "cells and"),
        (ods(row(*ONE, text("x", 'table:number-columns-repeated="16000"'))), "columns are taken"),
        (ods(content='<?xml version="1.0"?><!DOCTYPE a [<!ENTITY b "c">]><a>&b;</a>'), "document type"),
        (ods(row(*ONE))[:400], "not copied whole"),
        (b"Cask,Date\n", "holds plain text"),
    ],
)
def test_open_workbooks_that_are_returned(data: bytes, words: str) -> None:
    """What is too large, damaged or something else comes back with what to do."""
    made = judged("a.ods", data)
    assert made.returned and words in made.reason and made.remedy.endswith(".")


def test_damaged_open_workbooks_are_unreadable_and_nothing_else() -> None:
    """XML changed at random is read or refused in words; no other error comes out."""
    whole, chance, refused = zipfile.ZipFile(io.BytesIO(ods(row(*ONE)))).read("content.xml"), random.Random(20), 0
    for _ in range(150):
        data = bytearray(whole)
        for _ in range(chance.randint(1, 4)):
            data[chance.randrange(len(data))] = chance.randrange(256)
        raw = io.BytesIO()
        with zipfile.ZipFile(raw, "w") as packed:
            packed.writestr("content.xml", bytes(data))
        try:
            read_open_workbook(raw.getvalue(), Limits())
        except Unreadable as error:
            assert error.remedy
            refused += 1
    assert refused > 0
