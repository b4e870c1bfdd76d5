"""Settings of reconciliation: house tolerances, and the uncertainty of a quantity by how it was had.

All defaults are common practice without a source. Tolerances are the house's, no allowance in law.
``weighed_percent``, ``metered_percent`` and ``dipped_tank_percent`` are the gauging plugin's own.
"""

from pipeline import Setting

HOUSE = "house tolerance, not an allowance in law"


def _limit(name: str, default: float, unit: str, meaning: str) -> Setting:
    return Setting("tolerances", name, "number", default, unit, f"{meaning} ({HOUSE})", low=0.0)


def _spread(name: str, default: float, unit: str, meaning: str) -> Setting:
    return Setting("uncertainty", name, "number", default, unit, f"standard uncertainty of {meaning}", low=0.0)


SETTINGS = [
    Setting("tolerances", "gauge_days", "count", 90, "days", "age from which a gauge used for a draw is stale", low=0),
    Setting("tolerances", "rest_hours", "number", 12.0, "h", "rest between the last addition and the gauge", low=0.0),
    Setting(
        "tolerances",
        "false_alarms_in_100",
        "number",
        2.0,
        "batches",
        "of 100 batches in which nothing is wrong, those whose account is said not to close",
        low=0.01,
        high=50.0,
    ),
    _limit("expected_proof", 0.5, "proof", "difference between expected and gauged strength that is let pass"),
    _limit("expected_mass_percent", 0.5, "%", "difference of mass that is let pass while alcohol closes"),
    _limit("gain_percent", 0.3, "%", "gain of proof gallons at any step above which a person looks"),
    _limit("dump_loss_percent", 2.0, "%", "normal loss of proof gallons at dumping"),
    _limit("process_loss_percent", 1.0, "%", "normal loss of proof gallons between drawing and the vat's gauge"),
    _limit("filter_loss_percent", 0.8, "%", "normal loss of proof gallons at filtering"),
    _limit("bottling_loss_percent", 1.5, "%", "normal loss of proof gallons at bottling"),
    _limit("capacity_percent", 3.0, "%", "by how much a cask may hold more than its stated capacity"),
    _spread("dipped_cask_percent", 3.0, "%", "a quantity by dip of a cask, or had in no stated way"),
    _spread("paper_percent", 3.0, "%", "a quantity taken from a regauge on paper"),
    _spread("share_of_dump_percent", 5.0, "%", "a cask's share of a common dump"),
    Setting(
        "uncertainty",
        "quantity_in_common",
        "number",
        0.5,
        "share",
        "part of a quantity's standard uncertainty that is common to all quantities of a batch had in the same way "
        "(one scale, one meter)",
        low=0.0,
        high=1.0,
    ),
    _spread("filter_proof", 0.2, "proof", "the change of strength by filtering"),
    _spread("bottle_fill_percent", 0.3, "%", "the mean fill of the bottles of a run"),
    _spread("unstated_proof", 0.3, "proof", "a reading that states none"),
    _spread("paper_proof", 1.0, "proof", "a strength from the blend sheet or the inventory"),
    _spread("proof_drift_per_year", 1.0, "proof", "the change of a cask's strength in a year since its gauge"),
]
