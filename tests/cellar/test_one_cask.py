"""Fifty gauges of one cask change that cask's pages and overviews, and no page of another cask."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.small_house import CASKS, GAUGE_HEADS, House, of_subjects, pages, sheets

CASK = CASKS[9]


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> House:
    return House(tmp_path_factory.mktemp("house"))


def gauges(day: str) -> str:
    """Fifty gauges of one cask on one day."""
    rows = (
        f"{CASK},{day} {8 + n // 6:02d}:{n % 6 * 10:02d},{119 + n % 3 * 0.1:.1f},60,{120 + n % 5}\n" for n in range(50)
    )
    return GAUGE_HEADS + "".join(rows)


@pytest.mark.long
@pytest.mark.parametrize("day", ["2026-03-02", "2026-03-30"])
def test_fifty_gauges_of_one_cask_change_its_pages_alone(house: House, tmp_path: Path, day: str) -> None:
    """Of some 50 pages of casks and sessions two change, whether or not the book date moves on within the month."""
    assert len(of_subjects(set(pages(house.out)))) > 45
    changed = house.changed_by("more.csv", gauges(day), tmp_path)
    assert of_subjects(changed) == {f"casks/{CASK}/history.html", f"casks/{CASK}/cask.html"}
    assert {"casks/cellar.html", "casks/casks.html", "casks/rates.csv"} <= changed


@pytest.mark.long
def test_the_next_month_moves_the_house(house: House, tmp_path: Path) -> None:
    """A gauge of the month after settles every cask's forecast anew, and nobody's taste."""
    changed = house.changed_by("more.csv", gauges("2026-04-01"), tmp_path)
    assert of_subjects(changed) == {f"casks/{cask}/history.html" for cask in CASKS} | {f"casks/{CASK}/cask.html"}


@pytest.mark.long
def test_a_new_cask_changes_its_neighbours_links(house: House, tmp_path: Path) -> None:
    """A cask filled this month, in a warehouse of its own, comes after the last: that one's page now leads to it."""
    heads, *_ = sheets()["casks.csv"].split("\n")
    row = "C-25,2026-03-01,Malt,oak,virgin,A0-1-1,120,198,205,2026-03-02"
    changed = house.changed_by("more.csv", f"{heads}\n{row}\n", tmp_path)
    assert of_subjects(changed) == {"casks/C-24/history.html", "casks/C-25/history.html"}
