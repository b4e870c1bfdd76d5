"""Writes a blank sheet where it was asked for, and never over anything."""

from __future__ import annotations

from pathlib import Path

from pipeline.common.errors import OutputError
from pipeline.common.file_names import MARK, safe_name
from pipeline.common.files import write_whole
from pipeline.contract.kinds import SheetKind
from pipeline.outputs.blank_sheet import Blank, blank_of, kind_named
from pipeline.site.house import House


def target_of(kind: SheetKind, file: Path | None) -> Path:
    """Where the blank sheet goes. Raises OutputError, in words, rather than write over anything."""
    path = file or Path(f"{safe_name(kind.name)}.xlsx")
    if path.is_dir():
        path = path / f"{safe_name(kind.name)}.xlsx"
    if path.suffix.lower() != ".xlsx":
        raise OutputError(f"A blank sheet is a workbook; let the name end in .xlsx: {path.with_suffix('.xlsx')}")
    if path.exists():
        raise OutputError(f"{path} is there already and may be filled in; nothing was written. Name another with -o.")
    if not path.parent.is_dir():
        raise OutputError(f"There is no folder {path.parent}; make it, or name another with -o.")
    return path


def write_blank(name: str, file: Path | None, house: House) -> tuple[Blank, Path]:
    """Write the blank sheet of a kind.

    Raises NotKnown for an unknown kind and OutputError where it cannot go, both in words.
    """
    from pipeline.outputs.blank_workbook import book_of  # brings openpyxl

    kind = kind_named(house, name)
    path = target_of(kind, file)
    blank = blank_of(kind, house)
    write_whole(path, book_of(blank, house.site.house))
    return blank, path


def in_an_inbox(path: Path) -> bool:
    """Whether a file lies where a run would take it, half filled in as it may be."""
    return any((path.absolute().parent / name).exists() for name in ("site.toml", MARK))
