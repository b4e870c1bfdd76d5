"""The stage ``cask_diary``: the story of every cask on one page."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from pipeline import stage
from pipeline.contract.frames import first_facts
from plugins.tasting.declared.frames_stock import DIARY
from plugins.tasting.samples.names import folded
from plugins.tasting.stock.stock import latest


@stage(
    gives=DIARY,
    per="cask",
    links="""
        tasted.drawn_from = casks.cask
        samples.source = casks.cask
        proofs.vessel = casks.cask
        components.component = casks.cask""",
)
def write_diary(
    casks: pd.DataFrame,
    tasted: pd.DataFrame,
    samples: pd.DataFrame,
    proofs: pd.DataFrame | None = None,
    components: pd.DataFrame | None = None,
    cask_changes: pd.DataFrame | None = None,
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
    if cask_changes is not None:
        moves = cask_changes[cask_changes["batch"].isna()]
        parts.append(_events(known, moves, "cask", "at", "moved", _moving))
    events = pd.concat([part.assign(part=place) for place, part in enumerate(parts)], ignore_index=True)
    events = events.assign(fact=first_facts(events["facts"]))  # of one moment: as the sheets have them
    events = events.sort_values(["key", "at", "part", "fact"], kind="stable")
    events = events.drop_duplicates(["key", "at", "kind", "what"]).reset_index(drop=True)
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
    source, goal = (row.other, row.cask) if row.into else (row.cask, row.other)
    return f"{row.what}: {source} to {goal}"
