"""Frames and settings for the tasting tests."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pandas as pd

from pipeline import Finding, SheetKind
from pipeline.contract.site import DataFile, Site
from pipeline.testing import site_with
from plugins.blending.declared.kinds import BRIEFS, CASKS
from plugins.proof.declared.kinds import VESSELS
from plugins.tasting.declared.kinds import TASTINGS
from plugins.tasting.declared.kinds_samples import BLIND_CODES, LEXICON_WORDS, SAMPLES
from plugins.tasting.panel.growth import find_new_words, suggest_same
from plugins.tasting.panel.panel_stages import (
    compare_tasters,
    list_sessions,
    measure_agreement,
    measure_noise,
    measure_order,
)
from plugins.tasting.panel.taste_again import list_again
from plugins.tasting.plugin import data_files
from plugins.tasting.profiles.impressions import weigh_words
from plugins.tasting.profiles.profile_stages import profile_samples, score_samples
from plugins.tasting.samples.resolve import resolve_samples
from plugins.tasting.words.notes import find_mentions, keep_notes


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


def sample_register(*rows: dict[str, Any]) -> pd.DataFrame:
    """A ``samples`` frame; facts count from 2001."""
    return _frame(SAMPLES, rows, 2001)


def blind_key(*rows: dict[str, Any]) -> pd.DataFrame:
    """A ``blind_codes`` frame; facts count from 3001."""
    return _frame(BLIND_CODES, rows, 3001)


def own_words(*rows: dict[str, Any]) -> pd.DataFrame:
    """A ``lexicon_words`` frame; facts count from 4001."""
    return _frame(LEXICON_WORDS, rows, 4001)


def _frame(kind: SheetKind, rows: tuple[dict[str, Any], ...], first: int) -> pd.DataFrame:
    names = {name for row in rows for name in row}
    columns: dict[str, Any] = {name: [row.get(name) for row in rows] for name in names}
    return kind.frame().build(columns, [(first + place,) for place in range(len(rows))])


class Tasted:
    """The stages from sheets to scores over one frame of tastings, each held against what its frame promises."""

    def __init__(
        self,
        frame: pd.DataFrame,
        site: Site | None = None,
        names: list[pd.DataFrame] | None = None,
        samples: pd.DataFrame | None = None,
        codes: pd.DataFrame | None = None,
        words: pd.DataFrame | None = None,
    ) -> None:
        self.site = site = site or tasting_site()
        names = names if names is not None else known()
        samples = sample_register() if samples is None else samples
        codes = blind_key() if codes is None else codes
        self.words = _frame(LEXICON_WORDS, (), 4001) if words is None else words
        tables = (frame, samples, codes, self.words, *names)
        self.facts = {fact for table in tables for ids in table["facts"] for fact in ids}
        self.tasted, self.code_findings = self._checked(resolve_samples, frame, samples, codes)
        self.notes, self.note_findings = self._checked(keep_notes, self.tasted)
        self.mentions, self.lexicon_findings = self._checked(find_mentions, self.notes, self.words, site)
        self.impressions, _ = self._checked(weigh_words, self.tasted, self.mentions, site)
        self.profiles, self.strength_findings = self._checked(
            profile_samples, self.tasted, self.notes, self.impressions, site
        )
        self.scores, self.findings = self._checked(score_samples, self.tasted, *names, samples, site)

    def _checked(self, stage: Any, *given: Any) -> tuple[pd.DataFrame, list[Finding]]:
        result = stage(*given)
        table, findings = result if isinstance(result, tuple) else (result, [])
        return stage.frame.check(table, stage.name, self.facts), findings

    def profile(self, family: str, stage: str = "all", sample: str = "C-0101") -> dict[str, Any]:
        rows = self.profiles
        found = rows[(rows["sample"] == sample) & (rows["family"] == family) & (rows["stage"] == stage)]
        assert len(found) <= 1
        return found.iloc[0].to_dict() if len(found) else {}

    def panel(self) -> Panel:
        """The panel's stages over the same frames."""
        return Panel(self)


class Panel:
    """The stages from sessions to the lexicon's growth, each held against its promise."""

    def __init__(self, made: Tasted, movements: pd.DataFrame | None = None) -> None:
        tasted, notes, mentions, impressions = made.tasted, made.notes, made.mentions, made.impressions
        site, checked = made.site, made._checked
        self.sessions, _ = checked(list_sessions, tasted)
        self.agreement, _ = checked(measure_agreement, tasted, impressions, site)
        self.differences, _ = checked(compare_tasters, tasted, impressions, site)
        self.order, _ = checked(measure_order, tasted, impressions, mentions)
        self.noise, _ = checked(measure_noise, tasted, impressions)
        if movements is not None:
            made.facts |= {fact for ids in movements["facts"] for fact in ids}
        self.again, self.again_findings = checked(list_again, tasted, impressions, mentions, site, movements)
        self.new_words, _ = checked(find_new_words, notes, mentions, made.words, site)
        self.same, _ = checked(suggest_same, notes, mentions, self.new_words, made.words, site)
