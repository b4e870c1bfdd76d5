"""The stages ``profiles`` and ``scores``."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from pipeline import Finding, stage, unite
from plugins.tasting.declared.frames import PROFILES, SCORES, STAGES
from plugins.tasting.declared.kinds import FAMILIES
from plugins.tasting.profiles import profiles as arithmetic
from plugins.tasting.profiles.additive import Panel, panel_of
from plugins.tasting.profiles.impressions import TOP
from plugins.tasting.profiles.sheet_findings import findings_on_sheets, kept_apart
from plugins.tasting.profiles.silence import mute
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


def settling_day(tasted: pd.DataFrame) -> Any:
    """The first day of the month of the last tasting, on which the panel is settled by what was tasted before; NaT
    where nothing was tasted."""
    return tasted["tasted_at"].max().to_period("M").start_time if len(tasted) else pd.NaT


def with_settled(passes: list[pd.Series], settled: list[pd.Series]) -> list[tuple[pd.Series, pd.Series]]:
    """Each pass with the names by tasting on which its panel is settled; empty names where there are none."""
    none = pd.Series("", index=passes[0].index, dtype=object)
    whole = [one.reindex(none.index, fill_value="") for one in settled]
    return list(zip(passes, [*whole, none, none], strict=False))


@stage(gives=PROFILES)
def profile_samples(
    tasted: pd.DataFrame, notes: pd.DataFrame, impressions: pd.DataFrame, site: Any
) -> tuple[pd.DataFrame, list[Finding]]:
    """Intensities → mean per sample, family and stage with its interval, over tasters or by the additive model.

    How is told in ``plugins/tasting/profiles/profiles.py``. Families that nobody named have no row.
    """
    day = settling_day(tasted)
    passes, findings = _alike(tasted, site)
    names = spelt([*tasted["sample"], *tasted["drawn_from"]])
    parts = []
    for unit, settled in with_settled(passes, _alike(tasted[tasted["tasted_at"] < day], site)[0]):
        if (unit != "").any():
            parts.append(_profiles(tasted, notes, impressions, unit, settled, day, site))
    out = pd.concat(parts, ignore_index=True) if parts else EMPTY
    if not len(out):
        return PROFILES.empty(), findings
    rank = out["stage"].map({name: place for place, name in enumerate(STAGES)})
    out = out.assign(rank=rank).sort_values(["sample", "family", "rank"], kind="stable")
    columns = {name: out[name].to_numpy() for name in PROFILES.names if name != "sample"}
    columns["sample"] = out["sample"].map(names).to_numpy()
    return PROFILES.build(columns, out["facts"]), findings


def _alike(tasted: pd.DataFrame, site: Any) -> tuple[list[pd.Series], list[Finding]]:
    """``units`` without tastings at another strength than most of their sample's, and what is found on those."""
    apart, findings = kept_apart(tasted, float(site["plugins.tasting.strength_span"]))
    return [unit.where(~apart, "") for unit in units(tasted)], findings


def _profiles(
    tasted: pd.DataFrame,
    notes: pd.DataFrame,
    impressions: pd.DataFrame,
    unit: pd.Series,
    settled: pd.Series,
    day: Any,
    site: Any,
) -> pd.DataFrame:
    """All profiles of one pass; ``settled``: the names of what its panel is settled on, before the ``day``."""
    speaks = np.union1d(notes["tasting"].to_numpy(dtype=int), impressions["tasting"].to_numpy(dtype=int))
    heard = pd.Series(np.isin(tasted["tasting"].to_numpy(dtype=int), speaks), index=tasted.index)
    counted = heard & (unit != "")
    facts = unite(tasted["facts"][counted], by=unit[counted])
    given = (notes, impressions, speaks, folded(tasted["taster"]))
    words = notes.loc[notes["stage"] != "remark", "tasting"]
    unsaid = mute(tasted, impressions, set(words.to_numpy(dtype=int).tolist()))
    now, before = _said_by_stage(*given, unit, unsaid), _said_by_stage(*given, settled, unsaid)
    parts = [_one_stage(now[name], before[name], day, site).assign(stage=name) for name in STAGES]
    out = pd.concat(parts, ignore_index=True)
    return out.assign(facts=out["sample"].map(facts))


Said = tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]


def _said_by_stage(
    notes: pd.DataFrame,
    impressions: pd.DataFrame,
    speaks: np.ndarray,
    taster: pd.Series,
    unit: pd.Series,
    unsaid: pd.DataFrame,
) -> dict[str, Said]:
    """By stage the intensities, the notes in which they could have stood, and the families on which these are mute:
    columns sample, taster, and so on."""
    said = _by_tasting(impressions, unit, taster)
    written = _by_tasting(notes[notes["stage"] != "remark"], unit, taster)[["tasting", "sample", "taster", "stage"]]
    whole = _by_tasting(pd.DataFrame({"tasting": speaks, "stage": "all"}), unit, taster)
    written = pd.concat([written, whole], ignore_index=True)
    written = written.drop_duplicates(["tasting", "stage"])
    made = {}
    for name in STAGES:
        mine, places = said[said["stage"] == name], written[written["stage"] == name]
        silent = unsaid.merge(places[["tasting", "sample", "taster"]], on="tasting")
        silent = silent.merge(mine[["tasting", "family"]], on=["tasting", "family"], how="left", indicator="in_words")
        made[name] = mine, places, silent[silent["in_words"] == "left_only"]
    return made


def _by_tasting(rows: pd.DataFrame, unit: pd.Series, taster: pd.Series) -> pd.DataFrame:
    at = rows["tasting"].to_numpy(dtype=int)
    made = rows.assign(sample=unit.to_numpy()[at], taster=taster.to_numpy()[at])
    return made[made["sample"] != ""]


def _table(said: pd.DataFrame, written: pd.DataFrame, unsaid: pd.DataFrame, site: Any) -> arithmetic.Table | None:
    """What was said at one stage as an array; None where nobody named a family."""
    notes = written.groupby(["sample", "taster"], sort=True).size().rename("count").reset_index()
    present = set(said["family"].unique())
    families = [family for family in FAMILIES if family in present]
    if not families:
        return None
    samples, tasters = sorted(notes["sample"].unique()), sorted(notes["taster"].unique())
    silence = float(site["plugins.tasting.silence_weight"])
    return arithmetic.Table(said, notes, families, samples, tasters, silence, unsaid)


def _one_stage(now: Said, before: Said, day: Any, site: Any) -> pd.DataFrame:
    """Profiles at one stage: one row per sample and family that somebody named there."""
    table, earlier = _table(*now, site), _table(*before, site)
    if table is None:
        return pd.DataFrame({"sample": [], "family": []})
    mean, low, high = arithmetic.by_mean(table.values, table.weights, float(site["plugins.tasting.spread"]), TOP)
    method = np.full(mean.shape, "mean", dtype=object)
    wanted = int(site["plugins.tasting.panel_tasters"]), int(site["plugins.tasting.panel_samples"])
    settled = arithmetic.settle(earlier, *wanted) if earlier is not None else None
    day = day if settled else pd.NaT
    settled = settled or arithmetic.settle(table, *wanted)
    if settled:
        at, *figures = arithmetic.by_settled(table, settled)
        mean[at], low[at], high[at] = figures
        method[at] = "model"
    named = table.named.sum(axis=2)
    family, sample = np.nonzero(named > 0)
    counted = table.counted
    made = pd.DataFrame(
        {
            "sample": np.array(table.samples, dtype=object)[sample],
            "family": np.array(table.families, dtype=object)[family],
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
    return made.assign(settled_on=settled_days(made["method"], day))


def settled_days(method: pd.Series, day: Any) -> pd.Series:
    """The day on which the panel was settled, where a figure is the model's and there is one."""
    return pd.Series(day, index=method.index, dtype="datetime64[us]").where(method == "model")


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
    day = settling_day(tasted)
    passes = with_settled(units(tasted), units(tasted[tasted["tasted_at"] < day]))
    parts = [_scores(tasted, unit.where(counts, ""), settled.where(counts, ""), day, site) for unit, settled in passes]
    out = pd.concat(parts, ignore_index=True).sort_values("sample", kind="stable")
    columns = {name: out[name].to_numpy() for name in SCORES.names if name != "sample"}
    columns["sample"] = out["sample"].map(names).to_numpy()
    return SCORES.build(columns, out["facts"]), findings


def _scores(tasted: pd.DataFrame, unit: pd.Series, settled: pd.Series, day: Any, site: Any) -> pd.DataFrame:
    """Scores of one pass; ``settled``: the names of what its panel is settled on, before the ``day``."""
    if not (unit != "").any():
        return pd.DataFrame({name: [] for name in (*SCORES.names, "facts")})
    own, table = _own_scores(tasted, unit)
    values = table.to_numpy()[None]
    weights = (~np.isnan(values)).astype(float)
    top = float(site["plugins.tasting.score_top"])
    spread = float(site["plugins.tasting.spread"]) * top / SPREAD_SCALE
    mean, low, high = arithmetic.by_mean(values, weights, spread, top)
    wanted = int(site["plugins.tasting.panel_tasters"]), int(site["plugins.tasting.panel_samples"])
    panel = _panel(_own_scores(tasted, settled)[1], table.columns, wanted)
    if panel is None:
        day, panel = pd.NaT, _panel(table, table.columns, wanted)
    if panel is not None:
        mean, low, high = arithmetic.by_model(values, weights, top, panel)
    sizes = own.groupby("sample", sort=True)
    facts = unite(tasted["facts"][unit != ""], by=unit[unit != ""])
    made = pd.DataFrame({"sample": table.index, "mean_score": mean[0], "low": low[0], "high": high[0]})
    made["notes"], made["tasters"] = sizes["size"].sum().to_numpy(), sizes.size().to_numpy()
    made = made.assign(method="model" if panel else "mean", facts=made["sample"].map(facts))
    return made.assign(settled_on=settled_days(made["method"], day))


def _own_scores(tasted: pd.DataFrame, unit: pd.Series) -> tuple[pd.DataFrame, pd.DataFrame]:
    """What each taster gave each sample (mean, size), and that as a table (samples, tasters)."""
    rows = pd.DataFrame({"sample": unit, "taster": folded(tasted["taster"]), "score": tasted["score"]})
    own = rows[rows["sample"] != ""].groupby(["sample", "taster"], sort=True)["score"].agg(["mean", "size"])
    own = own.reset_index()
    return own, own.pivot(index="sample", columns="taster", values="mean")


def _panel(table: pd.DataFrame, tasters: pd.Index, wanted: tuple[int, int]) -> Panel | None:
    """The panel that gave the scores of a table, over other tasters; None where they are too few."""
    values = table.to_numpy()[None]
    weights = (~np.isnan(values)).astype(float)
    if not arithmetic.enough(weights > 0, *wanted)[0]:
        return None
    return panel_of(values, weights, arithmetic.MOST_SHRUNK).over(table.columns.get_indexer(tasters))
