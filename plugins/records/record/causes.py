"""Which open findings of a batch one proposed correction would close: told once, the others folded under it.

Only what can be reckoned from the record is claimed. A correction closes the findings of the vat's account where, with
it, strength, mass and alcohol all lie within the house's tolerances; and the finding that reads its cell as it does.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from pipeline.contract.findings import Finding
from plugins import proof
from plugins.records.record.record import place_data

PROPOSED = "balance.figure-to-check"
OF_THE_VAT = ("balance.strength-differs", "balance.quantity-differs", "balance.does-not-close")
LOSSES = ("balance.loss-above-house-limit", "balance.gain")
SAME_CELL = "reading.temperature-other-scale"
OTHER_SCALE = "was meant it is"
Row = dict[str, Any]


def explained(findings: Iterable[Finding], records: Mapping[str, Row], site: Any) -> dict[str, list[str]]:
    """Id of a finding that proposes a correction → ids of the other open findings that this would close."""
    waiting = [finding for finding in findings if finding.is_open and finding.severity != "note"]
    made: dict[str, list[str]] = {}
    for cause in waiting:
        record = records.get(cause.batch)
        figure = _figure(record, cause) if record and cause.code == PROPOSED else None
        if record is None or figure is None:
            continue
        closes = _closes_vat(record["balance"], figure, site)
        folded = [
            other.id
            for other in waiting
            if (closes and other.batch == cause.batch and _of_vat(other)) or _same_reading(other, cause, figure)
        ]
        if folded:
            made[cause.id] = folded
    return made


def _figure(record: Row, cause: Finding) -> Row | None:
    """The first figure to check where it is one of one component, by itself, and stands in the finding's cell."""
    figures = record["balance"]["imbalance"]["figures_to_check"]
    first = figures[0] if figures else None
    if not first or len(first["components"]) != 1 or first["place"] != place_data(cause.place):
        return None
    return None if first["ethanol_change_kg"] is None or first["mass_change_kg"] is None else first


def _of_vat(finding: Finding) -> bool:
    """Whether it speaks of the vat's gauge against what was drawn; losses of other steps stand on other columns."""
    between = "between what was drawn and the vat's gauge" in finding.message
    return finding.code in OF_THE_VAT or (finding.code in LOSSES and between)


def _same_reading(other: Finding, cause: Finding, figure: Row) -> bool:
    """Whether another finding reads the same cell's temperature in the other scale, as the correction does."""
    same = other.code == SAME_CELL and other.place == cause.place and bool(other.place.file)
    return same and figure["quantity"] == "temperature" and OTHER_SCALE in (figure["slip"] or "")


def _closes_vat(balance: Row, figure: Row, site: Any) -> bool:
    """Whether strength, mass and alcohol of the vat agree within the house's tolerances with the figure corrected."""
    expected, gauged = balance["expected"], balance["gauged"]
    if not expected or not gauged or not expected["mass_kg"] or not gauged["mass_kg"] or not expected["ethanol_kg"]:
        return False
    if balance["loss"]["filter"] is not None:  # gauged twice: what the record compares is not what was corrected
        return False
    mass, ethanol = figure["mass_change_kg"], figure["ethanol_change_kg"]
    gain, loss = (site[f"tolerances.{name}"] / 100.0 for name in ("gain_percent", "process_loss_percent"))
    shares = [
        (expected[name] - gauged[name] + more) / expected[name]
        for name, more in (("mass_kg", mass), ("ethanol_kg", ethanol))
    ]
    # whichever side was wrong, both ways of putting it right must agree
    pairs = [(_moved(expected, mass, ethanol), _moved(gauged, 0.0, 0.0)),
             (_moved(expected, 0.0, 0.0), _moved(gauged, -mass, -ethanol))]  # fmt: skip
    apart = max(abs(one - other) for one, other in pairs)
    return all(-gain <= share <= loss for share in shares) and apart <= site["tolerances.expected_proof"]


def _moved(entry: Row, mass: float, ethanol: float) -> float:
    return float(proof.proof_from_mass_fraction((entry["ethanol_kg"] + ethanol) / (entry["mass_kg"] + mass)))
