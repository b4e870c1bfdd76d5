"""Many small batches judged at once: one run of the stages for a whole table of cases."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

import pandas as pd

from pipeline.testing import site_with
from plugins.blending.declared.frames import BALANCES, COMPONENTS
from plugins.blending.declared.kinds import BOTTLINGS, BRIEFS, CASKS
from plugins.blending.declared.kinds_movements import MOVEMENTS
from plugins.label_age import stages
from plugins.label_age.declared.kinds import FILL_CHECKS
from tests.label_age.kit import BOOK_DATE, cask, frame, line, malt, shipped


@dataclass(frozen=True)
class Case:
    """One batch and what the law says of it.

    ``kind`` is ``meets``, ``fails``, ``boundary`` or ``open``; ``given`` are words of ``given_as``. Names of
    casks and vessels are the case's own: C-1, C-2, … in the order of ``casks``. ``section`` is what the verdict
    rests on, as the rule or its need cites it.
    """

    rule: str
    kind: str
    verdict: str
    says: str
    claim: str = ""
    given: dict[str, Any] = field(default_factory=dict)
    section: str = ""

    @property
    def market(self) -> str:
        return self.rule.split(".")[0].upper()


def given_as(
    number: int,
    case: Case,
    kind: str = "bourbon",
    casks: Iterable[dict[str, Any]] = ({},),
    lines: Iterable[dict[str, Any]] = (),
    brief: dict[str, Any] | None = None,
    bottling: dict[str, Any] | None = None,
    movements: Iterable[dict[str, Any]] = (),
    fill: Iterable[dict[str, Any]] = (),
    stock: Iterable[dict[str, Any]] = (),
    **gauge: Any,
) -> dict[str, list[dict[str, Any]]]:
    """The rows of one case, by frame. ``stock`` are further rows of the inventory, with a cask's name."""
    base, batch = (cask if kind == "bourbon" else malt), f"B-{number:04d}"

    def own(name: str) -> str:
        return f"{number:04d}/{name}"

    held = [base(own(f"C-{place}"), **changes) for place, changes in enumerate(casks, start=1)]
    held += [base(own(row["cask"]), **{k: v for k, v in row.items() if k != "cask"}) for row in stock]
    drawn = [
        line(row["cask"], batch=batch, proof_gallons=20.0, lpa=37.8, volume_60F_gal=20.0)
        for row in held[: len(list(casks))]
    ]
    more = [
        line(
            **(
                {"batch": batch}
                | row
                | {"component": own(row["component"]) if row.get("kind") in ("vessel", "cask") else row["component"]}
            )
        )
        for row in lines
    ]
    filled = {row["cask"]: row.get("filled_on") for row in held}
    drawn = [{"filled_on": filled.get(row["component"]), **row} for row in [*drawn, *more]]
    asked = {
        "batch": batch,
        "market": case.market,
        "claims": case.claim,
        "bottle_size_L": 0.7,
        "due": "2026-03-15",
        "vessel": own("VAT"),
    }
    asked |= (
        {"bottling_abv": gauge.get("abv", 50.0)}
        if case.market != "US"
        else {"bottling_proof": gauge.get("proof", 100.0)}
    )
    run = {"batch": batch, "bottled_on": "2026-02-20", "bottle_size_L": 0.7, "bottles": 600, **(bottling or {})}
    entry = {
        "batch": batch,
        "entry": gauge.pop("entry", "gauged"),
        "proof_60F": gauge.pop("proof", 100.0),
        "abv_20C": gauge.pop("abv", 50.0),
    }
    drawn_proof = gauge.pop("drawn_proof", None)
    balances = [entry | gauge] if entry["proof_60F"] is not None else []
    balances += [{"batch": batch, "entry": "drawn", "proof_60F": drawn_proof}] if drawn_proof else []
    return {
        "casks": held,
        "components": drawn,
        "briefs": [asked | (brief or {})],
        "bottlings": [run] if bottling else [],
        "balances": balances,
        "movements": [{**row, "from": own(row["from"]), "to": own(row["to"])} for row in movements],
        "fill_checks": [
            {"batch": batch, "checked_at": "2026-02-20", "bottle_size_L": 0.7, "line": str(place), **row}
            for place, row in enumerate(fill)
        ],
    }


FRAMES = {
    "casks": (CASKS.frame(), 1_000_000),
    "components": (COMPONENTS, 2_000_000),
    "briefs": (BRIEFS.frame(), 3_000_000),
    "bottlings": (BOTTLINGS.frame(), 4_000_000),
    "balances": (BALANCES, 5_000_000),
    "movements": (MOVEMENTS.frame(), 6_000_000),
    "fill_checks": (FILL_CHECKS.frame(), 7_000_000),
}


def frames_of(cases: list[Case]) -> dict[str, pd.DataFrame]:
    """One set of frames for all cases."""
    rows: dict[str, list[dict[str, Any]]] = {name: [] for name in FRAMES}
    for number, case in enumerate(cases):
        for name, made in given_as(number, case, **dict(case.given)).items():
            rows[name].extend(made)
    return {name: frame(declared, rows[name], first) for name, (declared, first) in FRAMES.items()}


def run_stages(cases: list[Case], *wanted: Any) -> dict[str, pd.DataFrame]:
    """Frames of the cases and of the stages, held against their declarations; ``wanted`` are further stages."""
    made: dict[str, Any] = frames_of(cases)
    made["site"] = site_with(book_date=BOOK_DATE, data={"rules": shipped()})
    facts = {fact for name in FRAMES for ids in made[name]["facts"] for fact in ids}
    for stage in (stages.follow_stays, stages.age_of_components, stages.age_of_batches, stages.judge_labels, *wanted):
        found = stage(**{need.name: made[need.name] for need in stage.needs if need.name in made})
        table = found[0] if isinstance(found, tuple) else found
        made[stage.gives] = stage.frame.check(table, f"label_age.{stage.name}", facts)
    return made


def verdicts_of(cases: list[Case]) -> list[pd.Series]:
    """The row of ``labels`` for the claim of each case."""
    labels = run_stages(cases)["labels"].set_index(["batch", "claim"])
    return [labels.loc[(f"B-{number:04d}", case.claim)] for number, case in enumerate(cases)]
