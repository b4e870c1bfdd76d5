"""Stages that treat each row by itself get only the rows that are new or changed, and give what a whole run gives."""

from __future__ import annotations

import random

import numpy as np
import pandas as pd
import pytest

from pipeline import Column, Finding, Frame
from pipeline.common.names import coded, fold, folded, folded_or_missing
from pipeline.common.remembered import LONG, Remembered, begins_with
from pipeline.contract.frames import BrokenPromise
from pipeline.stages import rowwise
from pipeline.stages.rowwise import RowsWorked, work_rows
from tests.sets import fifth

READ = Frame(
    "read",
    ("name",),
    (Column("name", "text"), Column("day", "date"), Column("value"), Column("count", "int"), Column("sure", "bool")),
)
DOUBLED = Frame("doubled", ("name", "part"), (Column("name", "text"), Column("part", "int"), Column("value")))
ONE_EACH = Frame("one_each", ("name",), (Column("name", "text"), Column("value")))


def read(rows: dict[int, tuple[str, float, int | None]]) -> pd.DataFrame:
    """A frame of rows by fact."""
    names, values, counts = (list(column) for column in zip(*rows.values(), strict=True)) if rows else ([], [], [])
    columns = {
        "name": names,
        "day": [pd.NaT if value > 8 else pd.Timestamp("2026-03-01") for value in values],
        "value": values,
        "count": counts,
        "sure": [None if value > 5 else value > 3 for value in values],
    }
    return READ.build(columns, [(fact,) for fact in rows])


class Doubling:
    """A stage that gives two rows of each row with a value, and a finding of each without; counts what it was given."""

    def __init__(self) -> None:
        self.given: list[int] = []

    def __call__(self, rows: pd.DataFrame) -> tuple[pd.DataFrame, list[Finding]]:
        self.given.extend(facts[0] for facts in rows["facts"])
        kept = rows[rows["value"].notna()]
        twice = kept.loc[kept.index.repeat(2)]
        made = {
            "name": twice["name"].to_list(),
            "part": [1, 2] * len(kept),
            "value": (twice["value"] * 2.0 + twice["count"].fillna(0).astype(float)).to_list(),
        }
        table = DOUBLED.build(made, [(*facts, 1000) for facts in twice["facts"]])
        findings = [
            Finding("read.nothing", "note", f"{row.name} shows nothing.", facts=row.facts)  # type: ignore[arg-type]
            for row in rows[rows["value"].isna()].itertuples(index=False)
        ]
        return table, findings


def once(rows: pd.DataFrame, before: RowsWorked | None, stage: Doubling) -> RowsWorked:
    return work_rows(rows, before, DOUBLED, "toy.double", stage)


@pytest.mark.parametrize("seed", fifth(range(40)))
def test_a_frame_that_changes_gives_what_a_whole_run_gives(seed: int) -> None:
    """Rows come, go and change at random; only those that came or changed are given to the stage."""
    draw = random.Random(seed)
    rows: dict[int, tuple[str, float, int | None]] = {}
    before, last = None, 0
    for _ in range(8):
        then = dict(rows)
        for fact in draw.sample(list(rows), min(len(rows), draw.randint(0, 2))):
            del rows[fact]
        for fact in draw.sample(list(rows), min(len(rows), draw.randint(0, 2))):
            rows[fact] = (rows[fact][0], draw.choice([1.0, 7.0, 9.0, np.nan]), draw.choice([None, 1, 2]))
        for _row in range(draw.randint(0, 4)):
            last += 1
            rows[last] = (f"C-{last}", draw.choice([1.0, 4.0, np.nan]), None)
        stage, whole = Doubling(), Doubling()
        before = once(read(rows), before, stage)
        other = once(read(rows), None, whole)
        pd.testing.assert_frame_equal(before.table, other.table)
        assert before.findings == other.findings
        changed = {fact for fact, row in rows.items() if fact not in then or repr(then[fact]) != repr(row)}
        assert set(stage.given) == changed
        assert set(whole.given) == set(rows)


def test_rows_that_are_known_to_have_grown_are_not_compared() -> None:
    """What is said to begin with the rows of before is taken so: only the rows after them are given to the stage."""
    stage, whole = Doubling(), Doubling()
    few = {1: ("A", 1.0, 1), 2: ("B", 2.0, None)}
    more = {**few, 3: ("C", 4.0, 2)}
    first = once(read(few), None, stage)
    grown = work_rows(read(more), first, DOUBLED, "toy.double", stage, True)
    pd.testing.assert_frame_equal(grown.table, once(read(more), None, whole).table)
    assert stage.given == [1, 2, 3] and grown.findings == once(read(more), None, Doubling()).findings
    assert work_rows(read(more), grown, DOUBLED, "toy.double", stage, True).table is grown.table


def test_nothing_new_gives_the_same_table() -> None:
    """Where no row came, changed or went, the very table stands, and the stage is not called."""
    stage = Doubling()
    first = once(read({1: ("A", 1.0, 1), 2: ("B", 2.0, None)}), None, stage)
    again = once(read({1: ("A", 1.0, 1), 2: ("B", 2.0, None)}), first, stage)
    assert again.table is first.table
    assert stage.given == [1, 2]


def test_rows_must_rest_first_on_their_own() -> None:
    """A row or a finding that rests first on something else breaks the promise."""
    rows = read({1: ("A", 1.0, 1)})

    def strange_row(_: pd.DataFrame) -> tuple[pd.DataFrame, list[Finding]]:
        return DOUBLED.build({"name": ["A"], "part": [1], "value": [1.0]}, [(7, 1)]), []

    def strange_finding(_: pd.DataFrame) -> tuple[pd.DataFrame, list[Finding]]:
        return DOUBLED.empty(), [Finding("read.nothing", "note", "Nothing.", subject="A")]

    with pytest.raises(BrokenPromise, match="toy.double: a row rests first on fact 7"):
        work_rows(rows, None, DOUBLED, "toy.double", strange_row)
    with pytest.raises(BrokenPromise, match="toy.double: finding read.nothing does not rest first on one"):
        work_rows(rows, None, DOUBLED, "toy.double", strange_finding)


def test_a_key_that_was_not_carried_over_is_looked_at_again() -> None:
    """A stage that makes keys of its own may give one twice only over two runs: that is found, too."""

    def same(rows: pd.DataFrame) -> tuple[pd.DataFrame, list[Finding]]:
        return ONE_EACH.build({"name": ["X"] * len(rows), "value": rows["value"]}, rows["facts"]), []

    first = work_rows(read({1: ("A", 1.0, 1)}), None, ONE_EACH, "toy.same", same)
    with pytest.raises(BrokenPromise, match="two rows share the key"):
        work_rows(read({1: ("A", 1.0, 1), 2: ("B", 1.0, 1)}), first, ONE_EACH, "toy.same", same)


def test_keys_that_were_carried_over_are_not_looked_at_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """Rows whose key is that of the row they were made of are as unlike as those."""
    monkeypatch.setattr(rowwise.Frame, "check_key", lambda *_: pytest.fail("all keys were looked at"))

    def carried(rows: pd.DataFrame) -> tuple[pd.DataFrame, list[Finding]]:
        return ONE_EACH.build({"name": rows["name"], "value": rows["value"]}, rows["facts"]), []

    first = work_rows(read({1: ("A", 1.0, 1)}), None, ONE_EACH, "toy.carried", carried)
    grown = work_rows(read({1: ("A", 1.0, 1), 2: ("B", 3.0, 1)}), first, ONE_EACH, "toy.carried", carried)
    assert grown.table["name"].tolist() == ["A", "B"]


# --- columns that grow -------------------------------------------------------------------------------


def test_a_grown_column_is_gone_on_with() -> None:
    """Only further values are looked at; a column that differs anywhere is looked at whole."""
    seen: list[int] = []

    def more(values: np.ndarray, before: list[str] | None) -> list[str]:
        seen.append(len(values))
        return [*(before or []), *(str(value).upper() for value in values)]

    remembered = Remembered(more)
    values = np.array([f"c{at}" for at in range(LONG)], dtype=object)
    longer = np.array([*values, "x", np.nan], dtype=object)
    other = longer.copy()
    other[3] = "changed"
    for given in (values, longer, longer.copy(), other, values):
        assert remembered.of(given) == [str(value).upper() for value in given]
    assert seen == [LONG, 2, LONG + 2, LONG]
    assert begins_with(longer, values)
    assert not begins_with(values, longer)
    assert not begins_with(other, values)


def test_names_of_a_column_are_numbered_by_how_they_compare() -> None:
    """Case, spaces around and the two ways to write é make no other name; missing ones stay so."""
    column = pd.Series(["C-1", "c-1 ", None, "É", "E\u0301", "C-01"], index=range(5, 11), dtype="str")
    made = coded(column)
    assert made.names == ["c-1", "é", "c-01"]
    assert made.codes.tolist() == [0, 0, -1, 1, 1, 2]
    assert made.rows_of({"é", "never"}).tolist() == [False, False, False, True, True, False]
    assert not made.rows_of(set()).any()
    assert folded(column).tolist() == ["c-1", "c-1", "", "é", "é", "c-01"]
    kept = folded_or_missing(column)
    assert kept.index.equals(column.index)
    assert kept.isna().tolist() == [False, False, True, False, False, False]


def test_names_of_a_column_that_grows_are_those_of_the_whole_column() -> None:
    """What is gone on with is what would be made afresh."""
    draw = random.Random(3)
    words = [f"{draw.choice('Cc')}-{draw.randint(1, 900)}" for _ in range(LONG + 400)]
    for end in (LONG, LONG + 1, LONG + 400):
        column = pd.Series(words[:end], dtype="str")
        made = coded(column)
        assert [made.names[code] for code in made.codes.tolist()] == [fold(word) for word in words[:end]]
        assert len(set(made.names)) == len(made.names)
        assert made.place == {name: at for at, name in enumerate(made.names)}
