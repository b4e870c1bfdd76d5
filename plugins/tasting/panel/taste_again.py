"""The stage ``taste_again``: which samples to taste again, and why."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from pipeline import Finding, stage
from plugins.tasting.declared.frames_panel import TASTE_AGAIN
from plugins.tasting.panel import arithmetic as panel
from plugins.tasting.samples.names import folded, spelt

RISK = 0.001  # that tasters lie so far apart on a family by chance
LEAST_APART = 4.0
FAULT = 5.0  # intensity at which a fault that one taster names alone is worth another look
CHANGES = ("top up", "recask", "finish", "marry", "fill", "return")
DOUBTFUL_SHARE = 1 / 3


@stage(gives=TASTE_AGAIN)
def list_again(
    tasted: pd.DataFrame,
    impressions: pd.DataFrame,
    mentions: pd.DataFrame,
    site: Any,
    movements: pd.DataFrame | None = None,
) -> tuple[pd.DataFrame, list[Finding]]:
    """Tastings → samples with a reason to taste again: tasters far apart, doubtful notes, a sample too old,
    or one taken before the cask was topped up, recasked or moved."""
    sample = folded(tasted["sample"])
    reasons: dict[str, list[tuple[float, str]]] = {}
    for said in (_apart(tasted, impressions, site), _doubtful(mentions, sample), _old(tasted, site)):
        for key, why in said:
            reasons.setdefault(key, []).append(why)
    findings: list[Finding] = []
    changed = _changes(movements)
    extra: dict[str, tuple[int, ...]] = {}
    touched = sample.isin(set(sample[folded(tasted["drawn_from"]).isin(list(changed))]))
    for name, rows in tasted[touched].groupby(sample[touched], sort=True):
        later = _changed_since(rows, changed)
        if later:
            day, reason, facts = later
            reasons.setdefault(str(name), []).append((3.0, f"taken before {reason} on {day:%Y-%m-%d}"))
            extra[str(name)] = facts
            findings.append(_before_change(rows, day, reason, facts))
    names, wanted = spelt(tasted["sample"]), sorted(reasons)
    last = tasted.assign(key=sample).sort_values("tasted_at", kind="stable").drop_duplicates("key", keep="last")
    last = last.set_index("key")
    facts_of = _facts_by(tasted, sample)
    columns: dict[str, Any] = {
        "sample": [names[name] for name in wanted],
        "drawn_from": [last.at[name, "drawn_from"] for name in wanted],
        "last_at": [last.at[name, "tasted_at"] for name in wanted],
        "reasons": ["; ".join(text for _, text in sorted(reasons[name], reverse=True)) for name in wanted],
        "weight": [sum(weight for weight, _ in reasons[name]) for name in wanted],
    }
    rests = [tuple(sorted({*facts_of[name], *extra.get(name, ())})) for name in wanted]
    return TASTE_AGAIN.build(columns, rests), findings


def _facts_by(tasted: pd.DataFrame, key: pd.Series) -> dict[str, set[int]]:
    made: dict[str, set[int]] = {}
    for name, ids in zip(key, tasted["facts"], strict=True):
        made.setdefault(name, set()).update(ids)
    return made


def _apart(tasted: pd.DataFrame, impressions: pd.DataFrame, site: Any) -> list[tuple[str, tuple[float, str]]]:
    """Samples whose tasters lie further apart than chance would have it, and faults that one taster alone names."""
    from scipy.special import chdtrc

    who = pd.DataFrame({name: folded(tasted[name]) for name in ("sample", "taster")}).assign(tasting=tasted["tasting"])
    seen = panel.observations(tasted, impressions).merge(who, on="tasting")
    own = seen.groupby(["family", "sample", "taster"], sort=True)["value"].mean().reset_index()
    own["named"] = own["value"] > 0
    group = own.groupby(["family", "sample"], sort=True)
    table = group.agg(
        var=("value", "var"),
        people=("value", "size"),
        low=("value", "min"),
        high=("value", "max"),
        named=("named", "sum"),
    ).reset_index()
    table = table[table["people"] >= int(site["plugins.tasting.panel_tasters"])]
    usual = table.groupby("family")["var"].transform("mean")
    top = float(site["plugins.tasting.score_top"])
    least = np.where(table["family"] == panel.SCORE, LEAST_APART * top / 20.0, LEAST_APART)
    free = table["people"] - 1
    chance = chdtrc(free, free * table["var"] / np.maximum(usual, 1e-9))
    far = table[(chance < RISK) & (table["high"] - table["low"] >= least)]
    worst = far.sort_values("var", ascending=False, kind="stable").drop_duplicates("sample")
    made = [
        (row.sample, (2.0, f"tasters far apart on {row.family.replace('_', ' ')} ({row.low:.1f} to {row.high:.1f})"))
        for row in worst.itertuples()
    ]
    lone = table[(table["family"] == "off_notes") & (table["named"] == 1) & (table["high"] >= FAULT)]
    return made + [(row.sample, (2.0, f"a fault that one of {row.people} tasters names")) for row in lone.itertuples()]


def _doubtful(mentions: pd.DataFrame, sample: pd.Series) -> list[tuple[str, tuple[float, str]]]:
    """Samples of which a third and more of the words, and at least two, are doubtful."""
    names = sample.to_numpy()[mentions["tasting"].to_numpy(dtype=int)]
    group = mentions["doubtful"].astype(bool).groupby(names).agg(["sum", "size"])
    doubtful = group[(group["sum"] >= 2) & (group["sum"] >= DOUBTFUL_SHARE * group["size"])]
    return [
        (str(name), (1.0, f"{int(row['sum'])} of {int(row['size'])} words marked doubtful"))
        for name, row in doubtful.iterrows()
    ]


def _old(tasted: pd.DataFrame, site: Any) -> list[tuple[str, tuple[float, str]]]:
    """Samples that were too old when last tasted."""
    days = (tasted["tasted_at"].dt.normalize() - tasted["drawn_on"]).dt.days
    fresh = days.groupby(folded(tasted["sample"])).min()
    limit = float(site["plugins.tasting.sample_days"])
    return [(str(name), (2.0, f"sample {int(age)} days old when tasted")) for name, age in fresh.items() if age > limit]


def _changes(movements: pd.DataFrame | None) -> dict[str, list[tuple[Any, str, tuple[int, ...]]]]:
    """Per cask what was moved into it after filling: day, reason, facts."""
    made: dict[str, list[tuple[Any, str, tuple[int, ...]]]] = {}
    if movements is None or not len(movements) or not {"to", "moved_at", "reason"} <= set(movements.columns):
        return made
    kept = movements[movements["reason"].isin(CHANGES) & movements["to"].notna() & movements["moved_at"].notna()]
    for name, day, reason, facts in zip(
        folded(kept["to"]), kept["moved_at"], kept["reason"], kept["facts"], strict=True
    ):
        made.setdefault(name, []).append((day, str(reason), facts))
    return made


def _changed_since(rows: pd.DataFrame, changed: dict[str, Any]) -> tuple[Any, str, tuple[int, ...]] | None:
    """The first change of the cask after the last of its samples was taken, or after the day it was nosed."""
    source = folded(rows["drawn_from"]).iloc[0]
    taken = rows["drawn_on"].fillna(rows["tasted_at"]).max()
    later = sorted(change for change in changed.get(source, []) if change[0] > taken)
    return later[0] if later else None


def _before_change(rows: pd.DataFrame, day: Any, reason: str, facts: tuple[int, ...]) -> Finding:
    first = rows.iloc[-1]
    return Finding(
        code="tasting.before-topping",
        severity="note",
        message=f"{first['sample']} was tasted on {first['tasted_at']:%Y-%m-%d}, before {first['drawn_from']} had a "
        f"{reason} on {day:%Y-%m-%d}; its notes speak of what was in it before.",
        subject=str(first["sample"]),
        facts=(*first["facts"], *facts),
        column="tasted_at",
        observed=f"{first['tasted_at']:%Y-%m-%d}",
        expected=f"a tasting after {day:%Y-%m-%d}",
        remedy="Draw a sample of what is in it now and taste that.",
    )
