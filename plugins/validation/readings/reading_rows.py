"""Checks of a reading's row besides its strength: name, dates, temperature, repeats, content."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

from pipeline import Finding
from pipeline.common.names import fold, folded
from plugins.validation.declared.wording import count, day, facts, figure, some, temperature
from plugins.validation.readings.histories import DAY_US, Fillings, microseconds
from plugins.validation.readings.judge import PEERS, day_temperature
from plugins.validation.readings.names import Known
from plugins.validation.readings.slips import other_temperature
from plugins.validation.readings.table import Table

PRACTICE = "common practice, no source"
REPEATS = 5  # consecutive rows with one reading and one temperature
ENTRY_DAYS = 3  # around filling one lot from one tank reads alike
SAMPLE_DAYS = 7  # a sample of the dump may be read some days later
FITS = 1.5  # proof within which a neighbour's last strength fits


def unknown_vessels(table: Table, known: Known) -> Iterator[Finding]:
    """One finding for each name that nothing lists; none while no name at all is known."""
    if not len(known):
        return
    for name in table.names:
        if name in known:
            continue
        rows = table.rows_of(name)
        first = int(rows[0])
        shown = str(table.readings["vessel"].iloc[first])
        near = _likeliest(table, known, shown, first)
        hint = f" Known is {near}." if near else ""
        yield Finding(
            code="reading.unknown-vessel",
            severity="review",
            message=f"{shown} was read {'once' if len(rows) == 1 else f'{len(rows)} times'} (first on "
            f"{day(table.readings['taken_at'].iloc[first])}), but no inventory, vessel list or brief names it.{hint}",
            subject=shown,
            facts=(int(table.fact[first]),),
            column="vessel",
            observed=shown,
            expected=near or "a cask, a vessel or a batch that is known",
            remedy="Correct the number in the lab sheet, or send the inventory or vessel list that names it.",
        )


def _likeliest(table: Table, known: Known, name: str, row: int) -> str:
    """Up to three neighbours: those whose strength fits if any does, else those of the likeliest slip."""
    near = known.near(name)
    if not near:
        return ""
    last = [(one, table.last_strength(fold(one.name), row)) for one in near]
    fitting = [
        f"{one.name} ({one.slip}; its strength fits)" for one, proof in last if abs(proof - table.proof[row]) <= FITS
    ]
    if fitting:
        return some(fitting, 3)
    best = [one for one in near if one.slip == near[0].slip]
    return some([f"{one.name} ({one.slip})" for one in best], 3) if len(best) <= 3 else ""


def dates(table: Table, casks: pd.DataFrame, fillings: Fillings, blends: pd.DataFrame) -> Iterator[Finding]:
    """Readings of a cask before its first known filling, and after it was emptied."""
    entry = table.readings["purpose"].eq("entry").to_numpy(dtype=bool, na_value=False)
    early = (table.live < 0) & (table.first_filling >= 0)
    for row in np.flatnonzero(early).tolist():
        filled = int(fillings.filled_us[table.first_filling[row]])
        if entry[row] and filled - table.at[row] <= ENTRY_DAYS * DAY_US:
            continue
        cask = casks.iloc[fillings.row[table.first_filling[row]]]
        yield _dated(
            table,
            row,
            "reading.before-filled",
            f"was read on {_read_on(table, row)}, before it was filled on {day(cask['filled_on'])}",
            f"on or after {day(cask['filled_on'])}",
            cask["facts"],
            "A date or the cask number is wrong; if it was an earlier filling, send the inventory that lists it.",
        )
    yield from _after_emptied(table, blends, fillings)


def _after_emptied(table: Table, blends: pd.DataFrame, fillings: Fillings) -> Iterator[Finding]:
    emptied = blends[blends["emptied"].fillna(False).astype(bool) & blends["drawn_at"].notna()]
    if not len(emptied):
        return
    place, _ = fillings.at(emptied["component"], microseconds(emptied["drawn_at"]))
    emptied = emptied.assign(place=place, day=microseconds(emptied["drawn_at"]) // DAY_US)
    emptied = emptied[place >= 0].sort_values("day", kind="stable").drop_duplicates("place")
    days = np.full(len(fillings.row) + 1, np.iinfo(np.int64).max)
    days[emptied["place"].to_numpy()] = emptied["day"].to_numpy()
    by_place = emptied.set_index("place")
    for row in np.flatnonzero(table.day - SAMPLE_DAYS > days[table.live]).tolist():
        draw = by_place.loc[table.live[row]]
        yield _dated(
            table,
            row,
            "reading.after-emptied",
            f"was read on {_read_on(table, row)}, but was emptied into batch {draw['batch']} on "
            f"{day(draw['drawn_at'])}",
            f"on or before {day(draw['drawn_at'])}",
            draw["facts"],
            "Check the cask number and the date; if the cask was filled again, send the inventory that says so.",
        )


def _read_on(table: Table, row: int) -> str:
    return day(table.readings["taken_at"].iloc[row])


def _dated(table: Table, row: int, code: str, said: str, expected: str, other: tuple[int, ...], remedy: str) -> Finding:
    name = str(table.readings["vessel"].iloc[row])
    return Finding(
        code=code,
        severity="review",
        message=f"{name} {said}.",
        subject=name,
        facts=facts([table.fact[row]], other),
        column="taken_at",
        observed=_read_on(table, row),
        expected=expected,
        remedy=remedy,
    )


def temperatures_apart(table: Table, explained: np.ndarray, apart_degC: float) -> Iterator[Finding]:
    """Temperatures far from those of the day's other readings, where no other rule spoke of the row."""
    usual, others = table.once("day_temperature", day_temperature)
    far = (others >= PEERS) & (np.abs(table.temperature - usual) > apart_degC) & ~explained
    for row in np.flatnonzero(far).tolist():
        unit, stated = table.unit[row], table.temperature[row]
        other = other_temperature(np.array([stated]), np.array([unit], dtype=object))[0]
        swapped = "degC" if unit == "degF" else "degF"
        fits = abs(other - usual[row]) <= 6.0
        hint = f" Read as {temperature(float(other), swapped, 1)} it would fit." if fits else ""
        name = str(table.readings["vessel"].iloc[row])
        yield Finding(
            code="reading.temperature-apart",
            severity="review" if fits else "note",
            message=f"{name} on {_read_on(table, row)} was read at {temperature(stated, unit)}, the day's other "
            f"{others[row]} readings at about {temperature(float(usual[row]), unit, 1)}.{hint}",
            subject=name,
            facts=(int(table.fact[row]),),
            column="temperature",
            observed=temperature(stated, unit),
            expected=f"about {temperature(float(usual[row]), unit, 1)}",
            rule="[tolerances] temperature_apart_degC (house tolerance)",
            remedy="Check the figure and its unit against the lab's slip; correct the cell, or accept.",
        )


def repeated_figures(table: Table, fillings: Fillings) -> Iterator[Finding]:
    """Five or more rows in a row, of different casks, with the same reading at the same temperature."""
    order = np.argsort(table.fact, kind="stable")
    reading, degrees = table.reading[order], table.temperature[order]
    instrument = folded(table.readings["instrument"])[order]
    same = np.zeros(len(order), dtype=bool)
    same[1:] = (reading[1:] == reading[:-1]) & (degrees[1:] == degrees[:-1]) & (instrument[1:] == instrument[:-1])
    same[1:] &= (table.day[order][1:] == table.day[order][:-1]) & (np.diff(table.fact[order]) == 1)
    same &= ~_of_one_lot(table, fillings)[order]
    run = np.cumsum(~same)
    starts = np.flatnonzero(np.bincount(run, minlength=1)[run] >= REPEATS)
    for _, places in pd.Series(starts).groupby(run[starts]):
        rows = order[places.to_numpy()]
        if len(np.unique(table.codes[rows])) < REPEATS:
            continue
        yield _repeated(table, rows)


def _of_one_lot(table: Table, fillings: Fillings) -> np.ndarray:
    """Readings at filling: casks filled from one tank read alike."""
    entry = table.readings["purpose"].eq("entry").to_numpy(dtype=bool, na_value=False)
    known = table.live >= 0
    since = np.full(len(table), np.iinfo(np.int64).max)
    since[known] = table.day[known] - fillings.filled_us[table.live[known]] // DAY_US
    return entry | (since <= ENTRY_DAYS)


def _repeated(table: Table, rows: np.ndarray) -> Finding:
    first = int(rows[0])
    at = temperature(table.temperature[first], table.unit[first])
    names = table.readings["vessel"].iloc[rows].astype(str).tolist()
    return Finding(
        code="reading.repeated-figures",
        severity="note",
        message=f"{count(len(rows), 'reading')} on {_read_on(table, first)}, one below the other ({some(names)}), "
        f"all show {figure(table.reading[first])} at {at}: copied down, or so alike?",
        subject=names[0],
        facts=facts(table.fact[rows]),
        column="reading",
        observed=f"{len(rows)} times {figure(table.reading[first])} at {at}",
        expected="figures that differ a little from cask to cask",
        rule=PRACTICE,
        remedy="Compare with the lab's slips; correct what was copied, or accept.",
    )
