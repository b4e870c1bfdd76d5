"""What a file turned out to be."""

from __future__ import annotations

from dataclasses import dataclass, field

from pipeline.contract.findings import Finding
from pipeline.contract.signatures import Signature
from pipeline.sheets.rows import SheetRows
from pipeline.sheets.rulings_sheet import RULINGS


@dataclass
class Judged:
    """What a file turned out to be: rows by sheet and findings, a signature, or why it is returned."""

    sheets: list[SheetRows] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    reason: str = ""
    remedy: str = ""
    unrecognised: bool = False
    signature: Signature | None = None

    @property
    def returned(self) -> bool:
        return bool(self.reason)

    @property
    def ruled_on(self) -> list[str]:
        """The findings that rulings in the file speak of, but for releases."""
        return [
            str(name)
            for rows in self.sheets
            if rows.kind.name == RULINGS.name
            for name, ruling in zip(rows.values["finding"], rows.values.get("ruling", []), strict=True)
            if ruling != "release"
        ]

    @property
    def releases(self) -> bool:
        """Whether rulings in the file release a batch."""
        return any("release" in rows.values.get("ruling", ()) for rows in self.sheets if rows.kind.name == RULINGS.name)
