"""The document ``cellar_book``: what the cellar's pages show, sorted once by cask."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd

from pipeline import document
from pipeline.common.names import fold
from pipeline.writing.plain import plain_rows
from plugins.cellar.casks.names import natural
from plugins.proof import abv_from_mass_fraction, mass_fraction_from_proof

Row = dict[str, Any]


@dataclass
class Book:
    """Rows by folded cask, each list in order of filling; tables as they are."""

    casks: dict[str, list[Row]] = field(default_factory=dict)
    points: dict[tuple[str, str], list[Row]] = field(default_factory=dict)
    rates: dict[tuple[str, str], Row] = field(default_factory=dict)
    ahead: dict[tuple[str, str], list[Row]] = field(default_factory=dict)
    outlooks: dict[tuple[str, str], Row] = field(default_factory=dict)
    checks: dict[tuple[str, str], list[Row]] = field(default_factory=dict)
    lineage: dict[str, list[Row]] = field(default_factory=dict)
    evaporation: list[Row] = field(default_factory=list)
    tables: list[Row] = field(default_factory=list)
    beside: dict[str, tuple[str, str]] = field(default_factory=dict)
    """The cask before and after each, by name; empty at the ends."""
    tasted: set[str] = field(default_factory=set)


def _by(frame: pd.DataFrame) -> dict[tuple[str, str], list[Row]]:
    made: dict[tuple[str, str], list[Row]] = {}
    for row in plain_rows(frame):
        made.setdefault((fold(row["cask"]), fold(row["filling"] or "")), []).append(row)
    return made


def _abv(histories: pd.DataFrame) -> np.ndarray:
    """Apparent strength in % vol at 20 °C."""
    proof = histories["proof_apparent_60F"].to_numpy(np.float64)
    return np.asarray(abv_from_mass_fraction(mass_fraction_from_proof(proof)))


@document(gives="cellar_book")
def bind_cellar(
    fillings_of_casks: pd.DataFrame,
    cask_histories: pd.DataFrame,
    cask_rates: pd.DataFrame,
    cask_forecasts: pd.DataFrame,
    cask_outlooks: pd.DataFrame,
    evaporation: pd.DataFrame,
    stock_tables: pd.DataFrame,
    stock_checks: pd.DataFrame,
    lineages: pd.DataFrame,
    cask_table: pd.DataFrame | None = None,
) -> Book:
    """All that the cellar's pages show."""
    book = Book(
        points=_by(cask_histories.assign(abv_apparent_20C=_abv(cask_histories))),
        rates={key: found[0] for key, found in _by(cask_rates).items()},
        ahead=_by(cask_forecasts),
        outlooks={key: found[0] for key, found in _by(cask_outlooks).items()},
        checks=_by(stock_checks),
        evaporation=plain_rows(evaporation),
        tables=plain_rows(stock_tables),
    )
    if cask_table is not None:
        book.tasted = {fold(name) for name in cask_table.loc[cask_table["tasted_at"].notna(), "cask"]}
    for row in plain_rows(fillings_of_casks):
        book.casks.setdefault(fold(row["cask"]), []).append(row)
    order = sorted(book.casks, key=natural)
    names = ["", *(book.casks[key][0]["cask"] for key in order), ""]
    book.beside = {key: (names[at], names[at + 2]) for at, key in enumerate(order)}
    for row in plain_rows(lineages):
        if row["cask"]:
            book.lineage.setdefault(fold(row["cask"]), []).append(row)
    return book
