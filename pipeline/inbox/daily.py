"""How much may be taken in a day: one who drops without end must not fill the disk that nothing is deleted from."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime

from pipeline.book.book import Book
from pipeline.contract.findings import Finding
from pipeline.contract.site import Site
from pipeline.inbox.folder import CannotBeRead


@dataclass
class Daily:
    """Counts files and bytes of the site's day, at first from the book; ``reached`` says in words what was passed."""

    most_files: int
    most_bytes: float
    day: date | None = None
    files: int = 0
    bytes: int = 0
    reached: str = field(default="", init=False)

    @classmethod
    def of(cls, site: Site) -> Daily:
        """The bounds of a site's settings."""
        return cls(site["limits.files_a_day"], site["limits.megabytes_a_day"] * 1e6)

    def check(self, book: Book, now: datetime, size: int) -> None:
        """Whether one file more may be taken at a moment of the site's clock. Raises CannotBeRead beyond the bounds."""
        if self.day != now.date():
            self._begin(book, now)
        beyond = ""
        if self.files + 1 > self.most_files:
            beyond = f"{self.files} files were taken on {self.day}, as many as files_a_day under [limits] allows"
        elif self.bytes + size > self.most_bytes:
            said = f"{self.bytes / 1e6:.0f} MB were taken on {self.day}, and this file has {size / 1e6:.0f} MB more"
            beyond = f"{said}, beyond megabytes_a_day under [limits]"
        if beyond:
            self.reached = beyond
            raise CannotBeRead(f"{beyond}. It stays until tomorrow, or until that is raised in site.toml.")

    def count(self, size: int) -> None:
        """Count a file that was taken."""
        self.files, self.bytes = self.files + 1, self.bytes + size

    def findings(self) -> list[Finding]:
        """What is to be said of bounds that were passed today."""
        if not self.reached:
            return []
        said = f"{self.reached}. What is beyond stays in the inbox until tomorrow."
        remedy = "Look who drops so much; raise the bound under [limits] in site.toml if it is right."
        return [Finding("file.daily-bound", "review", said, subject="inbox", remedy=remedy)]

    def _begin(self, book: Book, now: datetime) -> None:
        self.day, self.files, self.bytes, self.reached = now.date(), 0, 0, ""
        for line in reversed(book.files()):
            if datetime.fromisoformat(line["taken_at"]).astimezone(now.tzinfo).date() != self.day:
                break
            if line["outcome"] in ("taken", "returned"):
                self.files, self.bytes = self.files + 1, self.bytes + int(line.get("size", 0))
