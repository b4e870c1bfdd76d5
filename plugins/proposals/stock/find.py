"""Questions to the stock: "smoke >= 4, dry grip <= 3, age >= 10 years, litres >= 100, like C-0101, may be straight US".

Each condition is met, not met or not known of each cask. Who meets all is found; who fails a single one is a near miss,
told with by how much. ``like`` ranks, it leaves nobody out.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pipeline.common.names import fold
from pipeline.contract.kinds import plain
from plugins.proposals.stock.recipes import amount_of, cask_named
from plugins.proposals.stock.stock import folded

Array = NDArray[Any]

COMPARED = re.compile(r"(?P<what>.+?)\s*(?P<sign>>=|<=|≥|≤|=|>|<)\s*(?P<value>.+)")
NUMBER = re.compile(r"(?P<number>\d[\d.,]*)\s*(?P<unit>.*)")
MAY = re.compile(r"may (?:be|say)\s+(?P<claim>.+?)(?:\s+(?P<market>US|EU|UK|[A-Z]{2}))?", re.IGNORECASE)
COLUMNS = {
    "litres": ("volume_20C_L", "L"), "liters": ("volume_20C_L", "L"), "volume": ("volume_20C_L", "L"),
    "gallons": ("volume_60F_gal", "gal"), "gal": ("volume_60F_gal", "gal"), "proof": ("proof_60F", "proof"),
    "abv": ("abv_20C", "% vol"), "strength": ("abv_20C", "% vol"), "lpa": ("lpa", "L of pure alcohol"),
    "cost": ("cost", ""), "age": ("age_years", "years"),
}  # fmt: skip
WORDS = ("spirit", "location", "owner", "filling")
SIGNS: dict[str, Callable[[Array, float], Array]] = {
    ">=": np.greater_equal, "≥": np.greater_equal, "<=": np.less_equal, "≤": np.less_equal, ">": np.greater,
    "<": np.less, "=": np.equal,
}  # fmt: skip


class NoQuestion(ValueError):
    """A condition that cannot be understood, in words."""


@dataclass(frozen=True)
class Condition:
    """A condition on every cask: ``met`` and ``known`` (bool), ``value`` shown beside it, ``short`` by how much."""

    said: str
    met: Array
    known: Array
    value: list[str]
    short: Array


def asked(
    text: str, stock: pd.DataFrame, tastes: pd.DataFrame, eligibility: pd.DataFrame | None
) -> tuple[list[Condition], str]:
    """The conditions of a question, and the cask that others shall be like ("" for none). Raises NoQuestion.

    ``stock``: rows with ``age_years`` beside the frame's columns; ``tastes``: mean intensity, casks by families.
    """
    found: list[Condition] = []
    like = ""
    for said in (part.strip() for part in re.split(r",(?!\d)|;", text)):
        if not said:
            continue
        if said.casefold().startswith("like "):
            like = cask_named(said[5:].strip(), list(stock["cask"]))
        elif said.casefold() in ("free", "tasted"):
            found.append(_yes(said, stock[said.casefold()].fillna(False).to_numpy(dtype=bool)))
        elif match := MAY.fullmatch(said):
            found.append(_may(said, match["claim"], match["market"] or "", stock, eligibility))
        elif match := COMPARED.fullmatch(said):
            found.append(_compared(said, match["what"], match["sign"], match["value"], stock, tastes))
        else:
            raise NoQuestion(
                f"{said!r} is no condition; write as in: smoke peat >= 4, litres >= 100, like C-0101, free."
            )
    return found, like


def _yes(said: str, met: Array) -> Condition:
    return Condition(
        said, met, np.ones(len(met), dtype=bool), ["yes" if one else "no" for one in met], np.zeros(len(met))
    )


def _compared(said: str, what: str, sign: str, value: str, stock: pd.DataFrame, tastes: pd.DataFrame) -> Condition:
    name = plain(what)
    if name in WORDS and sign == "=":
        texts = stock[name].fillna("").astype(str)
        met = texts.str.casefold().str.contains(value.strip().casefold(), regex=False).to_numpy(dtype=bool)
        return Condition(said, met, (texts != "").to_numpy(), texts.tolist(), np.zeros(len(stock)))
    number = NUMBER.fullmatch(value.strip())
    if number is None:
        raise NoQuestion(f"{said!r} compares with no number; of {', '.join(WORDS)} a word after = is looked for.")
    families = {plain(family): family for family in tastes.columns}
    short = [family for key, family in families.items() if key.startswith(name)]
    if name in COLUMNS:
        column, unit = COLUMNS[name]
        values = stock[column].to_numpy("float64")
    elif name in families or len(short) == 1:
        family = families.get(name) or short[0]
        values, unit = tastes[family].to_numpy("float64"), "of 10"
    else:
        raise NoQuestion(
            f"{what.strip()!r} is nothing that can be asked; known are {', '.join(sorted(COLUMNS))} and the families "
            f"{', '.join(family.replace('_', ' ') for family in sorted(tastes.columns))}."
        )
    _check_unit(said, number["unit"].strip(), unit)
    limit = amount_of(number["number"], said)
    known = np.isfinite(values)
    met = known & SIGNS[sign](values, limit)
    shown = [f"{one:.4g} {unit}".strip() if ok else "not known" for one, ok in zip(values, known, strict=True)]
    return Condition(said, met, known, shown, np.where(known, np.abs(values - limit), np.inf))


UNITS = {
    "L": ("l", "litres", "litre", "liters", "liter"), "gal": ("gal", "gallons", "us gal"), "years": ("years", "year"),
    "% vol": ("% vol", "%", "abv", "% abv"), "proof": ("proof",), "of 10": ("points", "of 10"),
}  # fmt: skip


def _check_unit(said: str, stated: str, unit: str) -> None:
    if stated and stated.casefold() not in UNITS.get(unit, ()):
        raise NoQuestion(f"{said!r} states {stated!r}; here the unit is {unit or 'none'}.")


def _may(said: str, claim: str, market: str, stock: pd.DataFrame, eligibility: pd.DataFrame | None) -> Condition:
    """Whether the label rules let a cask bear a claim, as some open brief asked it; not known where none did."""
    count = len(stock)
    blank = Condition(
        said, np.zeros(count, bool), np.zeros(count, bool), ["no brief asks it"] * count, np.full(count, np.inf)
    )
    if eligibility is None or not len(eligibility):
        return blank
    rows = eligibility[eligibility["claim"].str.casefold() == fold(claim)]
    rows = rows[rows["market"].str.casefold() == fold(market)] if market else rows
    if not len(rows):
        return blank
    by = rows.assign(_cask=folded(rows["component"])).groupby("_cask")["verdict"].agg(lambda said: sorted(set(said)))
    names = list(folded(stock["cask"]))
    verdicts = [" / ".join(by[name]) if name in by.index else "not judged" for name in names]
    met = np.array([verdict == "met" for verdict in verdicts])
    known = np.array([verdict in ("met", "not met") for verdict in verdicts])
    return Condition(said, met, known, verdicts, np.where(met, 0.0, np.inf))


def found_in(
    conditions: Sequence[Condition], like: str, stock: pd.DataFrame, tastes: pd.DataFrame, near: int
) -> dict[str, Any]:
    """Casks that meet all, and at most ``near`` that fail one, the least short first; nearest in taste first."""
    fails = np.array([~condition.met for condition in conditions]).reshape(len(conditions), len(stock))
    apart = _apart(like, stock, tastes)
    order = np.lexsort((stock["cask"].to_numpy().astype(str), np.nan_to_num(apart, nan=np.inf)))
    others = [at for at in order if not like or fold(stock["cask"].iloc[at]) != fold(like)]
    short = np.array([_in_its_own_scale(condition.short) for condition in conditions]).reshape(fails.shape)
    one = [at for at in others if fails[:, at].sum() == 1]
    one.sort(key=lambda at: float(short[int(np.argmax(fails[:, at])), at]))
    return {
        "casks": [_told(at, conditions, stock, apart) for at in others if not fails[:, at].any()],
        "near": [_told(at, conditions, stock, apart) | {"why": _why(at, conditions, fails)} for at in one[:near]],
    }


def _in_its_own_scale(short: Array) -> Array:
    """What is short beside what is usual for that condition, so that litres and points can be compared."""
    finite = short[np.isfinite(short)]
    usual = float(np.median(finite)) if len(finite) else 1.0
    return np.asarray(short / max(usual, 1e-9))


def _apart(like: str, stock: pd.DataFrame, tastes: pd.DataFrame) -> Array:
    """Mean difference in taste from one cask, in points; NaN where not known or nobody is named."""
    if not like:
        return np.full(len(stock), np.nan)
    at = [fold(name) for name in stock["cask"]].index(fold(like))
    values = tastes.to_numpy("float64")
    return np.asarray(np.abs(values - values[at]).mean(axis=1))


def _told(at: int, conditions: Sequence[Condition], stock: pd.DataFrame, apart: Array) -> dict[str, Any]:
    free = bool(stock["free"].fillna(False).iloc[at])
    return {
        "cask": str(stock["cask"].iloc[at]),
        "values": {condition.said: condition.value[at] for condition in conditions},
        "points_apart": float(apart[at]) if np.isfinite(apart[at]) else None,
        "why_not_free": None if free else str(stock["why_not"].iloc[at]),
    }


def _why(at: int, conditions: Sequence[Condition], fails: Array) -> str:
    condition = conditions[int(np.argmax(fails[:, at]))]
    return f"{condition.said}: {condition.value[at]}"
