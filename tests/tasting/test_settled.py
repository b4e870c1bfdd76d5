"""A sheet moves the samples that it names: what tasters do is settled on the first day of the last tasting's month."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from typing import Any

import numpy as np
import pandas as pd
import pytest

from plugins.tasting.declared.frames_stock import CASK_TABLE
from plugins.tasting.pages.cask_sheet import taste_casks
from plugins.tasting.pages.overviews import show_own
from plugins.tasting.pages.session_sheet import give_panels, show_sessions
from plugins.tasting.profiles.additive import fit, panel_of, samples_of
from tests.support import document_of
from tests.tasting.frames_for_tests import CASKS, Tasted, known, sample_register, tasting_site, tastings

SITE = replace(tasting_site(), book_date=date(2026, 3, 20))
NAMES = [f"C-{place}" for place in range(10)]
WORDS = ("vanilla", "honey", "smoke", "caramel", "clove", "orange")


def notes(casks: list[str], day: str, session: str, tasters: tuple[str, ...] = ("Ada", "Bea", "Cy")) -> list[Any]:
    rng = np.random.default_rng(len(casks))
    return [
        {
            "sample": cask,
            "taster": taster,
            "tasted_at": day,
            "session": session,
            "nose": " ".join(rng.choice(WORDS, 2, replace=False)),
            "palate": " ".join(rng.choice(WORDS, 2, replace=False)),
            "score": float(rng.integers(4, 10)),
        }
        for cask in casks
        for taster in tasters
    ]


FIRST = [*notes(NAMES[:7], "2026-01-10", "P-1"), *notes([NAMES[7]], "2026-03-02", "P-0")]


def made(*more: Any, site: Any = SITE) -> Tasted:
    return Tasted(tastings(*FIRST, *more), site, known(casks=tuple(NAMES)))


def of_others(frame: pd.DataFrame, *samples: str) -> pd.DataFrame:
    rows = frame[~frame["sample"].isin(samples)].drop(columns="facts")
    return rows.sort_values(["sample", *(["family", "stage"] if "family" in rows else [])]).reset_index(drop=True)


def test_a_sheet_of_this_month_moves_its_own_samples_alone() -> None:
    """Profiles and scores of all others are the same bit by bit; the new ones rest on the settled panel too."""
    before, after = made(), made(*notes([NAMES[8], NAMES[0]], "2026-03-12", "P-2"))
    for one, other in ((before.profiles, after.profiles), (before.scores, after.scores)):
        assert of_others(one, NAMES[0]).equals(of_others(other, NAMES[0], NAMES[8]))
        own = other[(other["sample"] == NAMES[8]) & (other["method"] == "model")]
        assert len(own) and set(own["settled_on"]) == {pd.Timestamp(2026, 3, 1)}
    assert before.scores["mean_score"].iloc[0] != after.scores["mean_score"].iloc[0]


def test_a_new_taster_moves_nobody_else() -> None:
    """The figures of samples that somebody new did not taste stand."""
    before, after = made(), made(*notes([NAMES[8]], "2026-03-12", "P-2", ("Dee",)))
    one, other = of_others(before.scores), of_others(after.scores, NAMES[8])
    names = ["mean_score", "low", "high"]
    assert one[names].to_numpy() == pytest.approx(other[names].to_numpy(), abs=1e-12)


def test_a_sheet_of_an_earlier_month_moves_the_house() -> None:
    """What was tasted before the month is settled with the rest; the first tasting of a later month settles anew."""
    more = notes([NAMES[8], NAMES[9]], "2026-02-12", "P-2")
    before, after = made(), made(*more)
    names = ["mean_score", "low", "high"]
    moved = of_others(before.scores)[names] != of_others(after.scores, NAMES[8], NAMES[9])[names]
    assert moved.any(axis=1).mean() > 0.9
    april = made(*notes([NAMES[8]], "2026-04-02", "P-2"))
    assert (of_others(april.scores, NAMES[8])[names] != of_others(before.scores)[names]).any(axis=1).mean() > 0.9
    assert set(april.scores["settled_on"]) == {pd.Timestamp(2026, 4, 1)}


def test_the_book_date_moves_no_profile() -> None:
    """A draw or a gauge of a later month leaves every figure of taste, and so every record, as it was."""
    before, after = made(), made(site=replace(SITE, book_date=date(2027, 1, 1)))
    assert before.profiles.equals(after.profiles) and before.scores.equals(after.scores)


def test_until_a_model_can_be_settled_all_tastings_tell_it() -> None:
    """Where too little was tasted before the last tasting's month every sheet counts."""
    early = notes(NAMES[:2], "2025-12-10", "P-0")
    late = notes(NAMES[2:9], "2026-01-10", "P-1")
    tasted = Tasted(tastings(*early, *late), SITE, known(casks=tuple(NAMES)))
    assert set(tasted.scores["method"]) == {"model"} and tasted.scores["settled_on"].isna().all()
    assert "model" in set(tasted.profiles["method"]) and tasted.profiles["settled_on"].isna().all()
    same = Tasted(tastings(*notes(NAMES[:9], "2026-01-10", "P-1")), SITE, known(casks=tuple(NAMES)))
    assert set(same.scores["method"]) == {"model"} and same.scores["settled_on"].isna().all()


def test_a_family_that_only_a_split_sample_had() -> None:
    """A cask tasted as itself, then as two samples, has no profile from before; what was named only of it is left out
    of the settled panel's families, and nothing fails."""
    rubber = [{**row, "nose": "rubber"} for row in notes([NAMES[9]], "2026-01-11", "P-1")]
    sample = [{**row, "sample": "S-1"} for row in notes([NAMES[9]], "2026-03-11", "P-2")]
    register = sample_register({"sample": "S-1", "source": NAMES[9]})
    tasted = Tasted(tastings(*FIRST, *rubber, *sample), SITE, known(casks=tuple(NAMES)), samples=register)
    whole = tasted.profiles[tasted.profiles["family"] == "off_notes"]
    assert set(whole["sample"]) == {NAMES[9]} and set(whole["method"]) == {"mean"}
    before = Tasted(tastings(*FIRST, *rubber), SITE, known(casks=tuple(NAMES))).profiles
    assert "model" in set(before.loc[before["family"] == "off_notes", "method"])


def test_a_settled_panel_gives_its_own_samples_what_the_fit_gives() -> None:
    """Over its own table the settled panel is the additive model; over other tasters it is the same for those known."""
    rng = np.random.default_rng(4)
    values = rng.normal(5, 1, (2, 9, 4)) + np.array([0.0, 2.0, -2.0, 1.0])
    weights = np.ones_like(values)
    panel = panel_of(values, weights)
    whole = fit(values, weights)
    again = samples_of(panel, values, weights)
    assert np.array_equal(again.sample_means, whole.sample_means)
    assert np.array_equal(again.standard_errors, whole.standard_errors)
    places = np.array([3, -1, 0])
    other = panel.over(places)
    part = np.where(np.array([True, False, True]), values[:, :, [3, 3, 0]], np.nan)
    counted = np.isfinite(part).astype(float)
    some = samples_of(other, part, counted)
    left = np.where(np.isin(np.arange(4), [0, 3]), values, np.nan)
    same = samples_of(panel, left, np.isfinite(left).astype(float))
    assert some.sample_means == pytest.approx(same.sample_means) and not other.taster_effects[:, 1].any()
    assert some.standard_errors == pytest.approx(same.standard_errors)


def test_of_a_stranger_less_is_known() -> None:
    """What somebody new said alone counts as said by an average taster, and is less sure than a known one's word."""
    rng = np.random.default_rng(4)
    values = rng.normal(5, 1, (1, 30, 4)) + rng.normal(0, 3, (1, 30, 1)) + np.array([0.0, 2.0, -2.0, 1.0])
    panel = panel_of(values, np.ones_like(values))
    said = np.array([[[7.0, np.nan], [np.nan, 7.0]]])
    found = samples_of(panel.over(np.array([1, -1])), said, np.isfinite(said).astype(float))
    lenient, stranger = found.sample_means[0]
    assert stranger > lenient + 1.0
    assert found.standard_errors[0, 1] > 1.2 * found.standard_errors[0, 0]


DOCUMENTS = {document.gives: document for document in (taste_casks, show_sessions, give_panels, show_own)}


def frames(made: Tasted) -> dict[str, Any]:
    """What the documents of casks, sessions and tasters are made of."""
    days = {"tasted_at": [pd.Timestamp(2026, 1, 10)] * 10, "filled_on": [pd.Timestamp(2020, 1, 10)] * 10}
    facts = [(1000 + place,) for place in range(10)]
    panel = made.panel()
    return {
        "cask_table": CASK_TABLE.build({"cask": NAMES, **days}, facts),
        "casks": CASKS.frame().build({"cask": NAMES}, facts),
        "tasting_sessions": panel.sessions,
        "agreement": panel.agreement,
        "order_effects": panel.order,
        "taste_again": panel.again,
        "taster_differences": panel.differences,
        **{name: getattr(made, name) for name in ("tasted", "notes", "mentions", "profiles", "scores")},
    }


def shown(made: Tasted) -> dict[str, dict[str, Any]]:
    """All documents of single casks, sessions and tasters."""
    given = frames(made)
    return {name: document_of(document, given) for name, document in DOCUMENTS.items()}


def test_documents_of_others_stand() -> None:
    """Plain data; of ten casks and two sessions those that a sheet names are others, and no more."""
    before, after = shown(made()), shown(made(*notes([NAMES[8]], "2026-03-12", "P-2")))
    assert json.loads(json.dumps(before)) == before
    for kind, named in (("cask_taste", NAMES[8]), ("session_sheet", "P-2"), ("session_panel", "P-2")):
        assert {name for name in after[kind] if after[kind][name] != before[kind].get(name)} == {named}
    lines = [line for page in before["cask_taste"].values() for line in page["lines"]]
    assert len(lines) > 20 and all(line["mean"] == round(line["mean"], 1) for line in lines)
    assert "settled on 2026-03-01" in before["cask_taste"][NAMES[0]]["method"]


def test_a_document_needs_no_other_subject() -> None:
    """Of its own rows alone it is made as of the rows of all."""
    given = frames(made(*notes([NAMES[8], NAMES[0]], "2026-03-12", "P-2")))
    count = 0
    for document in DOCUMENTS.values():
        for name, data in document_of(document, given).items():
            assert document_of(document, given, name) == {name: data}
            count += 1
    assert count == 10 + 3 + 3 + 3
