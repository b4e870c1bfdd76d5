"""Conditions on texts: whether each passes, and whether a batch has one throughout."""

from __future__ import annotations

from typing import Any

import numpy as np

from plugins.label_age.facts.catalogue import Fact
from plugins.label_age.facts.logic import FALSE, TRUE, UNKNOWN
from plugins.label_age.facts.tables import Table
from plugins.label_age.facts.words import says
from plugins.label_age.rules.conditions import Check


def same(table: Table, fact: Fact) -> np.ndarray:
    """Whether a text has one value in each batch: FALSE with two values, UNKNOWN with a blank and at most one."""
    code = coded(table.plain_text(fact.name))[0]
    present = code >= 0
    lowest = np.where(present, code, np.iinfo(np.int64).max)
    result = np.full(len(table.starts) - 1, UNKNOWN, dtype=np.int8)
    filled = table.starts[1:] > table.starts[:-1]
    at = table.starts[:-1][filled]
    if not len(at):
        return result
    low, high = np.minimum.reduceat(lowest, at), np.maximum.reduceat(code, at)
    full = np.minimum.reduceat(present, at)
    result[filled] = np.where((high >= 0) & (low != high), FALSE, np.where(full, TRUE, UNKNOWN))
    return result


def coded(words: np.ndarray) -> tuple[np.ndarray, list[Any]]:
    """A code for each text, -1 for None, and the texts by code."""
    import pandas as pd

    code, known = pd.factorize(words, use_na_sentinel=True)
    return np.asarray(code, dtype=np.int64), list(known)


def texts_pass(check: Check, words: np.ndarray) -> np.ndarray:
    """The truth of a check of each text; of none it is unknown."""
    code, known = coded(words)
    if check.test == "mentions":
        told = [any(says(w, p) for w in word for p in check.limit) for word in known]
        return np.array([*(TRUE if t else FALSE for t in told), FALSE], dtype=np.int8)[code]
    allowed = check.limit if isinstance(check.limit, tuple) else (check.limit,)
    return np.array([*(TRUE if word in allowed else FALSE for word in known), UNKNOWN], dtype=np.int8)[code]
