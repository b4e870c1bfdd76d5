"""Which readings, strengths and casks can count for blending: those that some batch names.

Stages that see only these are not run again for every other cask that the lab reads.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from pipeline.common.names import coded, rows_named
from plugins.blending.common.names import is_heel, one_digit_off

NAMED_IN = {
    "blends": ("component", "batch"),
    "briefs": ("vessel", "batch"),
    "components": ("component", "batch"),
    "balances": ("batch",),
    "bottlings": ("batch", "remainder_to"),
}


def of_batches(frame: pd.DataFrame, given: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """The rows of ``frame`` whose ``vessel`` a batch names, in their order with their own index begun anew."""
    return rows_named(frame, "vessel", _named(given))


def _named(given: Mapping[str, pd.DataFrame]) -> set[str]:
    """Folded names of all that batches name."""
    return {
        name
        for source, columns in NAMED_IN.items()
        if source in given
        for column in columns
        if column in given[source]
        for name in coded(given[source][column]).names
    }


def of_batches_and_dumps(frame: pd.DataFrame, given: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """The same, and every dump gauge: of a cask that was left out no batch knows the name."""
    return _or_dumps(frame, _named(given))


def nearly_of_batches_and_dumps(frame: pd.DataFrame, given: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """The same, and the rows of each vessel whose name is one misread digit from one that a batch names."""
    return _or_dumps(frame, _nearly_named(given))


def _or_dumps(frame: pd.DataFrame, names: set[str]) -> pd.DataFrame:
    dumps = (frame["purpose"] == "dump").fillna(False).to_numpy(dtype=bool)
    return frame.iloc[np.flatnonzero(coded(frame["vessel"]).rows_of(names) | dumps)].reset_index(drop=True)


def _nearly_named(given: Mapping[str, pd.DataFrame]) -> set[str]:
    named = _named(given)
    return named | {other for name in named for other in one_digit_off(name)}


def casks_of_batches(casks: pd.DataFrame, given: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """The inventory's rows of the casks that a batch names."""
    return rows_named(casks, "cask", _named(given))


def casks_nearly_of_batches(casks: pd.DataFrame, given: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """The same, and of the casks whose name is one misread digit from such a name."""
    return rows_named(casks, "cask", _nearly_named(given))


def other_names_read(readings: pd.DataFrame, given: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """The first row of each name that the lab reads and that is no cask of the inventory, and of it the name alone."""
    names = coded(readings["vessel"])
    others = set(names.place) - set(coded(given["casks"]["cask"]).place)
    rows = names.first_rows()[sorted(names.place[name] for name in others)]
    return readings[["vessel", "facts"]].iloc[rows].reset_index(drop=True)


def of_draws(proofs: pd.DataFrame, given: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """The rows whose vessel is drawn for a batch; where a heel is, of every vessel that a batch names.

    The gauge of a vat, by which a batch is judged, says nothing of what was drawn for it.
    """
    drawn = set(coded(given["blends"]["component"]).names)
    return rows_named(proofs, "vessel", _named(given) if any(map(is_heel, drawn)) else drawn)
