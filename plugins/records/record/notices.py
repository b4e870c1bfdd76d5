"""What is told of a batch beside its status: verdicts that are not met, rulings, and what failed in the run."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from pipeline.book.rulings import HistoryLine
from pipeline.common.files import same_name
from pipeline.common.names import fold
from pipeline.contract.findings import Finding
from pipeline.sheets.rulings_sheet import RELEASES
from plugins.records.record import words
from plugins.records.record.concerns import NAMELESS, RECONCILED, RELEASED, RELEASED_AGAINST
from plugins.records.record.plain import natural, rows

if TYPE_CHECKING:
    import pandas as pd

Row = dict[str, Any]
WANTING = {"not met": "not met", "cannot tell": "that cannot be judged"}


def caveats(record: Row) -> list[tuple[str, str]]:
    """(verdict, sentence) of label claims that are not met or cannot be judged, where nothing open tells of them."""
    if record["status"] not in (RECONCILED, RELEASED, RELEASED_AGAINST):
        return []
    counted = Counter(claim["verdict"] for claim in record["label"])
    return [
        (verdict, f"{words.count(counted[verdict], 'label claim')} {in_words}")
        for verdict, in_words in WANTING.items()
        if counted[verdict]
    ]


def batches_of(records: Mapping[str, Row]) -> dict[str, list[str]]:
    """Finding id → the batches whose record carries it."""
    found: dict[str, list[str]] = {}
    for batch in sorted(records, key=natural):
        for finding in records[batch]["findings"]:
            found.setdefault(finding["id"], []).append(batch)
    return found


def held_by(finding: Finding, carried: Mapping[str, list[str]]) -> list[str]:
    """All batches that a finding concerns: those whose record carries it, and the one that it names."""
    names = list(carried.get(finding.id, ()))
    if finding.batch and fold(finding.batch) not in {fold(name) for name in names}:
        names.append(finding.batch)
    return sorted(names, key=natural)


def gauged_vessels(balances: pd.DataFrame | None) -> list[str]:
    """The vessels in which the batch was gauged."""
    return [row["vessel"] for row in rows(balances) if row.get("vessel")]


def rulings_of(record: Row, history: Iterable[HistoryLine], vessels: Iterable[str] = ()) -> list[Row]:
    """The rulings that concern a batch, in the order in which they came, releases apart.

    A ruling concerns it by its finding, if the record still carries that; else by its subject: the
    batch or one of its casks and vessels. A vat serves many batches: a ruling on one of ``vessels``
    (those that were gauged) counts where the record rests on the ruling's file.
    """
    ids = {found["id"] for found in record["findings"]} | {record["batch"]}
    named = {fold(part["component"]) for part in record["components"] if part["kind"] not in NAMELESS}
    ids, batch = {fold(name) for name in ids}, fold(record["batch"])
    files = {same_name(source["file"]) for source in record["sources"]}
    vats = {fold(vessel) for vessel in vessels}
    made = []
    for line in history:
        if line.ruling.ruling in RELEASES and not line.state.startswith("refused"):
            continue  # these stand in the record's releases
        subject = fold(line.subject)
        own = batch in {subject, *map(fold, line.batches)} or subject in named or subject.startswith(f"{batch} · ")
        if own or fold(line.finding) in ids or (subject in vats and same_name(line.file) in files):
            made.append(ruling_data(line, record["batch"]))
    return made


def ruling_data(line: HistoryLine, batch: str) -> Row:
    ruled = line.ruling
    return {
        "finding": line.finding,
        "code": line.code,
        "subject": line.subject,
        "of": words.of(line.subject, batch, ""),
        "message": line.message,
        "ruling": ruled.ruling,
        "column": line.column,
        "original": line.original,
        "corrected_value": ruled.corrected_value,
        "place": line.place,
        "reason": ruled.reason,
        "by": ruled.by,
        "how": line.how,
        "ruled_on": ruled.ruled_on,
        "taken_at": ruled.taken_at,
        "evidence": line.evidence,
        "state": line.state,
        "file": line.file,
    }


def troubles(run: Any) -> list[str]:
    """What this run left out or could not work out, in sentences: plugins, stages, files, and what hangs on them."""
    left_out: dict[str, list[str]] = {}
    for frame, root in sorted(run.missing.items()):
        if frame != root:
            left_out.setdefault(root, []).append(words.spoken(frame))
    return [
        *run.problems,
        *(
            f"Because {words.spoken(root)} could not be worked out, these were left out: {words.listing(frames)}."
            for root, frames in sorted(left_out.items())
        ),
    ]


def judged_on(record: Row, run: Any) -> Any:
    """The book date, where a batch that is not bottled is judged on it; None for one that has a bottling date."""
    return None if record["balance"]["bottled"] else run.book_date
