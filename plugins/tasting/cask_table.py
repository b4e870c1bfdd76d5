"""The stages ``cask_table`` and ``cask_diary``: every cask on one line, and its story on one page."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from pipeline import stage
from plugins.tasting.frames_stock import CASK_TABLE, DIARY
from plugins.tasting.kinds import SCALES
from plugins.tasting.names import folded
from plugins.tasting.stock import ages, latest, spoken

CAUTIOUS = ("reject", "recask", "finish", "watch", "leave", "use")  # of equally many votes the first counts
SHOWN = 4
STRONG = 3.0
PLAIN = {"make": "spirit", "fill": "wood_use", "held": "held_before", "place": "location"}


class Rows:
    """A frame's rows by folded name, with their facts."""

    def __init__(self, frame: pd.DataFrame, name: str) -> None:
        self.frame = frame
        self.places = frame.groupby(folded(frame[name]), sort=False).indices if len(frame) else {}

    def of(self, key: str) -> pd.DataFrame:
        return self.frame.iloc[self.places.get(key, [])]


def _facts(*tables: pd.DataFrame) -> set[int]:
    return {fact for table in tables for ids in table["facts"] for fact in ids}


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
    mine, whole = Rows(tasted, "drawn_from"), Rows(profiles[profiles["stage"] == "all"], "sample")
    again, score = Rows(taste_again, "drawn_from"), Rows(scores, "sample")
    gauged = Rows(proofs, "vessel") if proofs is not None else None
    emptied = _emptied(components)
    source = folded(tasted["drawn_from"]).to_numpy()[mentions["tasting"].to_numpy(dtype=int)]
    words = Rows(mentions.assign(source=source), "source")
    years = ages(rows, site.book_date)
    made: list[dict[str, Any]] = []
    facts: list[tuple[int, ...]] = []
    for place, key in enumerate(rows["key"]):
        cask = rows.iloc[place]
        notes, taste = mine.of(key), whole.of(key)
        line: dict[str, Any] = {"cask": cask["cask"], "age_years": years[place], "filled_on": cask["filled_on"]}
        line |= {name: cask[PLAIN.get(name, name)] for name in (*PLAIN, "species", "toast", "char", "hold")}
        rest = {*cask["facts"], *_facts(notes)}
        if gauged is not None and len(found := gauged.of(key)):
            last = found.sort_values("taken_at", kind="stable").iloc[-1]
            line |= {"proof": last["proof_60F"], "gauged_at": last["taken_at"]}
            rest |= set(last["facts"])
        if key in emptied:
            line["drawn_for"] = emptied[key][0]
            rest |= set(emptied[key][1])
        if len(notes):
            line |= _tasted(notes, taste, words.of(key), score.of(key))
            if key not in emptied:
                line |= _next(line, again.of(key), site)
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


def _tasted(notes: pd.DataFrame, taste: pd.DataFrame, words: pd.DataFrame, score: pd.DataFrame) -> dict[str, Any]:
    strong = taste[~taste["family"].isin([*SCALES, "off_notes"]) & (taste["mean"] >= STRONG)]
    strong = strong.sort_values("mean", ascending=False, kind="stable").head(SHOWN)
    there = words[~words["negated"].astype(bool)]
    faults = there[there["family"].eq("off_notes") | (there["polarity"].eq("fault") & there["family"].eq("oak_wood"))]
    decision, votes = _decision(notes)
    return {
        "score": score["mean_score"].iloc[0] if len(score) else None,
        "tasters": folded(notes["taster"]).nunique(),
        "tasted_at": notes["tasted_at"].max(),
        "strong": ", ".join(map(spoken, strong["family"])),
        "faults": ", ".join(_fault(term, rows) for term, rows in faults.groupby("term", sort=True)),
        "maturity": _maturity(there),
        "decision": decision,
        "votes": votes,
    }


def _fault(term: str, rows: pd.DataFrame) -> str:
    return f"{term}?" if rows["doubtful"].astype(bool).all() else term


def _maturity(there: pd.DataFrame) -> str:
    """"young (2 tasters), closed (1 taster)": words of maturity by the tasters who used them."""
    said = there[there["maturity"].fillna("").ne("")]
    count = said.assign(who=folded(said["taster"])).groupby("maturity", sort=True)["who"].nunique()
    words = {"young": "young", "over": "too long in wood", "closed": "closed"}
    return ", ".join(f"{words[name]} ({n} taster{'s' if n != 1 else ''})" for name, n in count.items())


def _decision(notes: pd.DataFrame) -> tuple[str | None, str | None]:
    """The most common decision of the last session that has one, and the votes."""
    decided = notes[notes["decision"].notna()]
    if not len(decided):
        return None, None
    session = decided.sort_values("tasted_at", kind="stable")["session"].iloc[-1]
    votes = decided[decided["session"] == session]["decision"].value_counts()
    order = sorted(votes.index, key=lambda name: (-votes[name], CAUTIOUS.index(name)))
    return str(order[0]), ", ".join(f"{name} {votes[name]}" for name in order)


def _next(line: dict[str, Any], again: pd.DataFrame, site: Any) -> dict[str, Any]:
    """When to taste a cask next: at once where there is a reason, else as long after as its decision says."""
    if len(again):
        return {"next_taste": line["tasted_at"].normalize(), "why_next": str(again["reasons"].iloc[0])}
    decision = line["decision"]
    months = 0 if decision is None else int(site["plugins.tasting.months"].get(decision, 0))
    if not months:
        return {}
    return {
        "next_taste": (line["tasted_at"] + pd.DateOffset(months=months)).normalize(),
        "why_next": f"{months} months after it was said to {decision}",
    }


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
        *_filled(casks),
        _events(samples, "source", "drawn_on", "sampled", lambda row: f"sample {row.sample} taken"),
        _events(tasted, "drawn_from", "tasted_at", "tasted", _tasting),
        _events(tasted[tasted["decision"].notna()], "drawn_from", "tasted_at", "decided", _deciding),
    ]
    if proofs is not None:
        parts.append(_events(proofs, "vessel", "taken_at", "gauged", _gauging))
    if components is not None:
        parts.append(_events(components[components["kind"] == "cask"], "component", "drawn_at", "drawn", _drawing))
    if movements is not None and {"from", "to", "moved_at", "reason"} <= set(movements.columns):
        renamed = movements.rename(columns={"from": "source", "to": "goal"})
        for end in ("source", "goal"):
            parts.append(_events(renamed, end, "moved_at", "moved", _moving))
    events = pd.concat(parts, ignore_index=True)
    events = events[events["key"].isin(set(known.index)) & events["at"].notna()]
    events = events.drop_duplicates(["key", "at", "kind", "what"])
    events = events.sort_values(["key", "at"], kind="stable").reset_index(drop=True)
    columns: dict[str, Any] = {name: events[name].to_numpy() for name in ("at", "kind", "what")}
    columns["cask"] = events["key"].map(known).to_numpy()
    columns["place"] = events.groupby("key").cumcount().to_numpy() + 1
    return DIARY.build(columns, events["facts"])


EVENT = ("key", "at", "kind", "what", "facts")


def _events(rows: pd.DataFrame, name: str, at: str, kind: str, tell: Any) -> pd.DataFrame:
    kept = rows[rows[name].notna()]
    what = [tell(row) for row in kept.itertuples()]
    made = {"key": folded(kept[name]), "at": kept[at], "kind": kind, "what": what, "facts": kept["facts"]}
    return pd.DataFrame(made, columns=list(EVENT))


def _filled(casks: pd.DataFrame) -> list[pd.DataFrame]:
    first = casks.assign(key=folded(casks["cask"])).drop_duplicates(["key", "filled_on"], keep="first")
    return [_events(first, "cask", "filled_on", "filled", _filling)]


def _filling(row: Any) -> str:
    wood = " ".join(str(word) for word in (row.species, row.wood_use) if word == word and word)
    strength = f" at {row.entry_proof:g} proof" if row.entry_proof == row.entry_proof and _is_proof(row) else ""
    return f"filled with {row.spirit if row.spirit == row.spirit else 'spirit'}{strength}" + (f", {wood}" if wood else "")


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
