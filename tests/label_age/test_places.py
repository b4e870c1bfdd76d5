"""The cell that a verdict points at: the figure to correct, so that a ruling on it mends or voids the right row."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.audit.room import Room
from tests.label_age.kit import Room as Frames
from tests.label_age.kit import brief, cask

READINGS = "vessel,taken_at,reading,scale,state,temperature,instrument"
BRIEFS = "batch,market,vessel,vessel_empty,age_statement,bottling_proof,bottling_abv,bottle_size"


@pytest.fixture(scope="module")
def room(tmp_path_factory: pytest.TempPathFactory) -> Room:
    """Batches whose label strength stands in the bottling, in the brief as % vol or as proof; and some that fail."""
    room = Room(tmp_path_factory.mktemp("places"))
    gauged = {"B1": 102, "B2": 94, "B3": 90, "B4": 79, "B5": 100, "B6": 100}
    asked = {"B1": ("100", "", "750 mL"), "B2": ("", "50", "750 mL"), "B3": ("100", "", "740 mL"),
             "B4": ("79", "", "750 mL"), "B5": ("100", "", "750 mL"), "B6": ("100", "", "")}  # fmt: skip
    briefs = [(b, "US", f"V{b}", "yes", "4 years", *asked[b]) for b in gauged]
    young = {"B5-1": "2022-03-01", "B5-2": "2022-06-01"}  # both too young; the younger comes last
    readings, blends, casks = [], [], []
    for batch, proof in gauged.items():
        for number, filled in enumerate(("2019-03-01", "2021-06-01", "2020-03-01")):
            name = f"{batch}-{number}"
            casks.append((name, young.get(name, filled)))
            readings.append((name, "2026-01-10", proof, "proof", "at 60 °F", "60 °F", "H-1"))
            blends.append((batch, name, "50 kg", "2026-01-10"))
        if batch != "B4":
            readings.append((f"V{batch}", "2026-01-11", proof, "proof", "at 60 °F", "60 °F", "H-1"))
    room.table("casks.csv", "cask,filled_on", casks)
    room.table("briefs.csv", BRIEFS, briefs)
    room.table("blends.csv", "batch,component,drawn_weight,drawn_at", blends)
    room.table("readings.csv", READINGS, readings)
    run = ("B1", "2026-01-12", "750 mL", 100, 50)
    room.table("bottlings.csv", "batch,bottled_on,bottle_size,bottles,label_abv", [run])
    room.run()
    return room


def place(room: Room, batch: str, claim: str) -> dict[str, Any]:
    subject = f"{batch} · US · {claim}"
    [found] = [f for f in room.open("label.") if f["subject"] == subject]
    return found


@pytest.mark.long
@pytest.mark.parametrize(
    ("batch", "claim", "file", "cell"),
    [
        ("B1", "bottling strength", "bottlings.csv", "E2"),
        ("B2", "bottling strength", "briefs.csv", "G3"),
        ("B3", "bottling strength", "briefs.csv", "F4"),
        ("B3", "standard of fill", "briefs.csv", "H4"),
        ("B5", "age statement", "casks.csv", "B16"),
    ],
)
def test_a_failed_claim_points_at_the_figure_that_decided(
    room: Room, batch: str, claim: str, file: str, cell: str
) -> None:
    """The label's cell for the strength, the size's for the fill, the youngest cask's filling day for the age."""
    found = place(room, batch, claim)["place"]
    assert (found["file"], found["cell"]) == (file, cell)


@pytest.mark.long
def test_a_minimum_points_at_the_reading(room: Room) -> None:
    """Too weak: the reading that the strength came from, of the vat or, with none, of what was drawn."""
    found = place(room, "B4", "minimum strength")["place"]
    assert found["file"] == "readings.csv" and found["cell"].startswith("C")


@pytest.mark.long
def test_a_missing_size_points_at_the_briefs_cell(room: Room) -> None:
    """Nothing bottled and no size in the brief: a note at the brief's blank cell."""
    found = place(room, "B6", "standard of fill")
    assert found["severity"] == "note"
    assert (found["place"]["file"], found["place"]["cell"]) == ("briefs.csv", "H7")


@pytest.mark.long
def test_the_gauged_vat_points_at_its_last_reading(tmp_path: Path) -> None:
    """A gauge below the minimum: the vat's last reading, not the brief and not a cask's reading."""
    room = Room(tmp_path)
    room.table("casks.csv", "cask,filled_on", [("K1", "2019-03-01")])
    room.table("briefs.csv", "batch,market,vessel,vessel_empty,bottle_size", [("B1", "US", "V1", "yes", "750 mL")])
    room.table("blends.csv", "batch,component,drawn_weight,drawn_at", [("B1", "K1", "50 kg", "2026-01-10")])
    readings = [(v, t, p, "proof", "at 60 °F", "60 °F", "H-1") for v, t, p in (
        ("V1", "2026-01-11", 82), ("V1", "2026-01-12", 79), ("K1", "2026-01-09", 100))]  # fmt: skip
    room.table("readings.csv", READINGS, readings)
    room.run()
    found = place(room, "B1", "minimum strength")["place"]
    assert (found["file"], found["cell"]) == ("readings.csv", "C3")


def test_a_bound_names_the_cell_it_came_from() -> None:
    """Only the bound of an age statement names it, and only the bound of a claim names that."""
    from plugins.label_age import stages

    made = Frames([cask()], [], [brief(claims="bottled in bond", age_statement="51 months")])
    rows = made.planned(stages.find_limits).set_index(["claim", "quantity"])
    assert rows.loc[rows["stated_age"].notna()].index.tolist() == [("age statement", "age_months")]
    assert rows["stated_age"].dropna().tolist() == ["51 months"]
    assert set(rows.loc[rows["claimed"].notna()].index.get_level_values(0)) == {"bottled in bond"}
    assert ("minimum strength", "proof_60F") in rows.loc[rows["claimed"].isna()].index
