"""What several stages work out of the same frames is worked out once, and is what the call would give."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from pipeline.common import once
from pipeline.common.once import worked_once


class Counted:
    """A function of a frame that counts its calls."""

    def __init__(self) -> None:
        self.calls = 0
        self.of = worked_once(self._work)

    def _work(self, frame: pd.DataFrame, factor: float = 1.0, names: frozenset[str] = frozenset()) -> pd.DataFrame:
        self.calls += 1
        return frame.assign(twice=frame["x"] * 2 * factor)


def frame(*values: float) -> pd.DataFrame:
    return pd.DataFrame({"x": np.array(values), "facts": [(place,) for place in range(len(values))]})


def test_equal_frames_are_worked_out_once() -> None:
    counted = Counted()
    first, second = counted.of(frame(1.0, np.nan)), counted.of(frame(1.0, np.nan))
    assert counted.calls == 1
    pd.testing.assert_frame_equal(first, second)


def test_any_difference_is_worked_out_anew() -> None:
    """Another value, kind of value, fact, index, argument: each is another call, and each has its own result."""
    base = frame(1.0, 2.0)
    others: list[tuple[Any, ...]] = [
        (frame(1.0, 3.0),),
        (base.astype({"x": "float32"}),),
        (base.assign(facts=[(7,), (8,)]),),
        (base.set_axis([5, 6]),),
        (base, 2.0),
        (base, 2),
        (base, 1.0, frozenset({"a"})),
    ]
    for given in others:
        counted = Counted()
        counted.of(base)
        made = counted.of(*given)
        assert counted.calls == 2
        pd.testing.assert_frame_equal(made, Counted()._work(*given))
    named = Counted()
    assert named.of(base, factor=3.0)["twice"].tolist() == [6.0, 12.0]
    assert named.of(base, factor=4.0)["twice"].tolist() == [8.0, 16.0]


def test_a_frame_with_a_column_called_name_and_columns_of_other_names() -> None:
    """A column ``name`` is no name of a frame; of two equal columns with other names each has its own result."""
    counted = Counted()
    for _ in range(2):
        counted.of(frame(1.0).assign(name="C-1"))
    assert counted.calls == 1
    named = worked_once(lambda column: str(column.name))
    assert [named(pd.Series([1.0], name=name)) for name in ("a", "b", "a")] == ["a", "b", "a"]


def test_what_a_caller_does_to_a_frame_stays_with_the_caller() -> None:
    """Neither the argument changed afterwards nor the result changed changes what is kept."""
    counted, given = Counted(), frame(1.0, 2.0)
    made = counted.of(given)
    made["twice"] = 0.0
    given.loc[0, "x"] = 9.0
    assert counted.of(frame(1.0, 2.0))["twice"].tolist() == [2.0, 4.0] and counted.calls == 1
    assert counted.of(given)["twice"].tolist() == [18.0, 4.0]


def test_only_the_last_few_calls_are_kept_and_no_long_frame() -> None:
    counted = Counted()
    for value in range(once.KEPT + 1):
        counted.of(frame(float(value)))
    counted.of(frame(float(once.KEPT)))
    assert counted.calls == once.KEPT + 1
    counted.of(frame(0.0))
    assert counted.calls == once.KEPT + 2
    long = frame(*np.zeros(once.LONGEST + 1))
    for _ in range(2):
        counted.of(long)
    assert counted.calls == once.KEPT + 4


def test_a_call_that_fails_is_not_kept() -> None:
    counted = Counted()
    for _ in range(2):
        try:
            counted.of(pd.DataFrame({"y": [1.0]}))
        except KeyError:
            continue
        raise AssertionError("a frame without x was worked out")
    assert counted.calls == 2
