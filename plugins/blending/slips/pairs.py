"""Two slips in one batch, where no single usual one closes its account.

Two figures that may be anything close almost every account, so that only slips of the usual kinds are paired.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from plugins.blending.common.amounts import Array, floats
from plugins.blending.reconciling import levels
from plugins.blending.reconciling.judged import Judged
from plugins.blending.slips.figures_named import NO_USUAL
from plugins.blending.slips.lines import MORE_WATER, NOT_POURED, ONE_MORE

# Minus twice the log of the odds of a second slip in a batch that has one: 1 in 100. Our own judgement.
SECOND = 9.2
# Of more slips than this only those that explain most are paired; of pairs, the likeliest are worked out in full.
MOST, IN_FULL = 600, 60
# Of free size, or of any line: two of them explain anything.
NOT_PAIRED = (NO_USUAL, ONE_MORE, MORE_WATER, NOT_POURED)


def pairs(
    tries: pd.DataFrame, changes: Array, judged: Mapping[str, Judged], closed: float
) -> dict[str, dict[str, Any]]:
    """By batch the likeliest two slips that close it together, where no usual one does alone.

    ``tries`` with their score, row by row as ``changes`` of what is missed. A pair: ``first`` and ``second``
    (rows of ``tries``), ``score``, ``z_after``.
    """
    usual = ~tries["kind"].isin([NO_USUAL])
    alone = set(tries.loc[usual & (tries["z_after"] <= closed), "batch"])
    found = {}
    for batch, places in tries.groupby("batch", sort=True).indices.items():
        if batch not in alone:
            part = tries.loc[tries.index[places]]
            kept = ~part["kind"].isin(NOT_PAIRED).to_numpy(bool)
            pair = _likeliest(part[kept], changes[places[kept]], judged[str(batch)], closed)
            if pair is not None:
                found[str(batch)] = pair
    return found


def _likeliest(tries: pd.DataFrame, changes: Array, judged: Judged, closed: float) -> dict[str, Any] | None:
    size, score = judged.missed.size, floats(tries, "score")
    beside = score - floats(tries, "squares")
    kept = np.argsort(score, kind="stable")[:MOST]
    if kept.size < 2:
        return None
    apart = judged.whitened(judged.missed[None, :])[0]
    moved = judged.whitened(judged.missed + changes[kept, :size]) - apart
    whole = np.square(apart + moved).sum(axis=1) - np.square(apart).sum() / 2.0 + beside[kept]
    both = whole[:, None] + whole[None, :] + 2.0 * moved @ moved.T
    both[_same_figure(tries.iloc[kept])] = np.inf
    best = np.argpartition(both, min(IN_FULL, both.size - 1), axis=None)[:IN_FULL]
    one, other = (kept[part] for part in np.unravel_index(np.sort(best[np.isfinite(both.flat[best])]), both.shape))
    if not one.size:
        return None
    missed = judged.missed + changes[one, :size] + changes[other, :size]
    squares, log_p = judged.fit(missed)
    z_after = levels.as_score(log_p)
    full = np.where(z_after <= closed, squares + beside[one] + beside[other] + SECOND, np.inf)
    place = int(full.argmin())
    if not np.isfinite(full[place]):
        return None
    rows = [tries.iloc[int(part[place])].to_dict() for part in (one, other)]
    return {"first": rows[0], "second": rows[1], "score": float(full[place]), "z_after": float(z_after[place])}


def _same_figure(tries: pd.DataFrame) -> np.ndarray:
    """Which pairs are no pair: one figure twice, two figures of one row of a sheet, or each pair's other order."""
    fact = pd.factorize(tries["fact"])[0]
    line = pd.factorize(tries["side"].astype(str) + " " + tries["component"].astype(str))[0]
    same = (fact[:, None] == fact[None, :]) | (line[:, None] == line[None, :])
    return np.asarray(same | np.tri(len(tries), dtype=bool))
