"""The made parts of plugins/proof/README.md, which python -m tests.make_docs writes.

Every published value against what is computed here, and by how much the US tables and the formula differ
over the whole range of proof.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from plugins.proof import T_60F, density, mass_fraction_from_proof, proof_from_mass_fraction
from plugins.proof.alcoholometry.official import table_value
from tests.published.gauging_computed import of_libraries, ours, table
from tests.published.gauging_rows import Published, known_differences, of_topic, published

KG_M3 = "kg/m3"
LITTLE = 1e-6


@dataclass(frozen=True)
class Check:
    """One line of the report; ``difference`` is None where the check is of words."""

    name: str
    source: str
    expected: str
    ours: str
    difference: float | None
    text: str
    known: bool = False


def checks() -> list[Check]:
    """All published values, in the order of their file, and the pure liquids."""
    return [*(_check(entry) for entry in published().values()), *_libraries()]


def _check(entry: Published) -> Check:
    value = ours(entry)
    source = f"{entry.source}, {entry.section}" if entry.source.startswith("27 CFR") else entry.source
    inputs = entry.inputs.partition(" (proof and")[0]
    name = f"{entry.topic}: {inputs}" if inputs and not inputs.startswith("same") else entry.topic
    if isinstance(value, str):
        same = "none" if value == entry.expected else "in the figure printed"
        return Check(name, source, entry.expected, value, None, same)
    decimals = len(entry.expected.partition(".")[2])
    difference = value - entry.value
    return Check(
        name,
        source,
        entry.expected,
        f"{value:.{decimals + 2}f}",
        difference,
        _signed(difference, decimals + 2),
        entry.id in known_differences() or entry.id.startswith("BS-"),
    )


def _signed(difference: float, decimals: int) -> str:
    text = f"{difference:+.{decimals}f}"
    return text if float(text) else f"{0.0:.{decimals}f}"


def _libraries() -> Iterator[Check]:
    for name, source, expected, value in of_libraries():
        difference = value - expected
        yield Check(
            f"{name} [{KG_M3}]", source, f"{expected:.4f}", f"{value:.4f}", difference, _signed(difference, 4), True
        )


def checks_section() -> str:
    """The report: one folded table a source."""
    by_source: dict[str, list[Check]] = {}
    for check in checks():
        by_source.setdefault(check.source.partition(", 30.")[0].partition(", 19.")[0], []).append(check)
    lines = [
        "Expected is as printed; ours has two decimals more and is not rounded otherwise; † is a known difference, of",
        "which the section above says why.",
        "",
    ]
    for source, rows in by_source.items():
        known = sum(row.known for row in rows)
        lines += [
            f"<details><summary><b>{source}</b>: {len(rows)} values{f', {known} known differences' if known else ''}"
            "</summary>",
            "",
            "| check | source | expected | ours | difference |",
            "|---|---|---|---|---|",
            *(
                f"| {row.name} | {row.source} | {row.expected} | {row.ours} | {row.text}{' †' if row.known else ''} |"
                for row in rows
            ),
            "",
            "</details>",
            "",
        ]
    return "\n".join(lines)


def us_density(proof: float) -> tuple[float, str] | None:
    """Density less the formula's at 60 °F by what the US tables rest on [kg/m3], and which source; None if not seen."""
    rho = float(density(mass_fraction_from_proof(proof), T_60F))
    if proof == 190.0:
        relative = float(table_value("lb per WG", 190.0)) / table("lb per WG", 190.0) - 1.0
        return relative * rho, "27 CFR 30.65"
    if proof == 200.0:
        relative = table("PG per lb", 200.0) / float(table_value("PG per lb", 200.0)) - 1.0
        return relative * rho, "27 CFR 30.64"
    w = float(mass_fraction_from_proof(proof))
    gravities = {
        float(entry.inputs.split("=")[1]): entry
        for entry in of_topic("SG in air 15.56/15.56C")
        if entry.inputs.startswith("abv")
    }
    entry = gravities.get(proof / 2.0)
    if entry:
        return (entry.value - float(ours(entry))) * float(density(0.0, T_60F)), "NBS Bulletin 9 by USP"
    fractions, differences = bureau()
    if fractions[0] <= w <= fractions[-1]:
        return float(np.interp(w, fractions, differences)), "Bureau of Standards"
    return None


def bureau() -> tuple[np.ndarray, np.ndarray]:
    """The Bureau of Standards' density less the formula's at 60 °F, between its 15 and 20 °C, by mass fraction. [kg/m3]

    Returns the mass fractions and the differences.
    """
    found: dict[float, dict[float, float]] = {}
    for entry in of_topic("density ethanol-water"):
        given = entry.given
        found.setdefault(given["abw"] / 100, {})[given["temp_C"]] = 1000 * (entry.value - float(ours(entry)))
    both = sorted((w, at) for w, at in found.items() if {15.0, 20.0} <= at.keys())
    share = (T_60F - 15.0) / 5.0
    return np.array([w for w, _ in both]), np.array([at[15.0] * (1 - share) + at[20.0] * share for _, at in both])


def us_section() -> str:
    """Formula and US tables at every ten proof."""
    lines = [
        "| proof | WG per lb | PG per lb | lb per WG | parts of water | US density less ours, kg/m3 | in WG per lb, "
        "units of its 5th decimal | in proof | source of the US figure |",
        "|---|---|---|---|---|---|---|---|---|",
    ]
    for proof in np.arange(0.0, 201.0, 10.0).tolist():
        figures = [table(what, proof) for what in ("WG per lb", "PG per lb", "lb per WG", "parts of water")]
        cells = [f"{proof:.0f}", *(f"{figure:.5f}" for figure in figures[:3]), f"{figures[3]:.2f}"]
        found = us_density(proof)
        if found is None:
            cells += ["", "", "", "none seen"]
        else:
            apart, source = found
            w = float(mass_fraction_from_proof(proof))
            rho = float(density(w, T_60F))
            cells += [
                _signed(apart, 3),
                _signed(-figures[0] * apart / rho * 1e5, 1),
                _signed(apart / _density_per_proof(w), 3),
                source,
            ]
        lines.append("| " + " | ".join(cells) + " |")
    return "\n".join(lines) + "\n"


def _density_per_proof(w: float) -> float:
    low, high = max(w - LITTLE, 0.0), min(w + LITTLE, 1.0)
    rise = density(high, T_60F) - density(low, T_60F)
    return float(rise / (proof_from_mass_fraction(high) - proof_from_mass_fraction(low)))
