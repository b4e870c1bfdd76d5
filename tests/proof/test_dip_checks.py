"""Points of dip tables that fall or leap, in tanks of several shapes, and none accused of a sound table."""

from __future__ import annotations

import numpy as np
import pytest

from plugins.proof.gauging.dip_checks import check_dips
from tests.proof.sheets import vessels

DEPTHS = np.arange(0.0, 101.0, 5.0)
DEPTH = DEPTHS / 50.0  # of the lying tank in radii
SHAPES = {
    "upright": 20.0 * DEPTHS,
    "cone below": np.where(DEPTHS < 30.0, DEPTHS**3 / 135.0, 200.0 + 20.0 * (DEPTHS - 30.0)),
    "lying": 900.0 * (np.arccos(1.0 - DEPTH) - (1.0 - DEPTH) * np.sqrt(2.0 * DEPTH - DEPTH**2)),
}


def table(volumes: np.ndarray) -> list[dict[str, object]]:
    return [
        {"vessel": "V-1", "depth_cm": d, "volume_at_depth_L": v, "volume_at_depth_unit": "L"}
        for d, v in zip(DEPTHS, volumes, strict=True)
    ]


@pytest.mark.parametrize("shape", SHAPES)
def test_a_sound_table_is_not_accused(shape: str) -> None:
    rows = [*table(SHAPES[shape]), {"vessel": "V-2", "capacity_L": 500.0}]
    frame, findings = check_dips(vessels(*rows))
    assert findings == [] and len(frame) == len(DEPTHS)


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("at", [9, 12, 15])
@pytest.mark.parametrize("steps", [-1.2, 0.85])
def test_a_slip_is_found_where_it_is(shape: str, at: int, steps: float) -> None:
    """As much as the step to the next point, or nearly: one finding, on that point, with what is likely."""
    volumes = SHAPES[shape].copy()
    volumes[at] += steps * (volumes[at + 1] - volumes[at])
    _, findings = check_dips(vessels(*table(volumes)))
    assert [finding.facts for finding in findings] == [(2000 + at,)]
    likely = float(findings[0].expected.split()[1])
    assert likely == pytest.approx(SHAPES[shape][at], abs=8.0)


def test_a_table_in_gallons_speaks_in_inches() -> None:
    rows = [
        {"vessel": "V-1", "depth_cm": 2.54 * inch, "volume_at_depth_L": 3.785411784 * gallons,
         "volume_at_depth_unit": "gal"}
        for inch, gallons in ((0, 0), (1, 10), (2, 5), (3, 30), (4, 40))
    ]  # fmt: skip
    _, findings = check_dips(vessels(*rows))
    assert [finding.code for finding in findings] == ["gauge.dip-table-falls"]
    assert findings[0].observed == "5 gal at 2 in" and findings[0].expected.startswith("about 20 gal")


def test_nothing_is_said_of_no_table() -> None:
    assert check_dips(vessels({"vessel": "V-2"}))[1] == []
