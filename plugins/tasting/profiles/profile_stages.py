"""The stages ``profiles`` and ``scores``."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from pipeline import Finding, stage, unite
from plugins.tasting.declared.frames import PROFILES, SCORES, STAGES
from plugins.tasting.declared.kinds import FAMILIES
from plugins.tasting.profiles import profiles as arithmetic
from plugins.tasting.profiles.impressions import TOP
from plugins.tasting.profiles.sheet_findings import findings_on_sheets, kept_apart
from plugins.tasting.samples.names import folded, spelt

SPREAD_SCALE = 10.0  # the setting ``spread`` is in points of a scale of ten
EMPTY = pd.DataFrame({name: [] for name in ("sample", "family", "stage")})


def units(tasted: pd.DataFrame) -> list[pd.Series]:
    """What profiles are made of: every sample, and every cask that samples with names of their own came from.

    One series a pass, folded names by tasting; in the second those of samples that stand for themselves are empty.
    """
    sample, source = folded(tasted["sample"]), folded(tasted["drawn_from"])
    if (sample == source).all():
        return [sample]
    several = set(source[sample != source])
    return [sample.where(~sample.isin(several), ""), source.where(source.isin(several), "")]


@stage(gives=PROFILES)
def profile_samples(
    tasted: pd.DataFrame, notes: pd.DataFrame, impressions: pd.DataFrame, site: Any
) -> tuple[pd.DataFrame, list[Finding]]:
    """Intensities → mean per sample, family and stage with its interval, over tasters or by the additive model.

    How is told in ``plugins/tasting/profiles/profiles.py``. Families that nobody named have no row.
    """
    apart, findings = kept_apart(tasted, float(site["plugins.tasting.strength_span"]))
    names = spelt([*tasted["sample"], *tasted["drawn_from"]])
    parts = []
    for unit in units(tasted):
        unit = unit.where(~apart, "")
        if (unit != "").any():
            parts.append(_profiles(tasted, notes, impressions, unit, site))
    out = pd.concat(parts, ignore_index=True) if parts else EMPTY
    if not len(out):
        return PROFILES.empty(), findings
    rank = out["stage"].map({name: place for place, name in enumerate(STAGES)})
    out = out.assign(rank=rank).sort_values(["sample", "family", "rank"], kind="stable")
    columns = {name: out[name].to_numpy() for name in PROFILES.names if name != "sample"}
    columns["sample"] = out["sample"].map(names).to_numpy()
    return PROFILES.build(columns, out["facts"]), findings


def _profiles(
    tasted: pd.DataFrame, notes: pd.DataFrame, impressions: pd.DataFrame, unit: pd.Series, site: Any
) -> pd.DataFrame:
    """All profiles of one pass."""
    taster = folded(tasted["taster"])
    said = _by_tasting(impressions, unit, taster)
    written = _by_tasting(notes[notes["stage"] != "remark"], unit, taster)[["tasting", "sample", "taster", "stage"]]
    speaks = np.union1d(notes["tasting"].to_numpy(dtype=int), impressions["tasting"].to_numpy(dtype=int))
    whole = pd.DataFrame({"tasting": speaks, "stage": "all"})
    whole["sample"], whole["taster"] = unit.to_numpy()[speaks], taster.to_numpy()[speaks]
    written = pd.concat([written, whole[whole["sample"] != ""]], ignore_index=True)
    written = written.drop_duplicates(["tasting", "stage"])
    heard = pd.Series(np.isin(tasted["tasting"].to_numpy(dtype=int), speaks), index=tasted.index)
    counted = heard & (unit != "")
    facts = unite(tasted["facts"][counted], by=unit[counted])
    parts = [
        _one_stage(said[said["stage"] == name], written[written["stage"] == name], site).assign(stage=name)
        for name in STAGES
    ]
    out = pd.concat(parts, ignore_index=True)
    return out.assign(facts=out["sample"].map(facts))


def _by_tasting(rows: pd.DataFrame, unit: pd.Series, taster: pd.Series) -> pd.DataFrame:
    at = rows["tasting"].to_numpy(dtype=int)
    made = rows.assign(sample=unit.to_numpy()[at], taster=taster.to_numpy()[at])
    return made[made["sample"] != ""]


def _one_stage(said: pd.DataFrame, written: pd.DataFrame, site: Any) -> pd.DataFrame:
    """Profiles at one stage: one row per sample and family that somebody named there."""
    notes = written.groupby(["sample", "taster"], sort=True).size().rename("count").reset_index()
    present = set(said["family"].unique())
    families = [family for family in FAMILIES if family in present]
    samples, tasters = sorted(notes["sample"].unique()), sorted(notes["taster"].unique())
    if not families:
        return pd.DataFrame({"sample": [], "family": []})
    silence = float(site["plugins.tasting.silence_weight"])
    table = arithmetic.Table(said, notes, families, samples, tasters, silence)
    mean, low, high = arithmetic.by_mean(table.values, table.weights, float(site["plugins.tasting.spread"]), TOP)
    method = np.full(mean.shape, "mean", dtype=object)
    wanted = int(site["plugins.tasting.panel_tasters"]), int(site["plugins.tasting.panel_samples"])
    good = arithmetic.enough(table.weights > 0, *wanted)
    if good.any():
        factor = arithmetic.scale_use(table.highest, table.named)
        values = np.clip(table.values * factor, 0.0, TOP)[good]
        mean[good], low[good], high[good] = arithmetic.by_model(values, table.weights[good], TOP)
        method[good] = "model"
    named = table.named.sum(axis=2)
    family, sample = np.nonzero(named > 0)
    counted = table.counted
    return pd.DataFrame(
        {
            "sample": np.array(samples, dtype=object)[sample],
            "family": np.array(families, dtype=object)[family],
            "mean": mean[family, sample],
            "low": low[family, sample],
            "high": high[family, sample],
            "notes": counted.sum(axis=2)[family, sample],
            "tasters": (counted > 0).sum(axis=2)[family, sample],
            "named": named[family, sample],
            "peak": table.highest.max(axis=2)[family, sample],
            "band": arithmetic.bands(mean[family, sample]),
            "method": method[family, sample],
        }
    )


@stage(gives=SCORES)
def score_samples(
    tasted: pd.DataFrame,
    casks: pd.DataFrame,
    vessels: pd.DataFrame,
    briefs: pd.DataFrame,
    samples: pd.DataFrame,
    site: Any,
    trials: pd.DataFrame | None = None,
) -> tuple[pd.DataFrame, list[Finding]]:
    """Scores → mean score per sample with its interval; scores above the scale are left out and asked about."""
    top = float(site["plugins.tasting.score_top"])
    known = [*casks["cask"], *vessels["vessel"], *briefs["batch"], *samples["sample"]]
    if trials is not None:
        known += [*trials["trial"]]
    findings = findings_on_sheets(tasted, [str(name) for name in known if name == name], site)
    score = tasted["score"]
    counts = score.notna() & (score >= 0.0) & (score <= top)
    names = spelt([*tasted["sample"], *tasted["drawn_from"]])
    parts = [_scores(tasted, unit.where(counts, ""), site, top) for unit in units(tasted)]
    out = pd.concat(parts, ignore_index=True).sort_values("sample", kind="stable")
    columns = {name: out[name].to_numpy() for name in SCORES.names if name != "sample"}
    columns["sample"] = out["sample"].map(names).to_numpy()
    return SCORES.build(columns, out["facts"]), findings


def _scores(tasted: pd.DataFrame, unit: pd.Series, site: Any, top: float) -> pd.DataFrame:
    rows = pd.DataFrame({"sample": unit, "taster": folded(tasted["taster"]), "score": tasted["score"]})
    rows = rows[rows["sample"] != ""]
    if not len(rows):
        return pd.DataFrame({name: [] for name in (*SCORES.names, "facts")})
    own = rows.groupby(["sample", "taster"], sort=True)["score"].agg(["mean", "size"]).reset_index()
    table = own.pivot(index="sample", columns="taster", values="mean")
    values = table.to_numpy()[None]
    weights = (~np.isnan(values)).astype(float)
    spread = float(site["plugins.tasting.spread"]) * top / SPREAD_SCALE
    mean, low, high = arithmetic.by_mean(values, weights, spread, top)
    wanted = int(site["plugins.tasting.panel_tasters"]), int(site["plugins.tasting.panel_samples"])
    model = bool(arithmetic.enough(weights > 0, *wanted)[0])
    if model:
        mean, low, high = arithmetic.by_model(values, weights, top)
    sizes = own.groupby("sample", sort=True)
    facts = unite(tasted["facts"][unit != ""], by=unit[unit != ""])
    made = pd.DataFrame({"sample": table.index, "mean_score": mean[0], "low": low[0], "high": high[0]})
    made["notes"], made["tasters"] = sizes["size"].sum().to_numpy(), sizes.size().to_numpy()
    return made.assign(method="model" if model else "mean", facts=made["sample"].map(facts))
