"""Frames of five invented batches, with figures that hang together roughly.

Nothing here is a check of arithmetic: densities are read off a coarse table, good enough to look real.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

ABV = [0.0, 40.0, 43.0, 46.0, 50.0, 60.0, 70.0, 80.0, 90.0, 100.0]
DENSITY = [998.2, 948.05, 943.06, 937.73, 930.14, 909.11, 885.56, 859.27, 829.18, 789.24]
GALLON = 3.785411784
DATES = ("filled_on", "drawn_at", "counted_from", "counted_to", "due", "tasted_at", "gauged_at")


def quantities(mass: float, abv: float) -> dict[str, float]:
    """A coarse stand-in for the real alcoholometry."""
    litres = mass / float(np.interp(abv, ABV, DENSITY)) * 1000
    lpa = litres * abv / 100
    gallons = litres / GALLON * 0.9964
    proof = abv * 1.9967
    return {
        "mass_kg": mass,
        "ethanol_kg": lpa * 0.78924,
        "volume_60F_gal": gallons,
        "volume_20C_L": litres,
        "proof_60F": proof,
        "proof_apparent_60F": proof,
        "abv_20C": abv,
        "proof_gallons": gallons * proof / 100,
        "lpa": lpa,
    }


def mixed(parts: list[dict[str, Any]]) -> dict[str, float]:
    mass = sum(part["mass_kg"] for part in parts)
    ethanol = sum(part["ethanol_kg"] for part in parts)
    low, high = 0.0, 100.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (low, middle) if quantities(mass, middle)["ethanol_kg"] > ethanol else (middle, high)
    return quantities(mass, low)


def table(lines: list[dict[str, Any]], *columns: str) -> pd.DataFrame:
    """A frame with dates as pandas keeps them and a column ``facts``."""
    made = pd.DataFrame(lines, columns=None if lines else [*columns, "facts"])
    for name in made.columns:
        if name in DATES:
            made[name] = pd.to_datetime(made[name], format="ISO8601").astype("datetime64[us]")
    return made


PLANS = (
    # batch, product, market, casks: (id, filled, abv, kg), water kg, gauged, bottled share, age claim
    (
        "B-26-01",
        "Fenholm Small Vat",
        "US",
        (
            ("C-0102", "2020-04-14", 62.9, 168.2),
            ("C-0107", "2020-04-15", 62.1, 171.9),
            ("C-0111", "2021-03-02", 63.4, 175.0),
            ("C-0118", "2021-03-03", 61.7, 166.4),
            ("C-0125", "2021-10-20", 63.0, 172.8),
        ),
        182.0,
        0.9994,
        0.986,
    ),
    (
        "B-26-02",
        "Fenholm Reserve",
        "US, EU",
        (
            ("C-0203", "2018-05-08", 60.4, 151.0),
            ("C-0204", "2018-05-08", 61.2, 149.2),
            ("C-0209", "2018-06-19", 59.8, 147.7),
            ("C-0212", "2019-02-05", 60.9, 155.3),
        ),
        96.0,
        0.9768,
        None,
    ),
    (
        "B-26-03",
        "Fenholm Single Malt 5",
        "UK",
        (
            ("M-0311", "2020-09-01", 59.2, 190.4),
            ("M-0312", "2020-09-01", 58.7, 187.0),
            ("M-0340", "2021-11-30", 60.1, 201.3),
        ),
        210.0,
        1.0003,
        None,
    ),
    (
        "B-26-04",
        "Fenholm Cask Strength",
        "US",
        (("C-0131", "2021-04-12", 62.2, 172.1), ("C-0132", "2021-04-12", 62.8, 170.3)),
        0.0,
        None,
        None,
    ),
    (
        "B-25-11",
        "Fenholm Small Vat",
        "US",
        (
            ("C-0088", "2019-04-14", 61.9, 161.1),
            ("C-0090", "2019-04-15", 62.4, 163.0),
            ("C-0093", "2019-04-15", 61.1, 158.8),
        ),
        118.0,
        0.9997,
        0.989,
    ),
)


def add_batch(
    lines: Any,
    number: int,
    batch: str,
    product: str,
    market: str,
    casks: Any,
    water: float,
    gauged: float | None,
    bottled: float | None,
) -> None:
    base = number * 1000
    day = f"2026-0{min(number, 3)}-{10 + number:02d}" if not batch.startswith("B-25") else "2025-11-24"
    lines["briefs"].append(
        {"batch": batch, "product": product, "market": market, "due": "2026-04-30", "facts": (base + 1,)}
    )
    parts = []
    for position, (cask, filled, abv, mass) in enumerate(casks, start=1):
        row = {
            "batch": batch,
            "component": cask,
            "drawn_at": day + (" 09:30" if position % 2 else ""),
            "line": str(position),
            "kind": "cask",
            "filling": f"{cask}/1",
            "filled_on": filled,
            "strength_basis": "apparent" if position == 2 else "true",
            "obscuration_proof": None if position == 2 else 0.5,
            "planned_volume_60F_gal": round(mass / 3.4, 0),
            "drawn_basis": "weighed" if position < 4 else "share of dump",
            "strength_source": f"reading H-{1 + position % 2} {day}",
            "facts": (base + 1 + position, 100 * number + position),
            **quantities(mass, abv),
        }
        parts.append(row)
        lines["component_ages"].append(age_line(batch, row))
    if water:
        for position, share in enumerate((0.92, 0.08), start=1):
            row = {
                "batch": batch,
                "component": "water",
                "drawn_at": day + f" 1{position + 2}:00",
                "line": f"w{position}",
                "kind": "water",
                "drawn_basis": "metered",
                "facts": (base + 40 + position,),
                **quantities(water * share, 0.0),
            }
            parts.append(row)
    lines["components"].extend(parts)
    youngest = min((row for row in lines["component_ages"] if row["batch"] == batch), key=lambda row: row["age_days"])
    lines["ages"].append(
        {
            "batch": batch,
            "youngest_component": youngest["component"],
            **{k: youngest[k] for k in ("years", "months", "days")},
            "facts": youngest["facts"],
        }
    )
    add_balance(lines, base, batch, parts, gauged, bottled)


def age_line(batch: str, row: dict[str, Any]) -> dict[str, Any]:
    start, end = pd.Timestamp(row["filled_on"]), pd.Timestamp(row["drawn_at"]).normalize()
    months = (end.year - start.year) * 12 + end.month - start.month - (end.day < start.day)
    anniversary = start + pd.DateOffset(months=months)
    return {
        **{name: row[name] for name in ("component", "drawn_at", "line", "facts")},
        "batch": batch,
        "age_days": float((end - start).days),
        "years": months // 12,
        "months": months % 12,
        "days": (end - anniversary).days,
        "counted_from": row["filled_on"],
        "counted_to": end,
    }


def add_balance(lines: Any, base: int, batch: str, parts: Any, gauged: float | None, bottled: float | None) -> None:
    spirit = [part for part in parts if part["kind"] != "water"]
    water = [part for part in parts if part["kind"] == "water"]
    expected = mixed(parts)
    entries: dict[str, dict[str, float]] = {"drawn": mixed(spirit)}
    if water:
        entries["water"] = quantities(sum(part["mass_kg"] for part in water), 0.0)
    entries["expected"] = expected
    if gauged is not None:
        entries["gauged"] = quantities(expected["mass_kg"] * 0.9987, expected["abv_20C"] * gauged)
    if bottled is not None:
        entries["bottled"] = quantities(entries["gauged"]["mass_kg"] * bottled, entries["gauged"]["abv_20C"] - 0.02)
    bases = {
        "gauged": "mean of 2 readings of V-3, H-2 and DM-1; computed, the official gauge is by the tables",
        "bottled": "516 bottles of 750 mL and the line strength",
    }
    for name, entry in entries.items():
        official = float(np.floor(entry["proof_gallons"] * 10 + 0.5) / 10)
        lines["balances"].append(
            {
                "batch": batch,
                "entry": name,
                **entry,
                "proof_gallons_official": official,
                "mass_uncertainty_kg": 0.9 if name != "water" else None,
                "ethanol_uncertainty_kg": 0.6,
                "proof_uncertainty": {"expected": 0.12, "gauged": 0.09, "bottled": 0.1, "drawn": 0.14}.get(name),
                "basis": bases.get(name),
                "facts": (base + 2, base + 60),
            }
        )
    contraction = sum(part["volume_60F_gal"] for part in parts) - expected["volume_60F_gal"]
    agrees = None if gauged is None else gauged > 0.99
    lines["imbalances"].append(
        {
            "batch": batch,
            "contraction_60F_gal": contraction,
            "mass_z": None if gauged is None else 0.7,
            "ethanol_z": None if gauged is None else (0.4 if agrees else 9.6),
            "smallest_visible_proof": None if gauged is None else 1.3,
            "smallest_visible_kg": None if gauged is None else 3.2,
            "agrees": agrees,
            "facts": (base + 2, base + 60),
        }
    )
    if bottled is not None:
        for step, share in (
            ("dump", 0.004),
            ("filter", 0.003),
            ("bottling", 0.006),
            ("samples", 0.0008),
            ("unexplained", -0.0006),
        ):
            lines["losses"].append(
                {
                    "batch": batch,
                    "step": step,
                    "mass_kg": share * expected["mass_kg"],
                    "proof_gallons": share * expected["proof_gallons"],
                    "lpa": share * expected["lpa"],
                    "facts": (base + 2,),
                }
            )


def add_figures(lines: Any) -> None:
    for rank, (component, quantity, unit, read, mended, slip, after) in enumerate(
        (
            ("C-0209", "temperature", "degF", 17.5, 63.5, "read in °C, entered in a column of °F", 0.6),
            ("C-0203, C-0204", "drawn_weight", "lb", 329.1, 339.1, "one digit misread", 3.1),
        ),
        start=1,
    ):
        lines["figures_to_check"].append(
            {
                "batch": "B-26-02",
                "rank": rank,
                "components": component,
                "quantity": quantity,
                "unit": unit,
                "as_read": read,
                "as_corrected": mended,
                "slip": slip,
                "z_before": 9.6,
                "z_after": after,
                "fact": 203 if rank == 1 else 2002,
                "facts": (203,),
            }
        )
