"""Finding casks: the most like, outliers of a day, groups, wood, the table and the diary."""

from __future__ import annotations

from datetime import date
from itertools import combinations
from typing import Any

import numpy as np
import pandas as pd
import pytest

from pipeline import Column, Frame
from pipeline.testing import site_with
from plugins.blending.declared.kinds import CASKS
from plugins.cellar.declared.frames import CHANGES
from plugins.tasting.declared.frames_panel import TASTE_AGAIN
from plugins.tasting.pages.overviews import list_all_casks
from plugins.tasting.stock.cask_diary import write_diary
from plugins.tasting.stock.cask_table import list_casks
from plugins.tasting.stock.cask_words import hear_words
from plugins.tasting.stock.likeness import distances, effects, groups, nearest, silhouettes
from plugins.tasting.stock.stock_stages import find_for_targets, find_like, group_casks, measure_wood, place_casks
from plugins.tasting.stock.ward import ward_tree
from tests.tasting.frames_for_tests import Tasted, data_files, data_of, tastings

TARGETS = (Column("target", "text"), Column("family", "text"), Column("intensity"), Column("weight"))
SITE = site_with(book_date=date(2026, 3, 12), data=data_of(data_files()))


def casks_of(rows: list[dict[str, Any]]) -> pd.DataFrame:
    names = {name for row in rows for name in row}
    return CASKS.frame().build(
        {name: [row.get(name) for row in rows] for name in names}, [(5000 + place,) for place in range(len(rows))]
    )


def stock(count: int = 24) -> tuple[pd.DataFrame, Tasted]:
    """Casks filled six to a day, half of them peated; heavy toast gives chocolate; the last but one has gone off."""
    rng = np.random.default_rng(8)
    rows, notes = [], []
    for n in range(count):
        name, peated, heavy = f"N-{n:03d}", n % 2 == 0, n % 3 == 0
        rows.append(
            {"cask": name, "filled_on": pd.Timestamp(2018, 1 + n // 6, 5), "spirit": "Malt", "species": "oak",
             "toast": "heavy" if heavy else "light", "wood_use": "refill", "as_of": pd.Timestamp(2026, 1, 9)}
        )  # fmt: skip
        for taster in ("Ada", "Bea", "Cy"):
            figures = {"smoke_peat": 7.0 if peated else 1.0, "nut_roast": 5.0 if heavy else 2.0, "citrus": 3.0}
            if n == count - 2:
                figures["off_notes"] = 9.0
            noisy = {key: float(np.clip(value + rng.normal() * 0.5, 0, 10)) for key, value in figures.items()}
            notes.append({"sample": name, "taster": taster, "session": f"P-{n // 8}", "decision": "leave", **noisy})
    return casks_of(rows), Tasted(tastings(*notes), SITE)


CASKS_FRAME, MADE = stock()


def test_the_most_like_are_of_the_same_make() -> None:
    """The nearest casks of a peated one are peated, and the distance that noise would give stands beside."""
    like = find_like(CASKS_FRAME, MADE.profiles, SITE)
    first = like[like["rank"] == 1]
    assert len(first) == 24
    same = [int(a[2:]) % 2 == int(b[2:]) % 2 for a, b in zip(first["cask"], first["other"], strict=True)]
    assert np.mean(same) > 0.95
    assert (like["noise"] > 0).all() and (like["distance"] >= 0).all()


def test_the_most_like_a_target() -> None:
    """A smoky target finds the peated casks, and says on which family each is furthest."""
    targets = Frame("targets", (), TARGETS).build(
        {"target": ["House"] * 2, "family": ["smoke_peat", "nut_roast"], "intensity": [7.0, 5.0],
         "weight": [2.0, np.nan]},
        [(9001,), (9002,)],
    )  # fmt: skip
    found = find_for_targets(CASKS_FRAME, MADE.profiles, SITE, targets)
    best = found[found["rank"] <= 4]["cask"]
    assert all(int(name[2:]) % 6 == 0 for name in best)
    assert found["distance"].is_monotonic_increasing and found["furthest"].str.contains(r"[+-]").all()
    assert find_for_targets(CASKS_FRAME, MADE.profiles, SITE).empty


def test_an_outlier_of_its_day_and_the_most_unlike() -> None:
    """The cask that has gone off stands out from its day on off notes and is the most unlike the house."""
    standing = place_casks(CASKS_FRAME, MADE.profiles, SITE).set_index("cask")
    assert standing["day_casks"].eq(6).all()
    assert standing.loc["N-022", "day_apart_on"].startswith("off notes above")
    assert standing["house_rank"].idxmin() == "N-022"
    assert (standing["day_apart_on"] != "").sum() == 1


def test_groups_with_their_wood() -> None:
    """Two kinds of spirit make groups that stand apart, each led by its family."""
    standing = place_casks(CASKS_FRAME, MADE.profiles, SITE)
    found = group_casks(CASKS_FRAME, MADE.profiles, standing, SITE)
    assert found["casks"].sum() == 24 and found["casks"].is_monotonic_decreasing
    assert any("smoke peat" in leads for leads in found["leads"])
    few = CASKS_FRAME.iloc[:8]
    assert group_casks(few, MADE.profiles, place_casks(few, MADE.profiles, SITE), SITE).empty


def test_what_toast_goes_with() -> None:
    """Heavy toast goes with nut and roast; twelve casks are wanted, and few of a level are warned of."""
    found = measure_wood(CASKS_FRAME, MADE.profiles, SITE).set_index(["factor", "level", "family"])
    heavy = found.loc[("toast", "heavy", "nut_roast")]
    assert heavy["low"] > 0 and heavy["effect"] == pytest.approx(2.0, abs=0.7)
    assert found.loc[("toast", "heavy", "smoke_peat")]["low"] < 0 < found.loc[("toast", "heavy", "smoke_peat")]["high"]
    assert measure_wood(CASKS_FRAME.iloc[:11], MADE.profiles, SITE).empty
    few = CASKS_FRAME.copy()
    few["species"] = ["chestnut"] * 2 + ["oak"] * 22
    warned = measure_wood(few, MADE.profiles, SITE).set_index(["factor", "level"])["warning"]
    assert set(warned.loc[("species", "chestnut")]) == {"only 2 casks"}


def test_factors_that_go_together_are_warned_of() -> None:
    """Where char always goes with toast it cannot be told which of the two it is, and that is said."""
    doubled = CASKS_FRAME.copy()
    doubled["char"] = np.where(doubled["toast"] == "heavy", "#4", "#1")
    warned = measure_wood(doubled, MADE.profiles, SITE).set_index(["factor", "level"])["warning"]
    assert "always together with toast heavy" in warned.loc[("char", "#4")].iloc[0]


def table_of(casks: pd.DataFrame, made: Tasted) -> pd.DataFrame:
    """The table of some casks with what was tasted of them."""
    words = hear_words(made.tasted, made.mentions)
    found: pd.DataFrame = list_casks(casks, made.tasted, words, made.profiles, made.scores, TASTE_AGAIN.empty(), SITE)
    return found


def test_the_table_of_casks() -> None:
    """Each cask has its decision with votes and when to taste it next; an untasted one has none."""
    known = CASKS_FRAME.drop(columns="facts").head(2).to_dict("records")
    casks = casks_of([*known, {"cask": "N-900", "filled_on": pd.Timestamp(2020, 1, 1)}])
    table = table_of(casks, MADE)
    rows = table.set_index("cask")
    assert (rows.loc["N-000", "decision"], rows.loc["N-000", "votes"]) == ("leave", "leave 3")
    assert rows.loc["N-000", "next_taste"] == pd.Timestamp(2027, 3, 3)
    assert rows.loc["N-000", "strong"].startswith("smoke peat")
    assert pd.isna(rows.loc["N-900", "decision"]) and pd.isna(rows.loc["N-900", "next_taste"])
    shown = {row["cask"]: row for row in list_all_casks(table, MADE.tasted, SITE)["casks"]}
    assert shown["N-900"]["age_key"] == pytest.approx(6.19, abs=0.01)


def test_what_notes_say_of_maturity_and_faults() -> None:
    """Words of maturity are counted by tasters; a fault that nobody is sure of has a question mark."""
    made = Tasted(
        tastings(
            {"sample": "N-1", "nose": "spirity, sulphur?", "decision": "leave"},
            {
                "sample": "N-1",
                "taster": "Bea",
                "nose": "immature, no rubber",
                "palate": "over-oaked",
                "decision": "use",
            },
        ),
        SITE,
    )
    casks = casks_of([{"cask": "n-1", "filled_on": pd.Timestamp(2020, 1, 1)}])
    row = table_of(casks, made).iloc[0]
    assert row["maturity"] == "too long in wood (1 taster), young (2 tasters)"
    assert row["faults"] == "over-oaked, sulphur?"
    assert row["decision"] == "leave"  # of equally many votes the more cautious


def test_the_diary_is_in_order_of_time() -> None:
    """Filling, samples, moves, tastings and decisions of a cask stand in order, each with its facts."""
    made = Tasted(tastings({"sample": "C-1", "nose": "oak", "decision": "use", "score": 7.0}), SITE)
    casks = casks_of([{"cask": "C-1", "filled_on": pd.Timestamp(2020, 1, 1), "spirit": "Rye", "species": "oak"}])
    moved = {"cask": ["C-1"], "number": [1], "at": [pd.Timestamp(2025, 3, 9)], "what": ["top up"], "other": ["VAT-1"]}
    changes = CHANGES.build({**moved, "into": [True], "begins": [False], "emptied": [False]}, [(77,)])
    diary = write_diary(casks, made.tasted, MADE.tasted.iloc[:0].assign(source=[]), cask_changes=changes)
    assert diary["kind"].tolist() == ["filled", "moved", "tasted", "decided"]
    assert diary["place"].tolist() == [1, 2, 3, 4]
    assert diary["what"].tolist()[:2] == ["filled with Rye, oak", "top up: VAT-1 to C-1"]


def test_distances_by_hand() -> None:
    """Root mean square over weighted columns; the nearest never is the cask itself."""
    values = np.array([[0.0, 0.0], [3.0, 4.0], [3.0, 4.5]])
    assert distances(values, values)[0, 1] == pytest.approx(np.sqrt(12.5), abs=1e-12)
    assert distances(values, values, np.array([1.0, 0.0]))[0, 1] == pytest.approx(3.0, abs=1e-12)
    assert distances(values, values, np.zeros(2))[0, 1] == pytest.approx(np.sqrt(12.5), abs=1e-12)
    order, far = nearest(values, 5)
    assert order.shape == (3, 2) and order[1].tolist() == [2, 0] and far[1, 0] == pytest.approx(np.sqrt(0.125))


def test_groups_of_clear_clusters() -> None:
    """Three clear clusters are found as three, with a high silhouette; a lone row has none."""
    rng = np.random.default_rng(3)
    values = np.vstack([rng.normal(size=(n, 4)) * 0.3 + at for n, at in ((12, 0), (8, 5), (5, 10))])
    label = groups(values)
    width, lone = silhouettes(values, [label, np.array([0] * 24 + [1])])
    assert np.bincount(label).tolist() == [12, 8, 5] and width.mean() > 0.8
    assert lone[-1] == 0.0
    alike = np.ones((14, 3))  # one group that stands apart from nothing
    assert set(groups(alike)) == {0} and set(silhouettes(alike, [groups(alike)])[0]) == {0.0}


@pytest.mark.parametrize("rows", [2, 3, 14, 60, 300])
@pytest.mark.parametrize("steps", [0, 1, 4, 1000])
def test_the_nearest_are_those_of_all_distances(rows: int, steps: int) -> None:
    """As if all pairs were looked at, equal ones in the order of their rows: also where many casks are alike."""
    values = np.random.default_rng(rows + steps).integers(0, steps + 1, (rows, 5)) * 0.25
    apart = np.sqrt(((values[:, None] - values[None]) ** 2).mean(axis=2))
    np.fill_diagonal(apart, np.inf)
    order, far = nearest(values, 5)
    count = min(5, rows - 1)
    assert order.tolist() == np.argsort(np.round(apart, 9), axis=1, kind="stable")[:, :count].tolist()
    assert far == pytest.approx(np.sort(apart, axis=1)[:, :count], abs=1e-12)


@pytest.mark.parametrize("rows", [2, 3, 14, 200, 900])
def test_wards_tree_is_that_of_all_distances(rows: int) -> None:
    """The same joints at the same heights, and so the same cuts, as SciPy's, which holds all distances."""
    from scipy.cluster.hierarchy import fcluster, linkage

    values = np.random.default_rng(rows).normal(size=(rows, 6))
    ours, theirs = ward_tree(values), linkage(values, "ward")
    assert ours[:, 2] == pytest.approx(theirs[:, 2], abs=1e-9)
    assert ours[:, [0, 1, 3]].tolist() == theirs[:, [0, 1, 3]].tolist()
    assert fcluster(ours, 4, "maxclust").tolist() == fcluster(theirs, 4, "maxclust").tolist()


@pytest.mark.parametrize("steps", [1, 2, 50])
def test_wards_tree_of_rows_that_are_alike(steps: int) -> None:
    """Where several pairs are equally near, each joint is still one of the nearest there are."""
    values = np.random.default_rng(steps).integers(0, steps + 1, (24, 3)).astype(float)
    clusters = {row: [row] for row in range(24)}

    def apart(one: list[int], other: list[int]) -> float:
        square = ((values[one].mean(axis=0) - values[other].mean(axis=0)) ** 2).sum()
        return float(np.sqrt(2.0 * len(one) * len(other) / (len(one) + len(other)) * square))

    for number, (one, other, height, size) in enumerate(ward_tree(values), start=24):
        nearest_pair = min(apart(a, b) for a, b in combinations(clusters.values(), 2))
        joined = clusters.pop(int(one)), clusters.pop(int(other))
        assert height == pytest.approx(apart(*joined), abs=1e-9)
        assert height == pytest.approx(nearest_pair, abs=1e-9)
        clusters[number] = joined[0] + joined[1]
        assert size == len(clusters[number])


def test_effects_find_what_was_put_in() -> None:
    """Two factors and an age with known effects come out within their intervals, and nothing where nothing is."""
    rng = np.random.default_rng(9)
    toast, wood = rng.random(200) < 0.4, rng.random(200) < 0.5
    years = rng.normal(size=200) * 3
    design = np.column_stack([toast, ~toast, wood, ~wood, years]).astype(float)
    values = np.column_stack([3.0 * toast + 0.3 * years, np.zeros(200)]) + rng.normal(size=(200, 2))
    found, spread = effects(values, design, np.array([0, 0, 1, 1, 2]))
    assert found[0, 0] == pytest.approx(3.0 * (1 - toast.mean()), abs=0.25)
    assert found[4, 0] == pytest.approx(0.3, abs=0.08)
    assert (np.abs(found[:, 1]) < 3 * spread[:, 1]).all()
