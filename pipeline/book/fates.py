"""What becomes of a file that was dropped, as people are told of it, and what it says that later files are read by."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from pipeline.common.files import same_name

if TYPE_CHECKING:  # whoever only looks whether something is new needs none of it
    from pipeline.book.book import Book
    from pipeline.contract.site import Site
    from pipeline.sheets.explained import Layout


@dataclass
class Fate:
    """What became of a file: outcome ``taken``, ``returned``, ``repeated`` or ``known``.

    ``read``: the first rows in words, of the latest files; ``settled``: number of the later file that settles what was
    said of this one; ``copy``: the workbook to mend that lies beside a returned file.
    """

    name: str
    outcome: str
    number: int = 0
    sha256: str = ""
    taken_at: str = ""
    reason: str = ""
    remedy: str = ""
    kinds: str = ""
    rows: int = 0
    findings: int = 0
    read: list[str] = field(default_factory=list)
    settled: int = 0
    copy: str = ""


def fate_of_line(line: dict[str, Any]) -> Fate:
    """A journal line, as people are told of it."""
    fate = Fate(line["name"], line["outcome"], line["number"], line["sha256"], line["taken_at"])
    fate.reason, fate.remedy, fate.copy = line.get("reason", ""), line.get("remedy", ""), line.get("copy", "")
    if line.get("attached_to"):
        fate.kinds = f"an attachment to {' and '.join(line['attached_to'])}"
    if "signature" in line:
        fate.kinds = "a signature that does not count" if line["signature"]["refused"] else "signature"
    return fate


def known_fate(line: dict[str, Any], name: str) -> Fate:
    """The fate of a file whose bytes were taken before."""
    same = "" if line["name"] == name else f" as {line['name']}"
    return replace(
        fate_of_line(line),
        name=name,
        outcome="known",
        reason=f"The same bytes were taken before{same} (no. {line['number']}).",
    )


def settled_by(lines: Iterable[dict[str, Any]], last_stated: Callable[[str], int] = lambda key: 0) -> dict[int, int]:
    """Journal number of a file → that of the later one which settles what was said when it came.

    That is a file of the same name or, of one that was returned, the same bytes, the workbook that went back of it and
    says so, or a ruling whose document it is. One of which no row could be taken is settled, too, once others state
    each of these rows (``last_stated``: kind and key → number).
    """
    files = [line for line in lines if line["outcome"] in ("taken", "returned")]
    made: dict[int, int] = {}
    names: dict[str, int] = {}
    mended: dict[str, int] = {}
    for line in reversed(files):
        number, name = int(line["number"]), same_name(line["name"])
        by_name, by_mark = names.setdefault(name, number), 0
        if line["outcome"] == "returned":
            by_mark = mended.get(line["sha256"], 0) or _all_stated(line, last_stated)
        mended.setdefault(line["sha256"], number)
        if max(by_name, by_mark) > number:
            made[number] = max(by_name, by_mark)
        documents = [ruling["document"][1] for ruling in line.get("resolved", ()) if ruling.get("document")]
        for digest in filter(None, [line.get("mends"), *documents]):
            mended.setdefault(digest, number)
    return made


def _all_stated(line: dict[str, Any], last_stated: Callable[[str], int]) -> int:
    """The last of the files that state the rows of a returned one; 0 where one of these is stated nowhere."""
    said = [json.loads(text) for text in line.get("said", ())]
    numbers = [last_stated(one.get("key", "")) for one in said if one["code"] == "sheet.unusable-row"]
    return max(numbers) if numbers and all(number > int(line["number"]) for number in numbers) else 0


class KnownLayouts:
    """Header rows that people explained in the files that a book has; each counts for every later file that has it."""

    def __init__(self, book: Book) -> None:
        self._book = book
        self._last = 0
        self._known: list[Layout] = []

    def counting(self, site: Site) -> dict[tuple[str, ...], Layout]:
        """By header row what counts under these settings."""
        rows = self._book.sql.execute(
            "SELECT number, line FROM files WHERE number > ? AND instr(line, '\"layouts\": [{') ORDER BY number",
            (self._last,),
        )
        for number, line in rows:
            self._known.extend(layouts_of_line(json.loads(line)))
            self._last = number
        left_out = set(site["sheets.not_confirmed"])
        return {one.headers: one for one in self._known if one.code not in left_out}


def layouts_of(lines: Iterable[dict[str, Any]]) -> list[Layout]:
    """What journal lines keep, in order."""
    return [layout for line in lines for layout in layouts_of_line(line)]


def layouts_of_line(line: dict[str, Any]) -> list[Layout]:
    """What was explained in a file that was taken."""
    if line["outcome"] != "taken" or "layouts" not in line:
        return []
    from pipeline.sheets.explained import Layout

    who = {"account": line.get("account", ""), "on": line["taken_at"][:10], "file": line["name"]}
    made = []
    for one in line["layouts"]:
        means, around = (tuple((at, said) for at, said in one[name]) for name in ("means", "around"))
        made.append(Layout(one["kind"], tuple(one["headers"]), means, around, one["by"], **who))
    return made


def layouts_kept(layouts: Iterable[Layout]) -> list[dict[str, Any]]:
    """Layouts as a journal line keeps them; who dropped the file and when stands in the line itself."""
    return [{name: getattr(one, name) for name in ("kind", "headers", "means", "around", "by")} for one in layouts]
