"""The plugin's door, and what its declarations promise."""

from __future__ import annotations

import pytest

from plugins import proof
from plugins.proof import plugin
from plugins.proof.alcoholometry.strength import SCALES
from plugins.proof.declared import kinds
from plugins.proof.declared.frames import PROOFS


def test_the_door_gives_what_the_pipeline_asks_for() -> None:
    """Four kinds of sheet, four stages, two reports, settings and units, by hooks of version 1."""
    assert plugin.api == 1
    assert [kind.name for kind in plugin.sheet_kinds()] == ["readings", "instruments", "instrument_checks", "vessels"]
    assert [stage.gives for stage in plugin.stages()] == [*("proofs", "assumptions", "instrument_drift", "dip_checks")]
    assert [report.path for report in plugin.reports()] == ["casks/gauges.csv", "casks/instruments.csv"]
    assert {words.unit for words in plugin.unit_words() if words.quantity == "strength"} == {
        "proof", "%vol", "%mass", "kg/m3", "g/cm3", "sg60",
    }  # fmt: skip
    assert {words.quantity for words in plugin.unit_words()} == {"strength", "indication"}


def test_the_stage_needs_its_frames() -> None:
    """Correction asks for readings, one by one, instruments, vessels and the site, all of them always there."""
    stage, *_ = plugin.stages()
    assert stage.rows_of == "readings"
    assert [(need.name, need.optional) for need in stage.needs] == [
        (name, False) for name in ("readings", "instruments", "vessels", "site")
    ]


def test_settings_are_declared_once_with_unit_and_meaning() -> None:
    """Each setting has its own path, a meaning, and a unit where it is a number."""
    settings = plugin.settings()
    assert len({setting.path for setting in settings}) == len(settings)
    assert all(setting.meaning and (setting.type != "number" or setting.unit) for setting in settings)


def test_scales_of_sheet_and_formula_are_the_same() -> None:
    """Each scale that a sheet may state is one that the formula knows, in name and order."""
    assert tuple(name for name, _ in kinds.SCALES) == SCALES


def test_every_column_says_what_it_rests_on() -> None:
    """Each column of proofs has a meaning and names columns of frames that exist."""
    frames = {kind.name: kind.frame().names for kind in plugin.sheet_kinds()} | {"proofs": PROOFS.names}
    for column in PROOFS.columns:
        assert column.meaning and column.uses, column.name
        for used in column.uses:
            frame, _, name = used.partition(".")
            assert name in frames[frame], f"{column.name} uses {used}"


@pytest.mark.parametrize("name", proof.__all__)
def test_public_names_are_there(name: str) -> None:
    """What the plugin lists as public exists and, if a function, says its unit."""
    public = getattr(proof, name)
    assert not callable(public) or (public.__doc__ or "").strip()
