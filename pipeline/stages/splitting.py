"""What a stage gave of the subjects that changed, joined to what stands of the others."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from pipeline.contract.findings import Finding, finding_as_data
from pipeline.contract.frames import FACTS, BrokenPromise, first_facts
from pipeline.contract.stages import Stage
from pipeline.kept.digests import Hasher, Hashes, as_ids
from pipeline.kept.frame_states import ROW, FrameState, made_state

if TYPE_CHECKING:
    import pandas as pd


def joined(
    stage: Stage,
    maker: str,
    fresh: FrameState,
    findings: list[Finding],
    subjects_of: Hashes,
    called_for: Hashes,
    before: FrameState | None,
    findings_before: list[Any],
    changed: Hashes | None,
) -> tuple[FrameState, list[Any]]:
    """The whole frame and all findings, each of these with its subject.

    ``fresh`` is what was given of the subjects ``called_for``, ``before`` what stood of all. Raises BrokenPromise
    where a row or finding is of none of them, or two rows of the whole frame share the key.
    """
    said = f"{maker} gives frame {stage.gives}"
    tie = ROW if stage.rows_of else stage.per
    own = fresh.ids(tie)
    if not np.isin(own, called_for).all():
        what = f"one of the rows of {stage.rows_of}" if stage.rows_of else f"any {stage.per} that it was called for"
        raise BrokenPromise(f"{said}: a row is not of {what}")
    if not np.isin(subjects_of, called_for).all():
        raise BrokenPromise(f"{said}: a finding is of none of the subjects that it was called for")
    told = [[int(subject), finding_as_data(f)] for subject, f in zip(subjects_of.tolist(), findings, strict=True)]
    if before is None or changed is None:
        return _ordered(stage, fresh.frame, fresh.hashes, fresh), _in_order(stage, told)
    gone = set(changed.tolist())
    told = [[subject, data] for subject, data in findings_before if subject not in gone] + told
    return _spliced(stage, said, fresh, before, changed), _in_order(stage, told)


def _spliced(stage: Stage, said: str, fresh: FrameState, before: FrameState, changed: Hashes) -> FrameState:
    import pandas as pd

    tie = ROW if stage.rows_of else stage.per
    stays = np.flatnonzero(~np.isin(before.ids(tie), changed))
    parts = [before.frame if len(stays) == len(before.frame) else before.frame.iloc[stays], fresh.frame]
    both = pd.concat([part for part in parts if len(part)] or parts, ignore_index=True)
    hashes = np.concatenate([before.hashes[stays], fresh.hashes])
    ids = np.concatenate([before.ids(tie)[stays], fresh.ids(tie)])
    made = _ordered(stage, both, hashes, before, ids)
    if stage.rows_of or stage.per not in fresh.declared.key:
        fresh.declared.check_key(made.frame, said)
    return made


def _ordered(
    stage: Stage, frame: pd.DataFrame, hashes: Hashes, like: FrameState, ids: Hashes | None = None
) -> FrameState:
    """The rows in the order that the engine keeps: of the rows treated, or of the subjects' names."""
    if stage.rows_of:
        order = np.argsort(first_facts(frame[FACTS]), kind="stable")
    else:
        order = np.argsort(frame[stage.per].fillna("").to_numpy(dtype=object).astype(str), kind="stable")
    in_place = np.array_equal(order, np.arange(len(order)))
    if not in_place:
        frame, hashes = frame.iloc[order].reset_index(drop=True), hashes[order]
    made = made_state(like.declared, like.hasher, like.ties, frame, hashes)
    if ids is not None:
        made.take_ids(ROW if stage.rows_of else stage.per, ids if in_place else ids[order])
    return made


def _in_order(stage: Stage, told: list[Any]) -> list[Any]:
    if stage.rows_of:
        return sorted(told, key=lambda pair: pair[0])
    return sorted(told, key=lambda pair: pair[1].get(stage.per) or pair[1].get("subject") or "")


def subjects_of_findings(
    stage: Stage, maker: str, findings: list[Finding], frames: dict[str, pd.DataFrame], hasher: Hasher
) -> Hashes:
    """The subject of each finding: its batch or what it is about, else that of a row which its first fact is in."""
    if stage.rows_of:
        for finding in findings:
            if not finding.facts:
                raise BrokenPromise(f"{maker}: finding {finding.code} does not rest first on one of the rows treated")
        return as_ids([finding.facts[0] for finding in findings])
    named = [finding.batch if stage.per == "batch" else finding.subject for finding in findings]
    ids = hasher.ids(named)
    known = {
        int(one)
        for frame in frames.values()
        if stage.per in frame.columns
        for one in np.unique(hasher.names(frame[stage.per])).tolist()
    }
    by_fact: dict[int, int] | None = None
    for place, one in enumerate(ids.tolist()):
        if one not in known:
            by_fact = by_fact if by_fact is not None else _subjects_by_fact(stage, frames, hasher)
            facts: tuple[int, ...] = findings[place].facts
            ids[place] = np.uint64(next((by_fact[fact] for fact in facts if fact in by_fact), 0))
    return ids


def _subjects_by_fact(stage: Stage, frames: dict[str, pd.DataFrame], hasher: Hasher) -> dict[int, int]:
    found: dict[int, int] = {}
    for frame in frames.values():
        if stage.per in frame.columns:
            ids: NDArray[Any] = hasher.names(frame[stage.per])
            for one, facts in zip(ids.tolist(), frame[FACTS], strict=True):
                for fact in facts:
                    found.setdefault(fact, one)
    return found
