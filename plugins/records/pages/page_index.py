"""What index.html shows: what waits for you, the batches, the files, and where the rest lies."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from pipeline.common.file_names import safe_name, short_name
from pipeline.common.files import same_name
from pipeline.common.names import fold
from pipeline.contract.findings import Finding
from plugins.records.pages.page_record import gauge, strength_metric, strength_us
from plugins.records.pages.pictures import small_account
from plugins.records.record import words
from plugins.records.record.causes import explained
from plugins.records.record.concerns import RECONCILED, RELEASED_AGAINST, STATUSES, in_order
from plugins.records.record.notices import batches_of, caveats, held_by, troubles
from plugins.records.record.plain import natural, rows
from plugins.records.record.reasons import why
from plugins.records.record.steps import before_drawing

if TYPE_CHECKING:
    import pandas as pd

Row = dict[str, Any]
LAPSED, RETURNED = "record.release-lapsed", "file.returned"
MOST_FINDINGS = 25
MOST_FILES = 40
MOST_RELEASES = 40
MOST_PICTURES = 300
LINKS = (
    ("exceptions/open.xlsx", "the review workbook: fill in ruling, reason and by, and save it to the inbox"),
    ("exceptions/open.csv", "the open findings as a plain table"),
    ("exceptions/history.csv", "every ruling, and how it stands now"),
)


def view(
    records: Mapping[str, Row],
    findings: Iterable[Finding],
    briefs: pd.DataFrame | None,
    site: Any,
    run: Any,
    choices: Mapping[str, pd.DataFrame | None] | None = None,
) -> Row:
    """Everything that the template of the first page needs; ``records``: batch → record.

    ``choices``: the frames ``trials`` and ``proposals``.
    """
    findings = list(findings)
    waiting = [finding for finding in in_order(findings) if finding.severity != "note" and finding.is_open]
    waiting.sort(key=lambda finding: finding.code != LAPSED)  # what counts as released and is not comes first
    causes = explained(findings, records, site)
    shown = as_cards(waiting, causes)
    by_id = {finding.id: finding for finding in waiting}
    counted = Counter(finding.severity for finding in waiting)
    carried = batches_of(records)
    problems, dropped = troubles(run), files(run.files)
    refused = [found for found in findings if found.code.startswith("ruling.") and found.severity == "note"]
    links = [(quote(path, safe="/"), words) for path, words in run.links]
    drawn = "components" not in run.missing
    release = [name for name in sorted(records, key=natural) if records[name]["status"] == RECONCILED]
    return {
        "house": site.house,
        "head": run.head,
        "book_date": run.book_date,
        "problems": problems,
        "settings_notes": list(run.notes),
        "counts": counted,
        "notes": sum(finding.severity == "note" and finding.is_open for finding in findings),
        "needs": [
            finding_view(finding, records, held_by(finding, carried))
            | {"folded": [by_id[name] for name in causes.get(finding.id, ())]}
            for finding in shown[:MOST_FINDINGS]
        ],
        "more": max(len(shown) - MOST_FINDINGS, 0),
        "against": [
            {"batch": name, "href": record_link(name), "why": why(records[name])}
            for name in sorted(records, key=natural)
            if records[name]["status"] == RELEASED_AGAINST
        ],
        "refused": [{"message": found.message, "remedy": found.remedy, "place": str(found.place)} for found in refused],
        "release": [{"batch": name, "href": record_link(name)} for name in release[:MOST_RELEASES]],
        "releases": len(release),
        "batches": batches(records, site),
        "standing": [(status, sum(record["status"] == status for record in records.values())) for status in STATUSES],
        "briefs": undrawn(briefs, records, choices or {}) if drawn else [],
        "drawn": drawn,
        **dropped,
        "loosened": run.loosened,
        "calm": not (waiting or release or problems or dropped["returned"] or refused),
        "links": [*LINKS, *links, ("originals/", "every file taken, byte for byte: back this up")],
    }


def as_cards(waiting: list[Finding], causes: Mapping[str, list[str]]) -> list[Finding]:
    """The findings of which each has a line: one that explains others stands where the first of these would.

    A file that came back has its own line elsewhere.
    """
    cause_of = {name: cause for cause, names in causes.items() for name in names}
    by_id = {finding.id: finding for finding in waiting}
    cards = dict.fromkeys(cause_of.get(finding.id, finding.id) for finding in waiting if finding.code != RETURNED)
    return [by_id[name] for name in cards]


def file_name(batch: str) -> str:
    """A batch's folder as a link names it."""
    return quote(safe_name(batch), safe="")


def record_link(batch: str) -> str:
    return f"batches/{file_name(batch)}/record.html"


def finding_view(finding: Finding, records: Mapping[str, Row], held: list[str]) -> Row:
    return {
        "id": finding.id,
        "code": finding.code,
        "severity": finding.severity,
        "of": words.of(finding.subject, finding.batch or ", ".join(held), finding.place.file),
        "batches": [{"name": name, "href": record_link(name) if name in records else ""} for name in held],
        "message": finding.message,
        "place": str(finding.place),
        "remedy": finding.remedy,
    }


def batches(records: Mapping[str, Row], site: Any) -> list[Row]:
    """The batches, those released against a verdict first, then those that are held, then by name."""
    order = sorted(records, key=lambda name: (STATUSES.index(records[name]["status"]), natural(name)))
    return [batch_view(records[name], site, place < MOST_PICTURES) for place, name in enumerate(order)]


def batch_view(record: Row, site: Any, drawn: bool) -> Row:
    units = words.units_first(record["market"] or ",".join(site.markets))
    name, found = gauge(record)
    figures: list[tuple[str, str]] = []
    if found is not None:
        strength = (f"{strength_us(found)[0]} proof", f"{strength_metric(found)[0]} % vol")
        alcohol = (f"{words.number(found['proof_gallons'], 1)} proof gallons", f"{words.number(found['lpa'], 1)} LPA")
        figures = [strength, alcohol] if units == "US" else [strength[::-1], alcohol[::-1]]
    age = record["age"]
    return {
        "batch": record["batch"],
        "href": record_link(record["batch"]),
        "product": record["product"],
        "market": record["market"],
        "status": record["status"],
        "why": why(record),
        "step": record["step"],
        "next": record["next"][:1],
        "caveats": caveats(record),
        "figures": figures,
        "entry": name,
        "age": words.short_age(age["years"], age["months"], age["days"]),
        "verdicts": [
            (verdict, sum(claim["verdict"] == verdict for claim in record["label"]))
            for verdict in words.LABEL_ORDER
            if any(claim["verdict"] == verdict for claim in record["label"])
        ],
        "picture": glance(record) if drawn else "",
    }


def glance(record: Row) -> Any:
    """Proof gallons drawn, gauged and bottled."""
    made = []
    for name in ("drawn", "gauged", "bottled"):
        entry = record["balance"][name]
        made.append((f"entry {name}", (entry or {}).get("proof_gallons") or 0.0))
    return small_account(made)


def undrawn(
    briefs: pd.DataFrame | None, records: Mapping[str, Row], choices: Mapping[str, pd.DataFrame | None]
) -> list[Row]:
    """Briefs of which nothing was drawn yet, each with its step and what is next."""
    known = {fold(name) for name in records}
    trials, issued = (chosen_among(choices.get(name), name[:-1]) for name in ("trials", "proposals"))
    found = [
        row | before_drawing(len(trials.get(fold(row["batch"]), ())), len(issued.get(fold(row["batch"]), ())))
        for row in rows(briefs)
        if fold(row["batch"]) not in known
    ]
    return sorted(found, key=lambda row: (row.get("due") or "9999", natural(row["batch"])))


def chosen_among(frame: pd.DataFrame | None, name: str) -> dict[str, set[str]]:
    """Folded batch → names of its trials, or of the proposals of its last issue."""
    found: dict[str, set[str]] = {}
    told = [row for row in rows(frame) if row.get("batch")]
    last = {row["batch"]: row["issue"] for row in sorted(told, key=lambda row: row.get("issue") or 0) if "issue" in row}
    for row in told:
        if row.get("issue") == last.get(row["batch"]):
            found.setdefault(fold(row["batch"]), set()).add(row["id" if name == "proposal" else name])
    return found


def files(dropped: Iterable[Any]) -> Row:
    """Files taken, files returned and not settled, and returned ones that were mended since; the latest first."""
    numbered = sorted(dropped, key=lambda file: -file.number)
    by_number = {file.number: file for file in numbered}
    kept = [file for file in numbered if file.outcome != "returned"]
    returned = [file for file in numbered if file.outcome == "returned" and not file.settled]
    once: dict[int, tuple[Any, Any]] = {}
    for file in numbered:
        settling = file
        while settling.settled in by_number and settling.outcome == "returned":
            settling = by_number[settling.settled]
        if file.outcome == "returned" and settling.outcome != "returned":
            once.setdefault(settling.number, (file, settling))
    return {
        "returned": [returned_view(file) for file in returned[:MOST_FILES]],
        "more_returned": max(len(returned) - MOST_FILES, 0),
        "mended": [
            {"name": file.name, "reason": file.reason, "taken_at": settling.taken_at, "by": settling.name}
            for file, settling in list(once.values())[:MOST_FILES]
        ],
        "more_mended": max(len(once) - MOST_FILES, 0),
        "taken": kept[:MOST_FILES],
        "more_taken": max(len(kept) - MOST_FILES, 0),
        "counted_files": counted_files(kept, len(returned), len(once)),
    }


def counted_files(kept: list[Any], returned: int, mended: int) -> list[str]:
    """How many files were taken, by name, rulings apart; taken anew, returned unread and mended since."""
    rulings = [file for file in kept if file.kinds == "rulings"]
    sheets = [file for file in kept if file.kinds != "rulings"]
    again = len(sheets) - len({same_name(file.name) for file in sheets})
    said = [f"{words.count(len(sheets) - again, 'file')} taken"]
    if again:
        said.append(f"{'once' if again == 1 else f'{again} times'} anew under the same name")
    if rulings:
        said.append(f"rulings taken {'once' if len(rulings) == 1 else f'{len(rulings)} times'}")
    said.append(f"{returned} returned unread")
    if mended:
        said.append(f"{mended} mended since")
    return said


def returned_view(file: Any) -> Row:
    """One line of a file that came back: why, and where the copy to mend lies, if there is one."""
    return {
        "name": file.name,
        "why": f"returned/{quote(short_name(file.name), safe='')}.why.txt",
        "copy": f"returned/{quote(file.copy, safe='')}" if file.copy else "",
        "copy_name": file.copy,
        "reason": " ".join(part for part in (file.reason, file.remedy) if part),
    }
