"""What reports tell of a subject in a few lines, from their files as they were published."""

from __future__ import annotations

from pathlib import Path

from pipeline.book.book import Book
from pipeline.book.journal import Originals
from pipeline.common.errors import NotKnown
from pipeline.common.file_names import safe_name
from pipeline.common.files import sha256
from pipeline.common.names import fold
from pipeline.runs.last_house import last_house
from pipeline.site.house import House


def parts_told(name: str, house: House, book: Book, out: Path) -> dict[str, list[str]]:
    """Part → lines of all reports that tell of a subject; none where it has no such file.

    A file that is not as it was published is not read, and that is said.
    """
    subject, published = book.standings().get(fold(name), {}).get("name", name), book.published()
    found: dict[str, list[str]] = {}
    for report in house.plugins.reports:
        path = report.path.replace("{" + report.per.rpartition(".")[2] + "}", safe_name(subject))
        if report.tells is None or path not in published:
            continue
        file = out / path
        data = file.read_bytes() if file.is_file() else b""
        if sha256(data) != published[path]:
            found["account"] = [f"{path} is not as it was published: vatting run makes it anew."]
            continue
        try:
            found |= report.tells(data, house.site)
        except Exception as error:  # a plugin's mistake costs its own part: the walk needs none of it
            found["account"] = [f"{report.plugin} could not tell of it ({type(error).__name__}: {error})."]
    return found


def part_told(name: str, part: str, out: Path) -> list[str]:
    """The lines of one part alone; frames are not read for it. Raises NotKnown with the parts that there are."""
    house = last_house(Originals(out / "originals"))
    with Book(out / house.site["book"], house.kinds, only_read=True) as book:
        parts = parts_told(name, house, book, out)
    if not parts:
        raise NotKnown(f"{name} has no record yet, so no part of it; vatting explain {name} walks through all")
    if part not in parts:
        raise NotKnown(f"{name} has no part {part}; it has {', '.join(parts)}")
    return parts[part]
