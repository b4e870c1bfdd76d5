"""Finished goods in the accounts: a made-up year added up by arithmetic that knows nothing of the plugin."""

from __future__ import annotations

from collections import defaultdict
from datetime import date, timedelta
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

import numpy as np
import pandas as pd
import pytest

from plugins.blending.declared.frames import BALANCES
from plugins.cellar.accounts import ledger
from plugins.cellar.accounts.postings_goods import GOODS, in_goods, uncounted
from plugins.cellar.declared.kinds import REMOVALS
from tests.blending.sheets import FIRST_FACT, frame
from tests.cellar.house import KINDS

FIRST_FACT.setdefault("removals", 1_000_001)
Row = dict[str, Any]
NAMES = {"ship": "shipped", "export": "exported", "in bond": "removed in bond", "sample": "samples", "lost": "lost",
         "breakage": "broken", "destroy": "destroyed", "rework": "reworked", "return": "returned",
         "overage": "found"}  # fmt: skip
PER_LITRE = (0.2642, 0.501, 0.2641)  # of 100 proof: proof gallons, litres of pure alcohol, gallons at 60 degF


def year(seed: int) -> dict[str, list[Row]]:
    """40 batches over twelve months, two lots each, and what became of them by every cause."""
    rng = np.random.default_rng(seed)
    sheets: dict[str, list[Row]] = {"briefs": [], "balances": [], "bottlings": [], "removals": []}
    for number in range(40):
        batch, day = f"B-{number:02d}", date(2025, 1, 10) + timedelta(int(number * 8.5))
        sheets["briefs"].append({"batch": batch, "product": ("Oak", "Rye", None)[number % 3]})
        litres = 0.0
        for lot in range(2):
            bottles = int(rng.integers(200, 900))
            litres += bottles * 0.75
            run = {"batch": batch, "bottled_on": day.isoformat(), "bottle_size": "750 mL", "run": lot}
            sheets["bottlings"].append(run | {"bottles": bottles, "lot_code": f"L{number:02d}{lot}"})
            for at in range(int(rng.integers(0, 5))):
                cause = str(rng.choice(list(NAMES)))
                row: Row = {"removed_on": (day + timedelta(int(rng.integers(0, 90)))).isoformat(), "cause": cause,
                            "lot_code": f"l{number:02d}{lot}", "line": str(at)}  # fmt: skip
                ways: tuple[Row, ...] = (
                    {"bottles": int(rng.integers(1, 30))},
                    {"cases": int(rng.integers(1, 9)), "bottles_per_case": 6},
                    {"cases": 2, "bottles_per_case": 6, "bottles": 5},
                )
                row |= ways[int(rng.integers(0, 3))]
                sheets["removals"].append(row)
        sheets["balances"].append({"batch": batch, "entry": "bottled", "volume_20C_L": litres, "proof_60F": 100.0,
                                   "proof_gallons": litres * PER_LITRE[0], "lpa": litres * PER_LITRE[1],
                                   "volume_60F_gal": litres * PER_LITRE[2]})  # fmt: skip
    return sheets


def frames(sheets: dict[str, list[Row]]) -> dict[str, pd.DataFrame]:
    rows = sheets["balances"]
    columns = {name: [row[name] for row in rows] for name in rows[0]}
    made = {name: frame(kind, sheets[name]) for name, kind in
            {"bottlings": KINDS["bottlings"], "briefs": KINDS["briefs"], "removals": REMOVALS}.items()}  # fmt: skip
    return made | {"balances": BALANCES.build(columns, [(10**8 + at,) for at in range(len(rows))])}


def tenth(value: float) -> Decimal:
    """To the nearest tenth, a half away from 0."""
    return Decimal(repr(value)).quantize(Decimal("0.1"), ROUND_HALF_UP)


def added_up(sheets: dict[str, list[Row]]) -> dict[tuple[str, str], dict[str, Any]]:
    """(month, product) → by entry (bottles, official proof gallons), opening and on hand, row by row."""
    product = {row["batch"]: row["product"] or "not stated" for row in sheets["briefs"]}
    batch_of = {row["lot_code"].lower(): row["batch"] for row in sheets["bottlings"]}
    events = [(row["bottled_on"], "bottled in", row["batch"], row["bottles"]) for row in sheets["bottlings"]]
    for row in sheets["removals"]:
        count = row.get("cases", 0) * row.get("bottles_per_case", 0) + row.get("bottles", 0)
        sign = 1 if row["cause"] in ("return", "overage") else -1
        events.append((row["removed_on"], NAMES[row["cause"]], batch_of[row["lot_code"].lower()], sign * count))
    found: dict[tuple[str, str], dict[str, Any]] = defaultdict(lambda: defaultdict(lambda: (0, Decimal(0))))
    for day, entry, batch, count in events:
        sums = found[day[:7], product[batch]]
        gallons = tenth(abs(count) * 0.75 * PER_LITRE[2] * 100.0 / 100.0) * (1 if count > 0 else -1)
        sums[entry] = (sums[entry][0] + count, sums[entry][1] + gallons)
    return found


@pytest.mark.parametrize("seed", [19, 25])
def test_a_year_of_finished_goods_closes_as_added_up_by_hand(seed: int) -> None:
    """Each entry of each month and product in bottles and in official proof gallons; opening, in, out, closing."""
    sheets = year(seed)
    given = frames(sheets)
    lines = ledger.lines(in_goods(given["bottlings"], given["balances"], given["removals"], given["briefs"]))
    months = ledger.months(lines.assign(gauged=0.0))
    wanted = added_up(sheets)
    assert set(months["account"]) == {GOODS}
    held: dict[str, tuple[float, Decimal]] = defaultdict(lambda: (0, Decimal(0)))
    for (month, spirit), own in months.groupby(["month", "spirit"], sort=True):
        rows = {row["entry"]: row for row in own.to_dict("records")}
        opening, closing = rows.pop("opening"), rows.pop("on hand")
        assert (opening["bottles"], Decimal(int(opening["pg_tenths"])) / 10) == held[str(spirit)]
        sums = {entry: (row["bottles"], Decimal(int(row["pg_tenths"])) / 10) for entry, row in rows.items()}
        assert sums == dict(wanted.get((str(month), str(spirit)), {}))
        held[str(spirit)] = (held[str(spirit)][0] + sum(b for b, _ in sums.values()),
                             held[str(spirit)][1] + sum((g for _, g in sums.values()), Decimal(0)))  # fmt: skip
        assert (closing["bottles"], Decimal(int(closing["pg_tenths"])) / 10) == held[str(spirit)]
    assert {key for key in wanted} <= {(str(m), str(s)) for m, s in zip(months["month"], months["spirit"], strict=True)}


def test_without_a_list_of_removals_there_is_no_account() -> None:
    """Nobody tells what is still there."""
    given = frames(year(19))
    assert in_goods(given["bottlings"], given["balances"], REMOVALS.frame().empty(), given["briefs"]).empty


def test_a_removal_that_does_not_say_how_many_is_told() -> None:
    """Cases without what a case holds, or nothing at all."""
    base = {"removed_on": "2025-02-01", "lot_code": "L000", "cause": "ship"}
    rows = [base | {"line": "1", "cases": 2}, base | {"line": "2"}, base | {"line": "3", "bottles": 6}]
    found = uncounted(frame(REMOVALS, rows))
    assert [finding.observed for finding in found] == ["cases without bottles a case", "neither cases nor bottles"]
    assert {finding.code for finding in found} == {"account.removal-uncounted"}
