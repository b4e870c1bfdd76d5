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
    def rules(self) -> bool:
        """Whether the file holds rulings."""
        return any(rows.rows for rows in self.sheets if rows.kind.name == RULINGS.name)
