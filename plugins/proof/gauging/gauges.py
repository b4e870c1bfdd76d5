"""casks/gauges.csv: every reading whose strength could be found."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from pipeline import report
from plugins.proof.alcoholometry.formula import Array

COLUMNS = (
    "vessel", "taken_at", "reading", "scale", "temperature_degC", "instrument", "proof_60F", "abv_20C",
    "density_kg_m3", "proof_official", "proof_uncertainty", "place",
)  # fmt: skip
NUMBERS = (
    "reading", "temperature_degC", "proof_60F", "abv_20C", "density_kg_m3", "proof_official", "proof_uncertainty",
)  # fmt: skip
ROWS_AT_ONCE = 25_000  # a long table is not in memory as text and bytes at once
KEY = ["vessel", "taken_at", "instrument", "reading_no"]
# What a spreadsheet program would run or strip when it stands first in a cell of text.
RISKY = ("=", "+", "-", "@", "\t", "\r", "\n")


@report(path="casks/gauges.csv", wait=True, link="every reading with its strength at 60 °F and 20 °C")
def gauges(proofs: pd.DataFrame, sources: Any) -> bytes:
    """Every reading whose strength could be found, by vessel and time, with the cell it came from.

    Numbers have 12 significant digits; a text that a spreadsheet would run begins with an apostrophe.
    """
    rows = proofs.sort_values(KEY, kind="stable")
    starts = range(0, len(rows), ROWS_AT_ONCE)
    parts = (_lines(rows.iloc[start : start + ROWS_AT_ONCE], sources) for start in starts)
    return b"".join([",".join(COLUMNS).encode() + b"\n", *parts])


def _lines(rows: pd.DataFrame, sources: Any) -> bytes:
    columns: dict[str, list[str]] = {name: figures(rows[name].to_numpy(np.float64)) for name in NUMBERS}
    columns |= {name: plain_texts(rows[name]) for name in ("vessel", "scale", "instrument")}
    columns["taken_at"] = moments(rows["taken_at"], rows["taken_at_timed"])
    columns["place"] = _all_safe(places(rows["facts"], sources))
    lines = map(",".join, zip(*(columns[name] for name in COLUMNS), strict=True))
    return "\n".join([*lines, ""]).encode("utf-8")


def places(facts: pd.Series, sources: Any) -> list[str]:
    """File, sheet and cell of each reading; a row's first fact is the reading itself."""
    if hasattr(sources, "places"):
        return list(map(str, sources.places(facts, "reading")))
    return [str(sources.place(row[0], "reading")) for row in facts]


def figures(values: Array) -> list[str]:
    """Numbers as text of 12 significant digits; empty where missing."""
    codes, distinct = pd.factorize(values)
    return np.array([*map("{:.12g}".format, distinct.tolist()), ""], dtype=object)[codes].tolist()


def plain_texts(words: pd.Series) -> list[str]:
    """Texts that no spreadsheet runs; empty where missing. Each different text is looked at once."""
    codes, uniques = pd.factorize(words)
    return np.array([*(_safe(str(word)) for word in uniques), ""], dtype=object)[codes].tolist()


def moments(taken_at: pd.Series, timed: pd.Series) -> list[str]:
    """ISO dates, with the time of day where one was given."""
    stamps = taken_at.to_numpy("datetime64[s]")
    with_time = timed.fillna(False).to_numpy(dtype=bool)
    texts: list[str] = np.datetime_as_string(stamps).tolist()
    for row in np.flatnonzero(~with_time).tolist():
        texts[row] = texts[row][: len("2026-03-14")]
    return texts


def _all_safe(texts: list[str]) -> list[str]:
    """As ``_safe`` of each; where nothing in all of them is risky, none is looked at by itself."""
    whole = "\n".join(["", *texts])
    risky = any(sign in whole for sign in (",", '"', "\r", *(f"\n{first}" for first in RISKY)))
    return list(map(_safe, texts)) if risky or whole.count("\n") > len(texts) else texts


def _safe(text: str) -> str:
    """A cell of text as CSV writes it: on one line, harmless to a spreadsheet, quoted where need be."""
    one_line = text.replace("\r", " ").replace("\n", " ")
    harmless = f"'{one_line}" if text.startswith(RISKY) else one_line
    return '"' + harmless.replace('"', '""') + '"' if "," in harmless or '"' in harmless else harmless
