"""Judges files as a run would, and records nothing."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from pipeline.house import open_house
from pipeline.taking import Judged, judge


def check_files(files: list[Path]) -> dict[str, Judged]:
    """Path as given → what the file was judged to be, under the site.toml that lies beside it."""
    judged = {}
    for path in files:
        house = open_house(path.parent)
        day = datetime.now(UTC).astimezone(house.site.zone).date()
        judged[str(path)] = judge(path.name, path.read_bytes(), house.site, house, day)
    return judged
