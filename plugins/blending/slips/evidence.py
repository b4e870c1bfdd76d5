"""The figures on the sheets that stand behind an open account."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.common.names import folded_or_missing as folded
from pipeline.contract.site import Site
from plugins import proof
from plugins.blending.common.lookups import looked_up
from plugins.blending.reconciling.account import BOTTLED, DRAWN, DUMP, GAUGED, VAT
from plugins.blending.vat.amounts_for_losses import before_filter

READING = ["reading", "scale", "temperature_degC", "temperature_unit", "method", "state"]
CONTENT = ["net_weight_kg", "net_weight_unit", "volume_L", "volume_unit"]
QUANTITY = ["drawn_weight_kg", "drawn_weight_unit", "drawn_volume_L", "drawn_volume_unit"]
LINE = ["batch", "component", "row", "side", "mass", "fraction", "strength_source", "kind", "drawn_basis", "facts"]


@dataclass(frozen=True)
class Evidence:
    """Lines of figures. Each has batch, component, row (of components; NaN for what is no draw), side, by_volume,
    mass and fraction (apparent) of what it measures, share (its part in a mean) and fact.

    ``readings``: of draws and of the vat; ``strengths``: stated on the blend sheet; ``draws``: quantities
    of draws and water; ``contents``: quantities of gauges; ``bottles``: counts of bottling runs.
    """

    readings: pd.DataFrame
    strengths: pd.DataFrame
    draws: pd.DataFrame
    contents: pd.DataFrame
    bottles: pd.DataFrame

    def quantities(self) -> dict[str, pd.DataFrame]:
        return {"draws": self.draws, "contents": self.contents, "bottles": self.bottles}


def evidence(
    batches: set[str],
    balances: pd.DataFrame,
    components: pd.DataFrame,
    filter_gauges: pd.DataFrame,
    blends: pd.DataFrame,
    readings: pd.DataFrame,
    proofs: pd.DataFrame,
    bottlings: pd.DataFrame,
    site: Site,
) -> Evidence:
    """The lines behind the accounts of these batches."""
    drawn = _drawn(components[components["batch"].isin(batches) & components["mass_kg"].notna()])
    entries = balances[balances["batch"].isin(batches)]
    gauged = _gauged(entries[entries["entry"] == GAUGED], GAUGED)
    before = _gauged(_before(filter_gauges[filter_gauges["batch"].isin(batches)], site), VAT)
    sheet = blends.assign(fact=blends["facts"].str[0]).set_index("fact")
    draws = _by_fact(drawn, sheet.index)
    draws = draws.join(sheet[[*QUANTITY, "drawn_proof", "drawn_proof_unit"]], on="fact")
    draws["by_volume"] = draws["drawn_weight_kg"].isna() & draws["drawn_volume_L"].notna()
    by_row = draws.drop_duplicates("row").set_index("row")["by_volume"]
    drawn["by_volume"] = by_row.reindex(drawn["row"]).fillna(False).astype(bool).to_numpy()
    read = _read(pd.concat([part for part in (drawn, gauged, before) if len(part)]), readings, proofs)
    on_sheet = draws["strength_source"].str.startswith("drawn proof", na=False) & draws["drawn_proof"].notna()
    measured = read["side"].isin([GAUGED, VAT]) | read["drawn_basis"].fillna("").str.startswith("dump gauge")
    at_dump = _at_dump(components[components["batch"].isin(batches)], readings, proofs)
    contents = pd.concat([part for part in (read[measured & read["mass"].notna()], at_dump) if len(part)] or [read[:0]])
    contents = contents.reset_index(drop=True)
    return Evidence(read, draws[on_sheet], draws, contents, _bottles(entries[entries["entry"] == BOTTLED], bottlings))


def _drawn(rows: pd.DataFrame) -> pd.DataFrame:
    with np.errstate(invalid="ignore", divide="ignore"):
        fraction = np.where(rows["mass_kg"] > 0, rows["apparent_ethanol_kg"] / rows["mass_kg"], np.nan)
    made = rows.rename(columns={"mass_kg": "mass"}).assign(
        row=rows.index.astype("float64"), side=DRAWN, fraction=fraction
    )
    return made[LINE]


def _at_dump(rows: pd.DataFrame, readings: pd.DataFrame, proofs: pd.DataFrame) -> pd.DataFrame:
    """Dump gauges of casks that were measured again when they were drawn."""
    rows = rows[rows["dump_content_kg"].notna() & (rows["mass_kg"] > 0)]
    lines = _drawn(rows).assign(side=DUMP, mass=rows["dump_content_kg"], by_volume=False)
    return _read(lines, readings, proofs) if len(lines) else lines


def _before(earlier: pd.DataFrame, site: Site) -> pd.DataFrame:
    amounts = before_filter(earlier, site)
    mass = [amounts[batch].amount[0] for batch in earlier["batch"]]
    return earlier.assign(mass_kg=mass, by_volume=earlier["content_basis"] != "weighed")


def _gauged(rows: pd.DataFrame, side: str) -> pd.DataFrame:
    """Gauges of the vat, as rows of ``balances`` or of ``filter_gauges`` with their mass."""
    strength = rows["proof_apparent_60F"].fillna(rows["proof_60F"]).to_numpy("float64")
    made = rows.rename(columns={"vessel": "component", "mass_kg": "mass"}).assign(
        row=np.nan,
        side=side,
        fraction=proof.mass_fraction_from_proof(strength),
        strength_source="",
        kind="",
        drawn_basis="",
    )
    return (
        made[[*LINE, "by_volume"]].assign(by_volume=made["by_volume"].fillna(False).astype(bool)).reset_index(drop=True)
    )


def _bottles(filled: pd.DataFrame, bottlings: pd.DataFrame) -> pd.DataFrame:
    """Counts of the runs of each batch, each with its part of what was filled."""
    known = dict(zip(folded(filled["batch"]), filled["batch"], strict=True))
    rows = bottlings[folded(bottlings["batch"]).isin(list(known))]
    batch = folded(rows["batch"]).map(known)
    litres = rows["bottles"] * rows["bottle_size_L"]
    total = litres.groupby(batch).transform("sum")
    mass = looked_up(batch, filled.set_index("batch")["mass_kg"]) * litres / total
    made = pd.DataFrame({"batch": batch, "component": batch, "row": np.nan, "side": BOTTLED, "by_volume": False})
    made = made.assign(mass=mass, fraction=np.nan, share=1.0, bottles=rows["bottles"].astype("float64"))
    return made.assign(fact=rows["facts"].str[0]).reset_index(drop=True)


def _by_fact(lines: pd.DataFrame, known: pd.Index) -> pd.DataFrame:
    """One row per line and fact of it that is among the known ones; ``share`` splits a line evenly."""
    of_kind = set(known)
    kept = [[fact for fact in facts if fact in of_kind] for facts in lines["facts"]]
    made = lines.assign(
        fact=pd.Series(kept, index=lines.index, dtype=object), share=[1.0 / max(len(found), 1) for found in kept]
    ).explode("fact")
    made = made[made["fact"].notna()].drop(columns="facts")
    return made.assign(fact=made["fact"].astype("int64")).reset_index(drop=True)


def _read(lines: pd.DataFrame, readings: pd.DataFrame, proofs: pd.DataFrame) -> pd.DataFrame:
    """The readings behind the lines, with the scale that was resolved for them."""
    sheet = readings.assign(fact=readings["facts"].str[0]).set_index("fact")
    made = _by_fact(lines, sheet.index)
    wanted = [*(name for name in READING if name not in ("scale", "method")), *CONTENT]
    made = made.join(sheet[wanted], on="fact")
    facts = set(made["fact"])
    for name in ("scale", "method"):
        of_fact = {
            one: word for ids, word in zip(proofs["facts"], proofs[name], strict=True) for one in ids if one in facts
        }
        made[name] = made["fact"].map(of_fact)
    return made[made["scale"].notna()].reset_index(drop=True)
