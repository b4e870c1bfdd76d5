"""What a sheet of rulings is held against while it is taken, and how a ruling is refused."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from pipeline.book.book import Book
from pipeline.book.journal import Originals
from pipeline.contract.site import Site
from pipeline.sheets.cells import Context
from pipeline.site.house import House


class Refused(Exception):
    """A ruling that cannot be applied: the code of its finding, why in words, and what to do."""

    def __init__(self, code: str, message: str, remedy: str = "Mend the row and save the sheet to the inbox again."):
        super().__init__(message)
        self.code, self.message, self.remedy = code, message, remedy


@dataclass(frozen=True)
class Taking:
    """A file of rulings on its way into the book. ``day`` is that of taking, in the site's time zone."""

    file: str
    book: Book
    house: House
    originals: Originals
    context: Context
    day: date

    @property
    def site(self) -> Site:
        return self.house.site
