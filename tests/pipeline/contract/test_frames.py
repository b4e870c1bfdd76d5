"""What a frame promises, and the check that the promise is kept."""

from __future__ import annotations

from itertools import chain
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.contract.frames import DTYPES, BrokenPromise, Column, Frame, fact_ids, unite

FRAME = Frame(
    "things",
    key=("name", "day"),
    columns=(
        Column("name", "text"),
        Column("day", "date"),
        Column("mass_kg", "float", "kg"),
        Column("count", "int"),
        Column("new", "bool"),
        Column("read_at", "moment"),
    ),
)


def good() -> pd.DataFrame:
    return FRAME.build(
        {
            "name": ["a", "b"],
            "day": ["2026-03-02", "2026-03-03"],
            "mass_kg": [1.5, np.nan],
            "count": [1, None],
            "new": [True, None],
            "read_at": ["2026-03-02T09:40:00", None],
        },
        [(1,), (1, 2)],
    )


def check(table: object, known: set[int] | None = None) -> pd.DataFrame:
    return FRAME.check(table, "plug.maker", {1, 2, 3} if known is None else known)


def broken(table: object, *words: str, known: set[int] | None = None) -> None:
    with pytest.raises(BrokenPromise) as error:
        check(table, known)
    for word in ("plug.maker", "things", *words):
        assert word in str(error.value)


def test_a_kept_promise_comes_back_in_declared_order_and_dtypes() -> None:
    """Columns in any order, and object columns, come back as declared."""
    table = good()[["facts", "read_at", "name", "new", "count", "mass_kg", "day"]]
    table["count"] = table["count"].astype(object)
    made = check(table)
    assert list(made.columns) == [*FRAME.names, "facts"]
    assert [str(made[column.name].dtype) for column in FRAME.columns] == [
        DTYPES[column.dtype] for column in FRAME.columns
    ]
    pd.testing.assert_frame_equal(made, good())


def test_the_check_changes_nothing_in_place() -> None:
    """What the stage returned stays as it was."""
    table = good().assign(count=[1.0, np.nan])
    before = table.copy()
    check(table)
    pd.testing.assert_frame_equal(table, before)


def test_no_frame_at_all() -> None:
    """A list or None is named for what it is."""
    broken([1, 2], "DataFrame", "list")
    broken(None, "NoneType")


def test_missing_and_undeclared_columns() -> None:
    """Each is named."""
    broken(good().drop(columns="count"), "without column count")
    broken(good().drop(columns="facts"), "without column facts")
    broken(good().assign(extra=1), "undeclared column extra")


@pytest.mark.parametrize(
    ("name", "values"),
    [
        ("mass_kg", ["x", "y"]),
        ("mass_kg", pd.to_datetime(["2026-03-02", "2026-03-03"])),
        ("count", [1.5, 2.0]),
        ("new", [2, 0]),
        ("new", ["maybe", "no"]),
        ("day", ["soon", "later"]),
        ("day", [46_083.0, 46_084.0]),
        ("read_at", pd.to_datetime(["2026-03-02T09:40Z", "2026-03-02T09:41Z"])),
        ("name", [1.5, 2.5]),
        ("name", pd.to_datetime(["2026-03-02", "2026-03-03"])),
    ],
)
def test_a_wrong_dtype_names_the_column(name: str, values: Any) -> None:
    """Values that are not of the declared dtype are refused, never converted into something else."""
    broken(good().assign(**{name: values}), f"column {name}")


def test_a_doubled_key() -> None:
    """Two rows of one key are named by it; a missing part of a key counts as one value."""
    broken(good().assign(name="a", day=pd.Timestamp("2026-03-02")), "share the key", "'a'")
    broken(good().assign(name="a", day=pd.NaT), "share the key")


@pytest.mark.parametrize("facts", [[(), (1,)], [(1,), None], [(1,), 1], [(1,), [1]]])
def test_a_row_without_facts(facts: list[Any]) -> None:
    """Every row rests on a tuple of facts."""
    table = good()
    table["facts"] = pd.Series(facts, dtype=object)
    broken(table, "rests on no facts")


def test_a_fact_that_no_input_had() -> None:
    """Provenance cannot be made up."""
    broken(good(), "has 2", known={1})


def test_an_empty_frame_keeps_every_promise() -> None:
    """No rows, all columns, all dtypes."""
    empty = FRAME.empty()
    assert len(empty) == 0 and list(empty.columns) == [*FRAME.names, "facts"]
    pd.testing.assert_frame_equal(check(empty, set()), empty)


def test_build_leaves_out_as_missing() -> None:
    """A column that is left out is missing throughout, in its dtype."""
    made = FRAME.build({"name": ["a"]}, [(1,)])
    assert made["mass_kg"].isna().all() and str(made["new"].dtype) == "boolean"
    with pytest.raises(ValueError):
        FRAME.build({"name": ["a", "b"]}, [(1,)])


def test_declarations_that_cannot_be_are_refused() -> None:
    """Doubled and reserved names, keys without a column, unknown dtypes, uses as one text."""
    with pytest.raises(ValueError, match="declares a twice"):
        Frame("f", (), (Column("a"), Column("a")))
    with pytest.raises(ValueError, match="reserved"):
        Frame("f", (), (Column("facts"),))
    with pytest.raises(ValueError, match="names b"):
        Frame("f", ("b",), (Column("a"),))
    with pytest.raises(ValueError, match="dtype 'decimal'"):
        Column("a", "decimal")
    with pytest.raises(ValueError, match="tuple"):
        Column("a", uses="b.c")  # type: ignore[arg-type]


FACTS = st.lists(st.integers(1, 30), min_size=1, max_size=4).map(lambda ids: tuple(sorted(set(ids))))


@given(st.lists(st.tuples(FACTS, FACTS), min_size=1, max_size=12))
def test_unite_row_by_row(pairs: list[tuple[tuple[int, ...], tuple[int, ...]]]) -> None:
    """Each row rests on what both rested on, sorted, once."""
    index = pd.Index([f"row {n}" for n in range(len(pairs))])
    one = pd.Series([pair[0] for pair in pairs], index=index, dtype=object)
    other = pd.Series([pair[1] for pair in pairs], index=index, dtype=object)
    made = unite(one, other)
    assert list(made) == [tuple(sorted({*a, *b})) for a, b in pairs]
    assert made.index.equals(index)


def test_unite_takes_missing_entries_for_none() -> None:
    """What an outer join leaves missing adds nothing."""
    one = pd.Series([(1,), np.nan, None], dtype=object)
    other = pd.Series([np.nan, (2,), (3, 4)], dtype=object)
    assert list(unite(one, other)) == [(1,), (2,), (3, 4)]


@given(st.lists(st.tuples(st.sampled_from(["a", "b", None]), st.integers(0, 2), FACTS), min_size=1, max_size=15))
def test_unite_by_groups(rows: list[tuple[str | None, int, tuple[int, ...]]]) -> None:
    """A group rests on all its rows' facts; the index is that of the groups, missing keys included."""
    table = pd.DataFrame({"name": pd.Series([r[0] for r in rows], dtype="str"), "n": [r[1] for r in rows]})
    facts = pd.Series([r[2] for r in rows], dtype=object)
    made = unite(facts, by=table["name"])
    for name in {r[0] for r in rows}:
        wanted = tuple(sorted(set(chain.from_iterable(r[2] for r in rows if r[0] == name))))
        assert (made[made.index.isna()].iloc[0] if name is None else made[name]) == wanted
    both = unite(facts, by=[table["name"], table["n"]])
    assert len(both) == len({(r[0], r[1]) for r in rows})
    assert set(chain.from_iterable(both)) == set(chain.from_iterable(r[2] for r in rows))


def test_fact_ids_of_several_tables() -> None:
    """All ids that the tables rest on."""
    assert fact_ids([good(), FRAME.empty()]) == {1, 2}
    assert fact_ids([]) == set()
