"""batches/BATCH/record.xlsx: the record as sheets. Figures are unrounded; the cell's format rounds what is shown."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from openpyxl.utils import get_column_letter

from pipeline.common.codes import in_groups
from pipeline.common.heads import on_paper
from pipeline.writing.workbooks import Book, reckoned
from plugins.records.record import words
from plugins.records.record.claims import read
from plugins.records.record.notices import caveats, judged_on, troubles
from plugins.records.record.plain import rows
from plugins.records.record.reasons import why
from plugins.records.record.record import draw, poured
from plugins.records.workbooks import cells
from plugins.records.workbooks.account_sheet import account
from plugins.records.workbooks.bottling_sheet import bottlings
from plugins.records.workbooks.cells import Head
from plugins.records.workbooks.reconciled_sheet import reconciled_sheet

if TYPE_CHECKING:
    import pandas as pd

Row = dict[str, Any]
STATUS_FILLS = {
    "held": "stop",
    "in review": "review",
    "reconciled": "good",
    "released": "good",
    "released against the verdict": "stop",
}
CAUTION = "Control record; figures of record are the signed gauges. Not a return, and not accepted by any authority."
VAPOUR = "Spirit of this strength gives off vapour that ignites at room temperature; the site’s fire rules come first."
NO_ADVICE = "No legal advice and no label approval: a person signs. Unverified rules must be checked against the law."

PARTS = (
    Head("Component", 16),
    Head("Kind", 10),
    Head("Filling", 16),
    Head("Filled on", 11, "date"),
    Head("Drawn at", 16, "moment"),
    Head("Line", 7),
    Head("Proof at 60 °F", 10, "proof"),
    Head("Strength is", 10),
    Head("Apparent proof", 10, "proof"),
    Head("% vol at 20 °C", 10, "strength"),
    Head("Wine gallons at 60 °F", 11, "tenth"),
    Head("Litres at 20 °C", 11, "tenth"),
    Head("Proof gallons", 10, "tenth"),
    Head("LPA", 10, "tenth"),
    Head("Mass kg", 10, "tenth"),
    Head("Planned wine gallons", 11, "tenth"),
    Head("Age, years", 7, "count"),
    Head("months", 8, "count"),
    Head("days", 6, "count"),
    Head("How measured", 20),
    Head("Strength from", 28),
    Head("Put right", 44),
    Head("Alcohol kg", 10, "tenth"),
)
CLAIMS = (
    Head("Claim", 22),
    Head("Market", 9),
    Head("Verdict", 12),
    Head("Reason", 62),
    Head("Rule", 26),
    Head("Unverified", 12),
)
GROUNDS = (
    Head("Claim", 20),
    Head("Market", 9),
    Head("Ground", 15),
    Head("Holds", 11),
    Head("In words", 48),
    Head("Section", 22),
    Head("On the sheets", 42),
    Head("Casks or lines", 9, "count"),
    Head("Read on", 11, "date"),
)
FOUND = (
    Head("Finding", 16),
    Head("Severity", 10),
    Head("Message", 42),
    Head("Observed", 15),
    Head("Expected", 15),
    Head("Subject", 12),
    Head("Place", 20),
    Head("Rule", 17),
    Head("Remedy", 30),
    Head("Ruling", 24),
    Head("Code", 20),
)
# no words by which a sheet of rulings is known: this one is not to be taken for one
RULED = (
    Head("About", 16),
    Head("Subject", 16),
    Head("Message", 44),
    Head("Ruled", 11),
    Head("As first stated", 14),
    Head("Where", 22),
    Head("Value put in", 12),
    Head("Stated reason", 34),
    Head("Person", 14),
    Head("Day", 12, "date"),
    Head("Taken", 18),
    Head("Proof given", 18),
    Head("Stands", 18),
    Head("From", 22),
    Head("Topic", 22),
)
OUT = (
    Head("Version signed", 34),
    Head("What was signed", 44),
    Head("Person", 16),
    Head("Day", 12, "date"),
    Head("Taken", 18),
    Head("Stated reason", 34),
    Head("Persons", 18),
    Head("Law contested", 18),
    Head("Document", 44),
    Head("Stands", 24),
)
SUMMED = {"proof_gallons": 13, "lpa": 14, "mass_kg": 15, "ethanol_kg": 23}
"""Columns of Components that may be added up; volumes contract."""
SOURCES = (Head("File", 36), Head("Sheet", 18), Head("Rows", 40), Head("SHA-256", 68))


def book(record: Row, frames: dict[str, pd.DataFrame | None], site: Any, run: Any) -> bytes:
    """The workbook of one batch; ``frames``: its components, component_ages, labels and grounds."""
    made = Book(cells.PAPER)
    summary(made, record, site, run)
    parts(made, record, frames.get("components"), frames.get("component_ages"))
    account(made, record)
    bottlings(made, record)
    reconciled_sheet(made, record)
    label(made, read(record["label"], frames.get("labels"), frames.get("grounds")))
    findings(made, record)
    rulings(made, record["rulings"])
    releases(made, record["releases"])
    sources(made, record)
    extra(made, record)
    return made.to_bytes()


def summary(made: Book, record: Row, site: Any, run: Any) -> None:
    sheet = cells.sheet(made, "Summary", f"Batch {record['batch']}", [*troubles(run), CAUTION, VAPOUR])
    heads = (Head("What", 34), Head("Value", 22), Head("Unit or note", 70))
    top = cells.header(sheet, heads)
    for place, (what, value, look, note) in enumerate(summed(record, site, run), start=top + 1):
        fill = STATUS_FILLS.get(value, "") if what == "Status" else ""
        cells.line(sheet, place, heads, [what, value, note])
        cells.put(sheet, place, 2, value, look, fill, "left")
    cells.for_print(sheet, heads, top, freeze=f"A{top + 1}", landscape=False)


def summed(record: Row, site: Any, run: Any) -> list[tuple[str, Any, str, str]]:
    """What, value, look and note of each line of the summary."""
    lines: list[tuple[str, Any, str, str]] = [
        ("House", site.house, "text", ""),
        ("Product", record["product"], "text", ""),
        ("Market", record["market"], "text", ""),
        (
            "Status",
            record["status"],
            "text",
            " ".join([*(f"{said}." for _, said in caveats(record)), *why(record)]),
        ),
        ("Record", in_groups(record["signing"]["code"] or ""), "text", "a release is of this version alone"),
    ]
    if (date := judged_on(record, run)) is not None:
        lines.append(("Book date", date, "date", "latest date among the facts; a batch not bottled is judged on it"))
    for name in ("expected", "gauged", "bottled"):
        entry = record["balance"][name]
        title = words.ENTRIES[name]
        if entry is None:
            lines.append((title, None, "text", "not there"))
            continue
        lines += [
            (f"{title}: strength", entry["proof_60F"], "proof", "proof at 60 °F"),
            ("", entry["abv_20C"], "strength", "% vol at 20 °C"),
            (f"{title}: quantity", entry["volume_60F_gal"], "tenth", "wine gallons at 60 °F"),
            ("", entry["volume_20C_L"], "tenth", "litres at 20 °C"),
            (f"{title}: alcohol", entry["proof_gallons"], "tenth", "proof gallons"),
            ("", entry["lpa"], "tenth", "LPA"),
        ]
        if name == "gauged" and entry["proof_gallons_official"] is not None:
            note = f"proof gallons, {words.OFFICIAL}; {words.WHY_OFFICIAL}"
            lines.append((f"{title}: alcohol, official", entry["proof_gallons_official"], "tenth", note))
    age = record["age"]
    lines += [
        ("Contraction", record["balance"]["contraction_60F_gal"], "hundredth", "wine gallons at 60 °F"),
        ("Youngest component", age["youngest_component"], "text", words.age(age["years"], age["months"], age["days"])),
        (
            "Components",
            len(record["components"]),
            "count",
            "line of the make-up" if len(record["components"]) == 1 else "lines of the make-up",
        ),
        ("Open findings", sum(found["ruling"] is None for found in record["findings"]), "count", "see Findings"),
    ]
    lines += [
        (f"Label: {claim['claim']}", claim["verdict"], "text", claim["market"] or "") for claim in record["label"]
    ]
    return lines


def parts(made: Book, record: Row, components: pd.DataFrame | None, component_ages: pd.DataFrame | None) -> None:
    says = f"Batch {record['batch']}, in the order drawn. Volumes do not add: they contract."
    sheet = cells.sheet(made, "Components", "Make-up of the vat", [says], column=2)
    top = cells.header(sheet, PARTS)
    ages = {draw(row): row for row in rows(component_ages)}
    found = poured(components)
    for place, (part, told) in enumerate(zip(found, record["components"], strict=False), start=top + 1):
        put_right = " ".join(words.corrections(told["corrected"])) or None
        line = [*part_line(part, ages.get(draw(part), {})), put_right, part["ethanol_kg"]]
        cells.line(sheet, place, PARTS, line)
    sums: list[Any] = ["Sums", *[None] * (len(PARTS) - 1)]
    for name, column in SUMMED.items():
        letter, value = get_column_letter(column), sum(part[name] or 0.0 for part in found)
        sums[column - 1] = reckoned(
            f"SUM({letter}{top + 1}:{letter}{top + len(found)})", value, value if found else None
        )
    cells.line(sheet, top + 1 + len(found), PARTS, sums, "sum")
    sheet.filter = f"A{top}:{get_column_letter(len(PARTS))}{top + max(len(found), 1)}"
    cells.for_print(sheet, PARTS, top, freeze=f"B{top + 1}", across=2)


def part_line(part: Row, age: Row) -> list[Any]:
    return [
        part["component"],
        words.KINDS.get(part["kind"] or "", part["kind"]),
        part.get("filling"),
        cells.day(part.get("filled_on")),
        cells.day(part.get("drawn_at")),
        part.get("line"),
        part["proof_60F"],
        part.get("strength_basis"),
        part.get("proof_apparent_60F"),
        part["abv_20C"],
        part["volume_60F_gal"],
        part["volume_20C_L"],
        part["proof_gallons"],
        part["lpa"],
        part["mass_kg"],
        part.get("planned_volume_60F_gal"),
        age.get("years"),
        age.get("months"),
        age.get("days"),
        words.BASES.get(part.get("drawn_basis") or "", part.get("drawn_basis")),
        part.get("strength_source"),
    ]


def label(made: Book, claims: list[Row]) -> None:
    """The verdicts, each with the first sentence of its reason, and on a sheet of their own the grounds."""
    sheet = cells.sheet(made, "Label", "Label claims", [NO_ADVICE])
    top = cells.header(sheet, CLAIMS)
    for place, claim in enumerate(claims, start=top + 1):
        unverified = None if claim["unverified"] is None else words.free(claim["unverified"])
        reason = " ".join([claim["said"], *words.corrections(claim["corrected"])])
        values = [claim["claim"], claim["market"], claim["verdict"], reason, claim["rule"], unverified]
        cells.line(sheet, place, CLAIMS, values)
        fill = {"met": "good", "not met": "stop", "cannot tell": "review"}.get(claim["verdict"] or "", "")
        cells.put(sheet, place, 3, claim["verdict"], "text", fill)
    if not claims:
        cells.say(sheet, top + 1, "No claim was judged: the brief names no market or no claim.", "aside")
    cells.for_print(sheet, CLAIMS, top, freeze=f"B{top + 1}")
    if claims:
        grounds(made, claims)


def grounds(made: Book, claims: list[Row]) -> None:
    sheet = cells.sheet(made, "Label grounds", "What each verdict rests on", [NO_ADVICE])
    top = cells.header(sheet, GROUNDS)
    lines = [(claim, line) for claim in claims for line in ground_lines(claim)]
    for place, (claim, line) in enumerate(lines, start=top + 1):
        cells.line(sheet, place, GROUNDS, [claim["claim"], claim["market"], *line])
    sheet.filter = f"A{top}:{get_column_letter(len(GROUNDS))}{top + max(len(lines), 1)}"
    cells.for_print(sheet, GROUNDS, top, freeze=f"B{top + 1}")


def ground_lines(claim: Row) -> list[list[Any]]:
    """The grounds of one claim; the facts that it used come last."""
    made = [
        [part["title"], row["holds"], row["says"], row["section"], shown_on(row), row["lacking"],
         cells.day(row["read_on"])]
        for part in claim["parts"]
        for row in part["rows"]
    ]  # fmt: skip
    made += [["In full", None, claim["more"], *[None] * 4]] if claim["more"] else []
    return made + ([["Facts used", None, words.free(claim["facts"]), *[None] * 4]] if claim["facts"] else [])


def shown_on(row: Row) -> str | None:
    """What the sheets say of a demand that does not hold; else the columns looked at."""
    return row["found"] if row["holds"] != "met" and row["found"] else row["looked_at"]


def findings(made: Book, record: Row) -> None:
    says = "Rule on the open ones in exceptions/open.xlsx."
    sheet = cells.sheet(made, "Findings", "Findings that concern the batch", [says])
    top = cells.header(sheet, FOUND)
    for place, found in enumerate(record["findings"], start=top + 1):
        ruled = found["ruling"]
        said = f"{ruled['ruling']} by {ruled['by']} on {ruled['ruled_on']}: {ruled['reason']}" if ruled else None
        values = [
            found["id"],
            found["severity"],
            found["message"],
            found["observed"],
            found["expected"],
            found["subject"],
            words.place(found["place"]) or None,
            found["rule"],
            found["remedy"],
            said,
            found["code"],
        ]
        cells.line(sheet, place, FOUND, values)
        fill = {"stop": "stop", "review": "review"}.get(found["severity"], "") if not ruled else ""
        cells.put(sheet, place, 2, found["severity"], "text", fill)
    sheet.filter = f"A{top}:{get_column_letter(len(FOUND))}{top + max(len(record['findings']), 1)}"
    cells.for_print(sheet, FOUND, top, freeze=f"B{top + 1}")


def rulings(made: Book, found: list[Row]) -> None:
    """Every ruling that concerns the batch, also those by which a finding is gone, and how each stands now."""
    says = "Also those by which a figure was corrected and the finding is gone. Nothing is to be filled in here."
    sheet = cells.sheet(made, "Rulings", "Rulings that concern the batch", [says])
    top = cells.header(sheet, RULED)
    for place, ruled in enumerate(found, start=top + 1):
        about = [ruled[name] or None for name in ("subject", "message", "ruling", "original", "place")]
        about += [ruled["corrected_value"] or None, ruled["reason"], f"{ruled['by']} ({ruled['how']})"]
        signed = cells.day(ruled["ruled_on"] or None), words.moment(ruled["taken_at"]), ruled["evidence"] or None
        values = [ruled["finding"], *about, *signed, ruled["state"], ruled["file"], ruled["code"]]
        cells.line(sheet, place, RULED, values)
    if not found:
        cells.say(sheet, top + 1, "None.", "aside")
    cells.for_print(sheet, RULED, top, freeze=f"B{top + 1}")


def releases(made: Book, found: list[Row]) -> None:
    """Every release that was signed, and how each stands now."""
    if not found:
        return
    says = "Each is of one version of this record, which lies in the folder signed as it was."
    sheet = cells.sheet(made, "Releases", "Releases of the batch", [says])
    top = cells.header(sheet, OUT)
    for place, one in enumerate(found, start=top + 1):
        document = f"{one['document']['name']}, SHA-256 {one['document']['sha256']}" if one["document"] else None
        signed = (
            f"{one['by']} ({one['how']})",
            cells.day(one["signed_on"] or None),
            words.moment(one["taken_at"]),
            one["reason"],
        )
        values = [in_groups(one["record"]), one["meaning"], *signed, one["persons"], one["section"], document]
        cells.line(sheet, place, OUT, [*values, one["state"]])
    cells.for_print(sheet, OUT, top, freeze=f"B{top + 1}")


def sources(made: Book, record: Row) -> None:
    said = ["Every figure of the record rests on these rows."]
    if record["head"]:
        said.append(f"Head of the journal when the last of them was taken: {on_paper(record['head'])}.")
    sheet = cells.sheet(made, "Sources", "Sources", said)
    top = cells.header(sheet, SOURCES)
    for place, source in enumerate(record["sources"], start=top + 1):
        values = [source["file"], source["sheet"] or None, words.ranges(source["rows"]), source["sha256"]]
        cells.line(sheet, place, SOURCES, values)
    cells.for_print(sheet, SOURCES, top, freeze=f"A{top + 1}")


def extra(made: Book, record: Row) -> None:
    """One sheet for each frame of a site's plugin."""
    for plugin, frames in record["extra"].items():
        for frame, lines in frames.items():
            if not lines:
                continue
            name = cells.sheet_name(made, words.spoken(frame))
            sheet = cells.sheet(made, name, words.spoken(frame), [f"From the site’s plugin {plugin}."])
            heads = tuple(Head(words.spoken(column), 18, "any") for column in lines[0])
            top = cells.header(sheet, heads)
            for place, row in enumerate(lines, start=top + 1):
                cells.line(sheet, place, heads, [shown(value) for value in row.values()])
            cells.for_print(sheet, heads, top, freeze=f"A{top + 1}")


def shown(value: Any) -> Any:
    """Numbers and text as they are, anything else in words."""
    return value if isinstance(value, (str, int, float)) or value is None else words.free(value)
