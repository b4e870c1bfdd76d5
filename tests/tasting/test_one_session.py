"""A sheet of one session changes that session's pages, those of the casks it names, and overviews."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.small_house import CASKS, TASTERS, TASTING_HEADS, House, of_subjects, tasting

NEW = CASKS[20:23]


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> House:
    return House(tmp_path_factory.mktemp("house"))


def sheet(casks: list[str], day: str, tasters: tuple[str, ...] = TASTERS) -> str:
    rng = np.random.default_rng(3)
    return TASTING_HEADS + "".join(tasting(cask, who, day, "P-4", rng) for cask in casks for who in tasters)


@pytest.mark.long
def test_a_session_changes_its_own_pages(house: House, tmp_path: Path) -> None:
    """Of casks tasted for the first time the pages, the session's own, and the tasters' own figures change."""
    changed = of_subjects(house.changed_by("more.csv", sheet(NEW, "2026-03-05"), tmp_path))
    tasters = {f"tastings/own/{who}.html" for who in TASTERS}
    casks = {f"casks/{cask}/{page}.html" for cask in NEW for page in ("cask", "history")}
    assert changed - tasters == {"tastings/P-4/session.html", "tastings/P-4/panel.json"} | casks


@pytest.mark.long
def test_a_cask_tasted_again_changes_where_it_was_tasted(house: House, tmp_path: Path) -> None:
    """A cask of an earlier session, tasted by somebody new: its page and that session's page change, no other's."""
    changed = of_subjects(house.changed_by("more.csv", sheet([CASKS[0]], "2026-03-05", ("Dee",)), tmp_path))
    assert {path for path in changed if "/own/" not in path} == {
        f"casks/{CASKS[0]}/cask.html",
        *(f"tastings/{session}/{page}" for session in ("P-1", "P-4") for page in ("session.html", "panel.json")),
    }


@pytest.mark.long
def test_a_sheet_of_an_earlier_month_moves_the_house(house: House, tmp_path: Path) -> None:
    """What was tasted before the month is part of what is settled: pages of casks that it does not name change."""
    changed = house.changed_by("more.csv", sheet(NEW, "2026-02-20"), tmp_path)
    assert len({path for path in changed if path.endswith("cask.html")} - {f"casks/{c}/cask.html" for c in NEW}) > 10
