"""Rulings: what reviewers send back, what follows, and when it lapses."""

from __future__ import annotations

import json
from typing import Any

import pytest

from pipeline.book.book import Book
from pipeline.runs.run import Result, rebuild
from tests.pipeline.kit import ROWS, Room, by_vessel, csv, finding, have, same_frames, xlsx

HOT = "C-1,2026-03-02,120,55,B-1"


def states(room: Room) -> list[list[str]]:
    """(ruling, state) of every ruling in history."""
    return [[ruling, state] for _, ruling, state, _ in json.loads(room.bytes()["history.json"])]


def ruled(result: Result, code: str, subject: str | None = None) -> str:
    said = finding(result, code, subject).ruling
    return said.ruling if said else ""


def test_accept_closes_the_finding_and_changes_no_figure(room: Room) -> None:
    """The figures stand, the finding is closed with who, when and why."""
    before = room.run(("lab.csv", csv(HOT, *ROWS[1:])))
    hot = finding(before, "toy.hot")
    assert hot.is_open
    result = room.rule(f"{hot.id};accept;;seen and fine;mb;2026-05-30")
    said = finding(result, "toy.hot").ruling
    assert said is not None
    assert (said.ruling, said.by, said.ruled_on, said.reason) == ("accept", "mb", "2026-05-30", "seen and fine")
    same_frames({"gauges": before.worked.frames["gauges"]}, {"gauges": result.worked.frames["gauges"]})
    assert states(room) == [["accept", "in force"]]


def test_void_leaves_the_facts_out(room: Room) -> None:
    """The row is gone from all frames, and its finding with it."""
    hot = finding(room.run(("lab.csv", csv(HOT, *ROWS[1:]))), "toy.hot")
    result = room.rule(f"{hot.id};void;;wrong cask;mb;2026-05-30")
    assert set(by_vessel(result)) == {"C-2", "C-3"}
    assert have(result, "toy.hot") == [] and states(room) == [["void", "in force"]]


def test_correct_supersedes_the_figure(room: Room) -> None:
    """The corrected figure counts, in the unit that the sheet stated; its place is the ruling's cell."""
    header = "Cask,Date,Reading,Temp (°F),Batch"
    hot = finding(room.run(("lab.csv", csv("C-1,2026-03-02,120,131,B-1", header=header))), "toy.hot")
    result = room.rule(f"{hot.id};correct;68;keyed in the other scale;mb;2026-05-30")
    assert by_vessel(result, "temperature_degC") == {"C-1": pytest.approx(20.0)}
    assert by_vessel(result, "temperature_unit") == {"C-1": "degF"}
    assert by_vessel(result, "corrected", "warm") == {"C-1": pytest.approx(100.0)}
    fact = result.worked.frames["gauges"]["facts"].iloc[0][0]
    assert str(result.worked.sources.place(fact, "temperature")) == "rulings.csv · C2"
    assert str(result.worked.sources.place(fact, "temperature_degC")) == "rulings.csv · C2"
    assert str(result.worked.sources.place(fact, "reading")) == "lab.csv · C2"
    assert have(result, "toy.hot") == [] and have(result, "sheet.row-corrected") == []
    assert states(room) == [["correct", "in force"]]


def test_a_corrected_value_may_state_its_own_unit(room: Room) -> None:
    """68 °F corrects a figure that was stated in °C."""
    hot = finding(room.run(("lab.csv", csv(HOT))), "toy.hot")
    result = room.rule(f"{hot.id};correct;68 °F;as read;mb;2026-05-30")
    assert by_vessel(result, "temperature_degC") == {"C-1": pytest.approx(20.0)}
    assert by_vessel(result, "temperature_unit") == {"C-1": "degF"}


def test_a_correction_that_is_still_wrong_keeps_the_finding(room: Room) -> None:
    """Corrected to another impossible figure: the finding has the same id and is closed by the ruling."""
    hot = finding(room.run(("lab.csv", csv(HOT))), "toy.hot")
    result = room.rule(f"{hot.id};correct;50;as read;mb;2026-05-30")
    again = finding(result, "toy.hot")
    assert again.id == hot.id and again.observed == "50.0"


def test_two_figures_of_one_row_are_corrected_one_after_the_other(room: Room) -> None:
    """Both corrections hold, in one file of rulings or in two."""
    both = ["C-1,2026-03-02,5,55,B-1"]
    result = room.run(("lab.csv", csv(*both)))
    hot, low = finding(result, "toy.hot"), finding(result, "toy.low")
    result = room.rule(f"{hot.id};correct;20;r;mb;2026-05-30", f"{low.id};correct;105;r;mb;2026-05-30")
    assert by_vessel(result) == {"C-1": 105.0} and by_vessel(result, "temperature_degC") == {"C-1": 20.0}


def test_corrections_of_one_row_in_two_files_of_rulings(room: Room) -> None:
    """The second correction builds on the first, and each figure's place is its own ruling."""
    result = room.run(("lab.csv", csv("C-1,2026-03-02,5,55,B-1")))
    hot, low = finding(result, "toy.hot"), finding(result, "toy.low")
    room.rule(f"{hot.id};correct;20;r;mb;2026-05-30", name="one.csv")
    result = room.rule(f"{low.id};correct;105;r;mb;2026-05-30", name="two.csv")
    assert by_vessel(result) == {"C-1": 105.0} and by_vessel(result, "temperature_degC") == {"C-1": 20.0}
    fact = result.worked.frames["gauges"]["facts"].iloc[0][0]
    assert result.worked.sources.place(fact, "reading").file == "two.csv"
    assert result.worked.sources.place(fact, "temperature").file == "one.csv"


def test_a_figure_is_corrected_again(room: Room) -> None:
    """The later ruling on a finding counts; the earlier is superseded."""
    hot = finding(room.run(("lab.csv", csv(HOT))), "toy.hot")
    room.rule(f"{hot.id};correct;20;r;mb;2026-05-30", name="one.csv")
    result = room.rule(f"{hot.id};correct;25;better;mb;2026-05-31", name="two.csv")
    assert by_vessel(result, "temperature_degC") == {"C-1": 25.0}
    assert states(room) == [["correct", "superseded by a later ruling"], ["correct", "in force"]]


def test_a_key_corrected_twice_leaves_no_double(room: Room) -> None:
    """A correction may change the key itself; the row as first stated never comes back."""
    rows = ["C-1,2026-03-02,120,20,B-1", "C-1,2026-03-02,125,20,B-1"]
    disputed = finding(room.run(("lab.csv", csv(*rows))), "sheet.key-disputed")
    room.rule(f"{disputed.id};correct;121;r;mb;2026-05-30", name="one.csv")
    result = room.rule(f"{disputed.id};correct;122;r;mb;2026-05-31", name="two.csv")
    assert result.worked.frames["gauges"]["reading"].tolist() == [122.0]


def test_void_after_correct(room: Room) -> None:
    """A row that was corrected and then left out is out, as corrected and as first stated."""
    hot = finding(room.run(("lab.csv", csv(HOT, *ROWS[1:]))), "toy.hot")
    room.rule(f"{hot.id};correct;20;r;mb;2026-05-30", name="one.csv")
    result = room.rule(f"{hot.id};void;;r;mb;2026-05-31", name="two.csv")
    assert set(by_vessel(result)) == {"C-2", "C-3"}
    assert states(room) == [["correct", "superseded by a later ruling"], ["void", "in force"]]


@pytest.mark.parametrize("order", [(0, 1), (1, 0)])
def test_a_row_left_out_by_one_finding_and_corrected_by_another_is_out(room: Room, order: tuple[int, int]) -> None:
    """Void and correct on two findings of one row, in either order: the row is out."""
    result = room.run(("lab.csv", csv("C-1,2026-03-02,5,55,B-1", *ROWS[1:])))
    hot, low = finding(result, "toy.hot"), finding(result, "toy.low")
    rows = [f"{hot.id};void;;r;mb;2026-05-30", f"{low.id};correct;105;r;mb;2026-05-30"]
    result = room.rule(*(rows[i] for i in order))
    assert set(by_vessel(result)) == {"C-2", "C-3"}


def test_accept_after_correct_restores_the_figure(room: Room) -> None:
    """The last ruling counts: the figure as first stated stands again."""
    hot = finding(room.run(("lab.csv", csv(HOT))), "toy.hot")
    room.rule(f"{hot.id};correct;20;r;mb;2026-05-30", name="one.csv")
    result = room.rule(f"{hot.id};accept;;it was hot;mb;2026-05-31", name="two.csv")
    assert by_vessel(result, "temperature_degC") == {"C-1": 55.0}
    assert ruled(result, "toy.hot") == "accept"


def test_accept_takes_back_one_of_two_corrections(room: Room) -> None:
    """Of two corrected figures one is accepted as first stated: only the other stays corrected."""
    result = room.run(("lab.csv", csv("C-1,2026-03-02,5,55,B-1")))
    hot, low = finding(result, "toy.hot"), finding(result, "toy.low")
    room.rule(f"{hot.id};correct;20;r;mb;2026-05-30", name="one.csv")
    room.rule(f"{low.id};correct;105;r;mb;2026-05-30", name="two.csv")
    result = room.rule(f"{hot.id};accept;;r;mb;2026-05-31", name="three.csv")
    assert by_vessel(result) == {"C-1": 105.0} and by_vessel(result, "temperature_degC") == {"C-1": 55.0}


def test_a_moment_is_corrected_whole(room: Room, monkeypatch: pytest.MonkeyPatch) -> None:
    """A corrected date-time has its time and its UTC; the finding is a dispute over it."""
    room.set_site('timezone = "America/New_York"\n')
    low = finding(room.run(("lab.csv", csv("C-1,2026-03-02,5,20,B-1"))), "toy.low")
    _speak_of(monkeypatch, low.id, "taken_at")
    result = room.rule(f"{low.id};correct;2026-03-03 09:40;r;mb;2026-05-30")
    frame = result.worked.frames["gauges"]
    assert str(frame["taken_at"].iloc[0]) == "2026-03-03 09:40:00"
    assert bool(frame["taken_at_timed"].iloc[0])
    assert str(frame["taken_at_utc"].iloc[0]) == "2026-03-03 14:40:00"


def _speak_of(monkeypatch: pytest.MonkeyPatch, name: str, column: str) -> None:
    """Let a known finding speak of another column, as another rule's finding would."""
    known = Book.known_finding

    def other(book: Book, asked: str) -> dict[str, Any] | None:
        about = known(book, asked)
        return about | {"column": column} if about and asked == name else about

    monkeypatch.setattr(Book, "known_finding", other)


# --- disputes -----------------------------------------------------------------------------------------


DISPUTED = ["C-1,2026-03-02,120,20,B-1", "C-1,2026-03-02,125,20,B-1"]


@pytest.mark.parametrize(("ruling", "reading"), [("accept", 120.0), ("void", 125.0)])
def test_a_dispute_is_ruled_on(room: Room, ruling: str, reading: float) -> None:
    """accept lets the first row count, void leaves it out so that the other does, as the remedy says."""
    disputed = finding(room.run(("lab.csv", csv(*DISPUTED))), "sheet.key-disputed")
    assert "accept to let row 2 count or void to leave it out" in disputed.remedy
    result = room.rule(f"{disputed.id};{ruling};;r;mb;2026-05-30")
    assert by_vessel(result) == {"C-1": reading}
    assert [f for f in have(result, "sheet.key-disputed") if f.is_open] == []


def test_the_id_of_a_dispute_does_not_depend_on_values(room: Room) -> None:
    """Other figures, other order of rows: the same finding."""
    made = []
    for rows in (DISPUTED, list(reversed(DISPUTED)), [DISPUTED[0], "C-1,2026-03-02,126,20,B-1"]):
        folder = room.inbox.parent / f"dispute {len(made)}"
        folder.mkdir()
        made.append(finding(Room(folder).run(("lab.csv", csv(*rows))), "sheet.key-disputed").id)
    assert len(set(made)) == 1


def test_ids_of_findings_do_not_depend_on_values_order_or_file(room: Room) -> None:
    """A rule's finding on the same cask and moment has one id, whatever was read and wherever it stands."""
    head = ["Date", "Cask", "Reading", "Temp (°F)"]
    files = [
        ("lab.csv", csv(HOT)),
        ("other.csv", csv(ROWS[1], "c-1,2026-03-02,99,45,B-7")),
        ("b.xlsx", xlsx({"S": [head, ["2026-03-02", "C-1", 120, 130]]})),
    ]
    made = set()
    for number, file in enumerate(files):
        folder = room.inbox.parent / f"ids {number}"
        folder.mkdir()
        made.add(finding(Room(folder).run(file), "toy.hot").id)
    assert len(made) == 1


# --- by whom ------------------------------------------------------------------------------------------


@pytest.mark.long
@pytest.mark.parametrize("apart", [False, True])
def test_of_two_reviewers_who_disagree_neither_counts(room: Room, apart: bool) -> None:
    """In one sheet or in two; a finding names both, history says so, and who withdraws ends it."""
    hot = finding(room.run(("lab.csv", csv(HOT))), "toy.hot")
    rows = [f"{hot.id};correct;20;r;Ann;2026-05-30", f"{hot.id};accept;;r;Ben;2026-05-30"]
    for number, some in enumerate([rows[:1], rows[1:]] if apart else [rows]):
        result = room.rule(*some, name=f"{number}.csv")
    said = finding(result, "ruling.reviewers-disagree")
    assert "Ann ruled correct 20 and Ben ruled accept" in said.message and said.severity == "review"
    assert finding(result, "toy.hot").is_open and by_vessel(result, "temperature_degC") == {"C-1": 55.0}
    assert [state.split(":")[0] for _, state in states(room)] == ["does not count", "does not count"]
    text = f"finding;ruling;reason;by;ruled_on;void\n{hot.id};accept;r;ben ;2026-05-30;yes\n"
    result = room.run(("withdraw.csv", text.encode()))
    assert have(result, "ruling.reviewers-disagree") == [] and by_vessel(result, "temperature_degC") == {"C-1": 20.0}


def test_two_spellings_of_a_name_are_one_reviewer(room: Room) -> None:
    """Case, spaces and Unicode forms: the later ruling of one person counts; a Cyrillic letter in a name counts not."""
    hot = finding(room.run(("lab.csv", csv(HOT))), "toy.hot")
    room.rule(f"{hot.id};correct;20;r;Ilsa  Voss;2026-05-30", name="one.csv")
    room.rule(f"{hot.id};void;;r;Ilsa V\u043ess;2026-05-31", name="three.csv")
    result = room.rule(f"{hot.id};accept;;r;\uff29lsa Voss\u200b;2026-05-31", name="two.csv")
    assert have(result, "ruling.reviewers-disagree") == [] and ruled(result, "toy.hot") == "accept"


def test_reviewers_who_agree_both_stand_with_the_finding(room: Room) -> None:
    """The same ruling of two persons counts, and names both."""
    hot = finding(room.run(("lab.csv", csv(HOT))), "toy.hot")
    room.rule(f"{hot.id};correct;20;r;Ann;2026-05-30", name="one.csv")
    result = room.rule(f"{hot.id};correct;20;r;Ben;2026-05-31", name="two.csv")
    assert by_vessel(result, "temperature_degC") == {"C-1": 20.0}
    assert states(room) == [["correct", "in force"], ["correct", "in force"]]


def test_a_ruling_that_lapsed_disagrees_with_nobody(room: Room) -> None:
    """A file that states the row again ends the first ruling; another person rules on what it says now."""
    hot = finding(room.run(("lab.csv", csv(HOT))), "toy.hot")
    room.rule(f"{hot.id};correct;20;r;Ann;2026-05-30", name="one.csv")
    room.run(("lab.csv", csv("C-1,2026-03-02,120,57,B-1")))
    result = room.rule(f"{hot.id};accept;;r;Ben;2026-05-31", name="two.csv")
    assert have(result, "ruling.reviewers-disagree") == [] and ruled(result, "toy.hot") == "accept"


# --- lapsing ------------------------------------------------------------------------------------------


def test_a_ruling_lapses_when_a_corrected_file_comes(room: Room) -> None:
    """A later fact for the row opens the finding again, and history says so."""
    hot = finding(room.run(("lab.csv", csv(HOT))), "toy.hot")
    room.rule(f"{hot.id};accept;;r;mb;2026-05-30")
    result = room.run(("lab.csv", csv("C-1,2026-03-02,120,57,B-1")))
    assert finding(result, "toy.hot").is_open and finding(result, "toy.hot").id == hot.id
    assert states(room) == [["accept", "lapsed: a fact it rests on came later"]]


def test_a_later_file_counts_over_a_correction(room: Room) -> None:
    """The corrected file comes after the ruling: the file's figure counts, the ruling has lapsed."""
    hot = finding(room.run(("lab.csv", csv(HOT))), "toy.hot")
    room.rule(f"{hot.id};correct;20;r;mb;2026-05-30")
    result = room.run(("lab.csv", csv("C-1,2026-03-02,120,22,B-1")))
    assert by_vessel(result, "temperature_degC") == {"C-1": 22.0}
    assert states(room) == [["correct", "lapsed: a fact it rests on came later"]]


def test_a_later_file_brings_back_a_row_that_was_left_out(room: Room) -> None:
    """A voided row that is stated anew counts."""
    hot = finding(room.run(("lab.csv", csv(HOT))), "toy.hot")
    room.rule(f"{hot.id};void;;r;mb;2026-05-30")
    result = room.run(("lab.csv", csv("C-1,2026-03-02,120,22,B-1")))
    assert by_vessel(result, "temperature_degC") == {"C-1": 22.0}
    assert states(room) == [["void", "lapsed: a fact it rests on came later"]]


def test_files_of_other_rows_lapse_nothing(room: Room) -> None:
    """A correction stays in force, and the book readable, when other rows come after it."""
    hot = finding(room.run(("lab.csv", csv(HOT))), "toy.hot")
    room.rule(f"{hot.id};correct;20;r;mb;2026-05-30")
    result = room.run(("lab 2.csv", csv(*ROWS[1:])))
    assert by_vessel(result, "temperature_degC") == {"C-1": 20.0, "C-2": 21.0, "C-3": 19.0}
    assert states(room) == [["correct", "in force"]]
    places = {line.split(",")[0]: line.split(",")[-1] for line in room.bytes()["warm.csv"].decode().splitlines()}
    assert (places["C-1"], places["C-2"], places["C-3"]) == ("lab.csv · C2", "lab 2.csv · C2", "lab 2.csv · C3")
    for facts in result.worked.frames["warm"]["facts"]:
        assert result.worked.sources.spot(facts[0]).kind == "gauges"


# --- what cannot be applied ---------------------------------------------------------------------------


@pytest.mark.long
@pytest.mark.parametrize(
    ("row", "code", "words"),
    [
        ("F-AAAAAAAAAA;accept;;r;mb;2026-05-30", "ruling.unknown-finding", "F-AAAAAAAAAA"),
        ("{hot};accept;;;mb;2026-05-30", "ruling.incomplete", "without reason"),
        ("{hot};accept;;r;;2026-05-30", "ruling.incomplete", "without by"),
        ("{hot};correct;;r;mb;2026-05-30", "ruling.incomplete", "without a corrected_value"),
        ("{hot};correct;warm;r;mb;2026-05-30", "ruling.value-not-usable", "'warm'"),
        ("{hot};correct;400;r;mb;2026-05-30", "ruling.value-not-usable", "above 60"),
        ("{hot};correct;20 K;r;mb;2026-05-30", "ruling.value-not-usable", "degC"),
        ("{row};void;;r;mb;2026-05-30", "ruling.nothing-to-change", "no row that was taken"),
        ("{row};correct;20;r;mb;2026-05-30", "ruling.nothing-to-change", "no row that was taken"),
    ],
)
def test_a_ruling_that_cannot_be_applied_is_a_finding(room: Room, row: str, code: str, words: str) -> None:
    """It names the row and why, changes nothing, and has its cell."""
    before = room.run(("lab.csv", csv(HOT, "C-2,soon,118,21,B-1")))
    names = {"hot": finding(before, "toy.hot").id, "row": finding(before, "sheet.unusable-row").id}
    result = room.rule(row.format(**names))
    said = finding(result, code)
    assert words in said.message and "Row 2" in said.message and said.severity == "note"
    assert str(said.place) == "rulings.csv · A2" and said.remedy
    assert by_vessel(result, "temperature_degC") == {"C-1": 55.0}
    assert finding(result, "toy.hot").is_open
    assert [state.split(":")[0] for _, state in states(room)] == ["refused"]


def test_a_ruling_of_an_unknown_word_is_a_row_not_taken(room: Room) -> None:
    """Only the words of the list rule; their other words are known."""
    hot = finding(room.run(("lab.csv", csv(HOT))), "toy.hot")
    result = room.rule(f"{hot.id};perhaps;;r;mb;2026-05-30")
    assert "accept, correct, void, release" in finding(result, "sheet.unusable-row").message
    result = room.rule(f"{hot.id};Stands;;r;mb;2026-05-30", name="two.csv")
    assert ruled(result, "toy.hot") == "accept"


def test_only_those_named_may_rule(room: Room) -> None:
    """site.toml names who may rule; case does not matter."""
    room.set_site('timezone = "UTC"\n[rulings]\nby = ["M. Blender"]\n')
    hot = finding(room.run(("lab.csv", csv(HOT))), "toy.hot")
    result = room.rule(f"{hot.id};accept;;r;someone;2026-05-30")
    said = finding(result, "ruling.not-entitled")
    assert "someone" in said.message and "M. Blender" in said.message and finding(result, "toy.hot").is_open
    result = room.rule(f"{hot.id};accept;;r;m. blender;2026-05-30", name="two.csv")
    assert ruled(result, "toy.hot") == "accept"


def test_ids_of_findings_are_taken_in_any_case(room: Room) -> None:
    """Keys compare without regard to case: f-… is F-…."""
    hot = finding(room.run(("lab.csv", csv(HOT))), "toy.hot")
    assert ruled(room.rule(f" {hot.id.lower()} ;accept;;r;mb;2026-05-30"), "toy.hot") == "accept"


def test_blank_rulings_are_no_rows_and_a_blank_day_is_that_of_taking(room: Room) -> None:
    """Reviewers send the whole workbook back; only filled rows count."""
    result = room.run(("lab.csv", csv(HOT, "C-9,2026-03-02,120,56,B-1")))
    one, other = have(result, "toy.hot")
    result = room.rule(f"{one.id};;;;;", f"{other.id};accept;;r;mb;")
    said = finding(result, "toy.hot", other.subject).ruling
    assert said is not None and said.ruled_on == "2026-06-01"
    assert finding(result, "toy.hot", one.subject).is_open
    empty = room.rule(f"{one.id};;;;;", name="empty.csv")
    assert empty.fates[0].outcome == "taken" and have(empty, "file.returned") == []


def test_rulings_on_files_taken_in_the_same_run(room: Room) -> None:
    """A ruling may speak of a finding that this very run makes."""
    folder = room.inbox.parent / "ahead"
    folder.mkdir()
    name = finding(Room(folder).run(("lab.csv", csv(HOT))), "toy.hot").id
    room.drop("a lab.csv", csv(HOT))
    result = room.rule(f"{name};accept;;r;mb;2026-05-30")
    assert ruled(result, "toy.hot") == "accept"


def test_unequal_rulings_on_one_finding_in_one_file_are_not_applied(room: Room) -> None:
    """Two rows with one key, unequal: neither counts, for rulings too."""
    hot = finding(room.run(("lab.csv", csv(HOT))), "toy.hot")
    result = room.rule(f"{hot.id};accept;;r;mb;2026-05-30", f"{hot.id};void;;r;mb;2026-05-30")
    assert have(result, "sheet.key-disputed")
    assert by_vessel(result) == {"C-1": 120.0} and finding(result, "toy.hot").is_open


def test_a_ruling_is_withdrawn_by_void(room: Room) -> None:
    """Any kind takes a column void: the ruling with that key no longer stands."""
    hot = finding(room.run(("lab.csv", csv(HOT))), "toy.hot")
    room.rule(f"{hot.id};void;;r;mb;2026-05-30")
    text = f"finding;ruling;reason;by;ruled_on;void\n{hot.id};void;r;mb;2026-05-30;yes\n"
    result = room.run(("withdraw.csv", text.encode()))
    assert by_vessel(result) == {"C-1": 120.0}


def test_a_release_is_known_to_reports(room: Room) -> None:
    """A release names a batch, not a finding."""
    room.run(("lab.csv", csv(*ROWS)))
    code = json.loads((room.out / "batches/B-1/record.json").read_bytes())["signing"]["code"]
    text = f"finding;ruling;reason;by;ruled_on;record\nb-1;release;all agreed;mb;2026-05-30;{code}\n"
    result = room.run(("release.csv", text.encode()))
    assert [signed.by for signed in result.run.releases["b-1"]] == ["mb"] and result.statuses["B-1"] == "released"
    assert states(room) == [["release", "in force"]]


def test_rulings_are_replayed_to_the_same_frames_and_findings(room: Room) -> None:
    """A rebuild gives the same figures, findings and history, refused rulings included."""
    result = room.run(("lab.csv", csv("C-1,2026-03-02,5,55,B-1", *ROWS[1:], "C-4,2026-03-02,4,20,B-2")))
    hot, low = finding(result, "toy.hot"), finding(result, "toy.low", "C-1")
    four = finding(result, "toy.low", "C-4")
    room.rule(f"{hot.id};correct;20;r;mb;2026-05-30", f"{four.id};void;;r;mb;2026-05-30", name="one.csv")
    room.rule(f"{low.id};correct;105;r;mb;2026-05-31", "F-AAAAAAAAAA;accept;;r;mb;2026-05-31", name="two.csv")
    last = room.run(("lab 2.csv", csv("C-9,2026-03-09,115,20,B-2")))
    before = room.bytes()
    again = rebuild(room.out, now=room.now)
    same_frames(last.worked.frames, again.worked.frames)
    assert room.bytes() == before and again.changed == 0


def refused(result: Result) -> list[Any]:
    return [f for f in result.worked.findings if f.code.startswith("ruling.")]


def test_a_refused_ruling_is_gone_when_its_file_is_mended(room: Room) -> None:
    """The finding on a refused ruling stands until the file comes again under its name."""
    hot = finding(room.run(("lab.csv", csv(HOT))), "toy.hot")
    assert len(refused(room.rule(f"{hot.id};accept;;;mb;2026-05-30"))) == 1
    assert refused(room.rule(f"{hot.id};accept;;r;mb;2026-05-30")) == []
