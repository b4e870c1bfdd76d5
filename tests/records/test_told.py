"""What is told beside the status: accepted claims, rulings, all batches of a finding, files, and what failed."""

from __future__ import annotations

import csv
import io
import json
import re
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook

from pipeline.book.fates import Fate, settled_by
from pipeline.book.rulings import HistoryLine
from pipeline.common.codes import in_groups
from pipeline.contract.findings import Ruling
from pipeline.sheets.found import NotRecognised
from pipeline.sheets.recognise import recognise
from pipeline.sheets.rulings_sheet import RULINGS
from pipeline.sheets.units import UnitTable
from pipeline.tables.readers import read_tables
from pipeline.tables.tables import Limits
from plugins.records import plugin, reports
from plugins.records.pages import page_index
from plugins.records.record import words
from tests.records.fake import World, crowd, finding, world

STYLE = Path(plugin.__file__).parent / "pages" / "templates" / "style.css"


@pytest.fixture
def made() -> World:
    return world()


def record_page(made: World, batch: str) -> str:
    return made.call(reports.record_html, batch, record=made.records()).decode("utf-8")


def index_page(made: World) -> str:
    return made.call(reports.index_html, record=made.records()).decode("utf-8")


def sheets(made: World, batch: str) -> Any:
    return load_workbook(io.BytesIO(made.call(reports.record_xlsx, batch, record=made.records())))


def review(made: World) -> list[dict[str, Any]]:
    sheet = load_workbook(io.BytesIO(made.call(reports.open_xlsx, record=made.records()))).worksheets[0]
    top = next(row for row in range(1, 20) if sheet.cell(row, 1).value == "finding")
    names = [cell.value for cell in sheet[top]]
    return [dict(zip(names, row, strict=True)) for row in sheet.iter_rows(min_row=top + 1, values_only=True)]


def cells_of(sheet: Any) -> list[Any]:
    return [cell.value for row in sheet.iter_rows() for cell in row if cell.value is not None]


def corrected(subject: str, **rest: Any) -> HistoryLine:
    """A correction whose finding is gone."""
    ruled = Ruling("correct", "Read in °C.", "M. Orrin", "2026-03-20", "63.5 °F", number=50)
    return HistoryLine(
        "F-BBBBBBBBBB",
        "reading.temperature-other-scale",
        subject,
        "Taken at 17.5 °F.",
        ruled,
        "lab book p. 4",
        "in force",
        rest.get("file", "open.xlsx"),
    )


# --- one figure, one number -------------------------------------------------------------------------


def test_proof_gallons_are_one_number_on_a_page(made: World) -> None:
    """Where the law's rounding differs, pages show the unrounded figure to 0.1, the official one once and labelled."""
    balances: Any = made.frames["balances"]
    found = (balances["batch"] == "B-26-01") & balances["entry"].isin(["drawn", "gauged"])
    made.frames["balances"] = balances.assign(
        proof_gallons=balances["proof_gallons"].mask(found, 531.537),
        proof_gallons_official=balances["proof_gallons_official"].mask(found, 531.3),
    )
    page = record_page(made, "B-26-01")
    screen, paper = page.split('<section class="paper"')
    assert screen.count("531.3") == 1 and screen.count("531.5") >= 3
    assert paper.count("531.3") == 1 and f"{words.OFFICIAL}: <b>531.3</b>" in paper
    assert f"Proof gallons of the gauge, {words.OFFICIAL}:</span> <b>531.3</b>" in page
    assert words.WHY_OFFICIAL in page
    assert "531.5 proof gallons" in index_page(made) and "531.3" not in index_page(made)
    book = sheets(made, "B-26-01")
    assert cells_of(book["Balance"]).count(531.3) == 1 and cells_of(book["Balance"]).count(531.537) == 2
    assert any(words.OFFICIAL in str(value) for value in cells_of(book["Balance"]))
    assert cells_of(book["Summary"]).count(531.3) == 1


def test_no_gauge_has_no_official_figure(made: World) -> None:
    """What is drawn or expected only has no official figure on the page or in the workbook."""
    assert words.OFFICIAL not in record_page(made, "B-26-04")
    assert not any(words.OFFICIAL in str(value) for sheet in sheets(made, "B-26-04") for value in cells_of(sheet))


def test_plus_minus_is_the_standard_uncertainty_everywhere(made: World) -> None:
    """The gauge's ± beside the picture is that of the table; the band drawn is twice as wide to either side."""
    page = record_page(made, "B-26-01")
    picture, table = page.split("<h3>Entries</h3>")
    assert "± 0.09" in picture and "± 0.09" in table and "± 0.18" not in page
    assert "the band is twice ± to either side" in page
    gauged = made.record("B-26-01")["balance"]["gauged"]["proof_60F"]
    ends = re.findall(r"<span>([\d.]+)</span>", page[page.index('class="ends"') :])
    low, high = float(ends[0]), float(ends[1])
    left, width = map(float, re.findall(r'class="interval gauged" x="([\d.]+)" width="([\d.]+)"', page)[0])
    assert width / 1000 * (high - low) == pytest.approx(4 * 0.09, abs=0.02)
    assert low + (left + width / 2) / 1000 * (high - low) == pytest.approx(gauged, abs=0.02)


def test_an_entry_has_one_colour_in_every_picture() -> None:
    """No rule of the style sheet gives the close-up's band of an entry another colour than its bar."""
    style = STYLE.read_text(encoding="utf-8")
    filled = re.findall(r"svg ([^{,]+?) \{ fill: ([^;]+);", style)
    for name in ("expected", "gauged", "bottled"):
        assert [colour for rule, colour in filled if rule == f".{name}"], name
        assert not [rule for rule, _ in filled if "interval" in rule and name in rule]
    assert ".interval" not in [rule for rule, _ in filled]


# --- all batches of a finding -----------------------------------------------------------------------


def test_a_finding_names_every_batch_whose_record_carries_it(made: World) -> None:
    """A stop on a cask that names no batch stands under its batches in the workbook, both tables and the first page."""
    made.findings = [
        finding("a.cask", "stop", "A cask of one batch.", subject="C-0203"),
        finding("a.shared", "stop", "A row that two batches use.", subject="x.csv", facts=(1003, 2003)),
        finding("a.none", "stop", "Of no batch."),
        finding("a.undrawn", "review", "A brief only.", batch="B-26-99"),
    ]
    wanted = {"a.cask": "B-26-02", "a.shared": "B-26-01, B-26-02", "a.none": "", "a.undrawn": "B-26-99"}
    records = made.records()
    assert {line["code"]: line["batch"] or "" for line in review(made) if line["severity"] != "release"} == wanted
    lines = csv.DictReader(io.StringIO(made.call(reports.open_csv, record=records).decode("utf-8")))
    assert {line["code"]: line["batch"] for line in lines} == wanted
    data = json.loads(made.call(reports.open_json, record=records))["findings"]
    assert {found["code"]: found["batch"] or "" for found in data} == wanted
    assert next(found["batches"] for found in data if found["code"] == "a.shared") == ["B-26-01", "B-26-02"]
    page = index_page(made)
    assert re.search(r'batches <a href="[^"]+B-26-01/[^"]+">B-26-01</a>, <a href="[^"]+">B-26-02</a>', page)
    assert re.search(r'A cask of one batch.*?batch <a href="[^"]+">B-26-02</a>', page, re.S)


# --- claims that the status hides --------------------------------------------------------------------


def test_a_claim_not_met_stands_beside_a_status_that_hides_it(made: World) -> None:
    """Record, first page, summary and the row to release it say that a claim is not met where no finding does."""
    made.findings = []
    assert made.record("B-26-01")["status"] == "reconciled"
    said = "1 label claim not met"
    for page in (record_page(made, "B-26-01"), index_page(made)):
        assert re.search(rf'class="warns is-not-met"><svg[^>]*><use href="#m-not-met"/></svg>{said}<', page)
    assert any(said in str(value) for value in cells_of(sheets(made, "B-26-01")["Summary"]))
    assert next(line["message"] for line in review(made) if line["finding"] == "B-26-01").startswith(f"{said}. ")


# --- releases ---------------------------------------------------------------------------------------


def test_the_code_of_the_record_stands_on_page_and_workbook(made: World) -> None:
    """In groups of four, beside the status."""
    code = in_groups(made.record("B-26-01")["signing"]["code"])
    assert re.fullmatch(r"1:([0-9a-f]{4} ){5}[0-9a-f]{4}", code)
    assert f">{code}</code>" in record_page(made, "B-26-01")
    assert code in cells_of(sheets(made, "B-26-01")["Summary"])


def test_a_release_is_printed_with_its_meaning_and_both_days(made: World) -> None:
    """Page, summary and sheet: name, day signed, moment of taking, meaning, and that one person did it."""
    said = "Released for bottling and sale by M. Orrin (one person), signed 2026-02-11, taken 2026-02-11 10:15 UTC"
    assert said in record_page(made, "B-25-11")
    assert any(said in str(value) for value in cells_of(sheets(made, "B-25-11")["Summary"]))
    told = cells_of(sheets(made, "B-25-11")["Releases"])
    assert "released for bottling and sale" in told and "one person" in told and "in force" in told
    assert "Releases" not in sheets(made, "B-26-01").sheetnames


def test_released_against_the_verdict_is_printed_first(made: World) -> None:
    """Page and first page begin with it, and it is never called released alone."""
    stop = finding("label.not-met", "stop", "Not met.", subject="B-26-01 · US · straight", batch="B-26-01")
    made.findings = [replace(stop, of_law=True)]
    assert made.record("B-26-01")["status"] == "held"
    for by in ("Ilse", "Tam"):
        word, document = "release against the verdict", ("opinion.pdf", "a" * 64)
        made.sign("B-26-01", word, by, section="27 CFR 5.143", document=document)
    assert made.record("B-26-01")["status"] == "released against the verdict"
    for page in (record_page(made, "B-26-01"), index_page(made)):
        first = page[page.index("<header>") : page.index("<dl" if "<dl" in page else 'class="tally"')]
        assert "Released against the verdict" in first and "27 CFR 5.143" in first and "opinion.pdf" in first
        assert first.index("Released against the verdict") < first.index("27 CFR 5.143")
        assert 'is-released"' not in page[: page.index("<main")]
    assert "release" not in [line["severity"] for line in review(made) if line["finding"] == "B-26-01"]


def test_a_corrected_figure_has_both_values_beside_it(made: World) -> None:
    """In JSON, page and workbook, beside the component and the gauge: stated, corrected, who, when, why, evidence."""
    about = {
        **{"column": "reading", "original": "18.2 proof", "corrected_value": "64.8", "place": "lab.csv · C9"},
        **{"by": "Ilse", "ruled_on": "2026-03-20", "reason": "Digits swapped.", "evidence": "lab book p. 4"},
        **{"finding": "F-CCCCCCCCCC", "cell": "C2"},
    }
    record = made.record("B-26-01")
    components, balances = made.frames["components"], made.frames["balances"]
    assert components is not None and balances is not None
    gauge = balances[(balances["batch"] == "B-26-01") & (balances["entry"] == "gauged")]["facts"].iloc[0][-1]
    made.sources.corrected = {gauge: [(50, about)]}
    gauged = made.record("B-26-01")["balance"]["gauged"]
    assert record["balance"]["gauged"]["corrected"] == []
    assert gauged["corrected"][0]["original"] == "18.2 proof" and gauged["corrected"][0]["corrected"] == "64.8"
    said = "Corrected: reading 18.2 proof → 64.8, by Ilse on 2026-03-20, taken 2026-03-21 09:30 UTC: Digits swapped."
    assert f"{said} Evidence: lab book p. 4." in record_page(made, "B-26-01")
    assert any(said in str(value) for value in cells_of(sheets(made, "B-26-01")["Balance"]))


def test_refused_rulings_need_no_ruling_and_are_told(made: World) -> None:
    """They stand on the first page, apart from what is to be settled."""
    made.findings = [finding("ruling.verdict-of-law", "note", "Row 2 accepts F-X.", subject="r.csv", remedy="Do this.")]
    page = index_page(made)
    part = page[page.index("Rulings that were refused") :]
    assert "Row 2 accepts F-X." in part and "Do this." in part
    assert "No other stop or review finding is open." in page  # a file came back


def test_a_lapsed_release_comes_first(made: World) -> None:
    """Before every other stop of the first page."""
    made.findings.append(finding("record.release-lapsed", "stop", "Z-9 counts no longer as released.", batch="Z-9"))
    page = index_page(made)
    says = re.findall(r'<p class="says">([^<]*)', page)
    assert says[0] == "Z-9 counts no longer as released."


# --- rulings ----------------------------------------------------------------------------------------


def test_a_correction_whose_finding_is_gone_stands_in_the_record(made: World) -> None:
    """Page and workbook tell of a corrected figure: value, who, when, why, evidence, state and file."""
    made.run.history = [corrected("C-0209")]
    page = record_page(made, "B-26-02")
    part = page[page.index('id="rulings"') : page.index('id="sources"')]
    values = ("63.5 °F", "M. Orrin", "2026-03-20", "Read in °C.", "lab book p. 4", "in force", "open.xlsx", "C-0209")
    assert all(value in part for value in values)
    told = [str(value) for value in cells_of(sheets(made, "B-26-02")["Rulings"])]
    assert all(any(value in cell for cell in told) for value in values)
    assert 'id="rulings"' not in record_page(made, "B-26-01")
    assert "None." in cells_of(sheets(made, "B-26-01")["Rulings"])


def test_rulings_are_told_where_they_concern_the_batch(made: World) -> None:
    """By component, by the batch, by a claim of it, by its finding or its release, and on no other record."""
    carried = made.record("B-25-11")["findings"][0]["id"]
    release = replace(corrected("b-25-11"), finding="b-25-11", code="release")
    made.run.history = [
        corrected("C-0088"),
        corrected("B-25-11"),
        corrected("B-25-11 · US · straight"),
        replace(corrected("other.csv"), finding=carried),
        release,
    ]
    count = {batch: record_page(made, batch).count("reading.temperature-other-scale") for batch in made.batches()}
    assert count["B-25-11"] == 4 and sum(count.values()) == 4
    assert "<code>release</code>" in record_page(made, "B-25-11")


@pytest.mark.long
def test_a_ruling_on_a_vat_counts_where_the_record_rests_on_it(made: World) -> None:
    """A vat serves many batches: a corrected gauge is told where the ruling's file is among the sources."""
    balances: Any = made.frames["balances"]
    made.frames["balances"] = balances.assign(vessel=(balances["entry"] == "gauged").map({True: "V-3", False: None}))
    made.run.history = [corrected("V-3", file="Blend sheet 2.csv")]
    told = [batch for batch in made.batches() if 'id="rulings"' in record_page(made, batch)]
    assert told == ["B-26-02"]


def test_the_sheet_of_rulings_is_not_taken_for_rulings(made: World) -> None:
    """A record's workbook that lands in the inbox rules on nothing."""
    made.run.history = [corrected("C-0209")]
    pages = read_tables("r.xlsx", made.call(reports.record_xlsx, "B-26-02", record=made.records()), Limits())
    (table,) = [page for page in pages if page.sheet == "Rulings"]
    with pytest.raises(NotRecognised):
        recognise(table, [RULINGS], UnitTable(()))


# --- files ------------------------------------------------------------------------------------------


def _settled(files: list[Fate]) -> list[Fate]:
    """The files as a run tells of them: of each the later one that settles it."""
    by = settled_by([asdict(file) for file in sorted(files, key=lambda file: file.number)])
    return [replace(file, settled=by.get(file.number, 0)) for file in files]


def test_a_file_mended_since_is_not_returned_unread(made: World) -> None:
    """A returned file whose name was taken later is listed as mended, once, and the counts say so."""
    twice = Fate("Holiday list.xlsx", "returned", 45, "e" * 64, "2026-03-20T16:41:00Z", reason="No rows.")
    mended = Fate("holiday list.xlsx", "taken", 46, "f" * 64, "2026-03-20T16:42:00Z", kinds="casks", rows=1)
    seen = page_index.files(_settled([*made.run.files, twice]))
    assert [file["reason"] for file in seen["returned"]] == ["No rows."] and seen["mended"] == []
    seen = page_index.files(_settled([*made.run.files, twice, mended]))
    assert seen["returned"] == [] and [file["taken_at"] for file in seen["mended"]] == [mended.taken_at]
    assert seen["counted_files"] == ["4 files taken", "0 returned unread", "1 mended since"]
    made.run.files = _settled([*made.run.files, twice, mended])
    page = index_page(made)
    assert "Returned, and mended since" in page and "Files that came back" not in page
    assert "returned unread</a>" not in page


def test_a_file_returned_again_is_returned(made: World) -> None:
    """A name that was taken once and then returned is returned unread."""
    again = Fate("stock march.csv", "returned", 45, "e" * 64, "2026-03-20T16:41:00Z", reason="No rows.")
    assert [file["name"] for file in page_index.files([*made.run.files, again])["returned"]] == [
        "stock march.csv",
        "holiday list.xlsx",
    ]


def test_files_are_counted_by_name_and_rulings_apart(made: World) -> None:
    """A file dropped anew counts once, a workbook of rulings not among the files, and both are said."""
    anew = replace(made.run.files[0], number=45)
    ruled = [
        Fate("open.xlsx", "taken", number, "e" * 64, "2026-03-20T16:41:00Z", kinds="rulings") for number in (46, 47)
    ]
    assert page_index.files([*made.run.files, anew, *ruled])["counted_files"] == [
        "3 files taken",
        "once anew under the same name",
        "rulings taken 2 times",
        "1 returned unread",
    ]


# --- the rest ---------------------------------------------------------------------------------------


def test_what_failed_stands_at_the_top_of_every_page(made: World) -> None:
    """Left-out plugins, failed steps and what hangs on them are said in words above all else, on every record too."""
    made.run.problems.append("Plugin hazes was left out: no module named haze.")
    made.run.missing.update(balances="balances", losses="balances", label_facts="balances", ages="ages")
    wanted = (
        "Plugin hazes was left out",
        "Because balances could not be worked out, these were left out: label facts and losses.",
    )
    for page in (index_page(made), *(record_page(made, batch) for batch in made.batches())):
        assert all(0 < page.find(said) < page.index('<main id="main">') for said in wanted)
        parts = page.split('<section class="paper"')  # what is printed says it, too
        assert [part.count("could not be worked out, these") for part in parts] == [1] * len(parts)
    told = cells_of(sheets(made, "B-26-01")["Summary"])
    assert all(any(said in str(value) for value in told[:5]) for said in wanted)
    made.run.problems, made.run.missing = [], {}
    assert 'class="problem"' not in record_page(made, "B-26-01")


def test_overviews_are_made_where_no_batch_could_be_worked_out(made: World) -> None:
    """Without components no document or overview is left out; the page says why it shows no batch and no brief."""
    needs = {need.name for item in plugin.reports() if not item.per for need in item.needs if not need.optional}
    assert "components" not in needs | {need.name for need in reports.batch_record.needs if not need.optional}
    made.run.missing["components"] = "components"
    text = made.call(reports.index_html, record={}).decode()
    assert "No batch could be worked out, because a step failed" in text
    assert "nothing is drawn yet" not in text and "Nothing has been drawn" not in text


def test_a_failed_step_makes_the_first_page_ask_for_a_person(made: World) -> None:
    """With a step failed the page is not calm, even if no finding is open."""
    empty = World({"components": None}, [], replace(made.run, files=[], missing={"losses": "balances"}), site=made.site)
    assert "Nothing waits for you" not in empty.call(reports.index_html, record={}).decode()


def test_a_misfit_is_said_in_plain_words(made: World) -> None:
    """The misfit is told as times the uncertainty, with what is chance; no z and no misfit on any page."""
    assert words.misses(0.0, -15.48).startswith(
        "Taken singly, the account misses by 0.0 times its uncertainty in mass and 15.5 times"
    )
    assert "up to 2 is chance" in words.misses(None, 3.0) and "mass" not in words.misses(None, 3.0)
    assert words.misses(None, None) == ""
    page = record_page(made, "B-26-02")
    assert "9.6 times its uncertainty in alcohol; up to 2 is chance" in page and "isfit" not in page
    assert not any("isfit" in str(value) for sheet in sheets(made, "B-26-02") for value in cells_of(sheet))


def test_no_count_of_one_has_a_plural(made: World) -> None:
    """A page never says 1 of something in the plural."""
    made.run.files = made.run.files[:1]
    pages = [index_page(made), *(record_page(made, batch) for batch in made.batches())]
    for page in pages:
        text = re.sub(r"<[^>]+>", "", re.sub(r"<style>.*?</style>", "", page, flags=re.S))
        assert not re.search(
            r"(?<![\d.,])1 (files|rows|findings|claims|notes|components|casks|tasters|times|batches)\b", text
        )


def test_titles_of_sheets_two_pages_wide_stand_clear_of_the_repeated_column(made: World) -> None:
    """Where print repeats the first column nothing stands in it above the header; else a title is cut off on page 2."""
    review_book = load_workbook(io.BytesIO(made.call(reports.open_xlsx, record=made.records())))
    wide = [sheet for sheet in (*review_book, *sheets(made, "B-26-01")) if sheet.print_title_cols]
    assert [sheet.title for sheet in wide] == ["Rulings", "Components"]
    for sheet in wide:
        top = int(re.findall(r"\d+", sheet.print_title_rows)[0])
        assert [sheet.cell(row, 1).value for row in range(1, top)] == [None] * (top - 1)
        assert sheet.cell(1, 2).value


def test_rows_are_no_taller_than_their_text_wants(made: World) -> None:
    """A short finding has a row of one or two lines; a long one grows, up to what a row may be."""
    made.findings = [
        finding("a.short", "stop", "Short."),
        finding("a.long", "stop", "Some words about a cask. " * 20),
    ]
    sheet = load_workbook(io.BytesIO(made.call(reports.open_xlsx, record=made.records()))).worksheets[0]
    height = {sheet.cell(row, 5).value: sheet.row_dimensions[row].height for row in range(1, sheet.max_row + 1)}
    assert height["Short."] <= 20
    long = next(high for said, high in height.items() if said and said.startswith("Some words"))
    assert 15 * 8 <= long <= 15 * 10 + 2


@pytest.mark.long
def test_many_findings_take_no_long_time(made: World) -> None:
    """All batches of each of 3,000 findings are found in one pass over the records."""
    many = crowd(made, 5, 3000)
    assert len(review(many)) == 3000 + 6 + 1 + 5
