"""The additive model in the house: leniency out, shrinkage, and what silence, strength and days count."""

from __future__ import annotations

import numpy as np
import pytest

from plugins.tasting.profiles.additive import fit
from plugins.tasting.profiles.profiles import bands, enough, scale_use
from tests.tasting.frames_for_tests import Tasted, tasting_site, tastings
from tests.tasting.test_panel import scored, truth


def test_leniency_is_taken_out() -> None:
    """A taster three points above the others does not lift the samples that only that taster and another tasted."""
    values = truth(30, noise=0.2) * 0.5 + 1
    true = values.mean(axis=1)
    values[:, 2] += 3.0
    values[15:, :2] = np.nan  # the second half by the lenient one and one other
    values[:, 3] = np.where(np.arange(30) < 15, values[:, 3], values[:, 3])
    made = Tasted(scored(values)).profiles
    means = made[(made["family"] == "citrus") & (made["stage"] == "all")]
    assert set(means["method"]) == {"model"}
    off = means["mean"].to_numpy() - true
    assert abs(off[15:].mean() - off[:15].mean()) < 0.4  # a plain mean would be off by 0.75


def test_a_single_note_is_shrunk_but_not_lost() -> None:
    """Among many samples, one tasted once by one taster is drawn to the level, by two thirds at most."""
    values = truth(20, spread=1.5, noise=0.5)
    values[0, 1:] = np.nan
    values[0, 0] = 10.0
    made = Tasted(scored(values))
    got = made.profile("citrus", sample="C-000")
    level = np.nanmean(values[1:])
    assert level + (10.0 - level) / 3 - 0.3 < got["mean"] < 10.0
    assert (
        got["high"] - got["low"]
        > made.profile("citrus", sample="C-005")["high"] - made.profile("citrus", sample="C-005")["low"]
    )


def test_intervals_of_the_model_hold_what_they_say() -> None:
    """With the model's own assumptions true, 95 % intervals hold the truth 92 to 98 times of 100."""
    rng = np.random.default_rng(11)
    held = []
    for _ in range(30):
        true = 5 + rng.normal(size=40)
        values = true[:, None] + 0.7 * rng.normal(size=4) + 0.9 * rng.normal(size=(40, 4))
        values[rng.random(values.shape) < 0.3] = np.nan
        fitted = fit(values[None])
        # a sample's truth is told apart from the tasters' mean level only with it: compare about the common shift
        width = 2.0 * fitted.standard_errors[0]
        shift = np.mean(fitted.sample_means[0] - true)
        held.append(np.mean(np.abs(fitted.sample_means[0] - shift - true) <= width))
    assert 0.92 <= np.mean(held) <= 0.995


def test_scale_use() -> None:
    """Who puts everything half as strongly is scaled up, but not all the way where notes are few."""
    rng = np.random.default_rng(2)
    values = rng.uniform(4, 8, size=(6, 40, 1)) * np.array([1.0, 1.0, 0.6])
    factor = scale_use(values, np.ones_like(values))
    assert factor[2] > 1.2 > factor[0]
    few = scale_use(values[:1, :3], np.ones((1, 3, 3)))
    assert abs(few[2] - 1) < abs(factor[2] - 1)


def test_enough_tasters_with_common_samples() -> None:
    """Three tasters with six samples in common are enough; three who share nothing are not."""
    assert enough(np.ones((1, 6, 3), dtype=bool), 3, 6).all()
    apart = np.zeros((1, 18, 3), dtype=bool)
    for taster in range(3):
        apart[0, 6 * taster : 6 * taster + 6, taster] = True
    assert not enough(apart, 3, 6).any()


def test_silence_is_weak_evidence() -> None:
    """One of two notes names smoke: 5 / 1.5 by default, 2.5 where silence counts full, 5 where it counts nothing."""
    frame = tastings({"nose": "smoke"}, {"taster": "Bea", "nose": "oak"})
    for weight, mean in ((0.5, 5 / 1.5), (1.0, 2.5), (0.0, 5.0)):
        site = tasting_site({"plugins.tasting.silence_weight": weight})
        assert Tasted(frame, site).profile("smoke_peat")["mean"] == pytest.approx(mean, abs=1e-12)


def test_five_notes_of_one_taster_are_one_opinion() -> None:
    """Five tastings of one day by one taster weigh against one of another as one does."""
    rows = [{"replicate": str(n), "citrus": 8.0} for n in range(5)]
    made = Tasted(tastings(*rows, {"taster": "Bea", "citrus": 2.0})).profile("citrus")
    assert made["mean"] == pytest.approx(5.0, abs=1e-12)
    assert (made["notes"], made["tasters"]) == (6, 2)


def test_bands() -> None:
    """One taster's words make none, some or strong."""
    assert bands(np.array([0.5, 5.0, 6.5])).tolist() == ["none", "some", "strong"]
    assert Tasted(tastings({"nose": "huge smoke"})).profile("smoke_peat")["band"] == "strong"


def test_strengths_are_kept_apart() -> None:
    """Notes at another strength than most are left out of a profile, and it is said."""
    at = {"nosing_strength_unit": "%vol"}
    frame = tastings(
        {"nose": "oak", "nosing_strength": 20.0, **at},
        {"taster": "Bea", "nose": "oak", "nosing_strength": 23.0, **at},
        {"taster": "Cy", "nose": "smoke", "nosing_strength": 46.0, **at},
        {"taster": "Dot", "nose": "oak"},
    )
    made = Tasted(frame)
    assert made.profile("smoke_peat") == {} and made.profile("oak_wood")["tasters"] == 3
    assert [finding.code for finding in made.strength_findings] == ["tasting.strengths-mixed"]
    assert made.strength_findings[0].facts == (3,)


def test_a_comparison_stands_one_step_from_the_other_glass() -> None:
    """Drier than glass 1, which the same taster found a touch dry, is a step above that; less is a step below."""
    frame = tastings(
        {"sample": "A", "session": "P", "order": 1, "palate": "a touch of tannin"},
        {"sample": "B", "session": "P", "order": 2, "palate": "drier than 1"},
        {"sample": "C", "session": "P", "order": 3, "palate": "sweet, huge smoke"},
        {"sample": "D", "session": "P", "order": 4, "palate": "less smoke than C"},
        {"sample": "E", "session": "P", "order": 5, "palate": "less smoke than expected"},
    )
    values = Tasted(frame).impressions
    value = values[values["stage"] == "all"].set_index(["sample", "family"])["value"]
    assert value["A", "dry_grip"] == 1.5 and value["B", "dry_grip"] == 3.0
    assert value["D", "smoke_peat"] == 5.0 and value["E", "smoke_peat"] == 1.5


def test_not_too_dry_says_nothing_of_how_dry() -> None:
    """Denying an excess places a sample nowhere on the scale; denying the thing does."""
    assert Tasted(tastings({"palate": "not too dry"})).profile("dry_grip") == {}
    assert Tasted(tastings({"palate": "not dry"})).profile("dry_grip")["mean"] == 0.0


def test_stages_marked_in_one_cell() -> None:
    """A cell with N, P and F gives three notes with spans of their own, and each stage its profile."""
    made = Tasted(tastings({"nose": "N: smoke. P: sweet. F: long, smoke"}))
    assert made.notes["stage"].tolist() == ["nose", "palate", "finish"]
    text = "N: smoke. P: sweet. F: long, smoke"
    for _, row in made.notes.iterrows():
        assert text[row["start"] :].startswith(row["text"])
    assert made.profile("smoke_peat", "finish")["mean"] == 5.0 and made.profile("sweetness", "palate")["mean"] == 5.0
    assert made.note_findings == []
    short = Tasted(tastings({"nose": "N: oak. P: dry"}))
    assert short.note_findings == [] and short.notes["stage"].tolist() == ["nose", "palate"]


def test_a_palate_note_in_the_column_nose() -> None:
    """A note marked as palate in the column nose counts as palate, and is said once."""
    made = Tasted(tastings({"nose": "Palate: sweet and oily"}))
    assert made.profile("sweetness", "palate")["mean"] == 5.0
    assert [finding.code for finding in made.note_findings] == ["tasting.note-in-other-column"]


def test_whole_table_is_fitted_at_once_as_one_by_one() -> None:
    """Fitting many variables together gives what fitting each alone does."""
    rng = np.random.default_rng(4)
    values = rng.normal(size=(5, 20, 4)) + rng.normal(size=(5, 20, 1))
    values[rng.random(values.shape) < 0.2] = np.nan
    together = fit(values, within=1e-4)
    for variable in range(5):
        alone = fit(values[variable : variable + 1], within=1e-4)
        assert together.sample_means[variable] == pytest.approx(alone.sample_means[0], abs=2e-3)


def test_tasters_who_lie_apart_widen_the_interval() -> None:
    """A fault that two of four name strongly has a wider interval than one that nobody names, or all."""
    values = np.where(np.arange(30)[:, None] == 3, np.array([7.0, 7.0, 0.0, 0.0]), 0.0) + truth(
        30, spread=0.2, noise=0.2
    )
    values = np.clip(values - 4.5, 0.0, 10.0)
    made = Tasted(scored(values, "off_notes"))
    apart, alike = made.profile("off_notes", sample="C-003"), made.profile("off_notes", sample="C-008")
    assert apart["high"] - apart["low"] > 2.0 * (alike["high"] - alike["low"])
    assert apart["low"] <= apart["mean"] <= apart["high"] and apart["peak"] > 6.0
