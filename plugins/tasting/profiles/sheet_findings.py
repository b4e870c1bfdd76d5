"""What a person must look at in tasting sheets: names, scores, strengths, and samples too old to speak for a cask."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from pipeline import Finding
from plugins.tasting.samples.names import folded, nearest, spelt

FEW = 4  # samples before a taster's use of the scale is judged
SHORT_TOP = 5.0


def findings_on_sheets(tasted: pd.DataFrame, known: list[str], site: Any) -> list[Finding]:
    """All findings on names and scores."""
    top = float(site["plugins.tasting.score_top"])
    return [
        *unknown_samples(tasted, known),
        *scores_out_of_scale(tasted, top),
        *scores_on_a_short_scale(tasted, top),
        *tasted_twice(tasted),
        *stale_samples(tasted, float(site["plugins.tasting.sample_days"])),
    ]


def unknown_samples(tasted: pd.DataFrame, known: list[str]) -> list[Finding]:
    """Samples that are no known sample, cask, vessel or batch; none while no such name is known at all."""
    names = spelt(known)
    sample = folded(tasted["sample"])
    strange = tasted[~sample.isin(names)] if names else tasted.iloc[:0]
    findings = []
    for _, rows in strange.groupby(sample[strange.index], sort=True):
        name, count = str(rows["sample"].iloc[0]), len(rows)
        near = nearest(name, names)
        findings.append(
            Finding(
                code="tasting.unknown-sample",
                severity="review",
                message=f"{name} was tasted {'once' if count == 1 else f'{count} times'} (first on "
                f"{rows['tasted_at'].min():%Y-%m-%d}) but is no sample, cask, vessel or batch that is known"
                + (f"; the nearest name is {near}." if near else "."),
                subject=name,
                facts=rows["facts"].iloc[0],
                column="sample",
                observed=name,
                expected=near or "the name of a sample, cask, vessel or batch",
                remedy="Correct the name in the tasting sheet, or send the inventory or sample register that lists it.",
            )
        )
    return findings


def scores_out_of_scale(tasted: pd.DataFrame, top: float) -> list[Finding]:
    """One finding per taster and day whose scores lie above the house's scale."""
    above = tasted[tasted["score"] > top]
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
                facts=_facts(rows),
                column="score",
                observed=f"{worst['score']:g}",
                expected=f"0 to {top:g}",
                rule="plugins.tasting.score_top",
                remedy="Send the scores on the house's scale, or set plugins.tasting.score_top if it is another.",
            )
        )
    return findings


def scores_on_a_short_scale(tasted: pd.DataFrame, top: float) -> list[Finding]:
    """A taster whose scores of a session are whole numbers up to 5 where the others go far beyond."""
    if top < 2 * SHORT_TOP:
        return []
    scored = tasted[tasted["score"].notna() & (tasted["score"] <= top)]
    taster, sample = folded(scored["taster"]), folded(scored["sample"])
    findings = []
    for _, rows in scored.groupby([taster, folded(scored["session"])], sort=True):
        values = rows["score"]
        if len(rows) < FEW or values.max() > SHORT_TOP or values.min() < 1.0 or (values % 1).any():
            continue
        others = scored[sample.isin(set(sample[rows.index])) & ~scored.index.isin(rows.index)]
        others = others[folded(others["taster"]) != taster[rows.index[0]]]["score"]
        if len(others) < FEW or others.median() <= SHORT_TOP:
            continue
        findings.append(
            Finding(
                code="tasting.score-other-scale",
                severity="review",
                message=f"All {len(rows)} scores of {rows['taster'].iloc[0]} in session {rows['session'].iloc[0]} are "
                f"whole numbers from {values.min():g} to {values.max():g}, where others gave the same samples "
                f"{others.median():g} in the middle; was a scale of 1 to 5 used? They count as they stand.",
                subject=str(rows["taster"].iloc[0]),
                facts=_facts(rows),
                column="score",
                observed=f"{values.min():g} to {values.max():g}",
                expected=f"a scale of 0 to {top:g}",
                rule="plugins.tasting.score_top",
                remedy=f"Send the scores on the scale of 0 to {top:g}, or accept them if they are meant so.",
            )
        )
    return findings


def tasted_twice(tasted: pd.DataFrame) -> list[Finding]:
    """A taster twice on one sample on one day without being told apart as replicates."""
    keys = [folded(tasted["sample"]), folded(tasted["taster"]), tasted["tasted_at"].dt.normalize()]
    open_rows = tasted["replicate"].isna() & ~tasted["blind"].to_numpy(dtype=bool)
    open_rows &= (
        pd.DataFrame(dict(enumerate(keys)))[open_rows].duplicated(keep=False).reindex(tasted.index, fill_value=False)
    )
    findings = []
    for _, rows in tasted[open_rows].groupby([key[open_rows] for key in keys], sort=True):
        if len(rows) < 2:
            continue
        first = rows.iloc[0]
        findings.append(
            Finding(
                code="tasting.same-sample-twice",
                severity="note",
                message=f"{first['taster']} tasted {first['sample']} {len(rows)} times on "
                f"{first['tasted_at']:%Y-%m-%d} and no replicate is stated; all that one taster "
                "writes of a sample counts as one opinion.",
                subject=str(first["sample"]),
                facts=_facts(rows),
                column="replicate",
                observed="blank",
                expected="1, 2, … for tastings that are meant to be apart",
                remedy="Number them in the column replicate, or correct the sample where it is another.",
            )
        )
    return findings


def stale_samples(tasted: pd.DataFrame, days: float) -> list[Finding]:
    """Samples that stood longer than the house allows before they were tasted, or were kept beyond their date."""
    sample = folded(tasted["sample"])
    age = (tasted["tasted_at"].dt.normalize() - tasted["drawn_on"]).dt.days
    old = (age > days) | (tasted["tasted_at"].dt.normalize() > tasted["kept_until"])
    findings = []
    for _, rows in tasted[old].groupby(sample[old], sort=True):
        worst = rows.loc[age[rows.index].idxmax()]
        findings.append(
            Finding(
                code="tasting.stale-sample",
                severity="note",
                message=f"{worst['sample']} was drawn on {worst['drawn_on']:%Y-%m-%d} and tasted "
                f"{int(age[worst.name])} days later (the house allows {days:g}); it may no longer be "
                f"what is in {worst['drawn_from']}.",
                subject=str(worst["sample"]),
                facts=_facts(rows),
                column="tasted_at",
                observed=f"{int(age[worst.name])} days",
                expected=f"at most {days:g} days",
                rule="plugins.tasting.sample_days",
                remedy="Draw a fresh sample and taste again.",
            )
        )
    return findings


def kept_apart(tasted: pd.DataFrame, span: float) -> tuple[pd.Series, list[Finding]]:
    """Tastings at another strength than most of a sample's, which its profile leaves out; and the findings on them.

    A profile nosed at 20 % vol and one at 46 % are different measurements.
    """
    apart = pd.Series(False, index=tasted.index)
    strength = tasted["nosing_strength_abv"]
    source = folded(tasted["drawn_from"])
    group = strength.groupby(source)
    wide = (group.transform("max") - group.transform("min")) > span
    findings = []
    for _, rows in tasted[wide & strength.notna()].groupby(source, sort=True):
        values = rows["nosing_strength_abv"].to_numpy()
        near = (np.abs(values[:, None] - values[None, :]) <= span / 2).sum(axis=1)
        usual = float(values[int(np.argmax(near))])
        out = rows[np.abs(values - usual) > span]
        if not len(out):
            continue
        apart[out.index] = True
        first = out.iloc[0]
        findings.append(
            Finding(
                code="tasting.strengths-mixed",
                severity="note",
                message=f"{first['drawn_from']} was nosed at about {usual:.0f} % vol {len(rows) - len(out)} times and "
                f"at {first['nosing_strength_abv']:.0f} % vol {len(out)} times; these are different measurements, and "
                "its profile leaves the latter out.",
                subject=str(first["drawn_from"]),
                facts=_facts(out),
                column="nosing_strength",
                observed=f"{first['nosing_strength_abv']:.0f} % vol",
                expected=f"about {usual:.0f} % vol",
                rule="plugins.tasting.strength_span",
                remedy="Nose samples that are to be compared at one strength.",
            )
        )
    return apart, findings


def _facts(rows: pd.DataFrame) -> tuple[int, ...]:
    """Each row's own fact before the facts of the registers that it rests on, so that the first gives the place."""
    own = dict.fromkeys(ids[0] for ids in rows["facts"])
    return tuple(own | dict.fromkeys(fact for ids in rows["facts"] for fact in ids))
