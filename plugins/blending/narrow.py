"""Which readings and strengths can count for blending: those of vessels that some batch names.

Stages that see only these are not run again for every other cask that the lab reads.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pipeline.names import coded, fold

NAMED_IN = {
    "blends": ("component", "batch"),
    "briefs": ("vessel", "batch"),
    "components": ("component", "batch"),
    "balances": ("batch",),
    "bottlings": ("batch", "remainder_to"),
}


def of_batches(frame: pd.DataFrame, given: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """The rows of ``frame`` whose ``vessel`` a batch names, in their order with their own index begun anew."""
    return frame[_of_batches(frame, given)].reset_index(drop=True)


def _of_batches(frame: pd.DataFrame, given: Mapping[str, pd.DataFrame]) -> NDArray[np.bool_]:
    named = {
        fold(str(name))
        for source, columns in NAMED_IN.items()
        if source in given
        for column in columns
        if column in given[source]
        for name in pd.unique(given[source][column].dropna().to_numpy(dtype=object)).tolist()
    }
    return coded(frame["vessel"]).rows_of(named)


def of_batches_and_dumps(frame: pd.DataFrame, given: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """The same, and every dump gauge: of a cask that was left out no batch knows the name."""
    dumps = (frame["purpose"] == "dump").fillna(False).to_numpy(dtype=bool)
    return frame[_of_batches(frame, given) | dumps].reset_index(drop=True)


def one_of_each(frame: pd.DataFrame, given: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """The first row of each name of a vessel: for stages that only want to know which names the lab uses."""
    codes = coded(frame["vessel"]).codes
    rows = np.unique(codes, return_index=True)[1]
    return frame.iloc[np.sort(rows[codes[rows] >= 0])].reset_index(drop=True)
