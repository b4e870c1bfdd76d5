"""The stages ``cask_contents``, ``cask_forecasts`` and ``cask_outlooks``: what is likely to be in the wood now and
later, and when a line is crossed.

Forecasts begin on the first day of the month after the book date: a sheet within the month leaves those of all casks
that it does not name as they were.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from datetime import date
from typing import Any

import numpy as np
import pandas as pd

from pipeline import stage
from plugins import proof
from plugins.cellar.declared.frames import CONTENTS, FORECASTS, OUTLOOKS
from plugins.cellar.rates.rate_stage import places_of
from plugins.cellar.rates.rates import Z95, Array, moment, years

MONTHS = (0, 6, 12, 24, 36, 60, 120)
FURTHEST_YEARS = 40.0
GRID = 481
BLOCK = 1_000  # fillings at once: each stands for a line of GRID points
EU_ABV, US_PROOF = 40.0, 80.0


@dataclass(frozen=True)
class Standing:
    """Fillings still in wood: lines of the logarithm of litres and of proof, each with level, slope and spreads.

    Years are counted from a day. ``full`` is what the cask was filled with, else holds."""

    rows: Array
    log_at: Array
    log_level: Array
    log_spread: Array
    loss: Array
    loss_spread: Array
    proof_at: Array
    proof_level: Array
    proof_spread: Array
    change: Array
    change_spread: Array
    full: Array
    obscured: Array

    def part(self, rows: slice) -> Standing:
        """Some of the fillings."""
        return Standing(*(getattr(self, item.name)[rows] for item in fields(self)))

    def litres(self, ahead: Array) -> tuple[Array, Array]:
        """Logarithm of litres at years after the day (n or 1, k), and its standard uncertainty; both (n, k)."""
        years_on = ahead - self.log_at[:, None]
        middle = self.log_level[:, None] + self.loss[:, None] * years_on
        return middle, np.sqrt(self.log_spread[:, None] ** 2 + (years_on * self.loss_spread[:, None]) ** 2)

    def strength(self, ahead: Array) -> tuple[Array, Array]:
        """Proof at 60 degF at years after the day (n or 1, k), and its standard uncertainty; both (n, k)."""
        years_on = ahead - self.proof_at[:, None]
        middle = (self.proof_level + self.obscured)[:, None] + self.change[:, None] * years_on
        return middle, np.sqrt(self.proof_spread[:, None] ** 2 + (years_on * self.change_spread[:, None]) ** 2)


def first_day(site: Any) -> pd.Timestamp:
    """The day on which forecasts begin: the first of the month after the book date."""
    return pd.Timestamp(site.book_month) + pd.DateOffset(months=1)


def standing(
    rates: pd.DataFrame, fillings: pd.DataFrame, histories: pd.DataFrame, day: date | pd.Timestamp, site: Any
) -> Standing:
    """Of ``cask_rates`` those fillings that are still in wood, with years counted from a day."""
    place = places_of(rates, fillings)
    live = fillings["ended_at"].isna().to_numpy()[place]
    rows = np.flatnonzero(live & (place >= 0))
    part = rates.iloc[rows]
    here = fillings.iloc[place[rows]]
    today = float(years(np.array([day], dtype="datetime64[us]"))[0])
    placed = histories.assign(place=places_of(histories, fillings))
    first = placed[placed["volume_20C_L"].notna()]
    full = here["entry_volume_L"].fillna(here["capacity_L"]).to_numpy(float)
    own = first.drop_duplicates("place").set_index("place")["volume_20C_L"].reindex(place[rows]).to_numpy(float)
    last = placed.drop_duplicates("place", keep="last")
    obscured = last.set_index("place")["obscuration_proof"].reindex(place[rows]).fillna(0.0).to_numpy(float)
    season, season_proof = (float(site[f"plugins.cellar.{name}"]) for name in ("season_percent", "season_proof"))

    def column(name: str) -> Array:
        return part[name].to_numpy(float)

    return Standing(
        rows,
        years(part["anchored_at"].to_numpy()) - today,
        column("anchor_log_L"),
        np.hypot(column("anchor_spread"), season / 100.0),
        -column("loss_percent_per_year") / 100.0,
        column("loss_spread"),
        years(part["strength_at"].to_numpy()) - today,
        column("anchor_proof"),
        np.hypot(column("anchor_proof_spread"), season_proof),
        column("strength_per_year"),
        column("strength_spread"),
        np.where(np.isnan(full), own, full),
        obscured,
    )


@stage(gives=CONTENTS, per="cask")
def reckon_contents(
    cask_rates: pd.DataFrame, fillings_of_casks: pd.DataFrame, cask_histories: pd.DataFrame, site: Any
) -> pd.DataFrame:
    """Rates → what each filling still in wood holds on the book date, with intervals."""
    if site.book_date is None or not len(cask_rates):
        return CONTENTS.empty()
    found = standing(cask_rates, fillings_of_casks, cask_histories, site.book_date, site)
    made: dict[str, Any] = {name: cask_rates[name].to_numpy(object)[found.rows] for name in ("cask", "filling")}
    made |= {name: values.ravel() for name, values in amounts(found, np.zeros((len(found.rows), 1))).items()}
    return CONTENTS.build(made, cask_rates["facts"].to_numpy(object)[found.rows])


@stage(gives=FORECASTS, per="cask")
def forecast_casks(
    cask_rates: pd.DataFrame, fillings_of_casks: pd.DataFrame, cask_histories: pd.DataFrame, site: Any
) -> pd.DataFrame:
    """Rates → what each filling still in wood holds next month and up to ten years on, with intervals."""
    if site.book_month is None or not len(cask_rates):
        return FORECASTS.empty()
    found = standing(cask_rates, fillings_of_casks, cask_histories, first_day(site), site)
    ahead = np.tile(np.array(MONTHS) / 12.0, (len(found.rows), 1))
    made: dict[str, Any] = {"months_ahead": np.tile(MONTHS, len(found.rows))}
    day = [first_day(site) + pd.DateOffset(months=month) for month in MONTHS]
    made["day"] = np.tile(np.array(day, dtype="datetime64[us]"), len(found.rows))
    made |= {
        name: np.repeat(cask_rates[name].to_numpy(object)[found.rows], len(MONTHS)) for name in ("cask", "filling")
    }
    made |= {name: values.ravel() for name, values in amounts(found, ahead).items()}
    facts = cask_rates["facts"].to_numpy(object)[np.repeat(found.rows, len(MONTHS))]
    return FORECASTS.build(made, facts)


def amounts(found: Standing, ahead: Array) -> dict[str, Array]:
    """Volume, strength and alcohol with 95 % intervals at years after the day (n, k).

    Volume and strength are taken as independent; the interval of the alcohol is that of their product.
    """
    log_litres, log_spread = found.litres(ahead)
    strength, spread = found.strength(ahead)
    made = {"volume_20C_L": np.exp(log_litres)}
    made["volume_20C_L_low"], made["volume_20C_L_high"] = (
        np.exp(log_litres - Z95 * log_spread),
        np.exp(log_litres + Z95 * log_spread),
    )
    for end, value in (("", strength), ("_low", strength - Z95 * spread), ("_high", strength + Z95 * spread)):
        kept = np.clip(value, 0.0, 200.0)
        made[f"proof_60F{end}"] = kept
        made[f"abv_20C{end}"] = np.asarray(proof.abv_from_mass_fraction(proof.mass_fraction_from_proof(kept)))
    made["lpa"] = made["volume_20C_L"] * made["abv_20C"] / 100.0
    relative = Z95 * np.hypot(log_spread, spread / np.maximum(strength, 1.0))
    made["lpa_low"], made["lpa_high"] = made["lpa"] * np.exp(-relative), made["lpa"] * np.exp(relative)
    fraction = proof.mass_fraction_from_proof(made["proof_60F"])
    mass = proof.mass_from_volume(made["volume_20C_L"], fraction, proof.T_20C)
    made["proof_gallons"] = np.asarray(proof.quantities(mass, fraction)["proof_gallons"])
    return made


@stage(gives=OUTLOOKS, per="cask")
def look_out(
    cask_rates: pd.DataFrame, fillings_of_casks: pd.DataFrame, cask_histories: pd.DataFrame, site: Any
) -> pd.DataFrame:
    """Rates → when each filling leaves 40 % vol and 80 proof, is half gone, and runs dry, with intervals."""
    if site.book_month is None or not len(cask_rates):
        return OUTLOOKS.empty()
    found = standing(cask_rates, fillings_of_casks, cask_histories, first_day(site), site)
    made: dict[str, Any] = {name: cask_rates[name].to_numpy(object)[found.rows] for name in ("cask", "filling")}
    starts = range(0, max(len(found.rows), 1), BLOCK)
    parts = [_outlook(found.part(slice(start, start + BLOCK)), site) for start in starts]
    made |= {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}
    return OUTLOOKS.build(made, cask_rates["facts"].to_numpy(object)[found.rows])


def _outlook(found: Standing, site: Any) -> dict[str, Array]:
    """The days of the four lines of each filling, with both ends of their intervals."""
    ahead = np.linspace(0.0, FURTHEST_YEARS, GRID)
    level = float(proof.proof_from_mass_fraction(proof.mass_fraction_from_abv(EU_ABV)))
    middle, spread = found.strength(ahead[None, :])
    made = _days("below_40_vol", middle, spread, np.full(len(found.rows), level), ahead, site)
    made |= _days("below_80_proof", middle, spread, np.full(len(found.rows), US_PROOF), ahead, site)
    middle, spread = found.litres(ahead[None, :])
    with np.errstate(invalid="ignore", divide="ignore"):
        made |= _days("half", middle, spread, np.log(found.full / 2.0), ahead, site)
        empty = float(site["plugins.cellar.empty_percent"]) / 100.0
        made |= _days("dry", middle, spread, np.log(found.full * max(empty, 1e-4)), ahead, site)
    return made


def _days(name: str, middle: Array, spread: Array, level: Array, ahead: Array, site: Any) -> dict[str, Array]:
    today = float(years(np.array([first_day(site)], dtype="datetime64[us]"))[0])
    made = {}
    for end, line in (("", middle), ("_from", middle - Z95 * spread), ("_to", middle + Z95 * spread)):
        made[name + end] = moment(crossing(line, level, ahead) + today)
    return made


def crossing(line: Array, level: Array, ahead: Array) -> Array:
    """Where each line (n, k) first lies below its level, between the points of ``ahead`` (k,) by a straight line.

    0 where it lies below at once; NaN where it never does, or is not known.
    """
    below = line < level[:, None]
    first = below.argmax(axis=1)
    row = np.arange(len(line))
    before = np.maximum(first - 1, 0)
    over, under = line[row, before] - level, line[row, first] - level
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.where(first > 0, over / (over - under), 0.0)
    at = ahead[before] + share * (ahead[first] - ahead[before])
    return np.where(below.any(axis=1) & np.isfinite(level), at, np.nan)
