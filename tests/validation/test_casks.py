"""Inventory rows against themselves and earlier exports."""

from __future__ import annotations

import pytest

from tests.validation.sheets import cask, checked_casks, codes


def test_an_honest_inventory_has_no_findings() -> None:
    """Barrels of new charred oak and used casks of another size, in proof and % vol, with gauges: nothing to say."""
    frame, findings = checked_casks(
        cask("C-1", entry_proof=125.0, entry_proof_unit="proof", new_oak=True, charred=True, wood_use="virgin",
             distilled_on="2021-02-25", distilled_proof=135.0, distilled_proof_unit="proof", capacity_L=200.6,
             entry_volume_L=200.6, volume_L=181.0, volume_basis="regauge", gauged_on="2025-09-01", proof=128.0),
        cask("C-2", entry_proof=63.5, entry_proof_unit="%vol", new_oak=False, wood_use="first fill",
             held_before="oloroso", capacity_L=500.0, entry_volume_L=495.0, volume_L=430.0, volume_basis="estimate"),
        markets=("US", "EU"),
    )  # fmt: skip
    assert findings == [] and list(frame["verdict"]) == ["", ""]
    assert frame["entry_proof_60F"].iloc[1] == pytest.approx(126.9, abs=0.15)
    assert frame["fullness"].iloc[0] == pytest.approx(181.0 / 200.6)


def test_filled_before_distilled() -> None:
    """Filling before distilling is a stop, with the exchange of day and month where that mends it."""
    _, findings = checked_casks(cask(filled_on="2021-02-05", distilled_on="2021-05-01"))
    (finding,) = findings
    assert (finding.code, finding.severity, finding.column) == ("cask.filled-before-distilled", "stop", "filled_on")
    assert finding.message.endswith("With day and month exchanged it would be 2021-05-02.")
    _, plain = checked_casks(cask(filled_on="2021-02-25", distilled_on="2021-05-01"))
    assert plain[0].message.endswith("was distilled on 2021-05-01.")


def test_absurd_dates() -> None:
    """A filling in 1899 is a stop; a gauge before filling a review."""
    _, findings = checked_casks(cask("C-1", filled_on="1899-12-30"), cask("C-2", gauged_on="2020-01-01"))
    assert [(f.code, f.severity) for f in findings] == [
        ("cask.date-unlikely", "stop"),
        ("cask.gauged-before-filled", "review"),
    ]


@pytest.mark.parametrize(
    ("column", "value", "unit"),
    [("proof", 101.0, "%vol"), ("entry_proof", 250.0, None), ("distilled_proof", -1.0, "proof")],
)
def test_impossible_strengths(column: str, value: float, unit: str | None) -> None:
    """% vol above 100, proof above 200 or below 0 are stops at their column."""
    _, findings = checked_casks(cask(**{column: value, f"{column}_unit": unit}))
    assert [(f.code, f.severity, f.column) for f in findings] == [("cask.strength-impossible", "stop", column)]


def test_unlikely_entry_strength() -> None:
    """An entry of 62.5 in a proof column is asked about, as is one of 85 % vol."""
    _, findings = checked_casks(cask("C-1", entry_proof=62.5), cask("C-2", entry_proof=85.0, entry_proof_unit="%vol"))
    assert [(f.code, f.subject) for f in findings] == [
        ("cask.entry-strength-unlikely", "C-1"),
        ("cask.entry-strength-unlikely", "C-2"),
    ]


def test_volume_above_capacity() -> None:
    """210 L in a cask of 200 L is a review; 204 L lies within the house's 3 %."""
    _, findings = checked_casks(
        cask("C-1", volume_L=210.0, capacity_L=200.0), cask("C-2", volume_L=204.0, capacity_L=200.0)
    )
    assert [(f.code, f.subject) for f in findings] == [("cask.volume-above-capacity", "C-1")]


def test_entry_above_125_concerns_new_wood_for_the_us() -> None:
    """One note for a day's casks above 125 proof, where the house sells in the US and the wood may be new."""
    rows = [cask(f"C-{place}", entry_proof=126.5, entry_proof_unit="proof") for place in range(3)]
    _, findings = checked_casks(*rows, markets=("US",))
    assert [(f.code, f.severity, len(f.facts)) for f in findings] == [("cask.entry-above-125", "note", 3)]
    assert checked_casks(*rows, markets=("UK",))[1] == []
    assert checked_casks(*({**row, "new_oak": False} for row in rows), markets=("US",))[1] == []


@pytest.mark.parametrize(
    ("wood", "contradicts"),
    [
        ({"new_oak": True, "wood_use": "first fill"}, True),
        ({"new_oak": True, "wood_use": "rejuvenated"}, True),
        ({"new_oak": False, "wood_use": "virgin"}, True),
        ({"wood_use": "virgin", "held_before": "port"}, True),
        ({"new_oak": True, "held_before": "bourbon"}, True),
        ({"new_oak": False, "wood_use": "first fill", "held_before": "bourbon"}, False),
        ({"new_oak": True, "wood_use": "virgin", "held_before": "None"}, False),
        ({"new_oak": True}, False),
        ({"wood_use": "refill"}, False),
    ],
)
def test_wood_words(wood: dict[str, object], contradicts: bool) -> None:
    """First fill is never new wood; virgin wood held nothing; what is not stated contradicts nothing."""
    assert codes(checked_casks(cask(**wood))[1]) == ["cask.wood-contradiction"] * contradicts


def test_refilled() -> None:
    """A later export with a filling after the earlier export's day is a refill: a note, once."""
    _, findings = checked_casks(
        cask(filled_on="2015-03-01", as_of="2020-01-01"),
        cask(filled_on="2024-03-01", as_of="2025-01-01"),
        cask(filled_on="2024-03-01", as_of="2026-01-01"),
    )
    assert [(f.code, f.severity, f.facts) for f in findings] == [("cask.refilled", "note", (2, 1))]


def test_filling_date_moved() -> None:
    """A later export that moves the filling back before the earlier export's day is a stop; 1,462 days are named."""
    _, findings = checked_casks(
        cask(filled_on="2019-03-02", as_of="2025-01-01"), cask(filled_on="2015-03-01", as_of="2026-01-01")
    )
    assert [(f.code, f.severity) for f in findings] == [("cask.filling-date-moved", "stop")]
    assert "1462 days" in findings[0].message and "1904" in findings[0].message


def test_two_fillings_in_one_export() -> None:
    """One cask with two fillings on one day is a stop, unless the earlier is said to be emptied."""
    rows = (cask(filled_on="2015-03-01"), cask(filled_on="2024-03-01"))
    assert codes(checked_casks(*rows)[1]) == ["cask.two-fillings"]
    assert codes(checked_casks({**rows[0], "status": "Emptied"}, rows[1])[1]) == ["cask.refilled"]


def test_original_volumes_are_told_once_for_an_export() -> None:
    """Volumes that are those at entry give one note for the export, by the basis or because they equal it."""
    _, findings = checked_casks(
        cask("C-1", volume_L=200.0, volume_basis="original"),
        cask("C-2", volume_L=198.0, entry_volume_L=198.0),
        cask("C-3", volume_L=181.0, entry_volume_L=198.0),
        cask("C-4", volume_L=198.0, entry_volume_L=198.0, volume_basis="regauge"),
    )
    assert [(f.code, f.severity, f.facts) for f in findings] == [("cask.volume-is-original", "note", (1, 2))]
    assert "2 casks (C-1, C-2)" in findings[0].message


def test_an_empty_inventory() -> None:
    """No casks, no rows, no findings."""
    frame, findings = checked_casks()
    assert len(frame) == 0 and findings == []
