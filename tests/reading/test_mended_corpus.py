"""The copy of a file to mend holds what the file holds: it is read as the file was, and never more of it."""

from __future__ import annotations

from datetime import date

import pytest

from pipeline.inbox.judging import judge
from pipeline.inbox.mended_workbook import book_to_mend
from pipeline.sheets.judged import Judged
from pipeline.sheets.recognise import recognise
from pipeline.sheets.to_mend import to_mend
from pipeline.site.house import House, build_house, limits_of
from pipeline.tables.readers import read_tables
from tests.reading import corpus

DAY = date(2031, 11, 1)
FILES = list(corpus.files(corpus.LAYOUTS, everything=False))


def rows_of(judged: Judged) -> list[tuple[object, ...]]:
    return [(rows.kind.name, rows.rows, rows.values) for rows in judged.sheets]


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> House:
    return build_house('markets = ["US"]\ntimezone = "UTC"\n', tmp_path_factory.mktemp("site"))


@pytest.mark.long
@pytest.mark.parametrize("place", range(0, len(FILES), 3))
def test_a_copy_is_read_as_the_file_it_is_of(place: int, house: House) -> None:
    """Text, numbers, dates and units: the same rows with the same values; of a returned file nothing.

    A taken file that is laid out otherwise than as one plain table needs no copy.
    """
    file = FILES[place]
    judged = judge(file.name, file.data, house.site, house, DAY)
    parts = judged.to_mend
    if not judged.returned and not file.name.split(".")[0].endswith(f"-{corpus.arranged.ARRANGEMENTS[0].__name__}"):
        assert parts == []
        return
    if not judged.returned:
        tables = read_tables(file.name, file.data, limits_of(house.site))
        found = [(table, recognise(table, house.kinds, house.units)) for table in tables if any(map(any, table.rows))]
        parts = [to_mend(table, one, {}, house.kinds, house.units) for table, one in found]
    if not parts:
        assert judged.returned
        return
    data = book_to_mend(parts, file.name, "0" * 64, judged.reason or "why", judged.remedy or "what")
    again = judge("copy.xlsx", data, house.site, house, DAY)
    assert again.returned == judged.returned and rows_of(again) == rows_of(judged)
