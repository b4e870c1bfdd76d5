"""What a file turned out to be."""

from __future__ import annotations

from dataclasses import dataclass, field

from pipeline.contract.findings import Finding
from pipeline.contract.signatures import Signature
from pipeline.sheets.columns_sheet import ToMend
from pipeline.sheets.explained import Layout
from pipeline.sheets.rows import SheetRows
from pipeline.sheets.rulings_sheet import RULINGS


@dataclass
class Judged:
    """What a file turned out to be: rows by sheet and findings, a signature, or why it is returned.

    ``to_mend``: what goes back of its tables, as the workbook ``copy``; ``mends``: SHA-256 of the file that went back
    before and is mended by this one; ``layouts``: header rows that it explains and nobody had explained before.
    An ``attachment`` is a photo or PDF, and ``attached_to`` what its name says.
    """

    sheets: list[SheetRows] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    reason: str = ""
    remedy: str = ""
    unrecognised: bool = False
    signature: Signature | None = None
    to_mend: list[ToMend] = field(default_factory=list)
    copy: str = ""
    mends: str = ""
    layouts: list[Layout] = field(default_factory=list)
    attachment: bool = False
    attached_to: list[str] = field(default_factory=list)

    @property
    def returned(self) -> bool:
        return bool(self.reason)

    @property
    def rules(self) -> bool:
        """Whether the file holds rulings."""
        return any(rows.rows for rows in self.sheets if rows.kind.name == RULINGS.name)
