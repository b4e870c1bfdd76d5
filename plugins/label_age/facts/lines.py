"""Facts of lines and of the spirit in them: one row of spirit for each origin, whatever vessel it came through."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from plugins.label_age.facts.additions import UNLISTED, holds_spirit, substances, what_is_added
from plugins.label_age.facts.ageing import ages_by, ends, origin_starts, spent, summed
from plugins.label_age.facts.catalogue import HELD, whereabouts
from plugins.label_age.facts.logic import FALSE, TRUE, UNKNOWN, both, negate
from plugins.label_age.facts.oak import add_wood
from plugins.label_age.facts.retold import hold_against_later
from plugins.label_age.facts.spirit import add_origin, type_by_making
from plugins.label_age.facts.tables import Table, group_starts, ids_of, objects, same_rows, united
from plugins.label_age.facts.wood import look_up

LINE = ["batch", "component", "drawn_at", "line"]
ORDER = ["component", "drawn_at", "line"]
WOOD_COLUMNS = {
    "age_in_charred_new_oak": "new_oak, charred",
    "age_in_used_oak": "species, new_oak",
    "age_in_oak": "species",
    "age_in_wood": "species",
    "age_in_oak_700L": "species, capacity",
    "age_in_wood_700L": "species, capacity",
}
"""Ages of which only a part may count, and the columns of the inventory that tell which."""
WEIGHTS = ("proof_gallons", "lpa", "volume_60F_gal", "volume_20C_L", "mass_kg")


def component_table(lines: pd.DataFrame, stays: pd.DataFrame, brief: pd.DataFrame) -> Table:
    """One row for each line, each addition that a vessel brought with it, and what a brief says is not listed."""
    batches = len(brief)
    found = what_is_added(lines)
    owner, kinds, named, facts = lines["_batch"], objects(lines["kind"]), objects(lines["component"]), lines["facts"]
    more = _more_components(stays, brief)
    if len(more):
        owner = pd.concat([owner, more["_batch"]], ignore_index=True)
        order = np.argsort(owner.to_numpy(), kind="stable")
        found = np.concatenate([found, objects(more["substance"])])[order]
        kinds = np.concatenate([kinds, np.full(len(more), "addition", dtype=object)])[order]
        named = np.concatenate([named, objects(more["component"])])[order]
        facts = pd.concat([facts, more["facts"]], ignore_index=True).iloc[order]
        owner = owner.iloc[order]
    called = _each_once(kinds, named)
    called[named == UNLISTED] = UNLISTED
    table = Table(group_starts(owner.to_numpy(), batches), called, ids_of(facts.to_frame("facts")))
    table.texts["kind"], table.texts["component"] = kinds, named
    substances(table, found)
    return table


def _more_components(stays: pd.DataFrame, brief: pd.DataFrame) -> pd.DataFrame:
    """Columns _batch, component, substance, facts: what no line of the blend sheet names."""
    brought = stays.loc[stays["substance"].notna(), ["_batch", "component", "substance", "facts"]]
    if len(brought):
        parts = brought["substance"].str.split("\x1f", expand=True)
        brought = brought.assign(substance=parts[0], component=parts[1] + " (in " + brought["component"] + ")")
    hidden = np.flatnonzero((~brief["all_listed"].fillna(True).astype(bool)).to_numpy())
    if not len(hidden):
        return brought
    unlisted = pd.DataFrame({"_batch": hidden, "component": UNLISTED, "substance": None})
    unlisted["facts"] = pd.Series(list(brief["facts"].iloc[hidden]), dtype=object)
    return pd.concat([brought, unlisted], ignore_index=True)


def spirit_table(lines: pd.DataFrame, stays: pd.DataFrame, held: Table, batches: int) -> Table:
    """One row for each origin: its inventory facts, its wood through all its stays, its ages.

    ``held`` are the facts of the fillings, whose rows stand in the column ``_filling`` of the stays.
    """
    stays = stays[stays["substance"].isna()].reset_index(drop=True)
    code = stays["_filling"].to_numpy()
    starts = origin_starts(stays)
    first = starts[:-1]
    chosen = stays.iloc[first] if len(first) != len(stays) else stays
    rows = ids_of(chosen)
    owner = chosen["_batch"].to_numpy()
    table = Table(group_starts(owner, batches), _names(chosen, stays, starts), rows, source=held, index=code[first])
    component = objects(chosen["component"])
    table.texts["component"], table.texts["kind"] = component, objects(chosen["kind"])
    _add_wood_through(table, stays, starts, held, code)
    if len(stays) != len(table):
        hold_against_later(table, stays, starts, held, code)
    table.texts["type_by_making"] = type_by_making(table)
    _add_ages(table, stays, starts, held, code)
    _add_amounts(table, lines, chosen)
    return table


def behind(table: Table) -> list[tuple[int, ...]]:
    """For each batch the ids of its lines and of the rows of the inventory that bring a value of them."""
    assert table.source is not None
    stock = table.source.rows[table.index]
    both_rows = np.empty(2 * len(stock), dtype=object)
    both_rows[0::2], both_rows[1::2] = table.rows, stock
    return united(both_rows, table.starts * 2)


def with_fillings(stays: pd.DataFrame, casks: pd.DataFrame) -> tuple[pd.DataFrame, Table]:
    """The stays with a column ``_filling``, and the facts of the fillings that they speak of, each once, by its row."""
    day = stays["until"].fillna(stays["drawn_at"]).dt.normalize()
    asked = pd.DataFrame({"cask": stays["cask"], "filled_on": stays["filled_on"], "day": day})
    code, _ = same_rows(asked, asked.iloc[:0], ["cask", "filled_on", "day"])
    unique, first = np.unique(code, return_index=True)
    code = np.searchsorted(unique, code)
    once = asked.iloc[first]
    stock = look_up(casks, once["cask"].to_numpy(), once["filled_on"], once["day"])
    names = objects(once["cask"])
    held = Table(np.array([0]), names, objects(stock.all_facts()))
    add_origin(held, stock)
    add_wood(held, stock)
    _add_wood_kinds(held)
    for name in ("age", "age_days", *WOOD_COLUMNS):
        held.cells[name] = stock.cells("spirit")
    return stays.assign(_filling=code), held


def _add_wood_kinds(held: Table) -> None:
    """Truths of each filling's wood that ages hang on."""
    new, charred, oak = held.flag("new_oak"), held.flag("charred"), held.flag("oak")
    size = held.number("capacity_L")[0]
    small = np.where(np.isnan(size), UNKNOWN, np.where(size <= 700 + 1e-6, TRUE, FALSE)).astype(np.int8)
    charred_new = both(new, charred)
    held.flags["age_in_charred_new_oak"] = charred_new
    held.flags["age_in_used_oak"] = both(oak, negate(charred_new))
    held.flags["age_in_oak"], held.flags["in_other_wood"] = oak, negate(oak)
    held.flags["age_in_oak_700L"] = both(oak, small)
    held.flags["age_in_wood"], held.flags["age_in_wood_700L"] = held.flag("wood"), both(held.flag("wood"), small)
    held.flags["lay_in_charred_new_oak"] = charred_new


def _names(chosen: pd.DataFrame, stays: pd.DataFrame, starts: np.ndarray) -> np.ndarray:
    """``cask C-1``; ``cask C-1 (in vessel T-9)``; ``cask C-1 (by way of C-9)``."""
    kind, component = objects(chosen["kind"]), objects(chosen["component"])
    names = _each_once(kind, component)
    cask = objects(chosen["cask"])
    last = objects(stays["cask"].iloc[starts[1:] - 1]) if len(stays) else cask
    other = np.array([c is not None and c != n for c, n in zip(cask, component, strict=True)], dtype=bool)
    for row in np.flatnonzero(other):
        way = (
            f"in {names[row]}"
            if kind[row] != "cask"
            else f"now in {last[row]}"
            if last[row] != cask[row]
            else f"in {component[row]}"
        )
        names[row] = f"cask {cask[row]} ({way})"
    return names


def _each_once(kinds: np.ndarray, named: np.ndarray) -> np.ndarray:
    """``_called`` of every line, each name worked out once."""
    kind, known_kinds = pd.factorize(kinds, use_na_sentinel=False)
    name, known_names = pd.factorize(named, use_na_sentinel=False)
    code, first = np.unique(kind * len(known_names) + name, return_inverse=True)
    said = [_called(known_kinds[c // len(known_names)], known_names[c % len(known_names)]) for c in code.tolist()]
    return objects(said)[first] if len(said) else objects([])


def _called(kind: Any, name: Any) -> str:
    kind = str(kind) if kind == kind and kind is not None else "component"
    return str(name) if str(name).casefold().startswith(kind) else f"{kind} {name}"


def _add_wood_through(table: Table, stays: pd.DataFrame, starts: np.ndarray, held: Table, code: np.ndarray) -> None:
    """Wood of origins that lay in several casks: what is said of every one of them, and whether they were finished."""
    count = len(table)
    table.flags["finished"] = np.full(count, FALSE, dtype=np.int8)
    if len(stays) == count:
        table.flags["lay_in_charred_new_oak"] = held.flag("lay_in_charred_new_oak")[code]
        return
    for name in (f"held_{drink}" for drink in HELD):
        table.flags[name] = np.maximum.reduceat(held.flag(name)[code], starts[:-1])
    for name in ("oak", "wood", "new_oak", "charred", "held_as_allowed", "wood_not_stated"):
        table.flags[name] = np.minimum.reduceat(held.flag(name)[code], starts[:-1])
    _add_places_through(table, starts, held, code)
    table.flags["in_other_wood"] = np.maximum.reduceat(held.flag("in_other_wood")[code], starts[:-1])
    table.flags["lay_in_charred_new_oak"] = np.maximum.reduceat(held.flag("lay_in_charred_new_oak")[code], starts[:-1])
    table.set_number("capacity_L", np.maximum.reduceat(held.number("capacity_L")[0][code], starts[:-1]))
    later = (stays["stay"] > 0).to_numpy(bool)
    named = (stays["reason"] == "finish").fillna(False).to_numpy(bool)
    begun = np.repeat(held.flag("lay_in_charred_new_oak")[code][starts[:-1]], np.diff(starts))
    begun = np.where(named, TRUE, begun).astype(np.int8)  # a finish is one whatever it lay in before
    other = both(begun, negate(held.flag("lay_in_charred_new_oak")[code]))
    truth = np.where(later, other, FALSE).astype(np.int8)
    table.flags["finished"] = np.maximum.reduceat(truth, starts[:-1])


def _add_places_through(table: Table, starts: np.ndarray, held: Table, code: np.ndarray) -> None:
    """Where origins of several stays were aged: every place that is named."""
    for name in ("aged_country", "aged_state"):
        said, unread = held.text(name)[code], held.unread(name)[code]
        table.texts[name] = objects([
            None if unread[a:b].any()
            else " and ".join(dict.fromkeys(place for place in said[a:b] if place is not None)) or None
            for a, b in zip(starts[:-1].tolist(), starts[1:].tolist(), strict=True)
        ])  # fmt: skip
        if unread.any():
            reasons = [held.reason_unknown(name, row) for row in code.tolist()]
            spans = zip(starts[:-1].tolist(), starts[1:].tolist(), strict=True)
            table.why[name] = objects([next(filter(None, reasons[a:b]), None) for a, b in spans])
    table.flags["matured_where_distilled"] = np.minimum.reduceat(
        held.flag("matured_where_distilled")[code], starts[:-1]
    )


def _add_ages(table: Table, stays: pd.DataFrame, starts: np.ndarray, held: Table, code: np.ndarray) -> None:
    key, _ = ages_by(stays, starts)
    table.set_number("age", key)
    table.set_number("age_days", summed(spent(stays), starts))
    for name in WOOD_COLUMNS:
        table.set_number(name, *ages_by(stays, starts, held.flag(name)[code]))
    table.since, table.until = ends(stays, starts)
    doubts = objects(stays["doubt"])
    first = doubts[starts[:-1]]
    if len(stays) != len(table) and len(doubts):
        texts = np.where(doubts == None, "", doubts).astype(object)  # noqa: E711
        first = objects(
            [next((t for t in texts[a:b] if t), None) for a, b in zip(starts[:-1], starts[1:], strict=True)]
        )
    table.why["age"] = table.why["age_days"] = first
    for name, columns in WOOD_COLUMNS.items():
        text = f"how much of it lay in wood that counts hangs on its cask ({whereabouts('casks', columns)})"
        table.why[name] = np.where(first == None, text, first)  # noqa: E711
    _open_ages(table, starts, held.why["filled_before_distilled"][code])
    if len(stays) != len(table):
        table.texts["_path"] = _paths(stays, starts)


def _open_ages(table: Table, starts: np.ndarray, late: np.ndarray) -> None:
    """Of what was filled before the day that its sheet gives for its distillation the ages are known as greatest ones.

    ``late`` says so in words of each stay, None where all is in order. One of the two days is wrong, and a later
    filling only makes it younger.
    """
    said = objects([next(filter(None, late[a:b]), None) for a, b in zip(starts[:-1], starts[1:], strict=True)])
    open_ = said != None  # noqa: E711
    for name in ("age", "age_days", *WOOD_COLUMNS) if open_.any() else ():
        low, high = table.number(name)
        table.set_number(name, np.where(open_, np.nan, low), high)
        table.why[name] = np.where(open_, said, table.why[name])


def _paths(stays: pd.DataFrame, starts: np.ndarray) -> np.ndarray:
    """``in C-1 from 2018-03-01 to 2022-05-02, in C-9 to 2024-01-10`` for origins of several stays or by a vessel."""
    made = np.full(len(starts) - 1, None, dtype=object)
    several = np.flatnonzero(np.diff(starts) > 1)
    for row in several:
        part = stays.iloc[starts[row] : starts[row + 1]]
        if part["since"].isna().any() or part["until"].isna().any():
            continue
        said = [
            f"in {cask} from {since.date()} to {until.date()}"
            for cask, since, until in zip(part["cask"], part["since"], part["until"], strict=True)
        ]
        made[row] = ", ".join(said)
    return made


def span_of(table: Table, row: int) -> str:
    """The days between which an age was counted, in words; empty where they are not known."""
    path = table.text("_path")[row] if "_path" in table.texts else None
    if path:
        return str(path)
    since, until = table.since[row], table.until[row]
    if np.isnat(since) or np.isnat(until):
        return ""
    return f"filled {since}, {'drawn' if table.text('kind')[row] == 'cask' else 'left it'} {until}"


def _add_amounts(table: Table, lines: pd.DataFrame, chosen: pd.DataFrame) -> None:
    """Amounts of the lines that hold spirit, and where each line's origins begin."""
    at = _aligned(lines, chosen)
    if at is not None:
        table.units = np.arange(len(chosen) + 1)
        table.weights = {name: lines[name].to_numpy(float)[at] for name in WEIGHTS}
        _add_of_line(table, lines, at)
        return
    line_code, code = same_rows(lines, chosen, LINE)
    begin = np.flatnonzero(np.append(True, code[1:] != code[:-1])) if len(code) else np.empty(0, dtype=np.int64)
    table.units = np.append(begin, len(code)).astype(np.int64)
    if not len(code):
        table.weights = {name: np.empty(0) for name in WEIGHTS}
        return
    where = np.zeros(int(line_code.max()) + 1 if len(line_code) else 1, dtype=np.int64)
    where[line_code] = np.arange(len(line_code))
    at = where[code[begin]]
    for name in WEIGHTS:
        table.weights[name] = lines[name].to_numpy(float)[at]
    _add_of_line(table, lines, np.repeat(at, np.diff(table.units)))


def _aligned(lines: pd.DataFrame, chosen: pd.DataFrame) -> np.ndarray | None:
    """The line of each origin where every line that holds spirit has just one; else None."""
    at = np.flatnonzero(holds_spirit(what_is_added(lines)))
    if len(at) != len(chosen) or not (lines["_batch"].to_numpy()[at] == chosen["_batch"].to_numpy()).all():
        return None
    one, other = (frame["component"].to_numpy(object) for frame in (lines, chosen))
    return at if (one[at] == other).all() else None


def _add_of_line(table: Table, lines: pd.DataFrame, at: np.ndarray) -> None:
    """What each origin's line brings, and whether the strength that counts was gauged on the day of the draw."""
    table.texts["substance"] = what_is_added(lines)[at]
    gauged, drawn = (lines[c].to_numpy("datetime64[us]").astype("datetime64[D]")[at] for c in ("gauged_at", "drawn_at"))
    known = ~(np.isnat(gauged) | np.isnat(drawn))
    same = known & (gauged == drawn)
    table.flags["gauged_at_draw"] = np.where(same, TRUE, UNKNOWN).astype(np.int8)
    table.why["gauged_at_draw"] = np.full(len(at), "its strength was not gauged on the day of the draw", dtype=object)
