"""The plugin's door."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest

from pipeline.contract.frames import fact_ids
from plugins.blending import plugin
from tests.blending.sheets import KINDS, Room, brief, cask, draw, reading


def test_every_column_of_every_frame_says_what_it_means() -> None:
    """explain walks meanings and uses: a column without a meaning would be a dead end."""
    for stage in plugin.stages():
        assert stage.frame is not None and stage.summary
        for column in stage.frame.columns:
            assert column.meaning, f"{stage.frame.name}.{column.name}"
            if column.dtype == "float":
                assert column.uses, f"{stage.frame.name}.{column.name}"


def test_uses_name_columns_that_exist() -> None:
    """Every used column is one of a sheet, of gauging or of this plugin."""
    from plugins.proof.declared.frames import PROOFS

    known = {name: set(kind.frame().names) | {column.name for column in kind.columns} for name, kind in KINDS.items()}
    known["proofs"] = set(PROOFS.names)
    known |= {stage.frame.name: set(stage.frame.names) for stage in plugin.stages() if stage.frame}
    for stage in plugin.stages():
        assert stage.frame is not None
        for column in stage.frame.columns:
            for used in column.uses:
                name, _, of = used.partition(".")
                assert of in known[name], f"{stage.frame.name}.{column.name} uses {used}"


def test_stages_read_only_settings_that_are_declared() -> None:
    """A worked batch with every kind of row asks for no setting that nobody declares."""
    made = big(3)
    assert len(made.work()["balances"]) > 0


def test_settings_have_units_and_meanings() -> None:
    """What site.toml may change is said in words."""
    assert all(setting.meaning and setting.unit for setting in plugin.settings())


def test_the_door_loads_no_pandas() -> None:
    """--help stays quick: sheets and settings are had without the stages' libraries."""
    code = "import sys, plugins.blending.plugin as p; p.sheet_kinds(); p.settings(); assert 'pandas' not in sys.modules"
    subprocess.run([sys.executable, "-c", code], check=True, timeout=300)


def big(count: int) -> Room:
    names = [f"C-{n:04d}" for n in range(count)]
    random = np.random.default_rng(7)
    made = Room(briefs=[brief()], casks=[cask(name, entry_proof="120 proof") for name in names])
    made.blends = [draw(name, drawn_weight=f"{random.uniform(120, 170):.1f} kg", line=name) for name in names]
    made.readings = [
        reading(name, round(float(random.uniform(115, 126)), 1), "2026-03-01", method="hydrometer") for name in names
    ]
    made.readings.append(reading("VAT-1", 60, "2026-03-05", net_weight=f"{140 * count} kg"))
    return made


@pytest.mark.long
def test_a_batch_of_400_components_is_diagnosed() -> None:
    """With an open balance every slip is tried, and the account still has all its entries."""
    worked = big(400).work()
    assert not worked["imbalances"]["agrees"][0]
    assert list(worked["balances"]["entry"]) == ["drawn", "expected", "gauged"]


@pytest.mark.long
def test_facts_of_every_row_come_from_its_inputs() -> None:
    """No row rests on facts that no sheet gave."""
    made = big(3)
    worked = made.work()
    given = fact_ids(worked.frames[name] for name in KINDS)
    for stage in plugin.stages():
        assert fact_ids([worked[stage.gives]]) <= given
