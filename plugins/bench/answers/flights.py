"""A flight as tables: who placed and scored which glass, and what stood in each."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from plugins.bench.answers.compare import Array

TRIAL, SINGLE, STANDARD, OTHER = "trial", "single", "standard", "other"


def fold(name: object) -> str:
    """A name as keys are compared."""
    return unicodedata.normalize("NFC", str(name)).strip().casefold()


def folded(names: pd.Series) -> pd.Series:
    return names.fillna("").map(fold).astype(object)


@dataclass(frozen=True)
class Glass:
    """One glass of a flight: what stood in it, and which time (1 or more) it stood there."""

    sample: str  # folded
    origin: str  # the component that a single glass is of, folded
    name: str  # as written
    role: str
    again: int = 1
    named: bool = False  # named before tasting as the best single component


@dataclass
class Flight:
    """A session in which trials of a batch were tasted. ``scores``, ``places`` and ``rated`` are (tasters, glasses),

    NaN where there is none; a lower place is better, a higher score is better. ``rated`` is the difference from the
    named standard as the taster put it, 0 to 10; the standard served blind shows what noise alone makes of it.
    """

    batch: str
    name: str
    glasses: list[Glass]
    tasters: list[str]
    scores: Array
    places: Array
    rated: Array
    values: dict[str, Array] = field(default_factory=dict)  # by family, (tasters, glasses)
    facts: tuple[int, ...] = ()
    when: pd.Timestamp | None = None  # of its last tasting

    def at(self, sample: str) -> list[int]:
        """Columns of all glasses of a sample."""
        return [column for column, glass in enumerate(self.glasses) if glass.sample == sample]

    def samples(self, role: str) -> list[str]:
        """Samples with a role, in the order of their first glass."""
        return list(dict.fromkeys(glass.sample for glass in self.glasses if glass.role == role))

    def glass(self, sample: str) -> Glass:
        """The first glass of a sample."""
        return self.glasses[self.at(sample)[0]]

    def spelled(self, sample: str) -> str:
        return self.glass(sample).name

    def preferences(self, one: str, other: str) -> Array:
        """By taster (tasters,), above 0 where ``one`` was preferred: by places, else by scores; NaN without both."""
        placed = self.of(self.places, other) - self.of(self.places, one)
        scored = self.of(self.scores, one) - self.of(self.scores, other)
        return np.where(np.isnan(placed), scored, placed)

    def differences(self, table: Array, one: str, other: str) -> Array:
        """By taster, ``one`` less ``other``; those with both glasses only."""
        made: Array = self.of(table, one) - self.of(table, other)
        return made[~np.isnan(made)]

    def of(self, table: Array, sample: str) -> Array:
        """Each taster's mean over the glasses of a sample (tasters,)."""
        part = table[:, self.at(sample)]
        known = ~np.isnan(part)
        with np.errstate(invalid="ignore"):
            return np.where(known, part, 0.0).sum(axis=1) / np.where(known.any(axis=1), known.sum(axis=1), np.nan)

    def order(self) -> Array:
        """Places, else the order of the scores, (tasters, glasses)."""
        by_score = np.full(self.scores.shape, np.nan)
        for row, values in enumerate(self.scores):
            known = np.flatnonzero(~np.isnan(values))
            by_score[row, known] = 1.0 + (values[known][:, None] < values[known][None]).sum(axis=1)
        placed = ~np.isnan(self.places).all(axis=1, keepdims=True)
        return np.where(placed, self.places, by_score)


def flights(
    tasted: pd.DataFrame,
    trials: pd.DataFrame,
    impressions: pd.DataFrame,
    roles: dict[tuple[str, str], tuple[str, bool]] | None = None,
    places: dict[tuple[str, str, str], float] | None = None,
    standards: dict[str, str] | None = None,
    rated: dict[tuple[str, str, str], float] | None = None,
) -> list[Flight]:
    """Sessions in which a trial of a batch stood, in order.

    ``roles``: of (flight, sample) → role, and whether it was named as best single before tasting. ``places``: of
    (flight, taster, code or sample) → place, and ``rated`` likewise → difference from the standard. ``standards``:
    batch → sample that it has to match. All names folded.
    """
    batch_of = dict(zip(folded(trials["trial"]), trials["batch"], strict=True))
    made_of = parts_of(trials)
    rows = tasted.assign(_session=folded(tasted["session"]), _sample=folded(tasted["sample"]))
    rows = rows[rows["_session"].isin(set(rows["_session"][rows["_sample"].isin(list(batch_of))]))]
    rows = rows.assign(_from=folded(rows["drawn_from"]), _taster=folded(rows["taster"]), _code=folded(rows["code"]))
    values = impressions[impressions["stage"] == "all"].set_index("tasting")[["family", "value", "source"]]
    made = []
    for session, part in rows.groupby("_session", sort=True):
        batches = sorted({str(batch_of[s]) for s in part["_sample"] if s in batch_of and pd.notna(batch_of[s])})
        for batch in batches:
            mine = [s not in batch_of or str(batch_of[s]) == batch for s in part["_sample"]]
            own = part[np.array(mine)]
            standard = fold((standards or {}).get(batch, ""))
            components = set().union(*(made_of[s] for s in own["_sample"] if s in made_of))
            table = _roles(own, str(session), made_of, components, standard, roles or {})
            made.append(_flight(batch, own, table, values, (places or {}, rated or {}), str(session)))
    return made


def parts_of(trials: pd.DataFrame) -> dict[str, set[str]]:
    """Of each trial its components, folded."""
    made: dict[str, set[str]] = {}
    for trial, component in zip(folded(trials["trial"]), folded(trials["component"]), strict=True):
        made.setdefault(trial, set()).add(component)
    return made


def _roles(
    rows: pd.DataFrame,
    session: str,
    made_of: dict[str, set[str]],
    components: set[str],
    standard: str,
    roles: dict[tuple[str, str], tuple[str, bool]],
) -> dict[str, tuple[str, bool]]:
    """Of each sample of a flight its role, and whether it was named as the best single beforehand."""
    made: dict[str, tuple[str, bool]] = {}
    for sample, origin in zip(rows["_sample"], rows["_from"], strict=True):
        blended = len(made_of.get(sample, ())) > 1
        role = TRIAL if blended else SINGLE if sample in made_of or {sample, origin} & components else OTHER
        if standard and standard in (sample, origin):
            role = STANDARD
        made[sample] = roles.get((session, sample), (role, False))
    return made


def _flight(
    batch: str,
    rows: pd.DataFrame,
    roles: dict[str, tuple[str, bool]],
    values: pd.DataFrame,
    given: tuple[dict[tuple[str, str, str], float], dict[tuple[str, str, str], float]],
    session: str,
) -> Flight:
    rows = rows.assign(_again=rows.groupby(["_sample", "_taster"], sort=False).cumcount() + 1)
    keys = rows[["_sample", "_again"]].drop_duplicates().sort_values(["_sample", "_again"], kind="stable")
    names = dict(zip(rows["_sample"], rows["sample"].astype(str), strict=True))
    origin = dict(zip(rows["_sample"], rows["_from"], strict=True))
    glasses = [
        Glass(s, origin[s], names[s], roles[s][0], int(again), roles[s][1])
        for s, again in keys.itertuples(index=False)
    ]  # fmt: skip
    column = {(glass.sample, glass.again): at for at, glass in enumerate(glasses)}
    tasters = sorted(rows["_taster"].unique())
    row = {taster: at for at, taster in enumerate(tasters)}
    shape = (len(tasters), len(glasses))
    where = [
        (row[t], column[s, int(a)]) for t, s, a in zip(rows["_taster"], rows["_sample"], rows["_again"], strict=True)
    ]
    at = tuple(np.array(where).T)
    scores, placed, rated = (np.full(shape, np.nan) for _ in range(3))
    scores[at] = rows["score"].to_numpy("float64")
    keyed = list(zip(rows["_taster"], rows["_code"], rows["_sample"], strict=True))
    for table, known in zip((placed, rated), given, strict=True):
        table[at] = [known.get((session, t, c), known.get((session, t, s), np.nan)) for t, c, s in keyed]
    facts = tuple(sorted({fact for ids in rows["facts"] for fact in ids}))
    spelled = dict(zip(rows["_taster"], rows["taster"].astype(str), strict=True))
    made = Flight(batch, str(rows["session"].iloc[0]), glasses, [spelled[t] for t in tasters], scores, placed, rated)
    made.values = _families(rows, values, at, shape)
    made.facts = facts
    made.when = rows["tasted_at"].max()
    return made


def _families(
    rows: pd.DataFrame, values: pd.DataFrame, at: tuple[Array, ...], shape: tuple[int, int]
) -> dict[str, Array]:
    """By family what each taster found in each glass; a family that another glass of the flight has counts as 0."""
    tastings = rows["tasting"].to_numpy()
    mine = values[values.index.isin(tastings)]
    place = {int(tasting): number for number, tasting in enumerate(tastings)}
    wrote = np.zeros(shape, dtype=bool)
    in_words = mine.index[mine["source"] == "words"]
    numbers = np.array([place[int(tasting)] for tasting in in_words], dtype=int)
    wrote[at[0][numbers], at[1][numbers]] = True
    made = {}
    for family, part in mine.groupby("family", sort=True):
        table = np.full(shape, np.nan)
        # a scale with two ends says nothing where nobody named it, and an empty cell nothing where it was asked for;
        # in free words silence on an aroma says that there is none
        asked = (part["source"] == "figure").any()
        table[wrote] = np.nan if asked or family in ("body", "length_balance") else 0.0
        own = np.array([place[int(tasting)] for tasting in part.index], dtype=int)
        table[at[0][own], at[1][own]] = part["value"].to_numpy("float64")
        made[str(family)] = table
    return made
