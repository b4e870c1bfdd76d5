"""From frames to facts: what the sheets say of batches, of their components, of their bottlings and of the fill."""

from __future__ import annotations

from datetime import date
from typing import Any

import pandas as pd

from plugins.label_age.facts.additions import added_percent
from plugins.label_age.facts.ageing import add_time_to_bottling
from plugins.label_age.facts.batch import batch_table, gauges, run_table
from plugins.label_age.facts.cells import Strengths
from plugins.label_age.facts.fill import bottle_table, lot_table, tested
from plugins.label_age.facts.lines import ORDER, behind, component_table, spirit_table, with_fillings
from plugins.label_age.facts.stays import all_lines
from plugins.label_age.facts.tables import Facts, Table, group_starts, ids_of, rows_of, united


def gather(
    components: pd.DataFrame,
    stays: pd.DataFrame,
    casks: pd.DataFrame,
    briefs: pd.DataFrame,
    bottlings: pd.DataFrame,
    balances: pd.DataFrame | None,
    fill_checks: pd.DataFrame | None,
    book_date: date | None,
    undrawn: bool = False,
    strengths: Strengths = (),
    fillings: Table | None = None,
) -> Facts:
    """The facts of every batch that has both a brief and components, whatever the rows' order.

    With ``undrawn`` also those of briefs without any component. ``strengths`` as ``strength_cells`` takes them,
    ``fillings`` as ``with_fillings`` gives them, where the stays have them already.
    """
    briefs = briefs.drop_duplicates("batch", keep="last")
    wanted = set(briefs["batch"].dropna())
    batches = sorted(wanted if undrawn else wanted & set(components["batch"].dropna()))
    count = len(batches)
    position = pd.Series(range(count), index=pd.Index(batches, dtype="str"), dtype="int64")
    lines = rows_of(all_lines(components, briefs), position, ORDER)
    stayed = rows_of(stays, position, [*ORDER, "origin", "stay"])
    if fillings is None:
        stayed, fillings = with_fillings(stayed, casks)
    runs = rows_of(bottlings, position, ["bottled_on", "bottle_size_L", "run"])
    brief = briefs.set_index("batch").loc[batches].reset_index()
    gauge = gauges(balances, batches)
    spirit = spirit_table(lines, stayed, fillings, count)
    bottles = tested(fill_checks, runs, brief, gauge, position)
    add_time_to_bottling(spirit, runs, count)
    component = component_table(lines, stayed, brief)
    tables = {
        "component": component,
        "spirit": spirit,
        "run": run_table(runs, brief),
        "batch": batch_table(brief, gauge, runs, strengths, bottles, added_percent(lines, component, gauge)),
        "bottle": bottle_table(bottles, count),
        "lot": lot_table(bottles, runs, count),
    }
    days, day_is = _days(runs, brief, book_date, count)
    lined = united(ids_of(lines), group_starts(lines["_batch"].to_numpy(), count))
    origins = {
        "brief": list(brief["facts"]),
        "components": [_both(a, b) for a, b in zip(lined, behind(spirit), strict=True)],
        "gauge": list(gauge["facts"]),
        "bottlings": united(ids_of(runs), group_starts(runs["_batch"].to_numpy(), count)),
        "fill": united(ids_of(bottles), group_starts(bottles["_batch"].to_numpy(), count)),
    }
    return Facts(batches, days, day_is, tables, origins)


def _both(one: tuple[int, ...], other: tuple[int, ...]) -> tuple[int, ...]:
    return tuple(sorted({*one, *other}))


def _days(
    runs: pd.DataFrame, brief: pd.DataFrame, book_date: date | None, count: int
) -> tuple[list[date | None], list[str]]:
    """The day whose law judges each batch: its earliest bottling, else the brief's due, else the book date."""
    first = runs.groupby("_batch")["bottled_on"].min()
    bottled = first.reindex(range(count))
    days: list[date | None] = []
    said: list[str] = []
    for run, due in zip(bottled, brief["due"], strict=True):
        day: Any
        day, what = next(
            ((d, w) for d, w in ((run, "bottled on"), (due, "due")) if not pd.isna(d)), (book_date, "the book date")
        )
        days.append(day.date() if isinstance(day, pd.Timestamp) else day)
        said.append(f"{what} {days[-1]}" if days[-1] else "")
    return days, said
