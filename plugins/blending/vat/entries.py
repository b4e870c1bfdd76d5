"""The entries of an account as conserved masses with their variances: drawn and added, gauged, bottled."""

from __future__ import annotations

import numpy as np
import pandas as pd

from pipeline import unite
from pipeline.contract.site import Site
from plugins import proof
from plugins.blending.common.amounts import Array, added_up, ethanol_masses, floats, proof_per_fraction, spread
from plugins.blending.common.lookups import looked_up
from plugins.blending.components.drawn import percent_of
from plugins.blending.components.shared_errors import (
    MAY_HIDE,
    NAMES,
    OWN,
    SHARES,
    quantities_in_common,
    variance,
)
from plugins.blending.vat.bottled import bottled
from plugins.blending.vat.vat_gauge import last_checks

CARRIED = ["mass_kg", "ethanol_kg", "apparent_ethanol_kg", "var_mass", "var_ethanol", "covariance"]
SHARED = ["hidden_ethanol_kg"]
READ = ["read_proof", "read_apparent", "read_uncertainty", "read_hidden"]
FILLED = ["filled_L", "filled_degC"]
# Of a gauge: when it was read, and what its strength shares with other readings.
GAUGE = ["gauged_at", OWN, *NAMES, *SHARES]
LINES = "lines_official"
KNOWN = "apparent_known"
ENTRY = [
    "batch", "entry", *CARRIED, *SHARED, *READ, *FILLED, LINES, KNOWN, "strength_basis", "basis", "vessel", "by_volume",
    *GAUGE,
    "facts",
]  # fmt: skip


def no_entries() -> pd.DataFrame:
    """A table of no entries."""
    numbers = {name: pd.Series(dtype="float64") for name in (*CARRIED, *SHARED, *READ, *FILLED, LINES)}
    return (
        pd.DataFrame(numbers)
        .reindex(columns=ENTRY)
        .astype({"facts": object, "by_volume": "boolean", "gauged_at": "datetime64[us]"})
    )


def usable(components: pd.DataFrame) -> pd.DataFrame:
    """The lines that have both a quantity and a strength, and so go into the sums."""
    return components[components["mass_kg"].notna() & components["ethanol_kg"].notna()]


def incomplete(components: pd.DataFrame) -> set[str]:
    """Batches of which a line has no quantity or no strength, so that their sums are too small."""
    return set(components.loc[components["mass_kg"].isna() | components["ethanol_kg"].isna(), "batch"])


def empty(components: pd.DataFrame) -> set[str]:
    """Batches all of whose lines state a quantity of nothing."""
    return set(components["batch"]) - set(components.loc[components["mass_kg"] != 0.0, "batch"])


def carried(mass: Array, ethanol: Array, apparent: Array, mass_u: Array, proof_u: Array) -> dict[str, Array]:
    """The conserved masses with variances, by the names of ``CARRIED``."""
    with np.errstate(divide="ignore", invalid="ignore"):
        fraction = np.where(mass > 0, ethanol / mass, np.nan)
    variances = spread(mass, fraction, mass_u, proof_u)
    return dict(zip(CARRIED, (mass, ethanol, apparent, *variances), strict=True))


def sums(components: pd.DataFrame, site: Site) -> pd.DataFrame:
    """What was drawn, what was added without alcohol, and expected: the sum of both, batch by batch.

    Quantities and strengths count as independent but for what they share. Drawn has the spirit, water all
    that brings no alcohol.
    """
    return _sums(components, site["uncertainty.quantity_in_common"])


def _sums(components: pd.DataFrame, common: float) -> pd.DataFrame:
    rows = usable(components)
    if rows.empty:
        return no_entries()
    names = (*CARRIED[:3], "mass_uncertainty_kg", OWN)
    spirit = (rows["kind"] != "water") & (rows["proof_60F"] > 0)
    per_proof = floats(rows, "mass_kg") / proof_per_fraction(floats(rows, "mass_fraction"))
    rows = rows.assign(
        hidden_ethanol_kg=rows[MAY_HIDE].fillna(0.0) * per_proof,
        **carried(*(floats(rows, name) for name in names)),
        entry=np.where(spirit, "drawn", "water"),
        is_true=(rows["strength_basis"] == "true") | ~spirit,
        lines=1,
        **{KNOWN: rows["proof_apparent_60F"].notna()},
        **{LINES: proof.official_proof_gallons(floats(rows, "volume_60F_gal"), floats(rows, "proof_60F"))},
    )
    expected = _sum(rows, pd.Series("expected", index=rows.index), common).assign(**{LINES: np.nan})
    made = pd.concat([_sum(rows, rows["entry"], common), expected], ignore_index=True)
    made["basis"] = _said(made, components)
    return made.reindex(columns=ENTRY)


def _sum(rows: pd.DataFrame, entry: pd.Series, common: float) -> pd.DataFrame:
    by = [rows["batch"], entry.rename("entry")]
    group = rows.groupby(by, sort=True)
    made = added_up(rows[[*CARRIED, SHARED[0], LINES, "lines"]], by)
    made["var_ethanol"] += variance(rows, by)
    made[CARRIED[3:]] += quantities_in_common(rows, by, common)
    made["strength_basis"] = np.where(group["is_true"].all(), "true", "apparent")
    made[KNOWN] = group[KNOWN].all()
    made["facts"] = unite(rows["facts"], by=by)
    return made.reset_index()


def _said(made: pd.DataFrame, components: pd.DataFrame) -> pd.Series:
    """How a sum was had, in words, with the lines that had to be left out."""
    without = components["mass_kg"].isna().groupby(components["batch"]).sum()
    missing = looked_up(made["batch"], without).fillna(0).astype(int)
    words = [
        f"{count} {'line' if count == 1 else 'lines'}, mass and ethanol mass added"
        + (f"; {lost} of the batch left out for want of strength or quantity" if lost else "")
        for count, lost in zip(made["lines"].astype(int), missing, strict=True)
    ]
    return pd.Series(words, index=made.index, dtype="str")


def gauged(found: pd.DataFrame, batches: pd.DataFrame, site: Site) -> pd.DataFrame:
    """The last gauge of each batch's vessel (``found`` as ``vat_gauges`` gives it)."""
    if found.empty:
        return no_entries()
    table = found.drop_duplicates("batch", keep="last").reset_index(drop=True)
    measured = table["content_mass_kg"].notna()
    per_proof = floats(table, "content_mass_kg") / proof_per_fraction(_fraction(table))
    how = table["content_basis"].replace("", "stated")
    words = (", quantity " + how).where(measured, ", strength only")
    return table.assign(
        **content(table, site),
        hidden_ethanol_kg=table[MAY_HIDE] * per_proof,
        read_hidden=table[MAY_HIDE],
        entry="gauged",
        gauged_at=table["taken_at"],
        read_proof=table["proof_60F"],
        read_apparent=table["proof_apparent_60F"],
        read_uncertainty=table["proof_uncertainty"],
        strength_basis=table["basis"],
        basis=table["said"] + " of " + table["vessel"] + words,
        by_volume=(how != "weighed").where(measured).astype("boolean"),
        facts=unite(table["facts"], looked_up(table["batch"], batches["brief_facts"])),
    ).reindex(columns=ENTRY)


def _fraction(table: pd.DataFrame) -> Array:
    return proof.mass_fraction_from_proof(floats(table, "proof_60F"))


def content(gauge: pd.DataFrame, site: Site) -> dict[str, Array]:
    """The conserved masses of gauges that state a content; NaN where they state none."""
    mass = floats(gauge, "content_mass_kg")
    ethanol, apparent = ethanol_masses(mass, floats(gauge, "proof_60F"), floats(gauge, "proof_apparent_60F"))
    percent = np.array([percent_of(str(basis), "vessel", site) for basis in gauge["content_basis"]])
    stated = floats(gauge, "content_uncertainty_kg")
    mass_u = np.where(np.isnan(stated), mass * percent / 100.0, stated)
    return carried(mass, ethanol, apparent, mass_u, floats(gauge, "proof_uncertainty"))


def strength_at_bottling(
    batches: pd.DataFrame, gauge: pd.DataFrame, proofs: pd.DataFrame, bottlings: pd.DataFrame, site: Site
) -> pd.DataFrame:
    """By batch the strength at bottling: as gauged, else the last reading at the bottling tank or line.

    ``gauge`` as ``gauged`` gives it. Columns: read_proof, read_apparent, read_uncertainty,
    apparent_known, strength_basis, said, facts, apparent_fraction.
    """
    wanted = [*READ, KNOWN, "strength_basis", "said", "facts"]
    known = gauge.assign(said="as gauged").set_index("batch")
    rest = batches.drop(index=list(known.index))
    checks = last_checks(rest, proofs, bottlings, site["uncertainty.unstated_proof"])
    names = dict(zip(("proof_60F", "proof_apparent_60F", "proof_uncertainty", MAY_HIDE), READ, strict=True))
    checks = checks.rename(columns={**names, "basis": "strength_basis"})
    both = [part[wanted] for part in (known, checks) if len(part)]
    made = pd.concat(both) if both else known[wanted]
    return made.assign(apparent_fraction=proof.mass_fraction_from_proof(floats(made, "read_apparent")))


def filled(run: pd.DataFrame, strength: pd.DataFrame, site: Site) -> pd.DataFrame:
    """What was filled into bottles; only its volume where no strength is known."""
    if run.empty:
        return no_entries()
    table = bottled(run, strength)
    known = strength.reindex(table.index)
    mass = floats(table, "bottled_kg")
    ethanol, apparent = ethanol_masses(mass, floats(known, "read_proof"), floats(known, "read_apparent"))
    mass_u = mass * site["uncertainty.bottle_fill_percent"] / 100.0
    per_proof = mass / proof_per_fraction(proof.mass_fraction_from_proof(floats(known, "read_proof")))
    at = np.where(table["reference_degC"] == proof.T_20C, "20 °C", "60 °F")
    bottles = table["bottles"].map(lambda number: f"{number:.0f} {'bottle' if number == 1 else 'bottles'}, volume at ")
    return (
        table.assign(
            **carried(mass, ethanol, apparent, mass_u, floats(known, "read_uncertainty")),
            hidden_ethanol_kg=floats(known, "read_hidden") * per_proof,
            entry="bottled",
            **{KNOWN: known[KNOWN].ne(False)},
            strength_basis=known["strength_basis"],
            basis=bottles + at + ", strength " + known["said"].astype("str").fillna("not known"),
            filled_L=table["bottled_L"],
            filled_degC=table["reference_degC"],
            facts=unite(table["facts"], known["facts"]),
        )
        .reset_index()
        .reindex(columns=ENTRY)
    )
