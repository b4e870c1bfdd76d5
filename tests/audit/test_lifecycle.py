"""What comes in again, is corrected, ruled on, released, and made anew from the originals."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from pipeline.runs.run import rebuild
from tests.audit.room import READINGS, SITE, Room, simple_batch, vat_gauge


def release(room: Room, name: str) -> None:
    """Drop a release of B1 with the code that its record shows, and run."""
    code = room.record("B1")["signing"]["code"]
    room.table(name, "finding,ruling,reason,by,record", [("B1", "release", "seen", "A. Person", code)])
    room.run()


def ruling(finding: str, word: str, value: str = "", reason: str = "seen", by: str = "A. Person") -> tuple[str, ...]:
    return finding, word, value, "lab book p. 4", reason, by, ""


def heel(room: Room) -> str:
    return str(room.open("vat.heel-unknown")[0]["id"])


def states(room: Room) -> dict[str, str]:
    """Finding or batch → how its last ruling stands, as history.csv says."""
    return {row["finding"]: row["state"] for row in room.csv("exceptions/history.csv")}


def test_second_run_and_same_bytes_change_nothing(tmp_path: Path) -> None:
    """Every output byte is the same after a run with nothing new, and after the same bytes under another name."""
    room = Room(tmp_path)
    simple_batch(room)
    same = (room.inbox / "blends.csv").read_text("utf-8")
    room.run()
    before = room.tree()
    room.run()
    assert room.tree() == before
    room.write("again.csv", same)
    assert [fate.outcome for fate in room.run().fates] == ["known"]
    assert room.tree() == before


@pytest.mark.long
def test_rebuild_in_place_and_elsewhere_gives_the_same_bytes(tmp_path: Path) -> None:
    """After corrections, rulings, a release and changed settings; elsewhere from a copy of originals/ alone."""
    room = Room(tmp_path)
    simple_batch(room, empty="")
    room.run()
    room.rule("accept.csv", ruling(heel(room), "accept"))
    room.run()
    release(room, "release.csv")
    room.table("later.csv", READINGS, [vat_gauge(120.2)])
    room.run()
    room.write("site.toml", (room.site / "site.toml").read_text("utf-8") + "[tolerances]\ngauge_days = 3\n")
    room.run()
    assert room.open("blend.stale-gauge")
    before = room.tree()
    rebuild(room.out)
    assert room.tree() == before
    elsewhere = tmp_path / "elsewhere"
    shutil.copytree(room.out / "originals", elsewhere / "originals")
    rebuild(elsewhere)
    assert room.tree(elsewhere) == before


@pytest.mark.long
def test_a_later_file_corrects_and_the_earlier_record_is_kept(tmp_path: Path) -> None:
    """The later row counts, a review names old and new, and earlier/1.json is the record as it was."""
    room = Room(tmp_path)
    simple_batch(room)
    room.run()
    was = room.record("B1")
    room.table("later.csv", READINGS, [vat_gauge(120.2)])
    room.run()
    assert room.record("B1")["balance"]["gauged"]["proof_60F"] == 120.2
    assert json.loads((room.out / "batches/B1/earlier/1.json").read_text("utf-8")) == was
    assert "120.1 (readings.csv) → 120.2" in room.open("sheet.changed-by-another-file")[0]["message"]
    assert "balance.gauged.proof_60F 120.1 → 120.2" in room.open("record.changed")[0]["message"]
    assert "later.csv" in room.open("record.changed")[0]["message"]


@pytest.mark.long
def test_unequal_rows_of_one_key_hold_until_ruled_on(tmp_path: Path) -> None:
    """Equal rows count once with a note; of unequal ones none counts; accept lets the first count."""
    room = Room(tmp_path)
    simple_batch(room)
    room.run()
    cask = ("K1", "2026-01-06", 121, "proof", "at 60 °F", "60 °F", "H-1", "", "", "")
    room.table("two.csv", READINGS, [cask, cask, ("K1", "2026-01-07", *cask[2:]), ("K1", "2026-01-07", 119, *cask[3:])])
    room.run()
    assert len(room.open("sheet.row-repeated")) == 1
    assert room.record("B1")["components"][0]["proof_60F"] == 121.0
    disputed = room.open("sheet.key-disputed")[0]
    assert disputed["severity"] == "stop"
    room.rule("accept.csv", ruling(disputed["id"], "accept"))
    room.run()
    assert not room.open("sheet.key-disputed")
    dated = [row["taken_at"] for row in room.csv("casks/gauges.csv") if row["vessel"] == "K1"]
    assert "2026-01-07" in dated


@pytest.mark.long
def test_void_row_and_two_additions_with_keys_of_their_own(tmp_path: Path) -> None:
    """A row with key and void withdraws the fact; two waters told apart by line both count."""
    room = Room(tmp_path)
    simple_batch(room)
    waters = [("B1", "water", "10 gal", "2026-01-10", 1), ("B1", "water", "10 gal", "2026-01-10", 2)]
    room.table("water.csv", "batch,component,drawn_volume,drawn_at,line", waters)
    room.run()
    assert room.record("B1")["balance"]["water"]["volume_60F_gal"] == pytest.approx(20)
    room.table("void.csv", "batch,component,drawn_at,line,void", [("B1", "water", "2026-01-10", 2, "yes")])
    room.run()
    assert room.record("B1")["balance"]["water"]["volume_60F_gal"] == pytest.approx(10)


@pytest.mark.long
def test_correct_and_void_change_the_figure_and_a_later_file_wins(tmp_path: Path) -> None:
    """correct puts the value in, void leaves the row out, and both lapse when the row comes in anew."""
    room = Room(tmp_path, f'{SITE}[rulings]\nby = ["A. Person", "B. Person"]\n')
    simple_batch(room)
    slip = ("K1", "2026-01-08", 102, "proof", "at 60 °F", "60 °F", "H-1", "", "", "")
    room.table("slip.csv", READINGS, [slip])
    room.run()
    finding = room.open("reading.proof-jumps")[0]
    assert finding["place"] == {"file": "slip.csv", "sheet": "", "cell": "C2"}
    room.rule("correct.csv", ruling(finding["id"], "correct", "120.4"))
    room.run()
    record = room.record("B1")
    assert record["components"][0]["proof_60F"] == pytest.approx(120.4)
    assert "correct.csv" in [source["file"] for source in record["sources"]]
    for by in ("A. Person", "B. Person"):  # a verdict of law rests on it
        room.rule(f"void {by}.csv", ruling(finding["id"], "void", reason="not our cask", by=by))
        room.run()
    assert room.record("B1")["components"][0]["proof_60F"] == pytest.approx(120.0)
    room.table("anew.csv", READINGS, [("K1", "2026-01-08", 120.2, *slip[3:])])
    room.run()
    assert room.record("B1")["components"][0]["proof_60F"] == pytest.approx(120.2)
    assert states(room)[finding["id"]].startswith("lapsed")


@pytest.mark.long
def test_rulings_that_cannot_stand_are_told_and_change_nothing(tmp_path: Path) -> None:
    """No reason, no name, no value, an unknown finding: each a finding; an empty ruling is no row."""
    room = Room(tmp_path)
    simple_batch(room, empty="")
    room.run()
    known = heel(room)
    room.rule(
        "bad.csv",
        ruling(known, ""),
        (*ruling(known, "accept", reason="")[:-1], "2026-01-20"),
        (*ruling(known, "accept", by="")[:-1], "2026-01-21"),
        (*ruling(known, "correct")[:-1], "2026-01-22"),
        ruling("F-ABCDEFGHIJ", "accept"),
    )
    room.run()
    assert len(room.open("ruling.incomplete")) == 3
    assert len(room.open("ruling.unknown-finding")) == 1
    assert heel(room) == known and room.record("B1")["status"] == "held"


@pytest.mark.long
def test_only_who_may_rule_rules(tmp_path: Path) -> None:
    """[rulings] by names them; another's ruling is a finding and is not applied."""
    room = Room(tmp_path)
    room.write("site.toml", (room.site / "site.toml").read_text("utf-8") + '[rulings]\nby = ["B. Person"]\n')
    simple_batch(room, empty="")
    room.run()
    room.rule("a.csv", ruling(heel(room), "accept"))
    room.run()
    assert room.open("ruling.not-entitled") and room.record("B1")["status"] == "held"


@pytest.mark.long
def test_accept_lapses_when_its_fact_comes_in_anew(tmp_path: Path) -> None:
    """The finding is open again and history says that the ruling lapsed."""
    room = Room(tmp_path)
    simple_batch(room, empty="")
    room.run()
    known = heel(room)
    room.rule("a.csv", ruling(known, "accept"))
    room.run()
    assert room.record("B1")["status"] == "reconciled"
    header = "batch,product,market,vessel,vessel_empty,bottling_proof,bottle_size"
    room.table("briefs2.csv", header, [("B1", "P2", "US", "V1", "", 120, "750 mL")])
    room.run()
    assert heel(room) == known and room.record("B1")["status"] == "held"
    assert states(room)[known].startswith("lapsed")


@pytest.mark.long
def test_release_signs_out_a_reconciled_batch_until_a_new_fact(tmp_path: Path) -> None:
    """released after the ruling; no longer once the vat's gauge comes in anew."""
    room = Room(tmp_path)
    simple_batch(room)
    room.run()
    assert room.record("B1")["status"] == "reconciled"
    release(room, "r.csv")
    assert room.record("B1")["status"] == "released"
    room.table("later.csv", READINGS, [vat_gauge(120.2)])
    room.run()
    assert room.record("B1")["status"] != "released"


@pytest.mark.long
def test_release_of_a_held_batch_never_takes_effect_by_itself(tmp_path: Path) -> None:
    """contract.md: released only by a signed release of a reconciled batch."""
    room = Room(tmp_path)
    simple_batch(room, empty="")
    room.run()
    release(room, "r.csv")
    assert room.record("B1")["status"] == "held"
    room.rule("a.csv", ruling(heel(room), "accept"))
    room.run()
    assert room.record("B1")["status"] == "reconciled"


@pytest.mark.long
def test_history_says_that_a_release_lapsed(tmp_path: Path) -> None:
    """contract.md: else it lapses and history says so."""
    room = Room(tmp_path)
    simple_batch(room)
    room.run()
    release(room, "r.csv")
    room.table("later.csv", READINGS, [vat_gauge(120.2)])
    room.run()
    assert states(room)["B1"].startswith("lapsed")


@pytest.mark.long
def test_an_accepted_change_of_a_record_does_not_close_the_next(tmp_path: Path) -> None:
    """Each time that a record differs from the one published before, a finding says so."""
    room = Room(tmp_path)
    simple_batch(room)
    room.run()
    room.table("r2.csv", READINGS, [vat_gauge(120.2)])
    room.run()
    room.rule("a.csv", ruling(room.open("record.changed")[0]["id"], "accept"))
    room.run()
    assert not room.open("record.changed")
    room.table("r3.csv", READINGS, [vat_gauge(119.9)])
    room.run()
    assert room.open("record.changed")


@pytest.mark.long
def test_a_changed_record_is_a_note_and_holds_nothing(tmp_path: Path) -> None:
    """contract.md: a finding lists what changed; only stop and review findings hold a status."""
    room = Room(tmp_path)
    simple_batch(room)
    room.run()
    room.table("readings.csv", READINGS, [vat_gauge(120.2)])
    room.run()
    changed = room.open("record.changed")[0]
    assert changed["severity"] == "note" and changed["batch"] == "B1"
    assert room.record("B1")["status"] == "reconciled"
