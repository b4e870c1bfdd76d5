"""The stage ``record_months``, and each month's gauges, samples, destructions, tests and bottlings as records."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator
from typing import Any

import pandas as pd

from pipeline import stage, unite
from plugins.records.declared.frames import MONTHS
from plugins.records.record import words
from plugins.records.record.plain import rows
from plugins.records.record.serials import due_by, serial, taken_on

Row = dict[str, Any]
DATED = {"proofs": "taken_at", "samples": "drawn_on", "movements": "moved_at", "removals": "removed_on",
         "bottlings": "bottled_on", "fill_checks": "checked_at"}  # fmt: skip
KIND = {"proofs": "readings"}
DESTROYED = ("destroy", "spill", "leak", "breakage", "lost")
NOT_STATED = "not stated"
HEADS: dict[str, tuple[str, ...]] = {
    "gauges": ("of", "circumstance", "observed", "at", "instrument", "certificate", "true proof", "±", "official proof",
               "% vol at 20 °C", "content kg", "wine gallons", "litres at 20 °C", "proof gallons", "for batch"),
    "samples": ("sample", "of", "number and size", "account", "purpose", "recipient", "kept at", "disposition"),
    "destructions": ("of", "cause", "quantity", "strength", "place", "manner", "witness", "by", "statement"),
    "tests": ("batch", "tank", "line", "label size", "found", "variation", "strength found", "action"),
    "bottlings": ("batch", "lot", "size", "bottles", "a case", "cases", "case serials", "label % vol", "poured back",
                  "broken", "samples", "remainder"),
}  # fmt: skip
"""By sort of record, what stands in its columns beside serial and day."""


@stage(gives=MONTHS, wait=True)
def list_record_months(
    proofs: pd.DataFrame,
    samples: pd.DataFrame,
    movements: pd.DataFrame,
    removals: pd.DataFrame,
    bottlings: pd.DataFrame,
    fill_checks: pd.DataFrame,
) -> pd.DataFrame:
    """Dated rows of daily sheets → the months in which there are any."""
    given = (proofs, samples, movements, removals, bottlings, fill_checks)
    every = pd.concat([
        pd.DataFrame({"month": frame[column].dt.strftime("%Y-%m"), "facts": frame["facts"]})
        for frame, column in zip(given, DATED.values(), strict=True) if len(frame)
    ] or [pd.DataFrame({"month": [], "facts": []})], ignore_index=True)  # fmt: skip
    every = every[every["month"].notna()]
    if not len(every):
        return MONTHS.empty()
    facts = unite(every["facts"], by=every["month"])
    counts = every.groupby("month").size().reindex(facts.index)
    return MONTHS.build({"month": list(facts.index), "rows": counts.to_numpy()}, list(facts))


def by_month(frames: dict[str, pd.DataFrame | None], sources: Any, site: Any) -> dict[str, dict[str, list[Row]]]:
    """Month → sort of record → records with serial, day, whether late, and cells as ``HEADS`` names them."""
    batches = {fact: row["batch"] for row in rows(frames.get("components")) for fact in row["facts"]}
    made: dict[str, dict[str, list[Row]]] = defaultdict(lambda: {sort: [] for sort in HEADS})
    for frame, column in DATED.items():
        for row in rows(frames.get(frame)):
            for sort, cells in RECORDS[frame](row, batches):
                record = _record(row, KIND.get(frame, frame), row[column], sources, site)
                made[(row[column] or "")[:7]][sort].append({**record, "cells": cells})
    return made


def _record(row: Row, kind: str, day: str | None, sources: Any, site: Any) -> Row:
    fact = row["facts"][0]
    taken = taken_on(sources.file(sources.spot(fact).number)["taken_at"], site)
    due = due_by(pd.Timestamp(day).date(), site["plugins.records.days_off"]) if day else None
    late = taken.isoformat() if due is not None and taken > due else None
    return {"serial": serial(kind, fact), "day": day, "late": late, "place": str(sources.place(fact))}


def _gauge(row: Row, batches: dict[int, str]) -> Iterator[tuple[str, list[Any]]]:
    warm = row["temperature_degC"]
    at = None if warm is None else (f"{words.number(warm * 1.8 + 32, 1)} °F" if row["temperature_unit"] == "degF"
                                    else f"{words.number(warm, 1)} °C")  # fmt: skip
    read = f"{words.free(row['reading'])} {words.unit(row['scale'])}".strip()
    shown = [row["vessel"], row["purpose"], read, at, _with(row["instrument"], row["method"]), row["certificate"]]
    shown += [words.number(row[name], places) for name, places in (
        ("proof_60F", 2), ("proof_uncertainty", 2), ("proof_official", 1), ("abv_20C", 2), ("content_mass_kg", 1),
        ("content_volume_60F_gal", 1), ("content_volume_20C_L", 1), ("content_proof_gallons", 1))]  # fmt: skip
    yield "gauges", [*shown, batches.get(row["facts"][0], words.NONE)]


def _sample(row: Row, batches: dict[int, str]) -> Iterator[tuple[str, list[Any]]]:
    size = None if row["volume_L"] is None else f"1 of {words.number(1000 * row['volume_L'], 0)} mL"
    kept = _with(row["place"], f"until {row['kept_until']}" if row["kept_until"] else None)
    yield "samples", [row["sample"], row["source"], size, *(row[name] for name in ("account", "purpose", "recipient")),
                      kept, row["fate"]]  # fmt: skip


def _movement(row: Row, batches: dict[int, str]) -> Iterator[tuple[str, list[Any]]]:
    litres = None if row["volume_L"] is None else f"{words.number(row['volume_L'], 1)} L"
    strength = None if row["proof"] is None else f"{words.free(row['proof'])} {words.unit(row['proof_unit'])}"
    if row["reason"] in DESTROYED:
        yield "destructions", [row["from"], row["reason"], litres, strength,
                               *(row[name] for name in ("place", "manner", "witness", "by", "remark"))]  # fmt: skip
    elif row["reason"] == "sample":
        yield "samples", [None, row["from"], litres, None, row["remark"], row["to"], None, None]


def _removal(row: Row, batches: dict[int, str]) -> Iterator[tuple[str, list[Any]]]:
    parts = (("cases", "case"), ("bottles", "bottle"))
    count = ", ".join(words.count(row[name], one) for name, one in parts if row[name] is not None) or None
    if row["cause"] in DESTROYED:
        yield "destructions", [f"lot {row['lot_code']}", row["cause"], count, None,
                               *(row[name] for name in ("place", "manner", "witness", "by", "remark"))]  # fmt: skip
    elif row["cause"] == "sample":
        yield (
            "samples",
            [None, f"lot {row['lot_code']}", count, "finished goods", row["remark"], row["recipient"], None, None],
        )


def _test(row: Row, batches: dict[int, str]) -> Iterator[tuple[str, list[Any]]]:
    found, size = row["net_volume_L"], row["bottle_size_L"]
    off = f"{words.signed(100 * (found / size - 1), 2)} %" if found is not None and size else None
    weight = None if row["net_weight_kg"] is None else f"{words.number(1000 * row['net_weight_kg'], 1)} g"
    strength = None if row["proof"] is None else f"{words.free(row['proof'])} {words.unit(row['proof_unit'])}"
    held = weight if found is None else f"{words.number(1000 * found, 1)} mL"
    label = f"{words.number(1000 * size, 0)} mL"
    yield "tests", [row["batch"], row["tank"], row["line"], label, held, off, strength, row["action"]]


def _bottling(row: Row, batches: dict[int, str]) -> Iterator[tuple[str, list[Any]]]:
    size = f"{words.number(1000 * row['bottle_size_L'], 0)} mL"
    left = f"{words.number(row['remainder_volume_L'], 1)} L to {row['remainder_to'] or 'place not stated'}"
    counts = [None if row[name] is None else words.number(row[name], 0) for name in (
        "bottles", "bottles_per_case", "cases")]  # fmt: skip
    after = [
        None if row[name] is None else words.number(row[name], 0) for name in ("dumped_back", "destroyed", "samples")
    ]
    label = None if row["label_abv"] is None else words.number(row["label_abv"], 1)
    yield "bottlings", [row["batch"], row["lot_code"], size, *counts, row["case_serials"], label, *after,
                        left if row["remainder_volume_L"] else None]  # fmt: skip
    if row["destroyed"]:
        yield "destructions", [f"{row['batch']}, run of {row['bottled_on']}", "broken at bottling",
                               words.count(row["destroyed"], "bottle"), *[None] * 5, row["remark"]]  # fmt: skip
    if row["samples"]:
        yield "samples", [None, f"{row['batch']}, run of {row['bottled_on']}",
                          f"{words.count(row['samples'], 'bottle')} of {size}", *[None] * 5]  # fmt: skip


def _with(name: str | None, more: str | None) -> str | None:
    return ", ".join(part for part in (name, more) if part) or None


RECORDS: dict[str, Callable[[Row, dict[int, str]], Iterator[tuple[str, list[Any]]]]] = {
    "proofs": _gauge,
    "samples": _sample,
    "movements": _movement,
    "removals": _removal,
    "bottlings": _bottling,
    "fill_checks": _test,
}
