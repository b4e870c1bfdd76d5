"""The stage ``tasted``: the tasting sheets with codes resolved and every sample traced to what it was drawn from."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from pipeline import Finding, stage
from pipeline.common.names import fold
from plugins.proof import abv_from_mass_fraction, mass_fraction_from_strength
from plugins.tasting.declared.frames import TASTED
from plugins.tasting.declared.kinds import FAMILIES
from plugins.tasting.samples.names import folded

CARRIED = ("taster", "tasted_at", "replicate", "nose", "palate", "finish", "remark", "score", "order", "decision")


@stage(gives=TASTED)
def resolve_samples(
    tastings: pd.DataFrame,
    samples: pd.DataFrame,
    blind_codes: pd.DataFrame,
    bench_notes: pd.DataFrame | None = None,
) -> tuple[pd.DataFrame, list[Finding]]:
    """Blind codes → samples, samples → the cask, vessel or batch they were drawn from, strengths → % vol.

    A blind duplicate becomes a replicate of its own. A sheet without a session has the day as its session.
    Notes of bench flights, whose codes are resolved already, come after the tasting sheets' rows.
    """
    rows = tastings.reset_index(drop=True)
    made: dict[str, Any] = {name: rows[name] for name in (*CARRIED, *FAMILIES)}
    made["tasting"] = np.arange(len(rows))
    made["session"] = sessions(rows)
    name, facts, blind, repeat, findings = _decoded(rows, made["session"], blind_codes)
    made["sample"], made["blind"] = name, blind
    made["code"] = rows["sample"].where(blind)
    replicate = rows["replicate"].astype(object).where(rows["replicate"].notna() | ~blind, repeat)
    again = pd.DataFrame({"s": folded(name), "t": folded(rows["taster"]), "at": rows["tasted_at"], "r": replicate})
    made["replicate"] = replicate.where(~(again.duplicated(keep=False) & blind), rows["sample"])
    made["nosing_strength_abv"] = as_abv(rows["nosing_strength"], rows["nosing_strength_unit"])
    register = _traced(name, samples)
    made |= {column: register[column] for column in ("drawn_from", "drawn_on", "kept_until")}
    lasting = made["nosing_strength_abv"].isna() & register["strength"].notna()
    made["nosing_strength_abv"] = made["nosing_strength_abv"].mask(lasting, register["strength"])
    tasted = TASTED.build(made, own_first(facts, register["facts"]))
    return _with_bench(tasted, bench_notes), findings


def _with_bench(tasted: pd.DataFrame, notes: pd.DataFrame | None) -> pd.DataFrame:
    """Rows of bench flights added: a trial is drawn from nothing but itself."""
    if notes is None or not len(notes):
        return tasted
    made: dict[str, Any] = {name: notes[name] for name in TASTED.names if name in notes.columns}
    made |= {"tasting": np.arange(len(notes)) + len(tasted), "session": notes["flight"], "drawn_from": notes["sample"]}
    made["blind"] = [True] * len(notes)
    both = pd.concat([tasted, TASTED.build(made, notes["facts"])], ignore_index=True)
    return TASTED.build({name: both[name] for name in TASTED.names}, both["facts"])


def own_first(own: pd.Series, others: pd.Series) -> pd.Series:
    """Facts of each row with those of others after its own: a finding's place is that of the first."""
    rows = [(*mine, *(fact for fact in rest if fact not in mine)) for mine, rest in zip(own, others, strict=True)]
    return pd.Series(rows, index=own.index, dtype=object)


def sessions(rows: pd.DataFrame) -> pd.Series:
    """The session as the sheet names it, else the day."""
    day = rows["tasted_at"].dt.strftime("%Y-%m-%d")
    return rows["session"].astype(object).where(rows["session"].notna(), day)


def as_abv(strength: pd.Series, unit: pd.Series) -> pd.Series:
    """Strengths as stated → % vol at 20 °C; missing where none is stated."""
    found = np.full(len(strength), np.nan)
    stated = strength.notna().to_numpy()
    if stated.any():
        fraction = mass_fraction_from_strength(
            strength.to_numpy(dtype=float)[stated], unit.to_numpy(dtype=object)[stated]
        )
        found[stated] = abv_from_mass_fraction(fraction)
    return pd.Series(found, index=strength.index)


def _decoded(
    rows: pd.DataFrame, session: pd.Series, codes: pd.DataFrame
) -> tuple[pd.Series, pd.Series, pd.Series, pd.Series, list[Finding]]:
    """Per row: the sample's name, facts, whether it was coded, which repeat; and findings on codes."""
    name = rows["sample"].astype(object).copy()
    facts, blind = rows["facts"], pd.Series(False, index=rows.index)
    repeat = pd.Series(None, index=rows.index, dtype=object)
    findings: list[Finding] = []
    if not len(codes):
        return name, facts, blind, repeat, findings
    key = list(zip(folded(codes["session"]), folded(codes["code"]), strict=True))
    place = {pair: at for at, pair in enumerate(key)}
    flights = {pair[0] for pair in key}
    mine = list(zip(folded(session), folded(rows["sample"]), strict=True))
    at = np.array([place.get(pair, -1) for pair in mine])
    found = at >= 0
    blind[:] = found
    table = codes.reset_index(drop=True).iloc[at[found]]
    name[found] = table["sample_behind"].to_numpy(dtype=object)
    repeat[found] = table["repeat"].to_numpy(dtype=object)
    whose = pd.Series("", index=rows.index, dtype=object)
    whose[found] = table["taster"].fillna("").to_numpy(dtype=object)
    joined = pd.Series([()] * len(rows), index=rows.index, dtype=object)
    joined[found] = pd.Series(table["facts"].tolist(), index=rows.index[found], dtype=object)
    strange = [pair[0] in flights and not hit for pair, hit in zip(mine, found, strict=True)]
    named = set(folded(codes["sample_behind"]))
    findings += [_unknown_code(row) for row in rows[strange].itertuples() if fold(str(row.sample)) not in named]
    other = found & (whose != "").to_numpy() & (folded(whose) != folded(rows["taster"])).to_numpy()
    findings += [_other_hands(row, str(name)) for row, name in zip(rows[other].itertuples(), whose[other], strict=True)]
    return name, own_first(facts, joined), blind, repeat, findings


def _traced(name: pd.Series, samples: pd.DataFrame) -> pd.DataFrame:
    """Per row what the register says: drawn_from, drawn_on, kept_until, strength, facts."""
    last = samples.assign(key=folded(samples["sample"])).drop_duplicates("key", keep="last")
    strength = as_abv(last["strength_nosed"], last["strength_nosed_unit"])
    place = pd.Index(last["key"]).get_indexer(pd.Index(folded(name)))
    found = place >= 0
    at = place[found]
    source = name.to_numpy(dtype=object).copy()
    source[found] = last["source"].to_numpy(dtype=object)[at]
    nosed = np.full(len(name), np.nan)
    nosed[found] = strength.to_numpy()[at]
    facts = np.empty(len(name), dtype=object)
    facts[:] = [last["facts"].iat[row] if row >= 0 else () for row in place]
    made = pd.DataFrame({"drawn_from": source, "strength": nosed, "facts": facts}, index=name.index)
    for column in ("drawn_on", "kept_until"):
        days = np.full(len(name), np.datetime64("NaT"), dtype="datetime64[us]")
        days[found] = last[column].to_numpy(dtype="datetime64[us]")[at]
        made[column] = days
    return made


def _unknown_code(row: Any) -> Finding:
    return Finding(
        code="tasting.unknown-code",
        severity="review",
        message=f"{row.taster} wrote of {row.sample} in the blind session {row.session}, but its key has no such code.",
        subject=str(row.sample),
        facts=row.facts,
        column="sample",
        observed=str(row.sample),
        expected="a code of the flight's key",
        remedy="Correct the code in the tasting sheet; the glass and the serving order tell which it was.",
    )


def _other_hands(row: Any, whose: str) -> Finding:
    return Finding(
        code="tasting.code-of-another-taster",
        severity="review",
        message=f"{row.taster} wrote of code {row.sample} in session {row.session}, which was poured for {whose}.",
        subject=str(row.sample),
        facts=row.facts,
        column="sample",
        observed=str(row.taster),
        expected=str(whose),
        remedy="Ask whose glass it was, and correct the code or the taster in the sheet.",
    )
