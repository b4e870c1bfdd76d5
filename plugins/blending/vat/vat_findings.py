"""What a person must know about the vat: heel, capacity, rest, and what its gauge does not say."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pandas as pd

from pipeline import Finding
from pipeline.common.names import folded_or_missing as folded
from pipeline.contract.site import Site
from plugins.blending.common.lookups import looked_up
from plugins.blending.common.moments import when
from plugins.blending.common.places import in_order, pointing_at

HOUR = pd.Timedelta(hours=1)


def about_vats(
    balances: pd.DataFrame,
    batches: pd.DataFrame,
    found: pd.DataFrame,
    components: pd.DataFrame,
    vessels: pd.DataFrame,
    of_blends: set[int],
    of_readings: set[int],
    site: Site,
) -> list[Finding]:
    """Findings on the vats of all batches; parameters as ``balance_batches`` has them.

    ``of_blends`` and ``of_readings`` are the facts of blend sheets and lab readings, at which findings point.
    """
    own = components.groupby("batch", sort=True)["facts"].first()
    heel = set(components.loc[components["kind"] == "heel", "batch"])
    made: list[Finding] = []
    for row in batches.reset_index().to_dict("records"):
        facts = pointing_at(of_blends, row["brief_facts"]) or pointing_at(of_blends, own[row["batch"]])
        made.extend(_vessel(row, facts, row["batch"] in heel))
    made.extend(_over_capacity(balances, batches, vessels))
    made.extend(_too_soon(batches, found, of_readings, site["tolerances.rest_hours"]))
    made.extend(_incomplete(balances, of_readings))
    return made


def _vessel(row: dict[Any, Any], facts: tuple[int, ...], has_heel: bool) -> Iterator[Finding]:
    batch = str(row["batch"])
    if pd.isna(row["vessel_key"]):
        yield Finding(
            "vat.not-named",
            "review",
            f"No brief names the vessel of batch {batch}, so that none of its gauges can be found.",
            subject=batch,
            batch=batch,
            facts=facts,
            column="vessel" if isinstance(row["brief_facts"], tuple) else "batch",
            observed="no vessel",
            expected="the vessel that the batch was made in",
            remedy="Drop a brief for the batch with its vessel, and whether that was empty.",
        )
        return
    empty = row["vessel_empty"]
    if has_heel or (not pd.isna(empty) and bool(empty)):
        return
    said = "is not said to have been empty" if pd.isna(empty) else "was not empty"
    yield Finding(
        "vat.heel-unknown",
        "stop",
        f"{row['vessel']} {said} before batch {batch}, and no heel is on the blend sheet: "
        "quantity, age and origin of the batch cannot be told.",
        subject=str(row["vessel"]),
        batch=batch,
        facts=facts,
        column="vessel_empty",
        observed="nothing said" if pd.isna(empty) else "not empty, no heel listed",
        expected="vessel_empty: yes, or a line heel",
        remedy="Write vessel_empty on the brief, or a line heel with quantity and strength on the blend sheet.",
    )


def _over_capacity(balances: pd.DataFrame, batches: pd.DataFrame, vessels: pd.DataFrame) -> Iterator[Finding]:
    capacity = vessels["capacity_L"].groupby(folded(vessels["vessel"])).max()
    rows = balances[balances["entry"] == "expected"]
    room = looked_up(looked_up(rows["batch"], batches["vessel_key"]), capacity)
    for row, limit in zip(rows.to_dict("records"), room, strict=True):
        if not row["volume_20C_L"] > limit:
            continue
        vessel, brief_facts = batches.loc[row["batch"], ["vessel", "brief_facts"]]
        yield Finding(
            "vat.over-capacity",
            "review",
            f"Batch {row['batch']} comes to {row['volume_20C_L']:.1f} L at 20 °C; {vessel} holds {limit:.1f} L.",
            subject=str(vessel),
            batch=str(row["batch"]),
            facts=in_order(brief_facts, row["facts"]),
            column="vessel",
            observed=f"{row['volume_20C_L']:.1f} L",
            expected=f"at most {limit:.1f} L",
            remedy="Check quantities and their units, the brief's vessel, and the capacity in the list of vessels.",
        )


def _too_soon(batches: pd.DataFrame, found: pd.DataFrame, of_readings: set[int], hours: float) -> Iterator[Finding]:
    """Only where both the last addition and the gauge have a time of day."""
    for gauge in found.drop_duplicates("batch", keep="last").to_dict("records"):
        batch = str(gauge["batch"])
        row = batches.loc[batch]
        rest = gauge["taken_at"] - row["last"]
        if not (bool(row["last_timed"]) and bool(gauge["timed"])) or rest >= hours * HOUR:
            continue
        yield Finding(
            "gauge.too-soon",
            "review",
            f"{row['vessel']} was gauged on {when(gauge['taken_at'], True)}, {rest / HOUR:.1f} h after the last "
            f"addition to batch {batch}; the house lets it rest {hours:g} h.",
            subject=str(row["vessel"]),
            batch=batch,
            facts=pointing_at(of_readings, gauge["facts"]),
            column="taken_at",
            observed=f"{rest / HOUR:.1f} h",
            expected=f"at least {hours:g} h",
            rule="[tolerances] rest_hours, common practice",
            remedy="Mix, let it rest and gauge again: fresh from water a vat is warm, layered and full of air.",
        )


def _incomplete(balances: pd.DataFrame, of_readings: set[int]) -> Iterator[Finding]:
    gauged = (balances["entry"] == "gauged") & balances["mass_kg"].isna()
    bottled = (balances["entry"] == "bottled") & balances["mass_kg"].isna()
    for row in balances[gauged].to_dict("records"):
        yield Finding(
            "gauge.no-quantity",
            "review",
            f"Batch {row['batch']} was gauged for strength only ({row['basis']}); "
            "that its quantity agrees is not shown.",
            subject=str(row["batch"]),
            batch=str(row["batch"]),
            facts=pointing_at(of_readings, row["facts"]),
            column="volume",
            observed="no weight, volume or depth",
            expected="weight, volume or depth of the vessel's content",
            remedy="Add the content to the reading and drop it again, or accept.",
        )
    for row in balances[bottled].to_dict("records"):
        yield Finding(
            "bottling.no-strength",
            "review",
            f"Batch {row['batch']} was bottled, but no reading tells at which strength; "
            "its alcohol is not accounted for.",
            subject=str(row["batch"]),
            batch=str(row["batch"]),
            facts=tuple(row["facts"]),
            column="bottles",
            observed="no gauge of the vessel, none at the bottling tank or line",
            expected="a reading of the vessel before bottling",
            remedy="Drop the lab reading of the bottling tank, with purpose bottling tank.",
        )
