"""Returned cards through the whole path: what counts, and every way in which a card can be wrong."""

from __future__ import annotations

from datetime import date
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook

from pipeline import Finding
from pipeline.runs.run import Result
from plugins.bench.cards.card import Asked, Recipe, plan_card
from plugins.bench.cards.card_workbook import card_bytes
from plugins.bench.cards.measure import Bench
from tests.proposals.sheets import Cellar, brief, cask, inventory

STRENGTHS = {"C-01": 60.0, "C-02": 55.0, "C-03": 58.0}
TASTERS = ("Ada", "Ben", "Cleo")


@pytest.fixture
def cellar(tmp_path: Path) -> Cellar:
    room = Cellar(tmp_path)
    (room.inbox / "casks.csv").write_bytes(inventory(*(cask(name) for name in STRENGTHS)))
    return room


class Card:
    """A card's workbook to be filled in: cells by page, row and header."""

    def __init__(self) -> None:
        made = [
            Recipe("T-1", {"C-01": 6.0, "C-02": 3.0, "C-03": 1.0}, STRENGTHS),
            Recipe("T-2", {"C-01": 1.0, "C-02": 1.0}, STRENGTHS),
            Recipe("T-3", {"C-01": 1.0}, STRENGTHS, "best single"),
        ]
        self.plan = plan_card(Asked("F-1", "B-9", TASTERS, ("smoke_peat",)), made, Bench())
        self.book: Any = load_workbook(BytesIO(card_bytes(self.plan)))
        for row in self.rows("Pour"):
            self.put("Pour", row, Made_at=date(2026, 3, 1), Made_by="Orsel")

    def heads(self, page: str) -> tuple[int, dict[str, int]]:
        sheet = self.book[page]
        for row in range(1, 12):
            found = {str(sheet.cell(row, at).value): at for at in range(1, sheet.max_column + 1)}
            if "Trial" in found or "Taster" in found:
                return row, found
        raise AssertionError(page)

    def rows(self, page: str) -> range:
        return range(self.heads(page)[0] + 1, self.book[page].max_row + 1)

    def at(self, page: str, row: int, head: str) -> Any:
        return self.book[page].cell(row, self.heads(page)[1][head]).value

    def put(self, page: str, row: int, **values: Any) -> None:
        for head, value in values.items():
            self.book[page].cell(row, self.heads(page)[1][head.replace("_", " ")]).value = value

    def judged(self, *tasters: str, day: date = date(2026, 3, 2), turn: int = 0) -> Card:
        """Places by trial (T-2 first), a score, a figure and words, for the tasters named."""
        trial_of = {glass["code"]: glass["trial"] for glass in self.plan["glasses"]}
        best = ["T-2", "T-1", "T-3"][turn:] + ["T-2", "T-1", "T-3"][:turn]
        for row in self.rows("Tasting"):
            if self.at("Tasting", row, "Taster") in tasters:
                trial = trial_of[self.at("Tasting", row, "Code")]
                place = best.index(trial) + 1
                nose = {"Ada": "honey, smoke", "Ben": "pear, smoke"}.get(self.at("Tasting", row, "Taster"), "peat")
                self.put("Tasting", row, Date=day, Place=place, Score=9 - place, Smoke_peat=place, Nose=nose)
        return self

    def row_of(self, taster: str, code: str) -> int:
        page = "Tasting"
        return next(
            r for r in self.rows(page) if self.at(page, r, "Taster") == taster and self.at(page, r, "Code") == code
        )

    def drop(self, cellar: Cellar, name: str = "card.xlsx") -> Result:
        made = BytesIO()
        self.book.save(made)
        (cellar.inbox / name).write_bytes(made.getvalue())
        return cellar.run()

    def code(self, trial: str, role: str = "trial") -> str:
        return str(next(g["code"] for g in self.plan["glasses"] if g["trial"] == trial and g["role"] == role))


def found(result: Result, code: str) -> list[Finding]:
    return [finding for finding in result.worked.findings if finding.code == code]


def bench_codes(result: Result) -> set[str]:
    return {
        f.code for f in result.worked.findings if f.code.startswith(("bench.", "sheet.unusable", "tasting.unknown"))
    }


def test_a_filled_card_is_taken_whole(cellar: Cellar) -> None:
    """Places, scores and shares come out as they went in; the duplicate is a blind replicate of its trial."""
    card = Card().judged(*TASTERS)
    result = card.drop(cellar)
    frames = result.worked.frames
    assert bench_codes(result) == set()
    choices = frames["choices"]
    assert len(choices) == 12 and choices["complete"].all()
    assert (choices[choices["trial"] == "T-2"]["place"] == 1.0).all()
    parts = frames["trial_parts"]
    assert parts[parts["trial"] == "T-1"].set_index("component")["share_alcohol"].to_dict() == pytest.approx(
        {"C-01": 0.6, "C-02": 0.3, "C-03": 0.1}, abs=0.005
    )
    assert parts["measurable"].all() and parts["as_now"].all()
    tasted = frames["tasted"]
    own = tasted[tasted["session"] == "F-1"]
    assert len(own) == 12 and own["blind"].all()
    assert set(own[own["sample"] == "T-1"]["replicate"]) == {card.code("T-1"), card.code("T-1", "duplicate")}
    profile = frames["profiles"]
    assert "smoke_peat" in set(profile[profile["sample"] == "T-2"]["family"])
    scores = frames["scores"].set_index("sample")["mean_score"]
    assert scores["T-2"] > scores["T-1"] > scores["T-3"]


@pytest.mark.long
def test_totals_that_the_parts_do_not_add_up_to(cellar: Cellar) -> None:
    """A part poured otherwise than the total says is told with both figures and its cell."""
    card = Card().judged(*TASTERS)
    row = card.rows("Pour")[0]
    was = card.at("Pour", row, "ml")
    card.put("Pour", row, ml=was + 5.0)
    result = card.drop(cellar)
    told = found(result, "bench.total-differs")
    assert len(told) == 1 and told[0].severity == "review" and told[0].place.sheet == "Pour"
    assert f"{card.at('Pour', row, 'Total ml'):g} ml" in told[0].message


@pytest.mark.long
def test_a_code_that_was_never_given_out(cellar: Cellar) -> None:
    """The row does not count, and the one code left without a line is offered."""
    card = Card().judged(*TASTERS)
    wanted = card.code("T-2")
    card.put("Tasting", card.row_of("Ben", wanted), Code="99")
    result = card.drop(cellar)
    told = found(result, "bench.unknown-code")
    assert len(told) == 1 and wanted in told[0].message and told[0].batch == "B-9"
    assert told[0].place.cell.startswith("D")
    assert len(result.worked.frames["choices"]) == 11
    assert [f.observed for f in found(result, "bench.half-filled")] == ["3 glasses"]
    mended = Card().judged(*TASTERS).drop(cellar, "again.xlsx")
    assert [f.severity for f in found(mended, "bench.unknown-code")] == ["note"]
    assert len(mended.worked.frames["choices"]) == 12 and found(mended, "bench.half-filled") == []


@pytest.mark.long
def test_a_code_missing_from_the_key_is_one_finding(cellar: Cellar) -> None:
    """Three tasters who judged a glass that the page Glasses leaves out are told of together."""
    card = Card().judged(*TASTERS)
    card.book["Glasses"].delete_rows(card.rows("Glasses")[-1])
    told = found(card.drop(cellar), "bench.unknown-code")
    assert len(told) == 1 and all(name in told[0].message for name in TASTERS) and len(told[0].facts) == 3


@pytest.mark.long
def test_a_card_returned_half_filled(cellar: Cellar) -> None:
    """Who judged some glasses is named with the codes left, who judged none did not taste; a later card mends it."""
    card = Card().judged("Ada", "Ben")
    left = card.code("T-3", "best single")
    card.put("Tasting", card.row_of("Ada", left), Place=None, Score=None)
    result = card.drop(cellar)
    told = found(result, "bench.half-filled")
    assert len(told) == 1 and left in told[0].message and "3 of the 4" in told[0].message
    assert told[0].place.sheet == "Tasting" and told[0].place.cell.startswith("F")
    assert "Cleo" in found(result, "bench.nothing-said")[0].message
    assert not result.worked.frames["choices"].set_index("taster")["complete"]["Ada"].any()
    whole = Card().judged("Ada", "Ben", "Cleo").drop(cellar, "card_again.xlsx")
    assert bench_codes(whole) == set() and len(whole.worked.frames["choices"]) == 12


@pytest.mark.long
def test_a_taster_who_tasted_twice_counts_once(cellar: Cellar) -> None:
    """Two days with different places: one finding, and the first day counts; equal words on two days are no finding."""
    Card().judged(*TASTERS).drop(cellar)
    result = Card().judged("Ada", day=date(2026, 3, 9), turn=1).drop(cellar, "again.xlsx")
    told = found(result, "bench.tasted-twice")
    assert len(told) == 1 and "2026-03-02 and 2026-03-09" in told[0].message
    choices = result.worked.frames["choices"]
    mine = choices[(choices["taster"] == "Ada") & (choices["trial"] == "T-2")]
    assert len(mine) == 1 and mine["place"].iloc[0] == 1.0
    assert len(choices) == 12


@pytest.mark.long
def test_one_taster_under_two_spellings_is_one(cellar: Cellar) -> None:
    """Case and spaces make no second taster."""
    Card().judged("Ada").drop(cellar)
    card = Card().judged("Ada", day=date(2026, 3, 9), turn=1)
    for row in card.rows("Tasting"):
        if card.at("Tasting", row, "Taster") == "Ada":
            card.put("Tasting", row, Taster=" ADA ")
    assert len(found(card.drop(cellar, "again.xlsx"), "bench.tasted-twice")) == 1


@pytest.mark.long
def test_one_taster_under_two_names_is_asked_about(cellar: Cellar) -> None:
    """A card dropped again with another name on the same words asks; others' own words do not."""
    card = Card().judged("Ada", "Ben")
    card.drop(cellar)
    for row in card.rows("Tasting"):
        if card.at("Tasting", row, "Taster") == "Ada":
            card.put("Tasting", row, Taster="Adah")
    told = found(card.drop(cellar, "again.xlsx"), "bench.two-names")
    assert [finding.observed for finding in told] == ["Ada and Adah"]


@pytest.mark.long
def test_parts_too_small_to_measure(cellar: Cellar) -> None:
    """A part under ten steps is named with what half a step is of it."""
    card = Card()
    row = card.rows("Pour")[2]
    total = card.at("Pour", row, "Total ml") - card.at("Pour", row, "ml") + 0.5
    for line in list(card.rows("Pour"))[:3]:
        card.put("Pour", line, Total_ml=total)
    card.put("Pour", row, ml=0.5)
    told = found(card.judged(*TASTERS).drop(cellar), "bench.part-too-small")
    assert len(told) == 1 and "0.5 ml" in told[0].message and "10 %" in told[0].message


@pytest.mark.long
def test_a_cask_since_refilled_or_emptied(cellar: Cellar) -> None:
    """A trial of what a cask no longer holds cannot be poured: refilled, and dumped for another batch."""
    Card().judged(*TASTERS).drop(cellar)
    anew = inventory(cask("C-02", as_of="2026-05-01", filled_on="2026-04-01", gauged_on="2026-04-01"))
    blend = b"batch,component,drawn_volume,drawn_proof,drawn_at,emptied\nB-8,C-01,180 L,120,2026-04-20,yes\n"
    result = cellar.run(later=anew, dumped=blend)
    told = {finding.subject: finding for finding in found(result, "bench.cask-changed")}
    assert set(told) == {"T-1", "T-2", "T-3"}
    assert "C-02" in told["T-1"].message and "filled anew on 2026-04-01" in told["T-1"].message
    assert "C-01 was emptied on 2026-04-20" in told["T-3"].message
    parts = result.worked.frames["trial_parts"].set_index(["trial", "component"])["as_now"]
    assert not parts["T-1", "C-02"] and parts["T-1", "C-03"]


@pytest.mark.long
def test_a_bottle_holds_what_its_cask_held_when_it_was_drawn(cellar: Cellar) -> None:
    """A trial made of a register's bottle today is of the filling of the day on which the bottle was drawn."""
    register = b"sample,source,drawn_on\nS-1,C-02,2026-01-15\n"
    trial = b"trial,batch,component,ml,strength,made_at\n"
    trial += b"T-7,B-9,S-1,20,55 %vol,2026-05-20\nT-7,B-9,C-01,20,60 %vol,2026-05-20\n"
    anew = inventory(cask("C-02", as_of="2026-05-01", filled_on="2026-04-01", gauged_on="2026-04-01"))
    result = cellar.run(register=register, trial=trial, later=anew)
    told = found(result, "bench.cask-changed")
    assert len(told) == 1 and "S-1 was emptied" in told[0].message
    parts = result.worked.frames["trial_parts"].set_index("component")
    assert parts["filling"]["S-1"] == "C-02 2015-03-01" and parts["as_now"]["C-01"]


@pytest.mark.long
def test_a_batch_that_was_poured_is_not_nagged(cellar: Cellar) -> None:
    """Once the trial's own batch is drawn, emptied casks are as they should be."""
    Card().judged(*TASTERS).drop(cellar)
    blend = b"batch,component,drawn_volume,drawn_proof,drawn_at,emptied\nB-9,C-01,180 L,120,2026-04-20,yes\n"
    assert found(cellar.run(dumped=blend), "bench.cask-changed") == []


@pytest.mark.long
def test_tasters_pages_without_the_key(cellar: Cellar) -> None:
    """Codes of a flight whose key nobody dropped cannot be resolved, and say so once; the key mends it."""
    card = Card().judged(*TASTERS)
    whole = BytesIO()
    card.book.save(whole)
    del card.book["Pour"], card.book["Glasses"]
    result = card.drop(cellar, "pages.xlsx")
    assert len(found(result, "bench.no-key")) == 1 and len(result.worked.frames["choices"]) == 0
    (cellar.inbox / "card.xlsx").write_bytes(whole.getvalue())
    mended = cellar.run()
    assert bench_codes(mended) == set() and len(mended.worked.frames["choices"]) == 12


@pytest.mark.long
def test_a_glass_of_an_unknown_trial_and_an_impossible_place(cellar: Cellar) -> None:
    """A key that names a trial nobody described, and a seventh place among four glasses, are told."""
    card = Card().judged(*TASTERS)
    card.put("Glasses", card.rows("Glasses")[0], Trial="T-77")
    card.put("Tasting", card.rows("Tasting")[0], Place=7)
    result = card.drop(cellar)
    assert "T-77" in found(result, "bench.glass-without-trial")[0].message
    assert found(result, "bench.impossible-place")[0].observed == "7"


@pytest.mark.long
def test_who_poured_and_tasted_was_not_blind(cellar: Cellar) -> None:
    """The maker of the trials among the tasters is a note; a flight without a duplicate another."""
    card = Card().judged(*TASTERS)
    for row in card.rows("Pour"):
        card.put("Pour", row, Made_by="ben")
    double = next(r for r in card.rows("Glasses") if card.at("Glasses", r, "Role") == "duplicate")
    card.book["Glasses"].delete_rows(double)
    result = card.drop(cellar)
    assert "Ben" in found(result, "bench.made-and-tasted")[0].message
    assert len(found(result, "bench.no-duplicate")) == 1


@pytest.mark.long
def test_trials_that_nobody_says_were_made(cellar: Cellar) -> None:
    """A pour page filled in for some trials only names the others."""
    card = Card().judged(*TASTERS)
    for row in card.rows("Pour"):
        if card.at("Pour", row, "Trial") == "T-2":
            card.put("Pour", row, Made_at=None, Made_by=None)
    told = found(card.drop(cellar), "bench.not-said-made")
    assert len(told) == 1 and "T-2" in told[0].message and "T-1" not in told[0].message


@pytest.mark.long
def test_an_empty_card_says_only_that_nothing_was_said(cellar: Cellar) -> None:
    """The blank card dropped by mistake is no tasting, and nothing of it counts."""
    card = Card()
    result = card.drop(cellar)
    assert bench_codes(result) == {"bench.nothing-said"}
    assert len(result.worked.frames["choices"]) == 0 and len(result.worked.frames["tasted"]) == 0


@pytest.mark.long
def test_from_brief_to_card_to_tasting(tmp_path: Path) -> None:
    """The card of a brief's proposals, filled in and dropped, comes back as a flight of that batch."""
    cellar = Cellar(tmp_path)
    cellar.stocked(brief=brief())
    path = cellar.out / "proposals" / "B-1" / "bench_card.xlsx"
    book = load_workbook(BytesIO(path.read_bytes()))
    before = path.read_bytes()
    sheet = book["Tasting"]
    top = next(row for row in range(1, 12) if sheet.cell(row, 1).value == "Flight")
    heads = {sheet.cell(top, at).value: at for at in range(1, sheet.max_column + 1)}
    for at, row in enumerate(range(top + 1, sheet.max_row + 1)):
        sheet.cell(row, heads["Score"]).value = 5 + at % 4
        sheet.cell(row, heads["Date"]).value = date(2026, 5, 2)
    made = BytesIO()
    book.save(made)
    (cellar.inbox / "back.xlsx").write_bytes(made.getvalue())
    result = cellar.run()
    fate = next(fate for fate in result.fates if fate.name == "back.xlsx")
    assert fate.outcome == "taken" and fate.kinds == "trials, bench_glasses, bench_choices"
    choices = result.worked.frames["choices"]
    assert set(choices["batch"]) == {"B-1"} and set(choices["taster"]) == {"Ada", "Bo"}
    assert (choices.groupby("taster")["code"].nunique() == len(result.worked.frames["glasses"])).all()
    assert path.read_bytes() == before  # issued once: what came back changes nothing on it
    needs = result.worked.frames["bench_needs"]
    assert (needs["needed_ml"] > 0.0).all()


@pytest.mark.long
def test_a_brief_like_another_asks_for_the_difference_from_it(tmp_path: Path) -> None:
    """The standard stands in the flight under a code; differences come back by taster and glass."""
    cellar = Cellar(tmp_path)
    cellar.stocked(brief=brief(target="like C-03"))
    book = load_workbook(BytesIO((cellar.out / "proposals" / "B-1" / "bench_card.xlsx").read_bytes()))
    sheet = book["Tasting"]
    top = next(row for row in range(1, 12) if sheet.cell(row, 1).value == "Flight")
    heads = {sheet.cell(top, at).value: at for at in range(1, sheet.max_column + 1)}
    for row in range(top + 1, sheet.max_row + 1):
        sheet.cell(row, heads["Difference"]).value = row % 3
    made = BytesIO()
    book.save(made)
    (cellar.inbox / "back.xlsx").write_bytes(made.getvalue())
    frames = cellar.run().worked.frames
    assert "standard" in set(frames["glasses"]["role"])
    choices = frames["choices"]
    assert choices["difference"].notna().all() and choices["complete"].all()
    assert set(choices[choices["role"] == "standard"]["taster"]) == {"Ada", "Bo"}
