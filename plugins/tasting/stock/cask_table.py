"""The stage ``cask_table``: every cask on one line."""

from __future__ import annotations

from collections import Counter
from typing import Any

import numpy as np
import pandas as pd

from pipeline import stage
from pipeline.common.names import fold
from pipeline.writing.spoken import spoken
from plugins.proof import mass_fraction_from_strength, proof_from_mass_fraction
from plugins.tasting.declared.frames_stock import CASK_TABLE
from plugins.tasting.declared.kinds import SCALES
from plugins.tasting.samples.names import folded
from plugins.tasting.stock.stock import latest

CAUTIOUS = ("reject", "recask", "finish", "watch", "leave", "use")  # of equally many votes the first counts
SHOWN = 4
STRONG = 3.0
Row = dict[str, Any]
PLAIN = {"make": "spirit", "fill": "wood_use", "held": "held_before", "place": "location"}


def _by(names: pd.Series, frame: pd.DataFrame, *columns: str) -> dict[str, list[Row]]:
    """A frame's rows as dicts of some columns, by folded name."""
    made: dict[str, list[Row]] = {}
    rows = zip(*(frame[column].tolist() for column in columns), strict=True)
    for key, row in zip(folded(names), rows, strict=True):
        made.setdefault(key, []).append(dict(zip(columns, row, strict=True)))
    return made


def _last_gauges(proofs: pd.DataFrame | None) -> dict[str, list[Row]]:
    """The last gauge of each folded name; of several at one moment the first row."""
    if proofs is None:
        return {}
    newest = np.argsort(-proofs["taken_at"].to_numpy(dtype="datetime64[us]").astype(np.int64), kind="stable")
    last = proofs[["vessel", "taken_at", "proof_60F", "facts"]].iloc[newest]
    last = last[~folded(last["vessel"]).duplicated()]
    return _by(last["vessel"], last, "taken_at", "proof_60F", "facts")


@stage(
    gives=CASK_TABLE,
    per="cask",
    links="""
        tasted.drawn_from = casks.cask
        profiles.sample = casks.cask
        scores.sample = casks.cask
        taste_again.drawn_from = casks.cask
        proofs.vessel = casks.cask
        components.component = casks.cask""",
)
def list_casks(
    casks: pd.DataFrame,
    tasted: pd.DataFrame,
    cask_words: pd.DataFrame,
    profiles: pd.DataFrame,
    scores: pd.DataFrame,
    taste_again: pd.DataFrame,
    site: Any,
    proofs: pd.DataFrame | None = None,
    components: pd.DataFrame | None = None,
) -> pd.DataFrame:
    """Inventory, gauges and tastings → one row per cask with its decision and when to taste it next."""
    rows = latest(casks)
    whole = profiles[profiles["stage"] == "all"]
    tables = {
        "notes": _by(tasted["drawn_from"], tasted, "taster", "tasted_at", "session", "decision", "facts"),
        "taste": _by(whole["sample"], whole, "family", "mean"),
        "score": _by(scores["sample"], scores, "mean_score"),
        "words": _by(cask_words["cask"], cask_words, "faults", "maturity"),
        "again": _by(taste_again["drawn_from"], taste_again, "reasons"),
        "gauged": _last_gauges(proofs),
    }
    emptied = _emptied(components)
    fraction = mass_fraction_from_strength(rows["proof"].to_numpy(float), rows["proof_unit"].to_numpy(object))
    stated = proof_from_mass_fraction(fraction)
    made: list[Row] = []
    facts: list[tuple[int, ...]] = []
    for place, (key, cask) in enumerate(zip(rows["key"], rows.to_dict("records"), strict=True)):
        mine = {name: table.get(key, []) for name, table in tables.items()}
        line: Row = {"cask": cask["cask"], "filled_on": cask["filled_on"]}
        line |= {name: cask[PLAIN.get(name, name)] for name in (*PLAIN, "species", "toast", "char", "hold")}
        rest = {*cask["facts"], *(fact for row in mine["notes"] for fact in row["facts"])}
        if np.isfinite(stated[place]):
            line |= {"proof": stated[place], "gauged_at": cask["gauged_on"]}
        if mine["gauged"]:
            last = mine["gauged"][0]
            line |= {"proof": last["proof_60F"], "gauged_at": last["taken_at"]}
            rest |= set(last["facts"])
        if key in emptied:
            line["drawn_for"] = emptied[key][0]
            rest |= set(emptied[key][1])
        if mine["notes"]:
            line |= _tasted(mine)
            if key not in emptied:
                line |= _next(line, mine["again"], site)
        made.append(line)
        facts.append(tuple(sorted(rest)))
    return CASK_TABLE.build({name: [line.get(name) for line in made] for name in CASK_TABLE.names}, facts)


def _emptied(components: pd.DataFrame | None) -> dict[str, tuple[str, tuple[int, ...]]]:
    """Casks that a blend sheet says were emptied: batch and facts."""
    if components is None:
        return {}
    gone = components[components["emptied"].fillna(False).astype(bool) & components["kind"].eq("cask")]
    return {
        key: (str(batch), facts)
        for key, batch, facts in zip(folded(gone["component"]), gone["batch"], gone["facts"], strict=True)
    }


def _tasted(mine: dict[str, list[Row]]) -> Row:
    flavours = [row for row in mine["taste"] if row["family"] not in (*SCALES, "off_notes") and row["mean"] >= STRONG]
    strong = sorted(flavours, key=lambda row: -row["mean"])[:SHOWN]
    words = mine["words"][0] if mine["words"] else {"faults": "", "maturity": ""}
    decision, votes = _decision(mine["notes"])
    return {
        "score": mine["score"][0]["mean_score"] if mine["score"] else None,
        "tasters": len({fold(row["taster"]) for row in mine["notes"]}),
        "tasted_at": max(row["tasted_at"] for row in mine["notes"]),
        "strong": ", ".join(spoken(row["family"]) for row in strong),
        "faults": words["faults"],
        "maturity": words["maturity"],
        "decision": decision,
        "votes": votes,
    }


def _decision(notes: list[Row]) -> tuple[str | None, str | None]:
    """The most common decision of the last session that has one, and the votes."""
    decided = [row for row in notes if isinstance(row["decision"], str)]
    if not decided:
        return None, None
    session = max(decided, key=lambda row: row["tasted_at"])["session"]
    votes = Counter(row["decision"] for row in decided if row["session"] == session)
    order = sorted(votes, key=lambda name: (-votes[name], CAUTIOUS.index(name)))
    return order[0], ", ".join(f"{name} {votes[name]}" for name in order)


def _next(line: Row, again: list[Row], site: Any) -> Row:
    """When to taste a cask next: at once (no day) where there is a reason, else as long after as its decision says."""
    if again:
        return {"why_next": again[0]["reasons"]}
    decision = line["decision"]
    months = 0 if decision is None else _months(site["plugins.tasting.months"].get(decision, "0"))
    if not months:
        return {}
    return {
        "next_taste": (line["tasted_at"] + pd.DateOffset(months=months)).normalize(),
        "why_next": f"{months} months after it was said to {decision}",
    }


def _months(written: Any) -> int:
    return int(written) if str(written).strip().isdigit() else 0
