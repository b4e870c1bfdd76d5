"""The stage ``cask_checks``: every inventory row held against itself and against earlier exports."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

import numpy as np
import pandas as pd

from pipeline import Finding, stage
from plugins.validation.casks.refills import about_fillings
from plugins.validation.casks.wood import about_wood
from plugins.validation.declared.frames import CASK_CHECKS
from plugins.validation.declared.wording import count, day, facts, figure, some
from plugins.validation.readings.histories import proof_of

EARLIEST = pd.Timestamp("1900-01-01")
ENTRY_LIMIT = 125.0
WEAK_ENTRY, STRONG_ENTRY = 75.0, 160.0
SAME_L = 0.01
A_YEAR = 365
PRACTICE = "common practice, no source"


@stage(gives=CASK_CHECKS)
def check_casks(casks: pd.DataFrame, site: Any) -> tuple[pd.DataFrame, list[Finding]]:
    """Inventory rows: dates in order, strengths and volumes possible, wood words agreeing, refills told apart."""
    casks = casks.reset_index(drop=True)
    entry = proof_of(casks["entry_proof"], casks["entry_proof_unit"])
    now = proof_of(casks["proof"], casks["proof_unit"])
    fullness = casks["volume_L"] / casks["capacity_L"].where(casks["capacity_L"] > 0)
    found: list[tuple[int, Finding]] = [
        *_dates(casks),
        *_strengths(casks, entry, now),
        *_volumes(casks, float(site["tolerances.capacity_percent"])),
        *about_wood(casks),
        *about_fillings(casks),
        *_high_entries(casks, entry, site.markets),
        *_original_volumes(casks),
    ]
    codes: dict[int, list[str]] = {}
    for row, finding in found:
        codes.setdefault(row, []).append(finding.code)
    verdict = np.full(len(casks), "", dtype=object)
    for row, said in codes.items():
        verdict[row] = " ".join(dict.fromkeys(said))
    columns: dict[str, Any] = {name: casks[name] for name in CASK_CHECKS.key}
    columns |= {"entry_proof_60F": entry, "proof_60F": now, "fullness": fullness, "verdict": verdict}
    return CASK_CHECKS.build(columns, casks["facts"]), [finding for _, finding in found]


def cask_finding(
    cask: Any,
    code: str,
    severity: str,
    message: str,
    column: str,
    observed: str,
    expected: str,
    remedy: str,
    rule: str = "",
) -> Finding:
    """A finding on one inventory row (as ``itertuples`` gives it)."""
    return Finding(
        code=code,
        severity=severity,
        message=message,
        subject=str(cask.cask),
        facts=facts(cask.facts),
        column=column,
        observed=observed,
        expected=expected,
        rule=rule,
        remedy=remedy,
    )


def rows_where(casks: pd.DataFrame, mask: Any) -> Iterator[tuple[int, Any]]:
    """Place and row of each inventory row that the mask picks."""
    picked: Iterable[Any] = casks[np.asarray(mask, dtype=bool)].itertuples()
    for row in picked:
        yield int(row.Index), row


def _dates(casks: pd.DataFrame) -> Iterator[tuple[int, Finding]]:
    for place, cask in rows_where(casks, casks["filled_on"] < casks["distilled_on"]):
        yield (
            place,
            cask_finding(
                cask,
                "cask.filled-before-distilled",
                "stop",
                f"{cask.cask} was filled on {day(cask.filled_on)}, before its spirit was "
                f"distilled on {day(cask.distilled_on)}." + _swapped_hint(cask.filled_on, cask.distilled_on),
                "filled_on",
                day(cask.filled_on),
                f"on or after {day(cask.distilled_on)}",
                "One of the two dates is wrong; correct it, for the age counts from the day of filling.",
            ),
        )
    for place, cask in rows_where(casks, casks["filled_on"] < EARLIEST):
        yield (
            place,
            cask_finding(
                cask,
                "cask.date-unlikely",
                "stop",
                f"{cask.cask} is said to have been filled on {day(cask.filled_on)}.",
                "filled_on",
                day(cask.filled_on),
                f"after {day(EARLIEST)}",
                "Correct the date; a workbook that counts days from another year shifts every date in it.",
            ),
        )
    for place, cask in rows_where(casks, casks["gauged_on"] < casks["filled_on"]):
        yield (
            place,
            cask_finding(
                cask,
                "cask.gauged-before-filled",
                "review",
                f"{cask.cask} was last gauged on {day(cask.gauged_on)}, before it was filled on {day(cask.filled_on)}.",
                "gauged_on",
                day(cask.gauged_on),
                f"on or after {day(cask.filled_on)}",
                "If the gauge is of an earlier filling, leave it out; else correct the date.",
            ),
        )


def _swapped_hint(filled: pd.Timestamp, distilled: pd.Timestamp) -> str:
    """Day and month exchanged, where that alone would put the dates right."""
    if filled.day > 12 or filled.day == filled.month:
        return ""
    other = filled.replace(day=filled.month, month=filled.day)
    if 0 <= (other - distilled).days <= A_YEAR:
        return f" With day and month exchanged it would be {day(other)}."
    return ""


def _strengths(casks: pd.DataFrame, entry: np.ndarray, now: np.ndarray) -> Iterator[tuple[int, Finding]]:
    for column in ("distilled_proof", "entry_proof", "proof"):
        unit = casks[f"{column}_unit"].fillna("proof")
        top = unit.map({"proof": 200.0, "%vol": 100.0, "%mass": 100.0}).to_numpy(dtype=float)
        value = casks[column].to_numpy(dtype=float)
        for place, cask in rows_where(casks, (value < 0.0) | (value > top)):
            stated = f"{figure(value[place])} {unit[place]}"
            yield (
                place,
                cask_finding(
                    cask,
                    "cask.strength-impossible",
                    "stop",
                    f"{cask.cask} has {column.replace('_', ' ')} {stated}, which no spirit can have.",
                    column,
                    stated,
                    f"0 to {figure(top[place])} {unit[place]}",
                    "Correct the figure or its unit.",
                ),
            )
    for column, strength, code, what, where in (
        ("entry_proof", entry, "cask.entry-strength-unlikely", "an entry strength", "whiskey going into wood"),
        ("proof", now, "cask.strength-unlikely", "a strength", "whiskey in wood"),
    ):
        for place, cask in rows_where(casks, (strength < WEAK_ENTRY) | (strength > STRONG_ENTRY)):
            value, unit = getattr(cask, column), getattr(cask, f"{column}_unit")
            stated = f"{figure(value)} {unit if isinstance(unit, str) else 'proof'}"
            yield (
                place,
                cask_finding(
                    cask,
                    code,
                    "review",
                    f"{cask.cask} has {what} of {stated}, that is {strength[place]:.1f} proof, unlikely for {where}."
                    + _other_scale(value, unit),
                    column,
                    stated,
                    "about 100 to 140 proof",
                    "Check whether the figure is proof or % vol; correct it, or accept.",
                    PRACTICE,
                ),
            )


def _other_scale(value: float, unit: Any) -> str:
    """A strength that would be likely as % vol, not proof, or the reverse; a sentence."""
    other = 2.0 * value if unit != "%vol" else value
    if not WEAK_ENTRY <= other <= STRONG_ENTRY:
        return ""
    return f" Taken as {'proof' if unit == '%vol' else '% vol'} it would be about {other:.0f} proof."


def _volumes(casks: pd.DataFrame, percent: float) -> Iterator[tuple[int, Finding]]:
    for column, what in (("volume", "volume"), ("entry_volume", "entry volume")):
        litres = casks[f"{column}_L"].to_numpy(dtype=float)
        capacity = casks["capacity_L"].to_numpy(dtype=float)
        for place, cask in rows_where(casks, litres > capacity * (1.0 + percent / 100.0)):
            yield (
                place,
                cask_finding(
                    cask,
                    "cask.volume-above-capacity",
                    "review",
                    f"{cask.cask} has {what} {litres[place]:.1f} L, but holds {capacity[place]:.1f} L.",
                    column,
                    f"{litres[place]:.1f} L",
                    f"at most {capacity[place]:.1f} L and {figure(percent)} %",
                    "Check the units of volume and capacity (gallon or litre), and correct the wrong one.",
                    "[tolerances] capacity_percent (house tolerance)",
                ),
            )


def _high_entries(casks: pd.DataFrame, entry: np.ndarray, markets: tuple[str, ...]) -> Iterator[tuple[int, Finding]]:
    """For houses that sell in the US: new wood entered above the limit for straight and bourbon whisky."""
    if "US" not in markets:
        return
    old_wood = casks["new_oak"].eq(False).fillna(False).astype(bool)
    high = (entry > ENTRY_LIMIT + 0.05) & (entry <= STRONG_ENTRY) & ~old_wood.to_numpy()
    for filled, rows in casks[high].groupby("filled_on"):
        highest = entry[rows.index].max()
        names = rows["cask"].astype(str).tolist()
        yield (
            int(rows.index[0]),
            Finding(
                code="cask.entry-above-125",
                severity="note",
                message=f"{count(len(set(names)), 'cask')} filled on {day(filled)} ({some(names)}) entered above "
                f"125 proof (highest {highest:.1f}); that rules out bourbon and straight whisky of new charred oak.",
                subject=names[0] if len(set(names)) == 1 else "",
                facts=facts(*rows["facts"]),
                column="entry_proof",
                observed=f"{highest:.1f} proof",
                expected="at most 125 proof",
                rule="27 CFR 5.143",
                remedy="Correct the entry proof if it is wrong; else do not use these casks for such a claim.",
            ),
        )


def _original_volumes(casks: pd.DataFrame) -> Iterator[tuple[int, Finding]]:
    """Volumes that are the ones at entry and not what the casks hold now, told once for each export."""
    aged = (casks["as_of"] - casks["filled_on"]).dt.days >= A_YEAR
    equal = (casks["volume_L"] - casks["entry_volume_L"]).abs() <= SAME_L
    silent = casks["volume_basis"].isna() & casks["gauged_on"].isna()
    original = casks["volume_basis"].eq("original").fillna(False).astype(bool) | (silent & equal)
    for as_of, rows in casks[original & aged & casks["volume_L"].notna()].groupby("as_of"):
        names = rows["cask"].astype(str).tolist()
        yield (
            int(rows.index[0]),
            Finding(
                code="cask.volume-is-original",
                severity="note",
                message=f"In the inventory of {day(as_of)} the volume of {count(len(set(names)), 'cask')} "
                f"({some(names)}) is the one at entry, not what they hold now.",
                subject=names[0] if len(set(names)) == 1 else "",
                facts=facts(*rows["facts"]),
                column="volume",
                observed="original gauge",
                expected="a regauge",
                rule=PRACTICE,
                remedy="Take these volumes for upper limits; gauge the casks before they are planned with.",
            ),
        )
