"""The doctor on evidence: whether journal, book and outputs agree, the witness, and the last reading of originals."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from pipeline.common.heads import on_paper
from pipeline.doctor.check import BAD, LOOK, OK, Check, lasting
from pipeline.runs.rereading import in_words, state_of
from pipeline.runs.verifying import verify_outputs
from pipeline.site.house import House

SHOWN = 3
GRAVE = ("journal", "head", "original", "book")


def agreement(out: Path) -> list[Check]:
    """What ``vatting verify`` says, in short; originals are looked at by their sizes."""
    if not (out / "originals" / "journal.jsonl").exists():
        return []  # the look at the originals says so
    report = verify_outputs(out)
    checks = [Check("evidence", OK, remark) for remark in report.remarks]
    if not report.disagreements:
        said = f"Journal, originals, book and outputs agree; head {on_paper(report.head) or 'none yet'}."
        return [Check("evidence", OK, said), *checks]
    first = sorted(report.disagreements, key=lambda one: one.what not in GRAVE)
    state = BAD if first[0].what in GRAVE else LOOK
    more = f" And {len(first) - SHOWN} more." if len(first) > SHOWN else ""
    said = " ".join(map(str, first[:SHOWN])) + more
    remedy = "vatting verify lists all. Keep a copy of the outputs as they are before anything is mended."
    return [Check("evidence", state, said, remedy), *checks]


def reading(out: Path, house: House | None, now: datetime) -> list[Check]:
    """When all originals were last read whole, and what was found then."""
    if not (out / "originals" / "journal.jsonl").exists():
        return []
    state = state_of(out)
    changed = in_words(state)
    if changed:
        return [Check("rereading", BAD, changed)]
    if not state.get("full"):
        said = "The originals were not all read again yet since they were taken."
        return [Check("rereading", OK, said, "A watch reads them in turn; vatting verify --full reads them now.")]
    ago = (now - datetime.fromisoformat(state["full"])).total_seconds()
    days = house.site["watch.reread_days"] if house else 30.0
    said = f"All originals were last read whole {lasting(max(ago, 0.0))} ago."
    if ago > 2.0 * days * 86400.0:
        return [Check("rereading", LOOK, said, "Let a watch run, or run vatting verify --full.")]
    return [Check("rereading", OK, said)]
