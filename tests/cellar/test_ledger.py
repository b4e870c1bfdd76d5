"""The ledger: lines close to the tenth, whatever is posted, and rounding is the law's."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from plugins.cellar.accounts.ledger import TAKEN_ON, lines, months, tenths
from plugins.cellar.accounts.postings import posting
from tests.sets import search


def postings(rows: list[dict[str, Any]]) -> pd.DataFrame:
    """Postings from (holder, day, finds, pg) rows."""
    made = {name: [row.get(name) for row in rows] for name in ("holder", "finds", "entry", "pg", "spirit")}
    return posting(
        {
            **made,
            "account": "in wood",
            "at": pd.Series(
                [pd.Timestamp(2025, 1, 1) + pd.Timedelta(row["day"], "D") for row in rows], dtype="datetime64[us]"
            ),
            "lpa": [row["pg"] * 1.9 for row in rows],
            "facts": [(place + 1,) for place in range(len(rows))],
        }
    )


def test_rounding_is_half_up_and_alike_for_what_goes_out() -> None:
    """3721.06392 → 3721.1 (27 CFR 30.51, its example); 35.05 → 35.1; −0.25 is a draw of 0.25, so −0.3."""
    assert tenths(np.array([3721.06392, 35.05, -0.25, np.nan, 0.04])).tolist() == [37211, 351, -3, 0, 0]


ROWS = st.lists(
    st.tuples(st.integers(0, 4), st.integers(0, 200), st.booleans(), st.floats(0.0, 80.0, allow_nan=False)),
    min_size=1,
    max_size=40,
)


@pytest.mark.long
@search(200)
@given(ROWS)
def test_every_book_closes_to_the_tenth(rows: list[tuple[int, int, bool, float]]) -> None:
    """Opening and entries are on hand, month by month and in sum; on hand is what each holder holds last, by a slow
    loop over the same postings."""
    made = lines(
        postings(
            [
                {
                    "holder": h,
                    "day": d,
                    "finds": f,
                    "pg": v if f else -v,
                    "entry": "" if f else "drawn",
                    "spirit": f"S{h % 2}",
                }
                for h, d, f, v in rows
            ]
        )
    )
    assert made["pg_tenths"].dtype == np.int64
    held: dict[Any, int] = {}
    order = made.sort_values(["account", "holder", "at", "order"], kind="stable")
    for row in order.to_dict("records"):
        before = held.get(row["holder"], 0)
        held[row["holder"]] = int(tenths(np.array([row["found"]]))[0]) if row["finds"] else before + row["pg_tenths"]
        assert row["held_tenths"] == held[row["holder"]]
    totals = months(made.assign(gauged=0.0))
    for _, own in totals.groupby(["month", "spirit"]):
        whole = own.set_index("entry")["pg_tenths"]
        assert whole["opening"] + whole.drop(["opening", "on hand"]).sum() == whole["on hand"]
    last = totals[totals["entry"] == "on hand"].drop_duplicates("spirit", keep="last")
    assert last["pg_tenths"].sum() == sum(held.values())


def test_a_month_goes_on_where_the_last_ended() -> None:
    """Each month's opening is the on hand of the one before."""
    rng = np.random.default_rng(0)
    rows = [
        {"holder": h, "day": int(d), "finds": True, "pg": float(v), "entry": "", "spirit": "S"}
        for h, d, v in zip(rng.integers(0, 9, 200), rng.integers(0, 700, 200), rng.uniform(0, 60, 200), strict=True)
    ]
    totals = months(lines(postings(rows)).assign(gauged=0.0))
    ends = totals[totals["entry"].isin(["opening", "on hand"])].pivot(
        index="month", columns="entry", values="pg_tenths"
    )
    assert (ends["opening"].iloc[1:].to_numpy() == ends["on hand"].iloc[:-1].to_numpy()).all()
    assert len(ends) > 20


def test_a_holder_that_gives_before_it_is_known_is_taken_on_with_it() -> None:
    """A cask whose content nobody stated is opened with just what was drawn, and stands at nothing after."""
    made = lines(postings([{"holder": 1, "day": 3, "finds": False, "pg": -20.04, "entry": "drawn", "spirit": "S"}]))
    assert made["entry"].tolist() == [TAKEN_ON, "drawn"]
    assert made["held_tenths"].tolist() == [200, 0]


def test_a_lower_gauge_is_a_loss_and_a_higher_one_a_gain() -> None:
    """Loss and gain are differences of rounded contents, so that they close."""
    rows = [
        {"holder": 1, "day": d, "finds": True, "pg": v, "entry": e, "spirit": "S"}
        for d, v, e in ((0, 53.84, "received"), (9, 50.06, ""), (20, 50.55, ""))
    ]
    made = lines(postings(rows))
    assert made["entry"].tolist() == ["received", "lost", "gained"]
    assert made["pg_tenths"].tolist() == [538, -37, 5]
