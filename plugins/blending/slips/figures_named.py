"""Figures to check in order, those that fit alike named together, and what is said of the first."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import pandas as pd

from pipeline import Finding

MOST = 10
NO_USUAL = "no usual slip"
# Slips with a whole line, not with one figure of it.
OF_LINES = (
    "entered twice",
    "on the sheet but not poured",
    "left out",
    "one more like the others",
    "water that is not on the sheet",
    "the number of another cask",
)
# Minus twice the log of odds: what is less than four times as likely as another cannot be told from it.
ALIKE = 2.77
# Figures that together are the strength of a cask or vat: an error of one cannot be told from one of another.
OF_STRENGTH = ("temperature", "reading", "drawn_proof")
STRENGTH = "strength"


def listed(tries: pd.DataFrame, pairs: Mapping[str, dict[str, Any]]) -> list[dict[str, Any]]:
    """At most ten figures a batch: two together first, where they are likelier than any one alone.

    ``tries`` come best first within each batch; ``pairs`` as ``slips_in_pairs`` gives them.
    """
    least = tries.groupby("batch")["score"].min().to_dict()
    rows = ranked(tries)
    for batch, pair in pairs.items():
        if pair["score"] < least.get(batch, float("inf")):
            of_others = [row | {"rank": row["rank"] + 2} for row in rows if row["batch"] == batch]
            rows = [row for row in rows if row["batch"] != batch]
            rows += [*_two(batch, pair), *(row for row in of_others if row["rank"] <= MOST)]
    return sorted(rows, key=lambda row: (row["batch"], row["rank"]))


def _two(batch: str, pair: dict[str, Any]) -> Iterator[dict[str, Any]]:
    for rank, (one, other) in enumerate((("first", "second"), ("second", "first")), start=1):
        first, beside = pair[one] | {"z_after": pair["z_after"]}, pair[other]
        slip = f"{first['slip']}; no single usual slip closes the account, together with this it would: {_said(beside)}"
        alone = {"slip": slip, "mass_change_kg": float("nan"), "ethanol_change_kg": float("nan")}
        yield _row(batch, rank, first | alone, [first]) | {"together": [pair["first"], pair["second"]]}


def _said(figure: dict[str, Any]) -> str:
    """A figure and its slip; of a line that is wrong as a whole, its slip says all."""
    quantity = str(figure["quantity"]).replace("_", " ")
    return str(figure["slip"]) if quantity == "component" else f"{quantity} of {figure['component']} ({figure['slip']})"


def ranked(tries: pd.DataFrame) -> list[dict[str, Any]]:
    """At most ten figures a batch, each with its likeliest slip; what fits alike on other casks stands with the best.

    ``tries`` come best first within each batch.
    """
    rows: list[dict[str, Any]] = []
    tries = tries[~_said_better(tries)]
    of_strength = tries["quantity"].isin(OF_STRENGTH)
    tries = tries.assign(
        sort=tries["kind"].where(tries["kind"].isin(OF_LINES), "figure"),
        what=tries["quantity"].mask(of_strength, STRENGTH),
        whose=tries["line"].astype(str).mask(of_strength, "") + " " + tries["fact"].astype(str),
    )
    best = tries.drop_duplicates(["batch", "side", "whose", "quantity", "sort"])
    for batch, part in best.groupby("batch", sort=True):
        left = part.to_dict("records")
        for rank in range(1, MOST + 1):
            if not left:
                break
            first = left[0]
            alike = [row for row in left if _alike(row, first)]
            left = [row for row in left if not _alike(row, first)]
            rows.append(_row(str(batch), rank, first, alike))
    return rows


def _said_better(tries: pd.DataFrame) -> pd.Series:
    """Figures of no usual slip that a usual one explains as well; ``tries`` come best first."""
    figure = [tries["side"], tries["fact"], tries["stronger"] != 0.0]
    usual = (tries["kind"] != NO_USUAL).astype(int)
    return (tries["kind"] == NO_USUAL) & (usual.groupby(figure).cumsum() > 0)


def _alike(row: dict[Any, Any], first: dict[Any, Any]) -> bool:
    same = all(row[name] == first[name] for name in ("side", "what", "sort"))
    return same and row["score"] - first["score"] <= ALIKE


def _row(batch: str, rank: int, first: dict[Any, Any], alike: list[dict[Any, Any]]) -> dict[str, Any]:
    names = sorted({str(row["component"]) for row in alike})
    own = [row for row in alike if row["component"] == first["component"] and row["quantity"] != first["quantity"]]
    kept = ("quantity", "unit", "as_read", "as_corrected", "z_before", "z_after", "mass_change_kg", "ethanol_change_kg")
    slip = first["slip"] + "".join(f", or its {row['quantity']}: {row['slip']}" for row in own)
    if len(names) > 1:
        others = "the other fits alike with a figure" if len(names) == 2 else "the others fit alike with figures"
        slip = f"{first['component']}: {slip}; {others} of {'its' if len(names) == 2 else 'their'} own"
    whole = {"batch": batch, "rank": rank, "components": ", ".join(names), "slip": slip, "fact": int(first["fact"])}
    return whole | {name: first[name] for name in kept} | {"best": str(first["component"])}


def finding_of(row: dict[str, Any]) -> Finding:
    """The finding on a batch's first figure to check."""
    one = "," not in row["components"]
    unit = {"degF": "°F", "degC": "°C"}.get(row["unit"], row["unit"])
    who = row["components"] if one else f"one of {row['components']}"
    says = f"Batch {row['batch']} would close if one figure were corrected: {row['quantity']} of {who} ({row['slip']})"
    if "together" in row:
        both = " and ".join(_said(part) for part in row["together"])
        says = f"No single usual slip explains batch {row['batch']}; these two together would: {both}"
    return Finding(
        "balance.figure-to-check",
        "review",
        f"{says}; the account then misses by {row['z_after']:.1f} instead of {row['z_before']:.1f} times "
        "its uncertainty.",
        subject=row["best"],
        batch=row["batch"],
        facts=(row["fact"],),
        column=row["quantity"],
        observed=f"{row['as_read']:g} {unit}",
        expected=f"{row['as_corrected']:.4g} {unit}",
        rule="conservation of mass and ethanol",
        remedy="Look at the sheet and the cask; correct the figure if it was a slip. A figure to check accuses nobody.",
    )


def none_explains(batch: str, facts: tuple[int, ...], chance: float) -> Finding:
    """Where neither one figure nor two usual slips close the account."""
    return Finding(
        "balance.no-figure-explains",
        "review",
        f"No single figure, and no two of the usual slips, would close the account of batch {batch}, which chance "
        f"explains in {max(chance, 1e-6):.2g} of sound batches.",
        subject=batch,
        batch=batch,
        facts=facts,
        column="reading",
        observed="an account that no figure closes",
        expected="figures of which the balances close",
        rule="conservation of mass and ethanol",
        remedy="Gauge the vat again, strength and content; then look for several slips on one sheet (a column in "
        "another unit, rows moved by one), or spirit and water that are on none.",
    )
