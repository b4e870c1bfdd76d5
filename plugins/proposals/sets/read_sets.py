"""The stages that read issued proposals: what was proposed, drawn, tasted of and poured since."""

from __future__ import annotations

from typing import Any

import pandas as pd

from pipeline import Finding, stage
from plugins.proposals.declared.frames import LINEAGE, PARTS, PREDICTED, PROPOSALS, RUNWAY
from plugins.proposals.sets.issued_sets import changed, read_set
from plugins.proposals.sets.lineage import trace
from plugins.proposals.stock.stock import folded

Row = dict[str, Any]


def _read(sets: pd.DataFrame) -> list[tuple[str, int, Row, tuple[int, ...]]]:
    return [
        (batch, int(issue), read_set(text), facts)
        for batch, issue, text, facts in zip(sets["batch"], sets["issue"], sets["document"], sets["facts"], strict=True)
    ]


def _build(frame: Any, rows: list[Row]) -> pd.DataFrame:
    return frame.build({name: [row[name] for row in rows] for name in frame.names}, [row["facts"] for row in rows])


@stage(gives=PROPOSALS)
def read_proposals(proposal_sets: pd.DataFrame) -> tuple[pd.DataFrame, list[Finding]]:
    """The proposals as issued; a brief that nothing can fulfil is a finding that says what conflicts."""
    rows, findings = [], []
    for batch, issue, made, facts in _read(proposal_sets):
        for item in made["proposals"]:
            expected = item["expected"]
            figures = {n: expected[n] for n in ("mass_kg", "ethanol_kg", "proof_60F", "volume_60F_gal", "volume_20C_L")}
            rows.append(
                {
                    "id": item["id"], "batch": batch, "issue": issue, "aim": item["aim"], "facts": facts,
                    "casks": len(item["components"]), "water_kg": item["water"]["mass_kg"], **figures,
                    "bottles": item["bottles"], "distance": item["distance"], "gap": item["gap"],
                }
            )  # fmt: skip
        if made["status"] == "infeasible":
            findings.append(_infeasible(batch, issue, made, facts))
    return _build(PROPOSALS, rows), findings


def _infeasible(batch: str, issue: int, made: Row, facts: tuple[int, ...]) -> Finding:
    first = [row for row in made["conflicts"] if row["set"] == 1]
    said = "; ".join(f"{row['demand']} ({row['value']})" for row in first)
    mend = "; or ".join(f"{row['demand']}: {row['release']}" for row in first)
    return Finding(
        "proposals.demands-conflict",
        "review",
        f"Nothing in stock fulfils the brief {batch} (issue {issue}): these demands conflict: {said}."
        if first
        else f"Nothing was found for the brief {batch} (issue {issue}): {made['why_fewer']}",
        subject=batch,
        batch=batch,
        facts=facts,
        remedy=f"{mend or 'Raise nodes under [plugins.proposals]'}. Then change the brief, or vatting propose {batch}.",
    )


@stage(gives=PARTS)
def read_draws(
    proposal_sets: pd.DataFrame, stock: pd.DataFrame, proposals_due: pd.DataFrame
) -> tuple[pd.DataFrame, list[Finding]]:
    """The draws of each proposal as issued; stock that changed since is a finding on the old proposal."""
    place = dict(zip(folded(stock["cask"]), range(len(stock)), strict=True))
    now: list[Row] = stock.to_dict("records")  # type: ignore[assignment]
    is_open = dict(zip(proposals_due["batch"], proposals_due["open"].fillna(False), strict=True))
    rows, findings = [], []
    for batch, _, made, facts in _read(proposal_sets):
        moved: dict[str, str] = {}
        since: set[int] = set()
        for item in made["proposals"]:
            for part in item["components"]:
                cask = now[place[folded(pd.Series([part["component"]])).iloc[0]]] if _in(part, place) else None
                own = tuple(sorted({*facts, *(cask["facts"] if cask else ())}))
                kept = {n: part[n] for n in ("component", "share", "mass_kg", "proof_60F", "volume_60F_gal", "whole")}
                rows.append(
                    {"id": item["id"], "batch": batch, "volume_20C_L": part["volume_20C_L"], **kept, "facts": own}
                )
                why = changed(part, cask)
                if why:
                    moved[part["component"]] = why
                    since |= set(cask["facts"]) if cask else set()
        if moved and is_open.get(batch):
            findings.append(_stale(batch, moved, tuple(sorted({*facts, *since}))))
    return _build(PARTS, rows), findings


def _in(part: Row, place: dict[str, int]) -> bool:
    return str(part["component"]).strip().casefold() in place


def _stale(batch: str, changed: dict[str, str], facts: tuple[int, ...]) -> Finding:
    said = "; ".join(f"{name} {why}" for name, why in sorted(changed.items())[:6])
    more = f"; and {len(changed) - 6} more" if len(changed) > 6 else ""
    return Finding(
        "proposals.stock-changed",
        "review",
        f"Stock changed since {batch} was proposed: {said}{more}.",
        subject=batch,
        batch=batch,
        facts=facts,
        remedy=f"The proposals stay as issued. vatting propose {batch} proposes anew; the swaps beside each proposal "
        "name replacements.",
    )


@stage(gives=PREDICTED)
def read_profiles(proposal_sets: pd.DataFrame) -> pd.DataFrame:
    """What each proposal should taste of, as issued."""
    rows = [
        {"id": item["id"], "batch": batch, "family": family, **{n: taste[n] for n in ("mean", "low", "high", "target")},
         "facts": facts}
        for batch, _, made, facts in _read(proposal_sets)
        for item in made["proposals"]
        for family, taste in item["profile"].items()
    ]  # fmt: skip
    return _build(PREDICTED, rows)


@stage(gives=RUNWAY)
def read_runway(proposal_sets: pd.DataFrame) -> pd.DataFrame:
    """How many batches like each brief the stock supports, as issued."""
    rows = [
        {"batch": batch, **row, "facts": facts}
        for batch, _, made, facts in _read(proposal_sets)
        for row in made["runway"]
    ]
    return _build(RUNWAY, rows)


@stage(gives=LINEAGE)
def trace_batches(
    proposals: pd.DataFrame,
    proposed_components: pd.DataFrame,
    proposed_profiles: pd.DataFrame,
    trials: pd.DataFrame,
    components: pd.DataFrame | None = None,
    profiles: pd.DataFrame | None = None,
) -> pd.DataFrame:
    """Drawn batches back to the proposal most like what was drawn, and forward to how they were rated."""
    if components is None or not len(proposals):
        return LINEAGE.empty()
    return _build(LINEAGE, trace(proposed_components, proposed_profiles, trials, components, profiles))
