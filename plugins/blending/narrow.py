"""Which readings and strengths can count for blending: those of vessels that some batch names.

Stages that see only these are not run again for every other cask that the lab reads.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from plugins.blending.names import fold

NAMED_IN = {
    "blends": ("component", "batch"),
    "briefs": ("vessel", "batch"),
    "components": ("component", "batch"),
    "balances": ("batch",),
    "bottlings": ("batch", "remainder_to"),
}


def of_batches(frame: pd.DataFrame, given: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """The rows of ``frame`` whose ``vessel`` a batch names, in their order with their own index begun anew."""
    named = {
        fold(name)
        for source, columns in NAMED_IN.items()
        if source in given
        for column in columns
        if column in given[source]
        for name in given[source][column].dropna().to_numpy(dtype=object)
    }
    if not named:
        return frame.iloc[:0]
    codes, names = pd.factorize(frame["vessel"].to_numpy(dtype=object))
    counts = np.array([fold(name) in named for name in names] + [False], dtype=bool)
    return frame[counts[codes]].reset_index(drop=True)


def of_batches_and_dumps(frame: pd.DataFrame, given: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """The same, and every dump gauge: of a cask that was left out no batch knows the name."""
    kept = of_batches(frame.assign(facts_row=range(len(frame))), given)["facts_row"]
    counts = np.zeros(len(frame), dtype=bool)
    counts[kept] = True
    return frame[counts | (frame["purpose"] == "dump").fillna(False).to_numpy(dtype=bool)].reset_index(drop=True)


def one_of_each(frame: pd.DataFrame, given: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """The first row of each spelling of a vessel: for stages that only want to know which names the lab uses."""
    return frame.drop_duplicates("vessel").reset_index(drop=True)
