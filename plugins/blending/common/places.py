"""Which fact a finding points at: a finding's place is the row of its first fact."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import chain

import pandas as pd


def ids_of(*tables: pd.DataFrame) -> set[int]:
    """All fact ids of input frames."""
    return set(chain.from_iterable(chain.from_iterable(table["facts"] for table in tables)))


def in_order(*parts: object) -> tuple[int, ...]:
    """Facts in the given order, once each; what is no tuple of facts is passed over."""
    found: Iterable[int] = chain.from_iterable(part for part in parts if isinstance(part, tuple))
    return tuple(dict.fromkeys(found))


def pointing_at(wanted: set[int], *parts: object) -> tuple[int, ...]:
    """Facts once each, those of the wanted sheet first."""
    facts = in_order(*parts)
    return tuple(sorted(facts, key=lambda fact: fact not in wanted))
