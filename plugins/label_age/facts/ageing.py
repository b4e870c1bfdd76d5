"""Ages of origins, components and batches: time in wood by what the wood was, gaps and tanks left out."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from pipeline import unite
from plugins.label_age.facts.ages import DAY_WEIGHT, whole_ages
from plugins.label_age.facts.logic import FALSE, TRUE

if TYPE_CHECKING:
    from plugins.label_age.facts.tables import Table

LINE = ["batch", "component", "drawn_at", "line"]
ONE_DAY = np.timedelta64(1, "D")


def days(moments: Any) -> np.ndarray:
    return np.asarray(moments, dtype="datetime64[us]").astype("datetime64[D]")


def origin_starts(stays: pd.DataFrame) -> np.ndarray:
    """Offsets of origins in STAYS sorted by line, origin and stay; one entry more than there are origins."""
    first = (stays["stay"] == 0).to_numpy(bool)
    return np.append(np.flatnonzero(first), len(stays)).astype(np.int64)


def spent(stays: pd.DataFrame) -> np.ndarray:
    """Days of each stay, NaN where one of its ends is not known or the doubt says so: float64."""
    since, until = days(stays["since"]), days(stays["until"])
    known = ~(np.isnat(since) | np.isnat(until)) & stays["doubt"].isna().to_numpy(bool)
    made = np.full(len(stays), np.nan)
    made[known] = (until[known] - since[known]).astype("int64")
    return made


def keys_of(total: np.ndarray, since: np.ndarray, until: np.ndarray) -> np.ndarray:
    """Age keys of so many days of wood between two days; with gaps the lesser of counting forward and back.

    Where nothing is left out it is the age by anniversaries; an age is never more than either count gives.
    """
    whole = whole_ages(since, until)
    made = whole["key"].copy()
    gaps = np.isfinite(total) & (total != whole["age_days"])
    if gaps.any():
        count = total[gaps].astype("int64") * ONE_DAY
        first, last = days(since)[gaps], days(until)[gaps]
        made[gaps] = np.minimum(whole_ages(first, first + count)["key"], whole_ages(last - count, last)["key"])
    return np.where(np.isfinite(total), made, np.nan)


def summed(values: np.ndarray, starts: np.ndarray) -> np.ndarray:
    """Sums by origin."""
    return np.add.reduceat(values, starts[:-1]) if len(values) else np.empty(0)


def ends(stays: pd.DataFrame, starts: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The first day in wood and the last of each origin."""
    return days(stays["since"])[starts[:-1]], days(stays["until"])[starts[1:] - 1]


def ages_by(stays: pd.DataFrame, starts: np.ndarray, counts: np.ndarray | None = None) -> tuple[np.ndarray, np.ndarray]:
    """Least and greatest age key of each origin; ``counts`` says for each stay whether its wood counts (a truth)."""
    length = spent(stays)
    if counts is None:
        made = keys_of(summed(length, starts), *ends(stays, starts))
        return made, made
    low = _counted(stays, starts, length, counts == TRUE)
    if (counts[counts != TRUE] == FALSE).all():
        return low, low
    return low, _counted(stays, starts, length, counts != FALSE)


def _counted(stays: pd.DataFrame, starts: np.ndarray, length: np.ndarray, counts: np.ndarray) -> np.ndarray:
    """Age keys of the stays that count, between the first day of them and the last: without a gap by anniversaries."""
    since, until = ends(stays, starts)
    total = summed(np.where(counts, length, length * 0), starts)
    if len(stays) > len(since):
        first, last = days(stays["since"]), days(stays["until"])
        mine = np.repeat(np.arange(len(since)), np.diff(starts))[counts]
        begin, end = np.full(len(since), np.iinfo(np.int64).max), np.full(len(since), np.iinfo(np.int64).min)
        np.minimum.at(begin, mine, first[counts].astype("int64"))
        np.maximum.at(end, mine, last[counts].astype("int64"))
        some = np.isfinite(total) & (total > 0)
        since = np.where(some, begin.astype("datetime64[D]"), since)
        until = np.where(some, end.astype("datetime64[D]"), until)
    return keys_of(total, since, until)


def add_time_to_bottling(table: Table, runs: pd.DataFrame, count: int) -> None:
    """Time from each origin's first filling to the batch's first bottling, whatever held it between, as age keys.

    While nothing is bottled it is at least the time up to the draw. Where the age is not known this is not either.
    """
    bottled = runs.groupby("_batch")["bottled_on"].min().reindex(range(count)).to_numpy("datetime64[us]")
    last = np.fmax(days(bottled)[table.owner], table.until)  # of a day that is missing the other
    key = np.where(np.isnan(table.number("age")[0]), np.nan, whole_ages(table.since, last)["key"])
    at_least = np.where(np.isnan(key), np.nan, np.inf)
    table.set_number("held_to_bottling", key, np.where(np.isnat(bottled)[table.owner], at_least, key))


def age_components(stays: pd.DataFrame) -> pd.DataFrame:
    """The age of each line that holds spirit, its youngest origin's: columns of COMPONENT_AGES with ``facts``."""
    spirit = stays[stays["substance"].isna()].reset_index(drop=True)
    starts = origin_starts(spirit)
    key, _ = ages_by(spirit, starts)
    since, until = ends(spirit, starts)
    made = spirit.loc[starts[:-1], [*LINE, "cask", "through", "doubt", "facts"]].reset_index(drop=True)
    months = np.floor(key + 1e-9)
    made = made.assign(
        age_days=summed(spent(spirit), starts),
        years=months // 12,
        months=months % 12,
        days=np.round((key - months) / DAY_WEIGHT),
        counted_from=pd.Series(since.astype("datetime64[us]")),
        counted_to=pd.Series(until.astype("datetime64[us]")),
        doubt=_doubts(spirit, starts),
    )
    several = (np.diff(starts) > 1).any() or (spirit["origin"] > 0).any()
    return _youngest_of_lines(made, spirit) if several else made.rename(columns={"cask": "origin_cask"})


def _doubts(spirit: pd.DataFrame, starts: np.ndarray) -> pd.Series:
    """The first doubt of each origin."""
    number = np.repeat(np.arange(len(starts) - 1), np.diff(starts))
    first = spirit["doubt"].groupby(number).first()
    return first.reindex(range(len(starts) - 1)).reset_index(drop=True).astype("str")


def _youngest_of_lines(made: pd.DataFrame, spirit: pd.DataFrame) -> pd.DataFrame:
    """One row for each line: of several origins the one not known, else the youngest; the facts of all."""
    groups = [made[column] for column in LINE]
    number = made.groupby(groups, dropna=False, sort=False).ngroup()
    facts = unite(made["facts"], by=number)
    made = made.assign(_line=number, _known=made["age_days"].notna())
    made = made.sort_values(["_line", "_known", "age_days", "cask"], kind="stable").drop_duplicates("_line")
    made["facts"] = [facts[n] for n in made["_line"]]
    return made.drop(columns=["_line", "_known"]).rename(columns={"cask": "origin_cask"}).reset_index(drop=True)


def age_batches(component_ages: pd.DataFrame) -> pd.DataFrame:
    """The age of each batch: columns of AGES with ``facts``; the name breaks a tie of ages."""
    order = ["batch", "age_days", "component", "drawn_at", "line"]
    rows = component_ages.sort_values(order, kind="stable", ignore_index=True)
    youngest = rows.drop_duplicates("batch").set_index("batch")
    blank = rows[rows["age_days"].isna()]
    unknown = blank.groupby("batch")["component"].agg(lambda names: ", ".join(dict.fromkeys(names)))
    made = youngest[["component", "years", "months", "days", "age_days"]]
    made = made.rename(columns={"component": "youngest_component"})
    gaps = made.index.isin(unknown.index)
    made.loc[gaps, ["years", "months", "days", "age_days"]] = np.nan
    made["youngest_component"] = made["youngest_component"].mask(gaps)
    made["unknown_age"] = unknown.reindex(made.index).astype("str")
    made["facts"] = unite(rows["facts"], by=rows["batch"]).reindex(made.index)
    return made.reset_index()
