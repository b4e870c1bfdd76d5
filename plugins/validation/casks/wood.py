"""Words about wood that contradict each other.

"First fill" is a first filling with whisky of a cask that held something else: never new wood.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import pandas as pd

from pipeline import Finding
from plugins.validation.declared.wording import facts

USED = ("first fill", "second fill", "refill", "rejuvenated")
NOTHING_BEFORE = {"", "none", "nothing", "new", "new oak", "new wood", "virgin", "virgin oak", "no", "n/a", "-", "na"}
REMEDY = "Correct the wrong column: claims such as straight or bourbon hang on it."


def about_wood(casks: pd.DataFrame) -> Iterator[tuple[int, Finding]]:
    """New oak that was used before, and virgin wood that is not new or held something."""
    new = casks["new_oak"]
    is_new = new.fillna(False).astype(bool).to_numpy()
    is_old = (~new.fillna(True).astype(bool)).to_numpy()
    use = casks["wood_use"].fillna("").to_numpy(dtype=object)
    held = casks["held_before"].fillna("").str.strip()
    held_something = ~held.str.casefold().isin(NOTHING_BEFORE).to_numpy()
    used, virgin = np.isin(use.astype(str), USED), use == "virgin"
    rules = (
        (is_new & used, "new_oak", lambda at: f"new oak, but its use is {use[at]}", "new oak no, or use virgin"),
        (is_old & virgin, "new_oak", lambda at: "virgin wood, but not new oak", "new oak yes, or another use"),
        (
            (virgin | (is_new & ~used)) & held_something,
            "held_before",
            lambda at: f"new wood, but it held {held.iloc[at]} before",
            "nothing held before, or wood that is not new",
        ),
    )
    for mask, column, said, expected in rules:
        for place in np.flatnonzero(mask).tolist():
            yield place, _finding(casks.iloc[place], column, said(place), expected)


def _finding(cask: Any, column: str, said: str, expected: str) -> Finding:
    return Finding(
        code="cask.wood-contradiction",
        severity="review",
        message=f"{cask['cask']} is said to be {said}.",
        subject=str(cask["cask"]),
        facts=facts(cask["facts"]),
        column=column,
        observed=said,
        expected=expected,
        remedy=REMEDY,
    )
