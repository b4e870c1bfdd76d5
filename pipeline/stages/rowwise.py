"""Stages that treat each row of one frame by itself: of a book that has grown only what came is worked out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from pipeline.contract.findings import Finding
from pipeline.contract.frames import FACTS, BrokenPromise, Frame, first_facts

if TYPE_CHECKING:
    import pandas as pd

Ids = NDArray[np.int64]


@dataclass
class RowsWorked:
    """What such a stage gave of the rows of a frame: at most a few rows each, and findings, in the rows' order."""

    rows: pd.DataFrame
    table: pd.DataFrame
    findings: list[Finding]


def work_rows(
    rows: pd.DataFrame,
    before: RowsWorked | None,
    declared: Frame,
    said: str,
    call: Callable[[pd.DataFrame], tuple[pd.DataFrame, list[Finding]]],
    only_grown: bool = False,
) -> RowsWorked:
    """What a stage gives of the rows, of which those that stood ``before`` are not worked again.

    Parameters: the frame of which each row is treated by itself; what was given last, of the same other
    frames; the declaration of what is given; who gives it; ``call``, which runs the stage on some of the
    rows and holds its result against the declaration; and whether the rows are known to begin with those
    of ``before``, unchanged. A row is known by the first of its facts.
    Raises BrokenPromise where a row or finding of the result does not rest first on one of the rows.
    """
    ids = first_facts(rows[FACTS])
    if before is None or only_grown:
        fresh = np.arange(len(before.rows) if before else 0, len(rows))
    else:
        fresh = _fresh(rows, ids, before.rows)
    if before is not None and not len(fresh) and len(rows) == len(before.rows):
        return RowsWorked(rows, before.table, before.findings)
    part = rows if len(fresh) == len(rows) else rows.iloc[fresh].reset_index(drop=True)
    table, findings = call(part)
    _check(table, findings, set(ids[fresh].tolist()), said)
    if before is None or len(fresh) == len(rows):
        order = np.argsort(first_facts(table[FACTS]), kind="stable")
        return RowsWorked(rows, _ordered(table, order), _in_order(findings))
    kept = np.setdiff1d(ids, ids[fresh], assume_unique=True)
    made = _joined(before, table, findings, kept)
    if not _keys_are_carried(part, table, declared):
        declared.check_key(made[0], said)
    return RowsWorked(rows, *made)


def _joined(before: RowsWorked, table: pd.DataFrame, findings: list[Finding], kept: Ids) -> tuple[Any, list[Finding]]:
    """What was given before of the rows ``kept``, with what is given of the others."""
    import pandas as pd

    stands = np.isin(first_facts(before.table[FACTS]), kept)
    old = before.table if stands.all() else before.table[stands]
    both = pd.concat([old, table], ignore_index=True) if len(table) else old.reset_index(drop=True)
    order = np.argsort(first_facts(both[FACTS]), kind="stable")
    still = set(kept.tolist())
    told = [finding for finding in before.findings if finding.facts[0] in still]
    return _ordered(both, order), _in_order([*told, *findings])


def _ordered(table: pd.DataFrame, order: NDArray[np.intp]) -> pd.DataFrame:
    in_place = np.array_equal(order, np.arange(len(order)))
    return table if in_place else table.iloc[order].reset_index(drop=True)


def _in_order(findings: list[Finding]) -> list[Finding]:
    return sorted(findings, key=lambda finding: finding.facts[0])


def _fresh(rows: pd.DataFrame, ids: Ids, before: pd.DataFrame) -> NDArray[np.intp]:
    """Places of the rows that did not stand before as they stand now."""
    if before.empty:
        return np.arange(len(rows))
    known = first_facts(before[FACTS])
    order = np.argsort(known, kind="stable")
    place = order[np.minimum(np.searchsorted(known, ids, sorter=order), len(known) - 1)]
    same = known[place] == ids
    then, now = place[same], np.flatnonzero(same)
    for name in rows.columns:
        old, new = _values(before[name]), _values(rows[name])
        same[now] &= _equal(_taken(new, now), _taken(old, then))
    return np.flatnonzero(~same)


def _values(column: pd.Series) -> NDArray[Any]:
    """A column as NumPy has it; what pandas keeps with a mask (whole numbers, yes and no) as float64."""
    masked = column.dtype.kind in "biu"
    return column.to_numpy(dtype=np.float64, na_value=np.nan) if masked else column.to_numpy()


def _taken(values: NDArray[Any], places: NDArray[np.intp]) -> NDArray[Any]:
    """The values at the places; as they lie, where these are the first ones in order."""
    first = len(places) <= len(values) and np.array_equal(places, np.arange(len(places)))
    return values[: len(places)] if first else values[places]


def _equal(one: NDArray[Any], other: NDArray[Any]) -> NDArray[np.bool_]:
    """Which values are the same; missing ones are."""
    import pandas as pd

    if one.dtype != other.dtype:
        return np.zeros(len(one), dtype=bool)
    alike = np.asarray(one == other, dtype=bool)
    if not alike.all():
        alike |= np.asarray(pd.isna(one) & pd.isna(other))
    return alike


def _check(table: pd.DataFrame, findings: list[Finding], ids: set[int], said: str) -> None:
    strange = set(first_facts(table[FACTS]).tolist()) - ids
    if strange:
        raise BrokenPromise(f"{said}: a row rests first on fact {min(strange)}, which is none of the rows treated")
    for finding in findings:
        if not finding.facts or finding.facts[0] not in ids:
            raise BrokenPromise(f"{said}: finding {finding.code} does not rest first on one of the rows treated")


def _keys_are_carried(part: pd.DataFrame, table: pd.DataFrame, declared: Frame) -> bool:
    """Whether the key was carried over from the rows, one from each: then it is as unlike as theirs."""
    ids = first_facts(table[FACTS])
    if len(np.unique(ids)) < len(ids) or not set(declared.key) <= set(part.columns):
        return False
    own = part.set_axis(first_facts(part[FACTS])).loc[ids]
    return all(_equal(_values(own[name]), _values(table[name])).all() for name in declared.key)
