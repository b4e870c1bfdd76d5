"""Rulings: what reviewers send back through the inbox, and what follows from it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

from pipeline.book.book import Book
from pipeline.book.facts import Ruled
from pipeline.book.sources import Sources
from pipeline.contract.findings import Finding, Place, Ruling
from pipeline.contract.kinds import SheetColumn, SheetKind
from pipeline.sheets.cells import Context, Stated, type_column
from pipeline.sheets.dates import wall_clock_as_utc
from pipeline.sheets.keys import natural_keys
from pipeline.sheets.readers import address
from pipeline.sheets.rows import SheetRows
from pipeline.site.settings_file import Site

SHOWN = (
    *("severity", "code", "subject", "batch", "message", "observed", "expected"),
    *("file", "sheet", "cell", "rule", "remedy"),
)
RULINGS = SheetKind(
    "rulings",
    key=("finding", "ruled_on"),
    meaning="what a reviewer ruled on a finding, or a release",
    looks_like="a review workbook",
    day_of_taking=("ruled_on",),
    columns=(
        *(SheetColumn(name, meaning="as the review workbook shows it; not read back") for name in SHOWN),
        SheetColumn(
            "finding",
            "name",
            required=True,
            words="finding id; id; exception; finding no; batch to release; case",
            meaning="id of the finding, or the batch to release",
            example="F-ABCDEFGHIJ",
        ),
        SheetColumn(
            "ruling",
            "choice",
            choices=(
                ("accept", ("accepted", "stands", "ok")),
                ("correct", ("corrected", "correction")),
                ("void", ("voided", "withdraw", "leave out")),
                ("release", ("released", "sign out")),
            ),
            words="decision; disposition; ruled; verdict; outcome; ruling made",
        ),
        SheetColumn("corrected_value", "text", words="correct value; value; right value; corrected to; new value"),
        SheetColumn("evidence", "text", words="proof of it; reference; document; basis; supporting record"),
        SheetColumn("reason", "text", words="why; because; explanation; grounds; justification; comment"),
        SheetColumn("by", "name", words="ruled by; reviewer; signed; signed by; name; initials"),
        SheetColumn("ruled_on", "date", past=True, words="date; on; date of ruling; signed on; when"),
    ),
)


@dataclass(frozen=True)
class HistoryLine:
    """One ruling as it stands: for history.csv."""

    finding: str
    code: str
    subject: str
    message: str
    ruling: Ruling
    evidence: str
    state: str
    file: str


@dataclass
class Standing:
    """All rulings of the book, as they bear on facts and findings."""

    ruled: Ruled
    by_finding: dict[str, tuple[int, dict[str, Any]]] = field(default_factory=dict)
    everything: list[tuple[int, dict[str, Any]]] = field(default_factory=list)


def drop_blank_rulings(rows: SheetRows) -> SheetRows:
    """A row whose ruling is empty is no row: reviewers send whole workbooks back."""
    stated = rows.values.get("ruling", [None] * len(rows.rows))
    filled = [value is not None or withdrawn for value, withdrawn in zip(stated, rows.void, strict=True)]
    values = {name: [v for v, keep in zip(listed, filled, strict=True) if keep] for name, listed in rows.values.items()}
    kept = [row for row, keep in zip(rows.rows, filled, strict=True) if keep]
    void = [mark for mark, keep in zip(rows.void, filled, strict=True) if keep]
    return replace(rows, values=values, rows=kept, void=void)


def resolve(
    rows: SheetRows, book: Book, site: Site, context: Context, file: str
) -> tuple[list[dict[str, Any]], list[Finding]]:
    """What each ruling of a sheet speaks of, for the journal; findings on those that cannot be applied."""
    made: list[dict[str, Any]] = []
    findings: list[Finding] = []
    passed_over = _repeated(rows)
    for position, row in enumerate(rows.rows):
        if position in passed_over:
            continue
        ruling = {n: v[position] for n, v in rows.values.items()}
        if rows.void[position]:
            ruling["ruling"] = "withdrawn"
        try:
            made.append(_resolve_one(ruling, rows, row, book, site, context))
        except ValueError as error:
            code, _, message = str(error).partition("|")
            place = Place(file, rows.sheet, address(row - 1, rows.columns["finding"]["index"]))
            remedy = "Mend the row and save the sheet to the inbox again."
            findings.append(Finding(code, "review", message, subject=file, place=place, remedy=remedy))
            made.append({**_as_signed(ruling, rows, row), "refused": message})
    return made, findings


def _repeated(rows: SheetRows) -> set[int]:
    """Positions that do not count: of equal rulings all but the first, of unequal ones with one key all."""
    by_key: dict[str, list[int]] = {}
    for position, key in enumerate(natural_keys(rows.kind, rows.values, len(rows.rows))):
        by_key.setdefault(key, []).append(position)
    passed_over: set[int] = set()
    for positions in by_key.values():
        said = {(rows.void[at], *(str(listed[at]) for listed in rows.values.values())) for at in positions}
        passed_over.update(positions[1:] if len(said) == 1 else positions)
    return passed_over


def _resolve_one(
    ruling: dict[str, Any], rows: SheetRows, row: int, book: Book, site: Site, context: Context
) -> dict[str, Any]:
    name = str(ruling["finding"])
    withdrawn = ruling["ruling"] == "withdrawn"
    for needed in ("reason", "by"):
        if not ruling.get(needed) and not withdrawn:
            raise ValueError(f"ruling.incomplete|Row {row} rules on {name} without {needed}; it was not applied.")
    allowed = site["rulings.by"]
    if allowed and str(ruling.get("by")).casefold() not in {person.casefold() for person in allowed}:
        raise ValueError(
            f"ruling.not-entitled|Row {row}: {ruling['by']} may not rule; site.toml names {', '.join(allowed)}."
        )
    made = _as_signed(ruling, rows, row)
    if ruling["ruling"] == "release":
        _check_release(name, row, book)
    if ruling["ruling"] == "release" or withdrawn:
        return made
    about = book.known_finding(name)
    if about is None:
        raise ValueError(f"ruling.unknown-finding|Row {row} rules on {name}, which is no finding of this book.")
    made["finding"] = name.upper()
    made.update({key: about[key] for key in ("code", "subject", "message", "kind", "column", "spots")})
    if ruling["ruling"] in ("void", "correct") and not about["spots"]:
        raise ValueError(
            f"ruling.nothing-to-change|Row {row}: {name} rests on no row that was taken; drop a mended file instead."
        )
    if ruling["ruling"] == "correct":
        made["set"] = _corrected(made, row, book, context)
    return made


def _check_release(name: str, row: int, book: Book) -> None:
    status = book.status(name)
    if status is None:
        raise ValueError(f"ruling.unknown-batch|Row {row} releases {name}, which is no batch with a record.")
    if status not in ("reconciled", "released"):
        raise ValueError(
            f"ruling.not-reconciled|Row {row} releases {name}, which is {status}; only a reconciled batch can be "
            "released. Release it again when it is."
        )


def _as_signed(ruling: dict[str, Any], rows: SheetRows, row: int) -> dict[str, Any]:
    """A ruling as its row states it, with the cell of its corrected value."""
    index = rows.columns.get("corrected_value", rows.columns["finding"])["index"]
    return {
        "finding": str(ruling["finding"]),
        "ruling": ruling["ruling"],
        **{name: ruling.get(name) or "" for name in ("corrected_value", "evidence", "reason", "by")},
        "ruled_on": ruling["ruled_on"],
        "sheet": rows.sheet,
        "cell": address(row - 1, index),
    }


def _corrected(made: dict[str, Any], row: int, book: Book, context: Context) -> dict[str, Any]:
    kind = book.kinds[made["kind"]]
    names = [column.name for column in kind.columns]
    if made["column"] not in names:
        raise ValueError(
            f"ruling.nothing-to-change|Row {row}: {made['finding']} speaks of no single figure; "
            "drop a corrected file instead."
        )
    if not made["corrected_value"]:
        raise ValueError(f"ruling.incomplete|Row {row} corrects {made['finding']} without a corrected_value.")
    column = kind.column(made["column"])
    fact = book.fact_at(*made["spots"][0])
    unit = book.unit_of(kind, fact, column) if fact is not None else ""
    default = context.units.find(column.quantity, unit) if unit else None
    typed = type_column(column, [made["corrected_value"]], context, Stated(default=default))
    if typed.faults:
        raise ValueError(
            f"ruling.value-not-usable|Row {row}: the corrected value {made['corrected_value']!r} {typed.faults[0]}."
        )
    value = typed.values[0]
    changed = {column.frame_column: float(value) if column.type in ("number", "count") else value}
    if column.type == "moment":
        changed[f"{column.name}_timed"] = None if value is None else len(value) > 10
        changed[f"{column.name}_utc"] = wall_clock_as_utc([value], context.site.timezone)[0]
    if typed.units:
        changed[f"{column.name}_unit"] = typed.units[0]
    return changed


def standing(book: Book) -> Standing:
    """The rulings in force: the last one on each finding."""
    last: dict[str, tuple[int, dict[str, Any]]] = {}
    everything = book.rulings()
    for number, about in everything:
        if "refused" not in about:
            last[about["finding"].casefold()] = (number, about)
    accepted: set[int] = set()
    in_force = {id(about) for _, about in last.values()}
    undone = {a["made"] for _, a in everything if id(a) not in in_force and a.get("made") is not None}
    left_out = set(undone)
    copied_from = {a["made"]: a["facts"][0] for _, a in everything if a.get("made") is not None}
    for _, about in last.values():
        facts = [fact for fact in about.get("facts", []) if fact is not None][:1]
        if about["ruling"] in ("void", "correct"):
            stated = [earlier for fact in facts for earlier in _back(fact, copied_from)]
            left_out.update(stated)
            if about["ruling"] == "void":  # whatever other rulings made of the row
                left_out.update(made for made in copied_from if set(stated) & set(_back(made, copied_from)))
        elif about["ruling"] == "accept" and about.get("code") == "sheet.key-disputed":
            accepted.update(facts)
    return Standing(Ruled(frozenset(left_out), frozenset(accepted), frozenset(undone)), last, everything)


def _back(fact: int, copied_from: dict[int, int]) -> list[int]:
    """A fact and those that it was corrected from, back to the row as first stated."""
    return [fact, *(_back(copied_from[fact], copied_from) if fact in copied_from else ())]


def close_ruled(findings: list[Finding], rulings: Standing, sources: Sources) -> list[Finding]:
    """Close the findings that were ruled on, unless a fact they rest on came later."""
    made = []
    for finding in findings:
        number, about = rulings.by_finding.get(finding.id.casefold(), (0, {}))
        if about and about["ruling"] not in ("release", "withdrawn") and sources.newest(finding.facts) <= number:
            finding = replace(finding, ruling=as_ruling(number, about))
        made.append(finding)
    return made


def as_ruling(number: int, about: dict[str, Any]) -> Ruling:
    return Ruling(
        about["ruling"], about["reason"], about["by"], str(about["ruled_on"]), str(about["corrected_value"]), number
    )


def releases(rulings: Standing) -> dict[str, Ruling]:
    """Batch (case-folded) → its signed release."""
    return {
        name: as_ruling(number, about)
        for name, (number, about) in rulings.by_finding.items()
        if about["ruling"] == "release"
    }


def history(rulings: Standing, findings: list[Finding], sources: Sources) -> list[HistoryLine]:
    """Every ruling ever taken, in order, with how it stands now."""
    by_id = {finding.id: finding for finding in findings}
    lines = []
    for number, about in rulings.everything:
        state = "in force"
        last = rulings.by_finding.get(about["finding"].casefold(), (0, about))[1]
        if "refused" in about:
            state = f"refused: {about['refused']}"
        elif last is not about:
            state = "withdrawn" if last["ruling"] == "withdrawn" else "superseded by a later ruling"
        elif any(fact is not None and sources.restated(fact, number) for fact in about.get("facts", [])):
            state = "lapsed: a fact it rests on came later"
        elif (
            about["finding"] in by_id
            and by_id[about["finding"]].ruling is None
            and about["ruling"]
            not in (
                "release",
                "withdrawn",
            )
        ):
            state = "lapsed: a fact it rests on came later"
        lines.append(
            HistoryLine(
                about["finding"],
                about.get("code", "release" if about["ruling"] == "release" else ""),
                about.get("subject", about["finding"]),
                about.get("message", ""),
                as_ruling(number, about),
                about["evidence"],
                state,
                sources.file(number)["name"],
            )
        )
    return lines
