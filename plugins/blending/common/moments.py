"""Moments with and without a time of day.

A date without a time is midnight and comes before that day's timed rows; what is drawn "that day"
counts as after what was read that day.
"""

from __future__ import annotations

from typing import Any

import pandas as pd

DAY = pd.Timedelta(days=1)
TICK = pd.Timedelta(microseconds=1)
NEVER = pd.Timestamp("2261-12-31").as_unit("us")


def end_of(moment: pd.Series, timed: pd.Series) -> pd.Series:
    """The last instant that a moment may mean: itself when timed, else the end of its day."""
    is_timed = timed.fillna(False).astype(bool)
    return moment.where(is_timed, moment.dt.normalize() + (DAY - TICK)).astype("datetime64[us]")


def day(moment: pd.Timestamp) -> str:
    return "an unknown day" if pd.isna(moment) or moment >= NEVER else f"{moment:%Y-%m-%d}"


def when(moment: pd.Timestamp, timed: Any) -> str:
    """A moment in words: with its time only where one was given."""
    return f"{moment:%Y-%m-%d %H:%M}" if not pd.isna(timed) and bool(timed) else day(moment)
