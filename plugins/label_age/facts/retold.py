"""What the row of a later cask says of a spirit that a cask before it named otherwise: then neither is known."""

from __future__ import annotations

import numpy as np
import pandas as pd

from plugins.label_age.facts.catalogue import LOCALITIES
from plugins.label_age.facts.logic import UNKNOWN
from plugins.label_age.facts.tables import Table

TEXTS = ("distillery", "state", "country", "season", "distilled_day", "mash_country", "ferment_country", "whisky_type")
FLAGS = ("all_grain", "all_cereal", "neutral", "pot_still", "column_still", "enzymes_added",
         *(f"in_{place.lower()}" for place in LOCALITIES))  # fmt: skip
NUMBERS = ("distilled_proof", "distilled_abv", "distilled_year")


def hold_against_later(table: Table, stays: pd.DataFrame, starts: np.ndarray, held: Table, code: np.ndarray) -> None:
    """Open each fact of making that a later cask of the same origin contradicts, of casks that held it alone.

    A cask that held several origins may be described by any of them. Of the strength at entry the highest counts
    as the greatest that it may be.
    """
    first = np.repeat(code[starts[:-1]], np.diff(starts))
    origin = np.repeat(np.arange(len(starts) - 1), np.diff(starts))
    at = np.flatnonzero((code != first) & _held_alone(stays, code, origin))
    if not len(at):
        return
    for name in (*TEXTS, *FLAGS, *NUMBERS, *(name for name in held.numbers if name.endswith("_share"))):
        _open_where_differs(table, name, held, code[at], first[at], origin[at])
    low, high = table.number("entry_proof")
    again = held.number("entry_proof")[1][code[at]]
    most = high.copy()
    np.fmax.at(most, origin[at], np.where(np.isnan(high[origin[at]]), np.nan, again))
    table.set_number("entry_proof", low, most)


def _held_alone(stays: pd.DataFrame, code: np.ndarray, origin: np.ndarray) -> np.ndarray:
    """Stays in a filling that held no other origin of the batch: boolean."""
    rows = pd.DataFrame({"batch": stays["_batch"].to_numpy(), "code": code, "origin": origin})
    return np.asarray(rows.groupby(["batch", "code"])["origin"].transform("nunique").to_numpy() == 1)


def _open_where_differs(
    table: Table, name: str, held: Table, later: np.ndarray, first: np.ndarray, origin: np.ndarray
) -> None:
    differs = _differs(held, name, later, first)
    if not differs.any():
        return
    why = np.full(len(table), None, dtype=object)
    for row in range(len(table)):
        why[row] = table.reason_unknown(name, row) or None
    for row, one, other in zip(origin[differs], first[differs], later[differs], strict=True):
        why[row] = f"the rows of {held.names[one]} and of {held.names[other]}, which held it later, differ in it"
    table.why[name] = why
    rows = origin[differs]
    if name in held.texts:
        table.texts[name] = table.text(name).copy()
        table.texts[name][rows] = None
        table.plain_texts.pop(name, None)
    elif name in held.flags:
        table.flags[name] = table.flag(name).copy()
        table.flags[name][rows] = UNKNOWN
    else:
        low, high = (bound.copy() for bound in table.number(name))
        low[rows], high[rows] = np.nan, np.nan
        table.set_number(name, low, high)


def _differs(held: Table, name: str, later: np.ndarray, first: np.ndarray) -> np.ndarray:
    """Where two fillings both say something of a fact, and not the same; a later doubt is a saying too."""
    if name in held.texts:
        one, other = (held.plain_text(name)[rows] for rows in (first, later))
        return np.asarray((one != None) & (other != None) & (one != other), dtype=bool)  # noqa: E711
    if name in held.flags:
        one, other = (held.flag(name)[rows] for rows in (first, later))
        doubted = (other == UNKNOWN) & held.unread(name)[later]
        return np.asarray((one != UNKNOWN) & (one != other) & ((other != UNKNOWN) | doubted), dtype=bool)
    low, high = held.number(name)
    return np.asarray((low[later] > high[first] + 1e-6) | (high[later] < low[first] - 1e-6), dtype=bool)
