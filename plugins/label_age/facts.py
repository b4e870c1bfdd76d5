"""From frames to facts: what the sheets say of batches, of their components and of their bottlings."""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np
import pandas as pd

from plugins.label_age.ages import DAY_WEIGHT, is_stated, read_stated_age
from plugins.label_age.cells import Strengths, strength_cells
from plugins.label_age.logic import FALSE, TRUE, UNKNOWN, truths
from plugins.label_age.spirit import add_origin, add_wood, is_spirit, substances
from plugins.label_age.tables import Facts, Table, group_starts, objects
from plugins.label_age.wood import look_up

LINE = ["batch", "component", "drawn_at", "line"]
UNKNOWN_AGE = {
    "cask": None,
    "vessel": "the age of what a vessel holds stands on no sheet yet",
    "heel": "the age of a heel stands on no sheet yet",
    "addition": "the age of an addition that holds spirit stands on no sheet",
}


def gather(
    components: pd.DataFrame,
    component_ages: pd.DataFrame,
    casks: pd.DataFrame,
    briefs: pd.DataFrame,
    bottlings: pd.DataFrame,
    balances: pd.DataFrame | None,
    book_date: date | None,
    undrawn: bool = False,
    strengths: Strengths = (),
) -> Facts:
    """The facts of every batch that has both a brief and components, whatever the rows' order.

    With ``undrawn`` also those of briefs without any component. ``strengths`` as ``strength_cells`` takes them.
    """
    briefs = briefs.drop_duplicates("batch", keep="last")
    wanted = set(briefs["batch"].dropna())
    batches = sorted(wanted if undrawn else wanted & set(components["batch"].dropna()))
    position = pd.Series(range(len(batches)), index=pd.Index(batches, dtype="str"), dtype="int64")
    lines = pd.concat([components, *heels_unlisted(components, briefs)], ignore_index=True)
    chosen = _rows_of(lines, position, ["component", "drawn_at", "line"])
    runs = _rows_of(bottlings, position, ["bottled_on", "bottle_size_L", "run"])
    brief = briefs.set_index("batch").loc[batches].reset_index()
    component_table = _components(chosen, component_ages, casks, len(batches))
    gauge = _gauges(balances, batches)
    tables = {
        "component": component_table,
        "spirit": component_table.take(is_spirit(component_table)),
        "run": _runs(runs, brief),
        "batch": _batches(brief, gauge, runs, strengths),
    }
    days, day_is = _days(runs, brief, book_date, len(batches))
    origins = {
        "brief": list(brief["facts"]),
        "components": _unite(component_table.rows, component_table.starts),
        "gauge": list(gauge["facts"]),
        "bottlings": _unite(objects(list(runs["facts"])), group_starts(runs["_batch"].to_numpy(), len(batches))),
    }
    return Facts(batches, days, day_is, tables, origins)


def blank_lines(components: pd.DataFrame, count: int, **values: Any) -> pd.DataFrame:
    """So many lines of a blend sheet, blank but for ``values``, in the dtypes of ``components``."""
    made = components.iloc[:0].drop(columns="facts").reindex(range(count)).assign(**values)
    return made.astype({column: dtype for column, dtype in components.dtypes.items() if column in made})


def heels_unlisted(components: pd.DataFrame, briefs: pd.DataFrame) -> list[pd.DataFrame]:
    """A line of unknown spirit for each vat that was not empty and of whose heel the blend sheet says nothing."""
    listed = set(components.loc[components["kind"] == "heel", "batch"])
    held = briefs[(briefs["vessel_empty"] == False).fillna(False).astype(bool)]  # noqa: E712
    held = held[held["batch"].isin(components["batch"]) & ~held["batch"].isin(listed)]
    if held.empty:
        return []
    names = ("heel of " + held["vessel"]).fillna("heel").to_numpy()
    made = blank_lines(components, len(held), batch=held["batch"].to_numpy(), component=names, kind="heel")
    return [made.assign(facts=pd.Series(list(held["facts"]), dtype=object))]


def _rows_of(frame: pd.DataFrame, position: pd.Series, order: list[str]) -> pd.DataFrame:
    """The rows of the batches asked for, sorted by batch and then by the stated order."""
    rows = frame.assign(_batch=frame["batch"].map(position))
    rows = rows[rows["_batch"].notna()].astype({"_batch": "int64"})
    return rows.sort_values(["_batch", *order], kind="stable", ignore_index=True)


def _unite(rows: np.ndarray, starts: np.ndarray) -> list[tuple[int, ...]]:
    spans = zip(starts[:-1], starts[1:], strict=True)
    return [tuple(sorted({fact for row in rows[low:high] for fact in row})) for low, high in spans]


def _components(chosen: pd.DataFrame, component_ages: pd.DataFrame, casks: pd.DataFrame, batches: int) -> Table:
    ages = chosen[LINE].merge(component_ages.drop(columns="facts"), on=LINE, how="left")
    stock = look_up(casks, chosen["component"], chosen["filled_on"], ages["counted_to"].fillna(chosen["drawn_at"]))
    names = objects([_called(kind, name) for kind, name in zip(chosen["kind"], chosen["component"], strict=True)])
    rows = objects(list(chosen["facts"]))
    for row, facts in enumerate(stock.all_facts()):
        if facts and not set(facts) <= set(rows[row]):
            rows[row] = tuple(sorted({*rows[row], *facts}))
    table = Table(group_starts(chosen["_batch"].to_numpy(), batches), names, rows)
    _add_ages(table, chosen, ages, stock.cells("spirit"))
    table.texts["kind"] = objects(chosen["kind"])
    table.texts["component"] = objects(chosen["component"])
    substances(table, chosen)
    add_origin(table, stock)
    add_wood(table, stock)
    return table


def _called(kind: Any, name: Any) -> str:
    kind = str(kind) if kind == kind and kind is not None else "component"
    return str(name) if str(name).casefold().startswith(kind) else f"{kind} {name}"


def _add_ages(table: Table, chosen: pd.DataFrame, ages: pd.DataFrame, stock_rows: np.ndarray) -> None:
    months = ages["years"].to_numpy(float) * 12 + ages["months"].to_numpy(float)
    table.set_number("age", months + ages["days"].to_numpy(float) * DAY_WEIGHT)
    table.set_number("age_days", ages["age_days"].to_numpy(float))
    filled, drawn = chosen["filled_on"], ages["counted_to"].fillna(chosen["drawn_at"])
    spans = [
        f"filled {_day(start)}, drawn {_day(end)}" if start == start and end == end else None
        for start, end in zip(filled, drawn, strict=True)
    ]
    table.texts["span"] = objects(spans)
    why: list[str | None] = []
    for kind, start, end in zip(chosen["kind"], filled, drawn, strict=True):
        if not pd.isna(start) and not pd.isna(end) and end.normalize() < start.normalize():
            why.append(f"it was filled on {_day(start)}, after it was drawn on {_day(end)}")
        elif not pd.isna(start):
            why.append("the sheet blends does not say when every draw of it was (column drawn_at)")
        else:
            why.append(UNKNOWN_AGE.get(str(kind)))
    table.why["age"] = table.why["age_days"] = objects(why)
    table.cells["age"] = table.cells["age_days"] = stock_rows


def _day(moment: Any) -> str:
    return str(moment.date())


GAUGE = ["entry", "proof_60F", "abv_20C", "strength_basis", "facts"]


def _gauges(balances: pd.DataFrame | None, batches: list[str]) -> pd.DataFrame:
    """One row per batch: the gauged entry of the balance, else the expected one, else nothing."""
    made = pd.DataFrame({"batch": pd.Series(batches, dtype="str")})
    if balances is None:
        made = made.assign(entry=None, proof_60F=np.nan, abv_20C=np.nan, strength_basis=None, facts=None)
    else:
        known = balances[balances["entry"].isin(["gauged", "expected"]) & balances["proof_60F"].notna()]
        known = known.sort_values("entry", ascending=False, kind="stable").drop_duplicates("batch")
        made = made.merge(known[["batch", *GAUGE]], on="batch", how="left")
    facts = objects([() if ids is None or ids != ids else ids for ids in made["facts"]])
    return made.assign(facts=pd.Series(facts, dtype=object))


def _batches(brief: pd.DataFrame, gauge: pd.DataFrame, runs: pd.DataFrame, strengths: Strengths) -> Table:
    from plugins.proof import official_proof

    count = len(brief)
    table = Table(np.arange(count + 1), objects(["the batch"] * count), objects(list(brief["facts"])))
    entry = objects(gauge["entry"])
    proof = np.asarray(official_proof(gauge["proof_60F"].to_numpy(float)), dtype="float64")
    table.set_number("proof", proof)
    table.set_number("abv_at_60F", proof / 2)
    table.set_number("abv_at_20C", gauge["abv_20C"].to_numpy(float))
    said = {"gauged": "the vat as gauged", "expected": "the blend as expected, not gauged"}
    note = " (apparent strength; without solids stated the true one can only be higher)"
    table.texts["strength_of"] = objects(
        [said[e] + (note if basis == "apparent" else "") if e else None
         for e, basis in zip(entry, objects(gauge["strength_basis"]), strict=True)]
    )  # fmt: skip
    cells, columns = strength_cells(gauge["facts"], brief["facts"], strengths)
    for name in ("proof", "abv_at_60F", "abv_at_20C", "reduction_to_come"):
        table.cells[name], table.columns[name] = cells, columns
    settled = (entry == "gauged") | np.isin(np.arange(count), runs["_batch"].to_numpy())
    table.flags["reduction_to_come"] = np.where(settled, FALSE, UNKNOWN).astype(np.int8)
    _add_statement(table, objects(brief["age_statement"]))
    table.texts["market"] = objects(brief["market"])
    table.texts["claims"] = objects([claims_of(text) for text in objects(brief["claims"])])
    return table


def claims_of(text: str | None) -> tuple[str, ...]:
    """The brief's claims, in lower case, each once, as written."""
    pieces = (text or "").replace("\n", ";").replace(",", ";").split(";")
    return tuple(dict.fromkeys(piece.strip().lower() for piece in pieces if piece.strip()))


def _add_statement(table: Table, statements: np.ndarray) -> None:
    stated = np.array([is_stated(text) for text in statements], dtype=bool)
    ages = [read_stated_age(str(text)) if there else None for text, there in zip(statements, stated, strict=True)]
    table.flags["age_is_stated"] = np.where(stated, TRUE, FALSE).astype(np.int8)
    table.set_number("stated_age", [np.nan if age is None else age.key for age in ages])
    table.set_number("stated_age_days", [np.nan if age is None else age.days for age in ages])
    table.flags["age_in_whole_years"] = truths([None if age is None else age.whole_years for age in ages])
    table.texts["age_statement"] = objects(statements)
    why = objects([f"{text!r} is not one age in years, months or days" if there else None
                   for text, there in zip(statements, stated, strict=True)])  # fmt: skip
    table.why["stated_age"] = table.why["stated_age_days"] = table.why["age_in_whole_years"] = why


def _runs(runs: pd.DataFrame, brief: pd.DataFrame) -> Table:
    """One row per bottling run; where nothing is bottled yet, one row from the brief."""
    count = len(brief)
    unbottled = np.setdiff1d(np.arange(count), runs["_batch"].to_numpy())
    owner = np.concatenate([runs["_batch"].to_numpy(), unbottled]).astype(int)
    order = np.argsort(owner, kind="stable")
    owner = owner[order]
    said = [_run_name(day, run) for day, run in zip(runs["bottled_on"], runs["run"], strict=True)]
    names = objects(said + ["the brief"] * len(unbottled))[order]
    rows = objects(list(runs["facts"]) + list(brief["facts"].iloc[unbottled]))[order]
    blank = [np.nan] * len(unbottled)
    label = np.concatenate([runs["label_abv"].to_numpy(float), blank])[order]
    size = np.concatenate([runs["bottle_size_L"].to_numpy(float), blank])[order]
    asked, asked_proof = brief["bottling_abv"].to_numpy(float)[owner], brief["bottling_proof"].to_numpy(float)[owner]
    table = Table(group_starts(owner, count), names, rows)
    label_20C = np.where(np.isnan(label), asked, label)
    label_60F = np.where(np.isnan(label_20C), asked_proof / 2, label_20C)
    size = np.where(np.isnan(size), brief["bottle_size_L"].to_numpy(float)[owner], size)
    table.set_number("label_abv_20C", label_20C)
    table.set_number("label_abv_60F", label_60F)
    table.set_number("bottle_mL", np.round(size * 1000, 6))
    whole = np.abs(label_20C * 10 - np.round(label_20C * 10)) < 1e-6
    decimals = np.where(np.isnan(label_20C), UNKNOWN, np.where(whole, TRUE, FALSE))
    table.flags["label_one_decimal"] = decimals.astype(np.int8)
    _label_cells(table, label, asked, asked_proof, objects(list(brief["facts"].iloc[owner])))
    return table


def _label_cells(table: Table, label: np.ndarray, asked: np.ndarray, proof: np.ndarray, brief: np.ndarray) -> None:
    """The cell that states each label strength: the run's, else the brief's; a blank one of the run where none does."""
    in_brief = np.where(~np.isnan(asked), "bottling_abv", np.where(~np.isnan(proof), "bottling_proof", ""))
    blank = np.where(table.names == "the brief", "bottling_proof", "label_abv")
    columns = np.where(~np.isnan(label), "label_abv", np.where(in_brief != "", in_brief, blank))
    cells = np.where(columns == "label_abv", table.rows, brief)
    for name in ("label_abv_60F", "label_abv_20C", "label_one_decimal"):
        table.cells[name], table.columns[name] = cells, columns


def _run_name(day: Any, run: Any) -> str:
    named = f"the bottling of {_day(day)}" if not pd.isna(day) else "the bottling"
    return named if pd.isna(run) else f"{named}, run {run}"


def _days(
    runs: pd.DataFrame, brief: pd.DataFrame, book_date: date | None, count: int
) -> tuple[list[date | None], list[str]]:
    """The day whose law judges each batch: its earliest bottling, else the brief's due, else the book date."""
    first = runs.groupby("_batch")["bottled_on"].min()
    bottled = first.reindex(range(count))
    days: list[date | None] = []
    said: list[str] = []
    for run, due in zip(bottled, brief["due"], strict=True):
        day, what = next(
            ((d, w) for d, w in ((run, "bottled on"), (due, "due")) if not pd.isna(d)), (book_date, "the book date")
        )
        days.append(day.date() if isinstance(day, pd.Timestamp) else day)
        said.append(f"{what} {days[-1]}" if days[-1] else "")
    return days, said
