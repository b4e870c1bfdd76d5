"""Facts from frames: which row of the inventory counts, what lines hold spirit, ages of draws and batches."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from plugins.label_age import stages
from plugins.label_age.facts.spirit import season
from plugins.label_age.facts.wood import look_up
from plugins.proof import abv_from_mass_fraction, mass_fraction_from_proof
from tests.label_age.kit import CASKS, Room, brief, cask, frame, line


def looked_up(rows: list[dict], day: str, name: str = "C-1", filled_on: str = "2021-02-03") -> pd.DataFrame:
    stock = frame(CASKS.frame(), rows, 1000)
    days = pd.Series([filled_on], dtype="datetime64[us]")
    found = look_up(stock, [name], days, pd.Series([day], dtype="datetime64[us]"))
    return found.values.assign(_facts=[found.all_facts()[0]], _charred=[found.cells("charred")[0]])


def test_the_inventory_at_the_day_counts() -> None:
    """The last row at or before the day counts, blanks filled from earlier rows, later rows left out."""
    rows = [
        cask(as_of="2023-01-01", charred=True, species="oak"),
        cask(as_of="2024-01-01", charred=None, species="American oak"),
        cask(as_of="2025-01-01", charred=False, species="chestnut"),
    ]
    found = looked_up(rows, "2024-06-01")
    assert (found["species"][0], found["charred"][0]) == ("American oak", True)
    assert found["_facts"][0] == (1000, 1001)
    assert found["_charred"][0] == (1000,)


def test_a_later_row_counts_only_without_an_earlier_one() -> None:
    """With every row after the day, the first of them counts."""
    rows = [cask(as_of="2025-01-01", species="oak"), cask(as_of="2026-01-01", species="chestnut")]
    assert looked_up(rows, "2024-06-01")["species"][0] == "oak"


def test_another_filling_of_the_cask_tells_nothing() -> None:
    """A refilled cask is another filling: its wood then is not its wood before."""
    rows = [cask(as_of="2021-12-31", charred=True), cask(as_of="2025-12-31", filled_on="2025-01-01", charred=False)]
    assert looked_up(rows, "2026-02-10")["charred"][0]
    assert (
        looked_up(rows, "2026-02-10", filled_on="1999-01-01").drop(columns=["_facts", "_charred"]).isna().all(axis=None)
    )


def test_cask_names_compare_folded() -> None:
    """C-1, c-1 and one with blanks around it are one cask."""
    assert looked_up([cask(" c-1 ")], "2026-02-10")["distillery"][0] == "Alder Hollow"


@pytest.mark.parametrize(
    ("day", "named"),
    [
        ("2021-01-01", "spring 2021"),
        ("2021-06-30", "spring 2021"),
        ("2021-07-01", "fall 2021"),
        ("2021-12-31", "fall 2021"),
    ],
)
def test_distilling_seasons(day: str, named: str) -> None:
    """27 CFR 5.1: spring from 1 January to 30 June, fall from 1 July to 31 December."""
    assert season(pd.Timestamp(day)) == named


def test_units_of_entry_proof() -> None:
    """125 proof stated as % vol at 20 °C is the same strength: at most 125 holds, a hundredth more does not."""
    limit = float(abv_from_mass_fraction(mass_fraction_from_proof(125.0)))
    for abv, verdict in ((limit - 1e-7, "met"), (limit, "met"), (limit + 0.01, "not met")):
        row = cask(entry_proof=abv, entry_proof_unit="%vol")
        assert Room([row], briefs=[brief(claims="straight")]).verdict("straight") == verdict


def test_the_earliest_draw_counts() -> None:
    """A cask drawn on Tuesday and on Friday has its age on Tuesday, on both lines."""
    lines = [line("C-1", drawn_at="2026-02-13", line="2"), line("C-1", drawn_at="2026-02-10T09:30", line="1")]
    ages = Room([cask(filled_on="2022-02-11")], lines).component_ages
    assert list(ages["years"]) == [3.0, 3.0]
    assert set(ages["counted_to"]) == {pd.Timestamp("2026-02-10")}
    assert list(ages["facts"]) == [(2000, 2001), (2000, 2001)]


def test_two_batches_draw_apart() -> None:
    """A draw for another batch on an earlier day makes no age younger."""
    lines = [line("C-1"), line("C-1", batch="B-2", drawn_at="2025-02-10")]
    ages = Room([cask(filled_on="2022-02-10")], lines, [brief(), brief(batch="B-2")]).component_ages
    assert list(ages["years"]) == [4.0, 3.0]


def test_ages_of_a_batch() -> None:
    """The batch has the age of its youngest component, whatever the order of rows."""
    room = Room([cask("C-1", filled_on="2019-05-05"), cask("C-2", filled_on="2021-08-01"), cask("C-3")])
    ages = stages.age_of_batches(room.component_ages.iloc[::-1])
    row = stages.age_of_batches.frame.check(ages, "test", room.facts()).iloc[0]
    assert (row["youngest_component"], row["years"], row["months"], row["days"]) == ("C-2", 4.0, 6.0, 9.0)
    assert row["facts"] == (2000, 2001, 2002)


@pytest.mark.parametrize("kind", ["heel", "vessel", "addition", "cask"])
def test_one_unknown_age_leaves_the_batch_without(kind: str) -> None:
    """A heel, vessel, spirit addition or unknown cask of no known age: the batch has none, and it is named."""
    room = Room([cask()], [line("C-1"), line("X", kind=kind, ethanol_kg=5.0)])
    row = stages.age_of_batches(room.component_ages).iloc[0]
    assert np.isnan(row["years"]) and pd.isna(row["youngest_component"])
    assert row["unknown_age"] == "X"


def test_water_and_plain_additions_have_no_age() -> None:
    """Water and additions without spirit are no part of the age."""
    lines = [line("C-1"), line("water", kind="water"), line("caramel", kind="addition", ethanol_kg=0.0)]
    room = Room([cask()], lines)
    assert list(room.component_ages["component"]) == ["C-1"]
    assert stages.age_of_batches(room.component_ages)["years"].iloc[0] == 5.0


def test_drawn_before_it_was_filled() -> None:
    """A draw before the filling has no age and says what is wrong."""
    room = Room([cask(filled_on="2026-02-11")], briefs=[brief(claims="straight")])
    row = room.row("straight")
    assert row["verdict"] == "cannot tell"
    assert "it was filled on 2026-02-11, after it was drawn on 2026-02-10" in row["reason"]


def test_empty_frames() -> None:
    """With nothing on the sheets every stage gives its empty frame."""
    room = Room([], [], [])
    assert room.judged()[0].empty
    assert stages.age_of_components.frame.check(room.component_ages, "test", set()).empty
    assert stages.age_of_batches.frame.check(stages.age_of_batches(room.component_ages), "test", set()).empty
    assert room.planned(stages.find_eligible).empty
    assert room.planned(stages.find_limits).empty


def test_a_batch_without_an_inventory() -> None:
    """Casks that no inventory lists leave every fact of them to be shown."""
    room = Room([], [line("C-77", kind="cask")], [brief(claims="straight; bottled in bond")])
    assert room.verdict("straight") == room.verdict("bottled in bond") == "cannot tell"


@pytest.mark.long
@pytest.mark.parametrize(("empty", "verdict"), [(True, "met"), (None, "met"), (False, "cannot tell")])
def test_a_vat_that_was_not_empty(empty: bool | None, verdict: str) -> None:
    """A vat that held something of which the blend sheet has no line leaves age and claims to be shown."""
    room = Room(briefs=[brief(claims="bottled in bond", age_statement="4 years", vessel_empty=empty)])
    assert room.verdict("bottled in bond") == room.verdict("age statement") == verdict
    if empty is False:
        assert "the age of heel of VAT-1 is not known" in room.row("age statement")["reason"]


def test_a_listed_heel_is_one_heel() -> None:
    """A vat that was not empty and has a line for its heel has no second one."""
    lines = [line("C-1"), line("heel", kind="heel")]
    room = Room([cask()], lines, [brief(age_statement="4 years", vessel_empty=False)])
    assert "heel of VAT-1" not in room.row("age statement")["reason"]
