"""The stages of a panel: sessions, agreement, how tasters differ, order, noise."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from pipeline import stage, unite
from plugins.tasting.declared.frames_panel import (
    AGREEMENT,
    DIFFERENCES,
    FORM_COLUMNS,
    NOISE,
    ORDER_EFFECTS,
    SESSIONS,
)
from plugins.tasting.panel import arithmetic as panel
from plugins.tasting.panel.agreement import correlations, kendall, said
from plugins.tasting.samples.names import folded, spelt

RISK = 0.05
MEASURES = {"score": "the score", "words": "the number of words", "heat": "heat"}


def _named(tasted: pd.DataFrame) -> pd.DataFrame:
    """Per tasting: folded session, sample, taster."""
    return pd.DataFrame({name: folded(tasted[name]) for name in ("session", "sample", "taster")})


@stage(gives=SESSIONS)
def list_sessions(tasted: pd.DataFrame) -> pd.DataFrame:
    """Tasting sheets → one row per session: when, how many tasters, samples and tastings, at which strength."""
    key = folded(tasted["session"])
    names = spelt(tasted["session"])
    group = tasted.assign(taster=folded(tasted["taster"]), sample=folded(tasted["sample"])).groupby(key, sort=True)
    made = group.agg(
        first_at=("tasted_at", "min"),
        last_at=("tasted_at", "max"),
        tasters=("taster", "nunique"),
        samples=("sample", "nunique"),
        tastings=("tasting", "size"),
        strength_low=("nosing_strength_abv", "min"),
        strength_high=("nosing_strength_abv", "max"),
        blind=("blind", "all"),
        ordered=("order", lambda places: bool(places.notna().all())),
    )
    columns: dict[str, Any] = {name: made[name].to_numpy() for name in made.columns}
    columns["session"] = [names[name] for name in made.index]
    return SESSIONS.build(columns, unite(tasted["facts"], by=key).tolist())


@stage(gives=AGREEMENT)
def measure_agreement(tasted: pd.DataFrame, impressions: pd.DataFrame, site: Any) -> pd.DataFrame:
    """Values of a session → agreement per family over its largest complete table.

    Nothing is printed below ``panel_tasters`` tasters and ``panel_samples`` common samples; a session
    without a complete table of that size has rows that say so.
    """
    wanted = int(site["plugins.tasting.panel_tasters"]), int(site["plugins.tasting.panel_samples"])
    who, names = _named(tasted), spelt(tasted["session"])
    seen = panel.observations(tasted, impressions).merge(who.assign(tasting=tasted["tasting"]), on="tasting")
    facts = unite(tasted["facts"], by=who["session"])
    sessions, session = np.unique(seen["session"].to_numpy(dtype=str), return_inverse=True)
    families, family = np.unique(seen["family"].to_numpy(dtype=str), return_inverse=True)
    order = np.lexsort((family, session))
    _, sample = np.unique(seen["sample"].to_numpy(dtype=str), return_inverse=True)
    _, taster = np.unique(seen["taster"].to_numpy(dtype=str), return_inverse=True)
    value = seen["value"].to_numpy(dtype=float)
    rows, rests = [], []
    for part in np.split(order, np.flatnonzero(np.diff(session[order]) | np.diff(family[order])) + 1):
        if not len(part):
            continue
        name, kind = str(sessions[session[part[0]]]), str(families[family[part[0]]])
        table = panel.table_of(sample[part], taster[part], value[part])
        rows.append({"session": names[name], "family": kind, **_agreement(table, len(part), wanted, f"{name} {kind}")})
        rests.append(facts[name])
    columns = {name: [row.get(name) for row in rows] for name in AGREEMENT.names}
    return AGREEMENT.build(columns, rests)


def _agreement(table: np.ndarray, tastings: int, wanted: tuple[int, int], seed: str) -> dict[str, Any]:
    rows, columns = panel.complete(table, *wanted)
    whole = table[np.ix_(rows, columns)]
    made: dict[str, Any] = {
        "tasters": len(columns),
        "samples": len(rows),
        "left_out": max(tastings - whole.size, 0),
    }
    if not len(rows):
        made["said"] = f"no figure: fewer than {wanted[0]} tasters have {wanted[1]} samples in common"
        return made
    if np.ptp(whole) == 0:
        made["said"] = "no figure: everybody said the same of every sample"
        return made
    found = correlations(whole)
    made |= {column: found[form].value for form, column in FORM_COLUMNS.items()}
    made |= {name: getattr(found["ICC(2,1)"], name) for name in ("low", "high", "p")}
    ranked = kendall(whole, seed)
    made |= {"kendall_w": ranked.w, "kendall_p": ranked.p, "kendall_method": ranked.method}
    made["said"] = said(found["ICC(2,1)"].value)
    return made


@stage(gives=DIFFERENCES)
def compare_tasters(tasted: pd.DataFrame, impressions: pd.DataFrame, site: Any) -> pd.DataFrame:
    """Values → per taster and family the mean difference from the others on the samples they share.

    Over all sessions, with ``panel_tasters`` tasters and ``panel_samples`` common samples at least. A
    difference counts where it would be chance less than once in twenty over everything looked at.
    """
    tasters, samples = int(site["plugins.tasting.panel_tasters"]), int(site["plugins.tasting.panel_samples"])
    who, names = _named(tasted), spelt(tasted["taster"])
    seen = panel.observations(tasted, impressions).merge(who.assign(tasting=tasted["tasting"]), on="tasting")
    facts = unite(tasted["facts"], by=who["taster"])
    parts = []
    for family, part in seen.groupby("family", sort=True):
        table = part.pivot_table(index=["session", "sample"], columns="taster", values="value", aggfunc="mean")
        if table.shape[1] < tasters:
            continue
        count, mean, error = panel.from_others(table.to_numpy())
        made = pd.DataFrame({"taster": table.columns, "samples": count, "difference": mean, "error": error})
        parts.append(made[(count >= samples) & ((error > 0) | (mean != 0))].assign(family=family))
    out = pd.concat(parts, ignore_index=True) if parts else pd.DataFrame({name: [] for name in DIFFERENCES.names})
    if not len(out):
        return DIFFERENCES.empty()
    degrees = out["samples"].to_numpy(dtype=float) - 1
    width = panel.t_bound(degrees) * out["error"].to_numpy()
    difference = out["difference"].to_numpy()
    out["low"], out["high"] = difference - width, difference + width
    out["p"] = panel.holm(panel.t_probability(difference / np.maximum(out["error"].to_numpy(), 1e-9), degrees))
    out["direction"] = np.where(out["p"] >= RISK, "", np.where(difference > 0, "above", "below"))
    out = out.sort_values(["taster", "family"], kind="stable")
    columns = {name: out[name].to_numpy() for name in DIFFERENCES.names}
    columns["taster"] = out["taster"].map(names).to_numpy()
    return DIFFERENCES.build(columns, out["taster"].map(facts))


@stage(gives=ORDER_EFFECTS)
def measure_order(tasted: pd.DataFrame, impressions: pd.DataFrame, mentions: pd.DataFrame) -> pd.DataFrame:
    """Places in a flight → change of the score, of heat and of the number of words from one place to the next.

    Samples and tasters are taken out; where all tasted in one order, place cannot be told from sample.
    """
    who, names = _named(tasted), spelt(tasted["session"])
    words = mentions.groupby("tasting").size()
    heat = impressions[(impressions["family"] == "heat") & (impressions["stage"] == "all")]
    values = pd.DataFrame({"tasting": tasted["tasting"], "place": tasted["order"], "score": tasted["score"]})
    values["words"] = values["tasting"].map(words).fillna(0.0).astype(float)
    values["heat"] = values["tasting"].map(heat.set_index("tasting")["value"]).fillna(0.0)
    facts = unite(tasted["facts"], by=who["session"])
    rows, rests = [], []
    for session, part in pd.concat([values, who], axis=1).groupby("session", sort=True):
        placed = part[part["place"].notna()]
        for measure in MEASURES:
            rows.append({"session": names[str(session)], **_order(placed[placed[measure].notna()], measure)})
            rests.append(facts[session])
    return ORDER_EFFECTS.build({name: [row.get(name) for row in rows] for name in ORDER_EFFECTS.names}, rests)


def _order(part: pd.DataFrame, measure: str) -> dict[str, Any]:
    made: dict[str, Any] = {"measure": measure, "tastings": len(part)}
    if len(part) < 6:
        return {**made, "said": "no figure: the sheets give no place in the flight"}
    columns = [part[name].to_numpy() for name in ("place", measure, "sample", "taster")]
    per_place, error, degrees = panel.slope(columns[0].astype(float), columns[1].astype(float), *columns[2:])
    if not np.isfinite(per_place):
        return {**made, "said": "cannot be told: all tasted in one order, so place and sample are the same"}
    width = float(panel.t_bound(np.array([degrees]))[0]) * error
    made |= {"per_place": per_place, "low": per_place - width, "high": per_place + width}
    if made["low"] <= 0 <= made["high"]:
        return {**made, "said": f"{MEASURES[measure]} does not change with the place, as far as can be told"}
    direction = "rises" if per_place > 0 else "falls"
    return {**made, "said": f"{MEASURES[measure]} {direction} by {abs(per_place):.2f} from one place to the next"}


@stage(gives=NOISE)
def measure_noise(tasted: pd.DataFrame, impressions: pd.DataFrame) -> pd.DataFrame:
    """Two glasses of one sample for one taster in one session → the spread of one tasting, per family."""
    who = _named(tasted).assign(tasting=tasted["tasting"], blind=tasted["blind"].to_numpy(dtype=bool))
    seen = panel.observations(tasted, impressions).merge(who, on="tasting")
    group = seen.groupby(["family", "session", "sample", "taster"], sort=True)
    pairs = group.agg(variance=("value", "var"), count=("value", "size"), blind=("blind", "all")).reset_index()
    pairs = pairs[pairs["count"] >= 2]
    pairs["squares"] = pairs["variance"] * (pairs["count"] - 1)
    pairs["free"] = pairs["count"] - 1
    out = pairs.groupby("family", sort=True)[["squares", "free", "blind"]].sum().reset_index()
    keys = set(zip(pairs["session"], pairs["sample"], pairs["taster"], strict=True))
    mine = [key in keys for key in zip(who["session"], who["sample"], who["taster"], strict=True)]
    facts = tuple(sorted({fact for ids in tasted["facts"][mine] for fact in ids}))
    columns = {
        "family": out["family"],
        "pairs": out["free"],
        "blind_pairs": out["blind"],
        "spread": np.sqrt(out["squares"] / np.maximum(out["free"], 1)),
    }
    return NOISE.build(columns, [facts] * len(out))
