"""The door of label_age: ages, and label claims judged by rules of law kept as data."""

from __future__ import annotations

from pathlib import Path

from pipeline import SheetKind, hookimpl
from pipeline.contract.stages import Stage

api = 1


@hookimpl
def sheet_kinds() -> list[SheetKind]:
    from plugins.label_age.declared.kinds import FILL_CHECKS, LABEL_TEXT

    return [FILL_CHECKS, LABEL_TEXT]


@hookimpl
def stages() -> list[Stage]:
    from plugins.label_age.stages import (
        age_of_batches,
        age_of_components,
        doubt_rules,
        find_designations,
        find_eligible,
        find_grounds,
        find_limits,
        find_shares,
        find_statements,
        follow_stays,
        judge_labels,
        proof_labels,
    )

    return [
        *(follow_stays, age_of_components, age_of_batches, doubt_rules, judge_labels),
        *(find_eligible, find_shares, find_limits, find_designations, find_statements, find_grounds, proof_labels),
    ]


@hookimpl
def data_files() -> dict[str, list[Path]]:
    return {"rules": sorted((Path(__file__).parent / "rules").glob("*.toml"))}
