"""The stages ``cask_table`` and ``cask_diary``: every cask on one line, and its story on one page."""

from __future__ import annotations

from collections import Counter
from typing import Any

import numpy as np
import pandas as pd

from pipeline import stage
from pipeline.common.names import fold
from pipeline.writing.spoken import spoken
from plugins.proof import mass_fraction_from_strength, proof_from_mass_fraction
from plugins.tasting.declared.frames_stock import CASK_TABLE, DIARY
from plugins.tasting.declared.kinds import SCALES
from plugins.tasting.samples.names import folded
from plugins.tasting.stock.stock import latest

CAUTIOUS = ("reject", "recask", "finish", "watch", "leave", "use")  # of equally many votes the first counts
SHOWN = 4
STRONG = 3.0
Row = dict[str, Any]
MATURITY = {"young": "young", "over": "too long in wood", "closed": "closed"}
WORDS = ("taster", "family", "term", "polarity", "maturity", "negated", "doubtful")
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


@stage(gives=CASK_TABLE)
def list_casks(
    casks: pd.DataFrame,
    tasted: pd.DataFrame,
    mentions: pd.DataFrame,
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
    source = tasted["drawn_from"].iloc[mentions["tasting"].to_numpy(dtype=int)].reset_index(drop=True)
    tables = {
        "notes": _by(tasted["drawn_from"], tasted, "taster", "tasted_at", "session", "decision", "facts"),
        "taste": _by(whole["sample"], whole, "family", "mean"),
        "score": _by(scores["sample"], scores, "mean_score"),
        "words": _by(source, mentions, *WORDS),
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
    there = [row for row in mine["words"] if not row["negated"]]
    decision, votes = _decision(mine["notes"])
    return {
        "score": mine["score"][0]["mean_score"] if mine["score"] else None,
        "tasters": len({fold(row["taster"]) for row in mine["notes"]}),
        "tasted_at": max(row["tasted_at"] for row in mine["notes"]),
        "strong": ", ".join(spoken(row["family"]) for row in strong),
        "faults": _faults(there),
        "maturity": _maturity(there),
        "decision": decision,
        "votes": votes,
    }


def _faults(there: list[Row]) -> str:
    """Faults of smell and wood by their words, with a ? where nobody was sure."""
    doubtful: dict[str, bool] = {}
    for row in there:
        if row["family"] == "off_notes" or (row["polarity"] == "fault" and row["family"] == "oak_wood"):
            doubtful[row["term"]] = bool(row["doubtful"]) and doubtful.get(row["term"], True)
    return ", ".join(f"{term}?" if doubtful[term] else term for term in sorted(doubtful))


def _maturity(there: list[Row]) -> str:
    """ "young (2 tasters), closed (1 taster)": words of maturity by the tasters who used them."""
    who: dict[str, set[str]] = {}
    for row in there:
        if row["maturity"] in MATURITY:
            who.setdefault(row["maturity"], set()).add(fold(row["taster"]))
    return ", ".join(
        f"{MATURITY[name]} ({len(who[name])} taster{'s' if len(who[name]) != 1 else ''})" for name in sorted(who)
    )


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


# --- diary -----------------------------------------------------------------------------------------


@stage(gives=DIARY)
def write_diary(
    casks: pd.DataFrame,
    tasted: pd.DataFrame,
    samples: pd.DataFrame,
    proofs: pd.DataFrame | None = None,
    components: pd.DataFrame | None = None,
    movements: pd.DataFrame | None = None,
) -> pd.DataFrame:
    """Inventory, gauges, moves, samples, tastings and draws → what happened to each cask, in order of time."""
    known = latest(casks).set_index("key")["cask"]
    parts = [
        *_filled(known, casks),
        _events(known, samples, "source", "drawn_on", "sampled", lambda row: f"sample {row.sample} taken"),
        _events(known, tasted, "drawn_from", "tasted_at", "tasted", _tasting),
        _events(known, tasted[tasted["decision"].notna()], "drawn_from", "tasted_at", "decided", _deciding),
    ]
    if proofs is not None:
        parts.append(_events(known, proofs, "vessel", "taken_at", "gauged", _gauging))
    if components is not None:
        parts.append(
            _events(known, components[components["kind"] == "cask"], "component", "drawn_at", "drawn", _drawing)
        )
    if movements is not None and {"from", "to", "moved_at", "reason"} <= set(movements.columns):
        renamed = movements.rename(columns={"from": "source", "to": "goal"})
        for end in ("source", "goal"):
            parts.append(_events(known, renamed, end, "moved_at", "moved", _moving))
    events = pd.concat(parts, ignore_index=True)
    events = events.drop_duplicates(["key", "at", "kind", "what"])
    events = events.sort_values(["key", "at"], kind="stable").reset_index(drop=True)
    columns: dict[str, Any] = {name: events[name].to_numpy() for name in ("at", "kind", "what")}
    columns["cask"] = events["key"].map(known).to_numpy()
    columns["place"] = events.groupby("key").cumcount().to_numpy() + 1
    return DIARY.build(columns, events["facts"])


EVENT = ("key", "at", "kind", "what", "facts")


def _events(known: pd.Series, rows: pd.DataFrame, name: str, at: str, kind: str, tell: Any) -> pd.DataFrame:
    """What is told of the casks that are known: of readings of vats and samples nothing need be said."""
    of_cask = pd.Series(folded(rows[name])).isin(set(known.index)).to_numpy()
    kept = rows[of_cask & rows[name].notna() & rows[at].notna()]
    what = []
    for row in kept.itertuples():
        what.append(tell(row))
    made = {"key": folded(kept[name]), "at": kept[at], "kind": kind, "what": what, "facts": kept["facts"]}
    return pd.DataFrame(made, columns=list(EVENT))


def _filled(known: pd.Series, casks: pd.DataFrame) -> list[pd.DataFrame]:
    first = casks.assign(key=folded(casks["cask"])).drop_duplicates(["key", "filled_on"], keep="first")
    return [_events(known, first, "cask", "filled_on", "filled", _filling)]


def _filling(row: Any) -> str:
    wood = " ".join(str(word) for word in (row.species, row.wood_use) if word == word and word)
    strength = f" at {row.entry_proof:g} proof" if row.entry_proof == row.entry_proof and _is_proof(row) else ""
    return f"filled with {row.spirit if row.spirit == row.spirit else 'spirit'}{strength}" + (
        f", {wood}" if wood else ""
    )


def _is_proof(row: Any) -> bool:
    unit = row.entry_proof_unit
    return unit != unit or unit == "proof"


def _tasting(row: Any) -> str:
    score = f", score {row.score:g}" if row.score == row.score else ""
    return f"{row.taster} tasted it{score}"


def _deciding(row: Any) -> str:
    return f"{row.taster}: {row.decision}"


def _gauging(row: Any) -> str:
    purpose = f" ({row.purpose})" if row.purpose == row.purpose and row.purpose else ""
    return f"{row.proof_60F:.1f} proof at 60 °F by {row.instrument}{purpose}" if np.isfinite(row.proof_60F) else "read"


def _drawing(row: Any) -> str:
    emptied = " and emptied" if row.emptied is True else ""
    return f"drawn for {row.batch}{emptied}"


def _moving(row: Any) -> str:
    return f"{row.reason}: {row.source} to {row.goal}"
