"""Formulas in our workbooks: which there may be, what they give by a small evaluator, and by a spreadsheet program."""

from __future__ import annotations

import io
import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import numpy as np
from openpyxl import Workbook, load_workbook
from openpyxl.cell.cell import Cell

OURS = re.compile(
    r"""(?:SUM|SUMIF|SUMPRODUCT|EXACT|(?:\w+!)?\$?[A-Z]{1,2}\$?\d+(?::\$?[A-Z]{1,2}\$?\d+)?|"water"|[-+*=(),])+"""
)
REFERENCE = re.compile(r"(?:(\w+)!)?\$?([A-Z]{1,2})\$?(\d+)(?::\$?([A-Z]{1,2})\$?(\d+))?")


def is_ours(cell: Any) -> bool:
    """Whether a formula is of the kinds that we write: references and sums, nothing that people wrote."""
    return cell.data_type == "f" and OURS.fullmatch(str(cell.value)[1:]) is not None


class Evaluated:
    """A workbook of ours with its formulas reckoned anew, whatever figures are kept beside them."""

    def __init__(self, data: bytes) -> None:
        self.book: Workbook = load_workbook(io.BytesIO(data))
        self.kept: Workbook = load_workbook(io.BytesIO(data), data_only=True)
        self._known: dict[tuple[str, str], Any] = {}

    def formulas(self) -> list[tuple[str, Any]]:
        """Sheet and cell of each formula."""
        return [(sheet.title, cell) for sheet in self.book for row in sheet.iter_rows() for cell in row
                if isinstance(cell, Cell) and cell.data_type == "f"]  # fmt: skip

    def value(self, sheet: str, place: str) -> Any:
        if (sheet, place) not in self._known:
            cell = self.book[sheet][place]
            found = self._reckon(sheet, str(cell.value)[1:]) if cell.data_type == "f" else cell.value
            self._known[sheet, place] = found
        return self._known[sheet, place]

    def _reckon(self, sheet: str, text: str) -> float:
        assert OURS.fullmatch(text), text
        names: dict[str, Any] = {"SUM": np.sum, "SUMIF": _sum_if, "SUMPRODUCT": _sum_product, "EXACT": np.equal}

        def named(found: re.Match[str]) -> str:
            name = f"r{len(names)}"
            names[name] = self._area(found[1] or sheet, *found.groups()[1:])
            return name

        code = REFERENCE.sub(named, text).replace("=", "==")
        return float(eval(code, {"__builtins__": {}}, names))  # of formulas that OURS let through alone

    def _area(self, sheet: str, column: str, row: str, last_column: str | None, last_row: str | None) -> Any:
        if last_row is None:
            return self.value(sheet, f"{column}{row}") or 0.0
        assert last_column == column
        values = [self.value(sheet, f"{column}{at}") for at in range(int(row), int(last_row) + 1)]
        if all(value is None or isinstance(value, (int, float)) for value in values):
            return np.array([value or 0.0 for value in values], dtype=float)
        return np.array(["" if value is None else str(value) for value in values], dtype=object)


def _sum_if(area: Any, wanted: str, summed: Any) -> float:
    return float(summed[area == wanted].sum())


def _sum_product(tests: Any, summed: Any) -> float:
    return float((tests * summed).sum())


def by_a_spreadsheet_program(path: Path, folder: Path) -> Workbook | None:
    """The workbook as LibreOffice without a screen reckons it; None where there is none on this machine."""
    program = shutil.which("soffice") or shutil.which("libreoffice")
    if program is None:
        return None
    # figures that are kept beside formulas are taken away: what stands there afterwards was reckoned
    bare = load_workbook(path)
    source = folder / path.name
    bare.save(source)
    made = folder / "reckoned"
    words = [program, f"-env:UserInstallation={(folder / 'profile').as_uri()}", "--headless", "--convert-to", "xlsx",
             "--outdir", str(made), str(source)]  # fmt: skip
    subprocess.run(words, check=True, capture_output=True, timeout=180)
    return load_workbook(made / path.name, data_only=True)
