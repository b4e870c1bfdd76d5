"""The door of label_age: ages, and label claims judged by rules of law kept as data."""

from __future__ import annotations

from pathlib import Path

from pipeline import hookimpl
from pipeline.stages import Stage
from plugins.label_age.stages import age_of_batches, age_of_components, find_eligible, find_limits, judge_labels

api = 1


@hookimpl
def stages() -> list[Stage]:
    return [age_of_components, age_of_batches, judge_labels, find_eligible, find_limits]


@hookimpl
def data_files() -> dict[str, list[Path]]:
    return {"rules": sorted((Path(__file__).parent / "rules").glob("*.toml"))}
