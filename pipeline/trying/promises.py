"""What one stage of a plugin and its findings promise, tried on the frames of a run, with what was seen of each."""

from __future__ import annotations

import re
import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from pipeline.contract.findings import Finding
from pipeline.contract.frames import FACTS
from pipeline.contract.stages import Stage
from pipeline.trying.calls import call_stage, split_differs

if TYPE_CHECKING:
    import pandas as pd

MOST_WORDS = 25
SECONDS_A_ROW = 0.005
SECONDS_AT_ONCE = 0.1  # however few rows there are
SENTENCE = re.compile(r"(?<=[.!?])\s")


@dataclass(frozen=True)
class Promise:
    """One promise: what it is of, what it is, whether it was kept, and what was seen."""

    of: str
    promise: str
    kept: bool
    said: str


def of_stage(stage: Stage, frames: Mapping[str, pd.DataFrame], site: Any) -> Iterator[Promise]:
    """What a stage and its findings keep. ``frames`` as a run gave them to it."""
    given = {need.name: frames[need.name] for need in stage.needs if need.name in frames}
    said = f"stage {stage.name}"
    first, told = call_stage(stage, given, site)
    taken = min(_timed(stage, given, site) for _ in range(2))
    again, told_again = call_stage(stage, given, site)
    same = first.equals(again) and told == told_again
    yield Promise(
        said, "pure", same, "the same when it is called again" if same else "it gives something else when called again"
    )
    if stage.per:
        parts = split_differs(stage, given, site)
        yield Promise(said, "split", not parts, "; ".join(parts[:2]) or f"the same for each by itself ({stage.per})")
    if same:
        yield _order(stage, given, site, first, told)
    changed = _changed(stage, given, site)
    yield Promise(said, "inputs", not changed, changed or "no frame that it was given was changed")
    rows = sum(len(frame) for frame in given.values())
    quick = taken <= SECONDS_AT_ONCE or taken / max(rows, 1) <= SECONDS_A_ROW
    a_row = f"{1000 * taken / max(rows, 1):.2g} ms a row ({rows} rows given)"
    yield Promise(
        said, "time", quick, a_row if quick else f"{a_row}; at most {1000 * SECONDS_A_ROW:g} ms: work by column"
    )
    yield from of_findings(told)
    if not told:
        yield Promise(said, "messages", True, "no sample makes it say anything, so no message was looked at")


def _timed(stage: Stage, given: Mapping[str, pd.DataFrame], site: Any) -> float:
    began = time.perf_counter()
    call_stage(stage, given, site)
    return time.perf_counter() - began


def _order(
    stage: Stage, given: Mapping[str, pd.DataFrame], site: Any, first: pd.DataFrame, told: list[Finding]
) -> Promise:
    """Whether rows in another order give the same rows and findings, in whatever order."""
    said = f"stage {stage.name}"
    for seed in range(3):
        random = np.random.default_rng(seed)
        shuffled = {
            name: frame.iloc[random.permutation(len(frame))].reset_index(drop=True) for name, frame in given.items()
        }
        made, findings = call_stage(stage, shuffled, site)
        columns = _unlike(stage, first, made)
        if columns:
            return Promise(
                said, "order", False, f"rows in another order change {', '.join(columns)}; sort by the key first"
            )
        if _as_told(findings) != _as_told(told):
            return Promise(said, "order", False, "rows in another order change its findings")
    return Promise(said, "order", True, "the same rows and findings whatever order rows come in")


def _unlike(stage: Stage, first: pd.DataFrame, other: pd.DataFrame) -> list[str]:
    assert stage.frame is not None
    if len(first) != len(other):
        return [f"how many rows there are ({len(first)} or {len(other)})"]
    one, two = (_lying(frame, list(stage.frame.key)) for frame in (first, other))
    return [str(name) for name in one.columns if not one[name].equals(two[name])]


def _lying(frame: pd.DataFrame, key: list[str]) -> pd.DataFrame:
    facts = frame[FACTS].map(lambda ids: tuple(sorted(ids)))
    laid = frame.assign(**{FACTS: facts})
    return laid.sort_values(key, ignore_index=True) if key else laid


def _as_told(findings: list[Finding]) -> list[str]:
    return sorted(
        repr((f.code, f.severity, f.subject, f.batch, f.message, f.column, sorted(f.facts))) for f in findings
    )


def _changed(stage: Stage, given: Mapping[str, pd.DataFrame], site: Any) -> str:
    """What of its inputs the stage changed, in words. It is given copies that it may write to."""
    lent = {name: frame.copy(deep=True) for name, frame in given.items()}
    more = {"site": site} if any(need.name == "site" for need in stage.needs) else {}
    stage.function(**lent, **more)
    for name, frame in lent.items():
        if list(frame.columns) != list(given[name].columns):
            return f"it changes the columns of {name}; work on a copy: {name}.assign(…)"
        if not frame.equals(given[name]):
            return f"it changes {name}; work on a copy: {name}.assign(…)"
    return ""


def of_findings(findings: list[Finding]) -> Iterator[Promise]:
    """Whether each finding says in few words what is wrong, of what, and what to do. One of each code is enough."""
    for code, found in {finding.code: finding for finding in reversed(findings)}.items():
        said = f"finding {code}"
        words = len(SENTENCE.split(found.message, 1)[0].split())
        yield Promise(said, "short", words <= MOST_WORDS, f"{words} words in the first sentence; at most {MOST_WORDS}")
        lacks = [name for name in ("subject", "remedy", "facts") if not getattr(found, name)]
        lacks += [] if found.message.endswith((".", "!", "?")) else ["a full stop"]
        yield Promise(
            said,
            "complete",
            not lacks,
            f"it lacks {', '.join(lacks)}" if lacks else "subject, remedy and facts are there",
        )
