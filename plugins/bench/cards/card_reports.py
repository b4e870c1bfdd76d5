"""The files of a bench card: for who pours, and for who tastes."""

from __future__ import annotations

import json
from typing import Any

import pandas as pd

from pipeline import report

PER = "bench_cards.batch"


@report(path="proposals/{batch}/bench_card.xlsx", per=PER, wait=True)
def bench_card_xlsx(batch: str, bench_cards: pd.DataFrame) -> bytes | None:
    """The bench card as issued: what to pour, the key, the tasters' pages; none where it could not be made."""
    from plugins.bench.cards.card_workbook import card_bytes

    card = json.loads(bench_cards["document"].iloc[0])
    return card_bytes(card) if card["trials"] else None


@report(path="proposals/{batch}/bench_tasting.xlsx", per=PER, wait=True)
def bench_tasting_xlsx(batch: str, bench_cards: pd.DataFrame) -> bytes | None:
    """The tasters' pages alone, without the key."""
    from plugins.bench.cards.card_workbook import tasting_bytes

    card = json.loads(bench_cards["document"].iloc[0])
    return tasting_bytes(card) if card["trials"] else None


REPORTS: list[Any] = [bench_card_xlsx, bench_tasting_xlsx]
