"""Facts of the fill: each bottle tested, and each lot of one bottle size on one day."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pandas as pd

from plugins.label_age.facts.logic import FALSE, TRUE, UNKNOWN
from plugins.label_age.facts.tables import Table, group_starts, objects, rows_of, said_where

ONE_SIDED = (
    (1, 63.657), (2, 9.925), (3, 5.841), (4, 4.604), (5, 4.032), (6, 3.707), (7, 3.499), (8, 3.355), (9, 3.250),
    (10, 3.169), (12, 3.055), (15, 2.947), (20, 2.845), (25, 2.787), (30, 2.750), (40, 2.704), (60, 2.660),
    (120, 2.617), (10**9, 2.576),
)  # fmt: skip
"""Student's t, 99.5 % one-sided, by degrees of freedom; between two of them the greater t counts. Tested with SciPy."""
TOLERABLE = ((5, 9.0, None), (50, None, 4.5), (100, 4.5, None), (200, None, 9.0), (300, 3.0, None), (500, None, 15.0),
             (1000, 1.5, None), (10_000, None, None))  # fmt: skip
"""From a nominal content in mL on: the tolerable negative error in per cent of it, or in mL (SI 2006/659 Sch. 3)."""
PLANS = ((20, 1), (50, 3), (80, 5), (125, 7))
"""Bottles tested, and how many of them may fall short by more than the error (SI 2006/659 Sch. 2)."""
LEAST_HEADSPACE = 0.5
"""% of the capacity; a bottle is never filled so full, and 0.08 may mean 8 % (common practice, no source)."""
COLUMNS = ["batch", "checked_at", "bottle_size_L", "net_volume_L", "net_weight_kg", "temperature_degC", "proof",
           "proof_unit", "line", "headspace", "facts"]  # fmt: skip


def tested(
    fill_checks: pd.DataFrame | None, runs: pd.DataFrame, brief: pd.DataFrame, gauge: pd.DataFrame, position: pd.Series
) -> pd.DataFrame:
    """The bottles tested of the batches asked for, with volumes at 20 °C and 60 °F in mL, by batch, size, day.

    A volume without a temperature is at 20 °C, and at 60 °F in a batch for the US alone; with one it is
    reduced by the strength found, else by the vat's.
    """
    if fill_checks is None or fill_checks.empty:
        return pd.DataFrame(
            columns=[*COLUMNS, "_batch", "_day", "_lot", "nominal", "at_20C", "at_60F", "abv_60F", "label"]
        )
    checks = fill_checks.assign(_day=fill_checks["checked_at"].dt.normalize())
    checks = rows_of(checks, position, ["bottle_size_L", "_day", "checked_at", "line"])
    owner = checks["_batch"].to_numpy()
    us_only = np.array([str(market).strip().upper() in ("US", "USA") for market in brief["market"]], dtype=bool)
    fraction = _fraction(checks, gauge["proof_60F"].to_numpy(float)[owner])
    at_20C, at_60F = _volumes(checks, fraction, us_only[owner])
    label = runs.drop_duplicates("_batch").set_index("_batch")["label_abv"].reindex(owner).to_numpy(float)
    lot = checks.groupby(["_batch", "bottle_size_L", "_day"], sort=False, dropna=False).ngroup()
    return checks.assign(
        _lot=lot, nominal=checks["bottle_size_L"] * 1000, at_20C=at_20C, at_60F=at_60F, label=label,
        abv_60F=np.where(checks["proof"].notna(), _proof(fraction) / 2, np.nan),
    )  # fmt: skip


def _proof(fraction: np.ndarray) -> np.ndarray:
    from plugins.proof import proof_from_mass_fraction

    return np.asarray(proof_from_mass_fraction(fraction), dtype="float64")


def _fraction(checks: pd.DataFrame, gauged: np.ndarray) -> np.ndarray:
    """Mass fraction of each bottle: of the strength found, else of the vat as gauged or expected."""
    from plugins.proof import mass_fraction_from_proof, mass_fraction_from_strength

    units = objects(checks["proof_unit"])
    found = mass_fraction_from_strength(checks["proof"].to_numpy(float), np.where(units == None, "proof", units))  # noqa: E711
    return np.where(checks["proof"].notna(), found, mass_fraction_from_proof(gauged))


def _volumes(checks: pd.DataFrame, fraction: np.ndarray, us_only: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    from plugins.proof import T_20C, T_60F, density, mass_from_volume, mass_from_weight, volume_L

    stated = checks["temperature_degC"].to_numpy(float)
    at = np.where(np.isnan(stated), np.where(us_only, T_60F, T_20C), stated)
    volume, weight = checks["net_volume_L"].to_numpy(float), checks["net_weight_kg"].to_numpy(float)
    mass = np.where(
        np.isnan(volume), mass_from_weight(weight, density(fraction, T_20C)), mass_from_volume(volume, fraction, at)
    )
    made = [1000 * np.asarray(volume_L(mass, fraction, wanted), dtype="float64") for wanted in (T_20C, T_60F)]
    asis = np.isnan(fraction) & np.isnan(stated)
    return np.where(asis, volume * 1000, made[0]), np.where(asis, volume * 1000, made[1])


def bottle_table(bottles: pd.DataFrame, batches: int) -> Table:
    """One row for each bottle tested."""
    said = [
        f"the bottle of {moment:%Y-%m-%d %H:%M}" + (f", {line}" if line else "")
        for moment, line in zip(bottles["checked_at"], objects(bottles["line"]), strict=True)
    ]
    table = Table(group_starts(bottles["_batch"].to_numpy(), batches), objects(said), objects(list(bottles["facts"])))
    nominal = bottles["nominal"].to_numpy(float)
    at_20C, at_60F = bottles["at_20C"].to_numpy(float), bottles["at_60F"].to_numpy(float)
    table.set_number("nominal_mL", nominal)
    table.set_number("fill_off_percent", 100 * (at_60F - nominal) / nominal)
    table.set_number("short_mL", nominal - at_20C)
    table.set_number("short_percent", 100 * (nominal - at_20C) / nominal)
    table.set_number("errors_short", (nominal - at_20C) / tolerable_error(nominal))
    headspace = bottles["headspace"].to_numpy(float)
    doubtful = headspace < LEAST_HEADSPACE
    table.set_number("headspace_percent", np.where(doubtful, np.nan, headspace))
    why = "what the sheet states looks like a fraction of the capacity, not like % of it"
    table.why["headspace_percent"] = said_where(doubtful, why)
    table.set_number("bottle_capacity_mL", at_20C / np.where(headspace < 100, 1 - headspace / 100, np.nan))
    table.set_number("bottle_abv_60F", bottles["abv_60F"].to_numpy(float))
    table.set_number("bottle_label_abv", bottles["label"].to_numpy(float))
    return table


def tolerable_error(nominal: np.ndarray) -> np.ndarray:
    """Tolerable negative error in mL of nominal contents in mL; one in per cent is rounded up to 0.1 mL (Sch. 3)."""
    error = np.full(len(nominal), np.nan)
    for least, percent, fixed in TOLERABLE:
        of_size = fixed if percent is None else np.ceil(percent * nominal / 10 - 1e-9) / 10
        error = np.where(nominal >= least, np.nan if of_size is None else of_size, error)
    return error


def too_short(bottles: int, short: int) -> tuple[float, float]:
    """Least and greatest number of short bottles over what the plan accepts; between two plans either may be meant."""
    below = max((accepted for tested, accepted in PLANS if tested <= bottles), default=0)
    above = min((accepted for tested, accepted in PLANS if tested >= bottles), default=math.ceil(7 * bottles / 125))
    return float(short - above), float(short - below)


def lot_table(bottles: pd.DataFrame, runs: pd.DataFrame, batches: int) -> Table:
    """One row for each lot: the bottles of one batch and size tested on one day."""
    lots = bottles.drop_duplicates("_lot") if len(bottles) else bottles
    starts = np.flatnonzero(np.append(True, np.diff(bottles["_lot"].to_numpy(float)) != 0)).tolist()
    bounds = [*starts, len(bottles)] if len(bottles) else [0]
    over: list[tuple[float, float]] = []
    made: dict[str, list[Any]] = {"names": [], "rows": [], "low": [], "mean": [], "tested": [], "balance": []}
    for low, high in zip(bounds[:-1], bounds[1:], strict=True):
        part = bottles.iloc[low:high]
        short = (part["nominal"] - part["at_20C"]).to_numpy(float)
        mean, margin = float(short.mean()), _margin(short)
        first = part.iloc[0]
        filled = _filled(runs, first)
        of = f" of {filled:.0f}" if filled else ""
        made["names"].append(
            f"the lot of {first['_day'].date()}, {first['nominal']:g} mL ({len(part)}{of} bottles tested)"
        )
        made["rows"].append(tuple(sorted({fact for facts in part["facts"] for fact in facts})))
        made["mean"].append(mean)
        made["low"].append(mean - margin)
        made["tested"].append(float(len(part)))
        errors = short / tolerable_error(part["nominal"].to_numpy(float))
        known = not np.isnan(errors).any()
        over.append(too_short(len(part), int((errors > 1 + 1e-9).sum())) if known else (np.nan, np.nan))
        made["balance"].append(_balance((part["at_60F"] - part["nominal"]).to_numpy(float)))
    table = Table(group_starts(lots["_batch"].to_numpy(), batches), objects(made["names"]), objects(made["rows"]))
    table.set_number("mean_short_mL", made["low"], made["mean"])
    table.set_number("bottles_tested", made["tested"])
    table.set_number("short_over_plan", *np.array(over, dtype=float).reshape(-1, 2).T.copy())
    table.flags["over_and_under_alike"] = np.array(made["balance"], dtype=np.int8)
    return table


def _filled(runs: pd.DataFrame, bottle: pd.Series) -> float:
    """Bottles that the bottling record counts of the lot; 0 where it has none."""
    same = runs[(runs["_batch"] == bottle["_batch"]) & (runs["bottled_on"] == bottle["_day"])]
    same = same[np.isclose(same["bottle_size_L"], bottle["bottle_size_L"])]
    return float(same["bottles"].sum())


def student(degrees: int) -> float:
    """t of 99.5 % one-sided, never below the true one."""
    return [t for limit, t in ONE_SIDED if limit <= degrees][-1] if degrees >= 1 else math.inf


def _margin(short: np.ndarray) -> float:
    """How far the mean of the lot may lie from the mean of the bottles tested: t·s/√n of Annex II."""
    if len(short) < 2:
        return math.inf
    return student(len(short) - 1) * float(short.std(ddof=1)) / math.sqrt(len(short))


def _balance(off: np.ndarray) -> int:
    """Whether over- and underfills are about equally many: no side so heavy that chance has one in twenty."""
    over, under = int((off > 0).sum()), int((off < 0).sum())
    if np.isnan(off).any() or not over + under:
        return UNKNOWN
    count, fewer = over + under, min(over, under)
    tail = sum(math.comb(count, k) for k in range(fewer + 1)) / 2**count
    return TRUE if 2 * tail > 0.05 else FALSE
