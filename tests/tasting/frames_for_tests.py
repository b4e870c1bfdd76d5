"""Frames and settings for the tasting tests."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pandas as pd

from pipeline.site import DataFile, Site
from plugins.blending.kinds import BRIEFS, CASKS
from plugins.proof.kinds import VESSELS
from plugins.tasting.kinds import TASTINGS
from plugins.tasting.notes import find_mentions, keep_notes
from plugins.tasting.plugin import data_files
from plugins.tasting.profile_stages import profile_samples, score_samples
from tests.support import site_with


def data_of(paths: dict[str, list[Path]]) -> dict[str, tuple[DataFile, ...]]:
    """What the engine makes of a plugin's data files."""
    return {
        table: tuple(DataFile("tasting", path.name, path.read_text("utf-8"), "") for path in files)
        for table, files in paths.items()
    }


def tasting_site(values: dict[str, Any] | None = None) -> Site:
    return site_with(values, data=data_of(data_files()))


def tastings(*rows: dict[str, Any]) -> pd.DataFrame:
    """A ``tastings`` frame; each row has its own fact, counted from 1."""
    given = [{"sample": "C-0101", "taster": "Ada", "tasted_at": "2026-03-03", **row} for row in rows]
    names = {name for row in given for name in row}
    columns: dict[str, Any] = {name: [row.get(name) for row in given] for name in names}
    return TASTINGS.frame().build(columns, [(fact,) for fact in range(1, len(given) + 1)])


def known(
    casks: tuple[str, ...] = (), vessels: tuple[str, ...] = (), batches: tuple[str, ...] = ()
) -> list[pd.DataFrame]:
    """The frames casks, vessels and briefs with these names."""
    return [
        kind.frame().build({column: list(names)}, [(1000 + place,) for place in range(len(names))])
        for kind, column, names in ((CASKS, "cask", casks), (VESSELS, "vessel", vessels), (BRIEFS, "batch", batches))
    ]


class Tasted:
    """All four stages over one frame of tastings, each held against what its frame promises."""

    def __init__(self, frame: pd.DataFrame, site: Site | None = None, names: list[pd.DataFrame] | None = None) -> None:
        site = site or tasting_site()
        names = names if names is not None else known()
        facts = {fact for table in (frame, *names) for ids in table["facts"] for fact in ids}

        def checked(stage: Any, table: pd.DataFrame) -> pd.DataFrame:
            return stage.frame.check(table, stage.name, facts)

        notes, self.note_findings = keep_notes(frame)
        self.notes = checked(keep_notes, notes)
        mentions, self.lexicon_findings = find_mentions(self.notes, site)
        self.mentions = checked(find_mentions, mentions)
        self.profiles = checked(profile_samples, profile_samples(frame, self.notes, self.mentions, site))
        scores, self.findings = score_samples(frame, *names, site)
        self.scores = checked(score_samples, scores)

    def profile(self, family: str, stage: str = "all", sample: str = "C-0101") -> dict[str, Any]:
        rows = self.profiles
        found = rows[(rows["sample"] == sample) & (rows["family"] == family) & (rows["stage"] == stage)]
        assert len(found) <= 1
        return found.iloc[0].to_dict() if len(found) else {}
