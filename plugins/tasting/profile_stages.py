"""The stages ``profiles`` and ``scores``, and what is wrong with a sample's name or a score."""

from __future__ import annotations

import unicodedata
from typing import Any

import numpy as np
import pandas as pd

from pipeline import Finding, stage, unite
from plugins.tasting import profiles as arithmetic
from plugins.tasting.frames import PROFILES, SCORES, STAGES
from plugins.tasting.kinds import FAMILIES
from plugins.tasting.notes import first_facts

SPREAD_SCALE = 10.0  # the setting ``spread`` is in points of a scale of ten


def fold(name: str) -> str:
    """A name as keys are compared: NFC, trimmed, without regard to case."""
    return unicodedata.normalize("NFC", name).strip().casefold()


def folded(names: pd.Series) -> pd.Series:
    """``fold`` of every name, worked once per different spelling."""
    codes, spellings = pd.factorize(names)
    plain = np.array([*(fold(str(spelling)) for spelling in spellings), ""], dtype=object)
    return pd.Series(plain[codes], index=names.index, dtype=object)


def _frame_of_tastings(tastings: pd.DataFrame) -> pd.DataFrame:
    """Per tasting its number (its fact), folded sample and taster; names stand in ``sample_name``."""
    made = pd.DataFrame({"note": first_facts(tastings["facts"])})
    made["sample"] = folded(tastings["sample"].reset_index(drop=True))
    made["taster"] = folded(tastings["taster"].reset_index(drop=True))
    made["sample_name"] = tastings["sample"].to_numpy()
    return made


def _named(out: pd.DataFrame, who: pd.DataFrame, facts: pd.Series) -> tuple[dict[str, Any], list[tuple[int, ...]]]:
    """A group's columns with the sample as first written, and the facts of all its notes."""
    names = who.drop_duplicates("sample").set_index("sample")["sample_name"]
    columns = {str(name): out[name].to_numpy() for name in out.columns}
    columns["sample"] = out["sample"].map(names).to_numpy()
    return columns, out["sample"].map(facts).tolist()


@stage(gives=PROFILES)
def profile_samples(tastings: pd.DataFrame, notes: pd.DataFrame, mentions: pd.DataFrame, site: Any) -> pd.DataFrame:
    """Words and 0-10 figures → mean intensity per sample, family and stage, with its interval.

    The mean is over all notes of the sample (a family that is not named counts as 0; body and
    length over those that name them); families that nobody named have no row. How words become
    intensities and what the interval stands on is told in ``plugins/tasting/profiles.py``.
    """
    who = _frame_of_tastings(tastings)
    hits = _hits(mentions, who, site["plugins.tasting.plain_word"], site["plugins.tasting.doubt_weight"])
    given = _given(tastings, who)
    values = arithmetic.note_values(hits, given)
    texts = pd.DataFrame({"note": first_facts(notes["facts"]), "stage": notes["stage"].to_numpy()})
    spoken = np.union1d(texts["note"].to_numpy(), given["note"].to_numpy())
    whole = pd.DataFrame({"note": spoken, "stage": "all"})
    texts = pd.concat([texts[texts["stage"] != "remark"], whole], ignore_index=True).merge(who, on="note")
    counted = arithmetic.counted_notes(texts, values)
    spread = float(site["plugins.tasting.spread"])
    out = arithmetic.means_by(values, counted, ["sample", "family", "stage"], spread, arithmetic.TOP)
    rank = out["stage"].map({name: place for place, name in enumerate(STAGES)})
    out = out.assign(rank=rank).sort_values(["sample", "family", "rank"], kind="stable").drop(columns="rank")
    speaks = who["note"].isin(spoken)
    facts = unite(tastings["facts"].reset_index(drop=True)[speaks], by=who["sample"][speaks])
    return PROFILES.build(*_named(out, who, facts))


def _hits(mentions: pd.DataFrame, who: pd.DataFrame, plain_word: float, doubt_weight: float) -> pd.DataFrame:
    """One row per hit with its intensity, without those that say nothing of their scale."""
    negated = mentions["negated"].to_numpy(dtype=bool)
    low = mentions["pole"].eq("low").to_numpy(dtype=bool)
    value = arithmetic.hit_intensity(
        mentions["weight"].to_numpy(dtype=float),
        mentions["doubtful"].to_numpy(dtype=bool),
        mentions["striking"].to_numpy(dtype=bool),
        negated,
        low,
        float(plain_word),
        float(doubt_weight),
    )
    hits = pd.DataFrame({"note": first_facts(mentions["facts"]), "value": value})
    hits["family"] = mentions["family"].to_numpy(dtype=object)
    hits["stage"] = mentions["stage"].to_numpy(dtype=object)
    # "not thin" and "not cloying" rule one end of a scale out, they do not place the sample on it
    fault = mentions["polarity"].eq("fault").to_numpy(dtype=bool)
    says = ~(negated & fault & hits["family"].isin(arithmetic.TWO_ENDED).to_numpy())
    return hits[says].merge(who, on="note")


def _given(tastings: pd.DataFrame, who: pd.DataFrame) -> pd.DataFrame:
    """The 0-10 figures of the sheets, one row each."""
    parts = []
    for family in FAMILIES:
        stated = tastings[family].notna().to_numpy()
        if stated.any():
            value = np.clip(tastings[family].to_numpy(dtype=float)[stated], 0.0, arithmetic.TOP)
            parts.append(who[stated].assign(family=family, stage="all", value=value))
    if parts:
        return pd.concat(parts, ignore_index=True)
    return who.iloc[:0].assign(family="", stage="", value=0.0)


@stage(gives=SCORES)
def score_samples(
    tastings: pd.DataFrame, casks: pd.DataFrame, vessels: pd.DataFrame, briefs: pd.DataFrame, site: Any
) -> tuple[pd.DataFrame, list[Finding]]:
    """Scores → mean score per sample with its interval; scores above the scale are left out and asked about."""
    top = float(site["plugins.tasting.score_top"])
    score = tastings["score"].reset_index(drop=True)
    counts = score.notna() & (score >= 0.0) & (score <= top)
    who = _frame_of_tastings(tastings)
    values = who[counts].assign(value=score[counts])
    counted = values.groupby(["sample", "taster"], sort=False).size().rename("notes").reset_index()
    spread = float(site["plugins.tasting.spread"]) * top / SPREAD_SCALE
    out = arithmetic.means_by(values, counted, ["sample"], spread, top).rename(columns={"mean": "mean_score"})
    facts = unite(tastings["facts"].reset_index(drop=True)[counts], by=who["sample"][counts])
    known = [*casks["cask"].dropna(), *vessels["vessel"].dropna(), *briefs["batch"].dropna()]
    findings = [*unknown_samples(tastings, known), *scores_out_of_scale(tastings, top)]
    return SCORES.build(*_named(out.drop(columns="named"), who, facts)), findings


def unknown_samples(tastings: pd.DataFrame, known: list[str]) -> list[Finding]:
    """Samples that are no known cask, vessel or batch; none while no such name is known at all."""
    names = {fold(name): name for name in known}
    sample = folded(tastings["sample"])
    strange = tastings[~sample.isin(names)] if names else tastings.iloc[:0]
    findings = []
    for _, rows in strange.groupby(sample[strange.index], sort=True):
        name, count = str(rows["sample"].iloc[0]), len(rows)
        near = nearest(name, names)
        findings.append(
            Finding(
                code="tasting.unknown-sample",
                severity="review",
                message=f"{name} was tasted {'once' if count == 1 else f'{count} times'} (first on "
                f"{rows['tasted_at'].min():%Y-%m-%d}) but is no cask, vessel or batch that is known"
                + (f"; the nearest name is {near}." if near else "."),
                subject=name,
                facts=rows["facts"].iloc[0],
                column="sample",
                observed=name,
                expected=near or "the name of a cask, vessel or batch",
                remedy="Correct the name in the tasting sheet, or send the inventory that lists it.",
            )
        )
    return findings


def nearest(name: str, names: dict[str, str]) -> str:
    """The known names most like this one (at most three that are equally near), or empty."""
    from rapidfuzz import process
    from rapidfuzz.distance import DamerauLevenshtein

    found = process.extract(
        fold(name), sorted(names), scorer=DamerauLevenshtein.normalized_similarity, score_cutoff=0.75, limit=4
    )
    best = [names[known] for known, likeness, _ in found if likeness >= found[0][1] - 1e-9]
    return " or ".join(sorted(best)) if len(best) <= 3 else ""


def scores_out_of_scale(tastings: pd.DataFrame, top: float) -> list[Finding]:
    """One finding per taster and day whose scores lie above the house's scale."""
    above = tastings[tastings["score"] > top]
    findings = []
    for (_, day), rows in above.groupby([folded(above["taster"]), above["tasted_at"].dt.normalize()], sort=True):
        worst = rows.iloc[int(rows["score"].argmax())]
        one = len(rows) == 1
        findings.append(
            Finding(
                code="tasting.score-out-of-scale",
                severity="review",
                message=f"{rows['taster'].iloc[0]} gave {'a score' if one else f'{len(rows)} scores'} above {top:g} on "
                f"{day:%Y-%m-%d} ({'' if one else 'highest '}{worst['score']:g} for {worst['sample']}); "
                f"which scale was used? {'It is' if one else 'They are'} left out of the mean.",
                subject=str(worst["sample"]) if rows["sample"].nunique() == 1 else str(rows["taster"].iloc[0]),
                facts=tuple(sorted({fact for ids in rows["facts"] for fact in ids})),
                column="score",
                observed=f"{worst['score']:g}",
                expected=f"0 to {top:g}",
                rule="plugins.tasting.score_top",
                remedy="Send the scores on the house's scale, or set plugins.tasting.score_top if it is another.",
            )
        )
    return findings
