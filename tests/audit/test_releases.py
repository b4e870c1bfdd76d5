"""What a release is bound to, who may sign it, and that no ruling bends a verdict of law.

E13 and the like are experiments on the project as it was: what one person could do then, and what is said now.
"""

from __future__ import annotations

import hashlib
import json
import shutil
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook

from pipeline.common.codes import in_groups
from pipeline.runs.backup import back_up
from pipeline.runs.run import rebuild
from pipeline.runs.run import run as run_once
from pipeline.runs.verifying import verify_outputs
from tests.audit.room import READINGS, SITE, Room, simple_batch, vat_gauge

COLUMNS = "finding,ruling,corrected_value,evidence,reason,by,ruled_on,record,section"
TWO = SITE + '[rulings]\nby = ["Ann Sorley", "Ben Orrick"]\n'
ONE = SITE + '[rulings]\nby = ["Ann Sorley"]\n'


class House(Room):
    """A room in which people rule and release."""

    def sign(self, name: str, *rows: dict[str, str]) -> None:
        """Drop a sheet of rulings and run."""
        wanted = COLUMNS.split(",")
        filled = [{"reason": "seen", "by": "Ann Sorley"} | row for row in rows]
        self.table(name, COLUMNS, [[row.get(column, "") for column in wanted] for row in filled])
        self.run()

    def release(self, name: str, **row: str) -> None:
        self.sign(name, {"finding": "B1", "ruling": "release", "record": self.code()} | row)

    def code(self) -> str:
        return str(self.record("B1")["signing"]["code"])

    def status(self) -> str:
        return str(self.record("B1")["status"])

    def refused(self, code: str) -> str:
        """What is said of the one ruling that was refused so; the history has it, too."""
        (found,) = self.open(code)
        assert found["severity"] == "note"
        assert f"refused: {found['message']}" in [line["state"] for line in self.csv("exceptions/history.csv")]
        return str(found["message"])


def house(folder: Path, site: str = SITE, **batch: Any) -> House:
    made = House(folder, site)
    simple_batch(made, **batch)
    made.run()
    return made


@pytest.fixture
def sound(tmp_path: Path) -> House:
    """A house that lists nobody, with a reconciled batch."""
    return house(tmp_path)


def test_the_record_as_signed_is_kept_and_named(sound: House) -> None:
    """JSON, page and workbook of the version signed lie under signed/, come back when lost, and are named later."""
    before = {path.name: path.read_bytes() for path in (sound.out / "batches/B1").glob("record.*")}
    code = sound.code()
    sound.release("r.csv")
    record = sound.record("B1")
    assert record["status"] == "released" and record["signing"]["code"] == code
    (signed,) = record["releases"]
    assert signed["meaning"] == "released for bottling and sale" and signed["persons"] == "one person"
    assert (signed["by"], signed["signed_on"]) == ("Ann Sorley", "2026-06-01")
    assert signed["taken_at"] == "2026-06-01T12:00:00Z"
    for path, digest in signed["files"].items():
        lying = sound.out / "batches/B1/signed" / f"1-{Path(path).name}"
        assert lying.read_bytes() == before[Path(path).name]
        assert hashlib.sha256(lying.read_bytes()).hexdigest() == digest
        lying.unlink()
    sound.table("later.csv", READINGS, [vat_gauge(120.2)])
    sound.run()
    assert len(list((sound.out / "batches/B1/signed").iterdir())) == 3
    assert sound.record("B1")["releases"][0] == {**signed, "state": "lapsed: the record changed after it was signed"}


@pytest.mark.long
@pytest.mark.parametrize(
    ("day", "words"),
    [("2019-01-01", "before the last thing that was measured or done: 2026-01-11"), ("2026-06-02", "ahead of the day")],
)
def test_e13_e14_a_release_of_an_impossible_day_is_refused(sound: House, day: str, words: str) -> None:
    """Not before the batch's last fact, and not after the day of taking."""
    sound.release("r.csv", ruled_on=day)
    assert sound.status() == "reconciled" and words in sound.refused("ruling.date-impossible")


def test_the_day_of_taking_is_that_of_the_site(tmp_path: Path) -> None:
    """At 02:00 UTC it is the day before in New York: a release of the new day is ahead of it."""
    made = house(tmp_path)
    made.table("r.csv", COLUMNS, [["B1", "release", "", "", "seen", "Ann", "2026-06-02", made.code(), ""]])
    run_once(made.inbox, made.out, now=datetime(2026, 6, 2, 2, 0, tzinfo=UTC))
    assert made.status() == "reconciled" and "2026-06-01 (America/New_York)" in made.refused("ruling.date-impossible")


@pytest.mark.parametrize("first", ["a.csv", "z.csv"])
def test_e15_a_correction_and_a_release_dropped_together_release_nothing(sound: House, first: str) -> None:
    """Whichever is taken first: what was signed is not what is there now."""
    code = sound.code()
    sound.table(first, READINGS, [vat_gauge(120.2)])
    sound.release("r.csv", record=code)
    assert sound.status() == "in review" and sound.open("sheet.changed-by-another-file")
    if first == "a.csv":
        said = sound.refused("ruling.other-version")
        assert code in said and in_groups(sound.code()) in said
        assert "balance.gauged.proof_60F 120.1 → 120.2" in said
    else:
        (lapsed,) = sound.open("record.release-lapsed")
        assert "balance.gauged.proof_60F 120.1 → 120.2" in lapsed["message"] and lapsed["severity"] == "stop"
        assert in_groups(code) in lapsed["message"] and in_groups(sound.code()) in lapsed["message"]
        page = (sound.out / "index.html").read_text("utf-8")
        assert page[page.index('class="says"') :].startswith('class="says">B1 counts no longer as released')


def test_a_release_without_a_code_is_refused_with_what_to_do(sound: House) -> None:
    """It says where the code stands; the code copied with spaces and in capitals does."""
    sound.release("r.csv", record="")
    assert sound.status() == "reconciled" and "without the code" in sound.refused("ruling.no-record-code")
    assert in_groups(sound.code()) in sound.open("ruling.no-record-code")[0]["remedy"]
    sound.release("r.csv", record=in_groups(sound.code()).upper())
    assert sound.status() == "released"


def test_the_review_workbook_carries_the_code_back(sound: House) -> None:
    """Its row to release, filled in by hand and saved to the inbox, releases."""
    book = load_workbook(sound.out / "exceptions/open.xlsx")
    sheet = book.worksheets[0]
    top = next(row for row in range(1, 20) if sheet.cell(row, 1).value == "finding")
    place = {cell.value: cell.column for cell in sheet[top]}
    for name, value in (("ruling", "release"), ("reason", "all figures looked at"), ("by", "Ann Sorley")):
        sheet.cell(top + 1, place[name]).value = value
    book.save(sound.inbox / "open.xlsx")
    sound.run()
    assert sound.status() == "released"


def test_the_files_of_a_signed_record_are_originals(sound: House, tmp_path: Path) -> None:
    """A line of the journal names them: verify knows them and misses them, and a backup has them."""
    sound.release("release.csv")
    assert sound.status() == "released" and verify_outputs(sound.out, full=True).disagreements == []
    files = sound.record("B1")["releases"][0]["files"]
    back_up(sound.out, tmp_path / "backup", lambda *_: None)
    assert len(files) == 3
    for digest in files.values():
        assert hashlib.sha256((tmp_path / "backup/originals" / digest).read_bytes()).hexdigest() == digest
    (sound.out / "originals" / files["batches/B1/record.html"]).unlink()
    (said,) = verify_outputs(sound.out).disagreements
    assert "release.csv" in said.place and said.said == "is not there."


@pytest.mark.long
def test_a_release_once_lapsed_stays_so(sound: House) -> None:
    """What comes back to what was signed is a third version; a rebuild in place and elsewhere says the same."""
    sound.release("r.csv")
    first = sound.code()
    note = next(found["id"] for found in sound.record("B1")["findings"])
    sound.sign("a.csv", {"finding": note, "ruling": "accept"})
    second = sound.code()
    sound.table("w.csv", "finding,by,ruled_on,void", [(note, "Ann Sorley", "2026-06-01", "yes")])
    sound.run()
    third = sound.code()
    assert [code[:2] for code in (first, second, third)] == ["1:", "2:", "3:"] and first[2:] == third[2:] != second[2:]
    assert sound.status() == "reconciled" and sound.open("record.release-lapsed")
    before = sound.tree()
    rebuild(sound.out)
    assert sound.tree() == before
    elsewhere = sound.out.parent / "elsewhere"
    shutil.copytree(sound.out / "originals", elsewhere / "originals")
    rebuild(elsewhere)
    assert sound.tree(elsewhere) == before


@pytest.mark.long
def test_a_release_can_be_withdrawn_by_another(sound: House) -> None:
    """Stricter is always allowed."""
    sound.release("r.csv")
    sound.table("w.csv", "finding,by,ruled_on,void", [("B1", "Ben Orrick", "2026-06-01", "yes")])
    sound.run()
    assert sound.status() == "reconciled" and sound.record("B1")["releases"][0]["state"] == "withdrawn"
    assert sound.open("record.release-lapsed") == []


# --- by whom ------------------------------------------------------------------------------------------


@pytest.mark.long
def test_who_ruled_does_not_release_where_two_are_listed(tmp_path: Path) -> None:
    """Another of the list does; a house of one is not blocked, and its record says one person."""
    made = house(tmp_path / "two", TWO, empty="")
    made.sign("a.csv", {"finding": made.open("vat.heel-unknown")[0]["id"], "ruling": "accept"})
    made.release("r.csv", by="ann  SORLEY")
    assert made.status() == "reconciled" and "who ruled on something" in made.refused("ruling.same-person")
    made.release("r2.csv", by="Ben Orrick")
    assert made.status() == "released"
    assert made.record("B1")["releases"][0]["persons"] == "by a person who ruled on nothing in this batch"
    alone = house(tmp_path / "one", ONE, empty="")
    alone.sign("a.csv", {"finding": alone.open("vat.heel-unknown")[0]["id"], "ruling": "accept"})
    alone.release("r.csv")
    assert alone.status() == "released" and alone.record("B1")["releases"][0]["persons"] == "one person"


# --- verdicts of law ----------------------------------------------------------------------------------


@pytest.mark.long
@pytest.mark.parametrize("code", ["label.age-overstated", "label.not-met"])
def test_e27_accept_closes_no_verdict_of_law(tmp_path: Path, code: str) -> None:
    """The batch stays held, the ruling is refused with what is needed, and the batch cannot be released."""
    claims = {"label.age-overstated": {"age_statement": "8 years"}, "label.not-met": {"gauge": 70.0}}[code]
    made = house(tmp_path, ONE, **claims)
    found = made.open(code)
    assert found and made.status() == "held"
    holding = [one["id"] for one in made.open() if one["severity"] != "note"]
    made.sign("a.csv", *({"finding": name, "ruling": "accept"} for name in holding))
    assert made.status() == "held" and [one["id"] for one in made.open(code)] == [one["id"] for one in found]
    assert "verdict of law" in made.open("ruling.verdict-of-law")[0]["message"]
    assert "correct the wrong cell with evidence" in made.open("ruling.verdict-of-law")[0]["remedy"]
    made.release("r.csv")
    assert made.status() == "held" and "verdicts of law" in made.refused("ruling.not-reconciled")


def old_cask(made: House) -> str:
    """The finding that the age is overstated; its place is the cask's filling date."""
    (found,) = made.open("label.age-overstated")
    return str(found["id"])


@pytest.mark.long
def test_void_of_what_a_verdict_rests_on_waits_for_a_second_person(tmp_path: Path) -> None:
    """One person's void is a stop and changes nothing; with two listed who agree it counts."""
    made = house(tmp_path, TWO, age_statement="8 years")
    name, before = old_cask(made), made.record("B1")["label"]
    for number, by in enumerate(("Ann Sorley", "ANN  sorley")):
        made.sign(f"v{number}.csv", {"finding": name, "ruling": "void", "by": by})
    (stop,) = made.open("ruling.void-by-one")
    assert stop["severity"] == "stop" and "second person" in stop["message"]
    assert made.status() == "held" and made.record("B1")["label"] == before
    assert made.csv("exceptions/history.csv")[-1]["state"] == "waits for a second person"
    made.sign("s.csv", {"finding": stop["id"], "ruling": "accept"})
    assert made.open("ruling.void-by-one") and made.open("ruling.of-a-ruling")
    made.sign("b.csv", {"finding": name, "ruling": "void", "by": "Ben Orrick"})
    assert made.open("ruling.void-by-one") == [] and made.record("B1")["label"] != before


@pytest.mark.long
def test_void_by_two_names_of_a_house_that_lists_nobody_changes_no_verdict(tmp_path: Path) -> None:
    """Names that anybody may type are no second person."""
    made = house(tmp_path, age_statement="8 years")
    before = made.record("B1")["label"]
    made.sign("v.csv", *({"finding": old_cask(made), "ruling": "void", "by": by} for by in ("Ann", "Ben")))
    assert made.open("ruling.void-by-one") and made.record("B1")["label"] == before


@pytest.mark.long
def test_e22_a_correction_that_a_verdict_rests_on_wants_evidence(tmp_path: Path) -> None:
    """Without it is refused; with it JSON, page and workbook show both values, who, when and why beside the claim."""
    made = house(tmp_path, ONE, age_statement="8 years")
    name = old_cask(made)
    made.sign("c.csv", {"finding": name, "ruling": "correct", "corrected_value": "2017-03-01"})
    assert made.status() == "held" and "without evidence" in made.refused("ruling.no-evidence")
    made.sign(
        "c2.csv",
        {"finding": name, "ruling": "correct", "corrected_value": "2017-03-01", "evidence": "fill book p. 4",
         "reason": "misread"},
    )  # fmt: skip
    record = made.record("B1")
    assert record["status"] == "reconciled" and made.open("label.age-overstated") == []
    (ruled,) = [ruling for ruling in record["rulings"] if ruling["state"] == "in force"]
    assert ruled["original"].startswith("2018-03-01") and ruled["place"] == "casks.csv · B2"
    (beside,) = record["components"][0]["corrected"] or record["label"][0]["corrected"]
    assert (beside["corrected"], beside["by"], beside["evidence"]) == ("2017-03-01", "Ann Sorley", "fill book p. 4")
    said = "2018-03-01 00:00:00 → 2017-03-01, by Ann Sorley on 2026-06-01, taken 2026-06-01 12:00 UTC: misread"
    assert said in (made.out / "batches/B1/record.html").read_text("utf-8")
    book = load_workbook(made.out / "batches/B1/record.xlsx")
    cells = [str(cell.value) for sheet in book for row in sheet.iter_rows() for cell in row]
    assert any(said in cell for cell in cells)


def against(made: House, by: str, **row: str) -> dict[str, str]:
    said = {"finding": "B1", "ruling": "release against the verdict", "record": made.code(), "by": by}
    return said | {"section": "27 CFR 5.74", "evidence": "opinion.pdf", "reason": "the rule is misread"} | row


@pytest.mark.long
def test_released_against_the_verdict_takes_two_persons_section_and_document(tmp_path: Path) -> None:
    """A status of its own; each thing that is missing is refused; a new version ends it."""
    made = house(tmp_path, TWO, age_statement="8 years")
    made.sign("a.csv", against(made, "Ann Sorley"))
    assert "no document" in made.refused("ruling.no-document")
    made.write("opinion.pdf", "%PDF-1.4 counsel says so")
    made.sign("b.csv", against(made, "Ann Sorley", section=""))
    assert "without the section" in made.refused("ruling.incomplete")
    for number, by in enumerate(("Ann Sorley", "ANN  SORLEY")):
        made.sign(f"c{number}.csv", against(made, by))
    assert made.status() == "held"
    assert made.csv("exceptions/history.csv")[-1]["state"] == "waits for a second person"
    assert not made.open("file.returned")  # the document is what a ruling rests on now
    made.sign("d.csv", against(made, "Ben Orrick"))
    record = made.record("B1")
    assert record["status"] == "released against the verdict"
    assert [label["verdict"] for label in record["label"] if label["claim"] == "age statement"] == ["not met"]
    document = {"name": "opinion.pdf", "sha256": hashlib.sha256(b"%PDF-1.4 counsel says so").hexdigest()}
    assert {json.dumps(one["document"]) for one in record["releases"]} == {json.dumps(document)}
    made.table("later.csv", READINGS, [vat_gauge(120.2)])
    made.run()
    assert made.status() == "held" and made.open("record.release-lapsed")


@pytest.mark.long
def test_against_the_verdict_is_for_verdicts_alone(tmp_path: Path) -> None:
    """Not without an open verdict, not with anything else open, and not in a house that lists no two."""
    sound = house(tmp_path / "sound", TWO)
    sound.sign("a.csv", against(sound, "Ann Sorley"))
    assert "no verdict of law is open" in sound.refused("ruling.nothing-against")
    other = house(tmp_path / "other", TWO, age_statement="8 years", empty="")
    other.sign("a.csv", against(other, "Ann Sorley"))
    assert "without its verdicts of law it would be held" in other.refused("ruling.not-reconciled")
    alone = house(tmp_path / "alone", ONE, age_statement="8 years")
    alone.sign("a.csv", against(alone, "Ann Sorley"))
    assert "two persons" in alone.refused("ruling.one-person")
