"""The one kind of sheet that is the engine's own: what reviewers rule on findings."""

from __future__ import annotations

from pipeline.contract.kinds import SheetColumn, SheetKind

SHOWN = (
    *("severity", "code", "subject", "batch", "message", "observed", "expected"),
    *("file", "sheet", "cell", "rule", "remedy"),
)
RELEASE, AGAINST = "release", "release against the verdict"
RELEASES = (RELEASE, AGAINST)
RULINGS = SheetKind(
    "rulings",
    key=("finding", "ruled_on", "by"),
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
                (RELEASE, ("released", "sign out")),
                (AGAINST, ("release against verdict", "against the verdict", "contest")),
            ),
            words="decision; disposition; ruled; verdict; outcome; ruling made",
        ),
        SheetColumn("corrected_value", "text", words="correct value; value; right value; corrected to; new value"),
        SheetColumn("evidence", "text", words="proof of it; reference; document; basis; supporting record"),
        SheetColumn("reason", "text", words="why; because; explanation; grounds; justification; comment"),
        SheetColumn("by", "name", words="ruled by; reviewer; signed; signed by; name; initials"),
        SheetColumn(
            "record",
            "text",
            words="record code; code of the record; version of the record; record version",
            meaning="code of the record that a release is of: number, colon and 24 hex digits, as the record shows it",
            example="2:0f3a 99c1 7be2 4410 a6d5 03ff",
        ),
        SheetColumn(
            "section",
            "text",
            words="section of law; paragraph of law; contested section",
            meaning="the section of law whose verdict a release goes against",
        ),
        SheetColumn("ruled_on", "date", past=True, words="date; on; date of ruling; signed on; when"),
    ),
)
