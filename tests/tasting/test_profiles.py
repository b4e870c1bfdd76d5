"""Profiles and scores: the arithmetic by hand, the interval, and the findings."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest
from scipy.stats import t as student

from plugins.tasting.pages.reports import profiles_csv
from plugins.tasting.profiles.profiles import t_quantile
from tests.tasting.frames_for_tests import Tasted, known, tasting_site, tastings
from tests.tasting.test_words import random_notes


def test_notes_keep_what_was_written() -> None:
    """One row per text with its stage, as written; a blank cell is no note."""
    tasted = Tasted(tastings({"nose": "Smoke", "palate": "  ", "finish": None, "remark": "sample warm"}))
    assert tasted.notes[["stage", "text"]].values.tolist() == [["nose", "Smoke"], ["remark", "sample warm"]]
    assert list(tasted.notes["facts"]) == [(1,), (1,)]


def test_mean_is_over_all_notes() -> None:
    """A family that one of two notes names (plain word: 5) counts against half a silent one: mean 5 / 1.5."""
    tasted = Tasted(tastings({"nose": "smoke"}, {"taster": "Bea", "nose": "oak"}))
    profile = tasted.profile("smoke_peat", "nose")
    assert (profile["mean"], profile["notes"], profile["tasters"], profile["named"]) == (5 / 1.5, 2, 2, 1)
    assert profile["facts"] == (1, 2)


def test_stages_stand_apart_and_together() -> None:
    """A nose without a finish note counts only in nose and all; several words of a family count once."""
    tasted = Tasted(tastings({"nose": "smoke, hint of peat", "palate": "peat, huge smoke"}))
    assert tasted.profile("smoke_peat", "nose")["mean"] == 5.0
    assert tasted.profile("smoke_peat", "palate")["mean"] == 6.5
    assert tasted.profile("smoke_peat", "all")["mean"] == 6.5
    assert tasted.profile("smoke_peat", "finish") == {}


@pytest.mark.long
@pytest.mark.parametrize(
    ("text", "family", "mean"),
    [
        ("hint of smoke", "smoke_peat", 1.5),
        ("smoke!", "smoke_peat", 6.5),
        ("smoke?", "smoke_peat", 2.5),
        ("no smoke", "smoke_peat", 0.0),
        ("huge smoke!", "smoke_peat", 5 * 1.3 * 1.3),
        ("thin", "body", 0.0),
        ("slightly thin", "body", 3.5),
        ("oily", "body", 5.0),
        ("thin, then oily", "body", 2.5),
        ("lacks body", "body", 0.0),
        ("cloying", "body", 5.0),
    ],
)
def test_intensity_of_a_note(text: str, family: str, mean: float) -> None:
    """One note's words give the intensity that the module's docstring states."""
    assert Tasted(tastings({"palate": text})).profile(family)["mean"] == pytest.approx(mean, abs=1e-12)


def test_denying_one_end_of_a_scale_says_nothing_of_the_other() -> None:
    """Neither "not thin" nor "not cloying" gives a figure for body."""
    assert Tasted(tastings({"palate": "not thin, not cloying"})).profile("body") == {}


def test_silence_says_nothing_of_a_two_ended_scale() -> None:
    """Body is the mean over the notes that speak of it: one of three says oily, the mean is 5."""
    tasted = Tasted(tastings({"palate": "oily"}, {"taster": "Bea", "palate": "oak"}, {"taster": "Cy", "nose": "oak"}))
    assert (tasted.profile("body")["mean"], tasted.profile("body")["notes"]) == (5.0, 1)


def test_figure_of_the_sheet_counts_as_given() -> None:
    """A 0-10 column stands in place of the words for ``all``, and a sheet without words counts as a note."""
    tasted = Tasted(tastings({"nose": "huge smoke", "smoke_peat": 2.0}, {"taster": "Bea", "smoke_peat": 4.0}))
    assert tasted.profile("smoke_peat")["mean"] == 3.0
    assert tasted.profile("smoke_peat", "nose")["mean"] == 6.5


def test_interval_of_one_taster_is_wide_and_more_notes_do_not_narrow_it() -> None:
    """One taster: mean ± t(4) · 2 = ± 5.55, cut at 0 and 10, however often the same person tastes."""
    width = float(student.ppf(0.975, 4)) * 2.0
    once = Tasted(tastings({"nose": "oak"})).profile("oak_wood")
    assert once["low"] == pytest.approx(max(5.0 - width, 0.0), abs=0.01)
    assert once["high"] == pytest.approx(min(5.0 + width, 10.0), abs=0.01)
    often = Tasted(tastings(*({"nose": "oak", "replicate": str(n)} for n in range(5)))).profile("oak_wood")
    assert (often["low"], often["high"], often["notes"], often["tasters"]) == (once["low"], once["high"], 5, 1)


def test_interval_of_three_tasters_by_hand() -> None:
    """Figures 2, 3 and 7: s² = (4·2² + 14)/6 = 5, half width t(6)·√(5/3)."""
    tasted = Tasted(tastings(*({"taster": name, "citrus": value} for name, value in (("A", 2), ("B", 3), ("C", 7)))))
    profile = tasted.profile("citrus")
    half = float(student.ppf(0.975, 6)) * math.sqrt(5 / 3)
    assert profile["mean"] == pytest.approx(4.0, abs=1e-12)
    assert profile["low"] == pytest.approx(4.0 - half, abs=0.01)
    assert profile["high"] == pytest.approx(4.0 + half, abs=0.01)


def test_interval_holds_what_it_says() -> None:
    """With tasters and samples spread as they are in life, the interval holds the truth 92 to 99 times of 100."""
    rng = np.random.default_rng(20260302)
    truth = 5.0 + rng.normal(0.0, 1.0, size=400)
    rows = [
        {"sample": f"S-{s}", "taster": f"T{t}", "citrus": float(np.clip(value, 0, 10))}
        for s, true in enumerate(truth)
        for t, value in enumerate(true + rng.normal(0.0, 1.2, size=3))
    ]
    profiles = Tasted(tastings(*rows)).profiles.query("stage == 'all'")
    true = truth[profiles["sample"].str[2:].astype(int)]
    share = float(((profiles["low"] <= true) & (profiles["high"] >= true)).mean())
    assert 0.92 <= share <= 0.99


def test_t_quantile_against_scipy() -> None:
    """The expansion agrees with scipy's quantile within 0.002 from 4 degrees of freedom upwards."""
    degrees = np.arange(4, 200)
    assert np.abs(t_quantile(degrees) - student.ppf(0.975, degrees)).max() < 0.002


def test_scores() -> None:
    """Mean score over the scores given, with the tasters counted; names are one whatever their case."""
    tasted = Tasted(tastings({"score": 7}, {"taster": "Bea", "score": 8, "sample": "c-0101 "}, {"taster": "Cy"}))
    row = tasted.scores.iloc[0]
    assert len(tasted.scores) == 1
    assert (row["sample"], row["mean_score"], row["notes"], row["tasters"]) == ("C-0101", 7.5, 2, 2)
    assert 0.0 <= row["low"] < 7.5 < row["high"] <= 10.0


def test_score_above_the_scale_is_asked_about_and_left_out() -> None:
    """A taster's 0-100 scores of one day give one finding and no mean; with score_top 100 they count."""
    frame = tastings({"score": 82, "nose": "oak"}, {"score": 77, "sample": "C-0102", "nose": "oak"})
    tasted = Tasted(frame)
    assert [finding.code for finding in tasted.findings] == ["tasting.score-out-of-scale"]
    assert tasted.findings[0].facts == (1, 2)
    assert "highest 82 for C-0101" in tasted.findings[0].message
    assert len(tasted.scores) == 0
    wider = Tasted(frame, tasting_site({"plugins.tasting.score_top": 100.0}))
    assert wider.findings == [] and list(wider.scores["mean_score"]) == [82.0, 77.0]


def test_unknown_sample_names_its_neighbour() -> None:
    """A sample that is no cask, vessel or batch is one finding, with the nearest name; known ones are none."""
    frame = tastings(
        {"sample": "c-0101", "nose": "oak"},
        {"sample": "VAT-1", "nose": "oak"},
        {"sample": "B-26-01", "nose": "oak"},
        {"sample": "C-0110", "nose": "oak"},
        {"sample": "C-0110", "nose": "oak", "taster": "Bea"},
    )
    findings = Tasted(frame, names=known(("C-0101",), ("VAT-1",), ("B-26-01",))).findings
    assert [(finding.code, finding.subject, finding.expected) for finding in findings] == [
        ("tasting.unknown-sample", "C-0110", "C-0101")
    ]
    assert "2 times" in findings[0].message


def test_no_sample_is_unknown_while_no_name_is_known() -> None:
    """Before any inventory, vessel list or brief has come nothing can be called unknown."""
    assert Tasted(tastings({"nose": "oak"})).findings == []


def test_empty_note_beside_a_score() -> None:
    """A score without words is a note; with figures for families, or words, it is none."""
    frame = tastings({"score": 7}, {"taster": "Bea", "citrus": 3.0}, {"taster": "Cy", "remark": "warm glass"})
    findings = Tasted(frame).note_findings
    assert [(finding.code, finding.severity, finding.facts) for finding in findings] == [
        ("tasting.empty-note", "note", (1,))
    ]
    assert "beside the score 7" in findings[0].message


def test_nothing_tasted_gives_empty_frames() -> None:
    """Without a tasting sheet every frame is there, empty, and nobody is asked anything."""
    tasted = Tasted(tastings())
    assert [len(frame) for frame in (tasted.notes, tasted.mentions, tasted.profiles, tasted.scores)] == [0, 0, 0, 0]
    assert [*tasted.findings, *tasted.note_findings, *tasted.lexicon_findings] == []


def test_report_is_csv_that_no_spreadsheet_runs() -> None:
    """casks/profiles.csv has the contract's columns, and a name that begins with = is kept as text."""
    tasted = Tasted(tastings({"sample": "=1+1", "nose": "oak"}))
    lines = profiles_csv(tasted.profiles).decode("utf-8").split("\n")
    assert lines[0] == "sample,family,stage,mean,low,high,notes,tasters"
    assert lines[1].startswith("'=1+1,oak_wood,nose,5,0,10,1,1")
    assert lines[-1] == ""


def test_inputs_are_left_as_they_were() -> None:
    """No stage changes a frame that it is given."""
    frame = tastings({"nose": "smoke!", "score": 7}, {"taster": "Bea", "score": 70})
    before = frame.copy(deep=True)
    Tasted(frame)
    pd.testing.assert_frame_equal(frame, before)


@pytest.mark.long
def test_four_hundred_samples_by_six_tasters() -> None:
    """400 samples × 6 tasters × 3 stages are read and profiled in under 2 s (0.3 s measured)."""
    notes = random_notes(400 * 6 * 3)
    frame = tastings(
        *(
            {
                "sample": f"C-{place // 6:04}",
                "taster": f"T{place % 6}",
                "nose": notes[3 * place],
                "palate": notes[3 * place + 1],
                "finish": notes[3 * place + 2],
                "score": 5.0,
            }
            for place in range(400 * 6)
        )
    )
    tasted = Tasted(frame, names=known(tuple(f"C-{number:04}" for number in range(400))))
    assert len(tasted.notes) >= 7200 and tasted.findings == []


def test_an_empty_cell_of_a_column_is_no_figure() -> None:
    """Who leaves a cell empty that the card says to leave empty, says nothing; who writes freely hints at absence."""
    rows = [
        {"dry_grip": 7.0, "smoke_peat": 2.0},
        {"taster": "Bea", "dry_grip": 6.0},
        {"taster": "Cy", "smoke_peat": 1.0},
    ]
    made = Tasted(tastings(*rows))
    assert made.profile("dry_grip")["mean"] == 6.5 and made.profile("smoke_peat")["mean"] == 1.5
    assert (made.profile("dry_grip")["notes"], made.profile("dry_grip")["tasters"]) == (2, 2)
    noted = Tasted(tastings(rows[0], {"taster": "Bea", "nose": "vanilla"}))
    assert noted.profile("dry_grip")["mean"] == 7.0, "the session's sheet asks for it"
    free = Tasted(tastings({"nose": "dry", "session": "P-1"}, {"taster": "Bea", "nose": "vanilla", "session": "P-2"}))
    assert free.profile("dry_grip")["mean"] < 5.0


def test_a_scale_that_few_fill_in_is_read_without_bias() -> None:
    """A known dryness of 2 to 8, four tasters who leave half of the cells empty: the mean error is nothing."""
    rng = np.random.default_rng(11)
    truth = {f"C-{place}": 2.0 + 6.0 * place / 29 for place in range(30)}
    rows = []
    for cask, dry in truth.items():
        for taster in ("Ada", "Bea", "Cy", "Dot"):
            row = {"sample": cask, "taster": taster, "body": 5.0, "nose": "vanilla"}
            filled = {"dry_grip": float(np.clip(dry + rng.normal(0, 0.6), 0, 10))} if rng.random() < 0.5 else {}
            rows.append(row | filled)
    found = Tasted(tastings(*rows)).profiles
    mine = found[(found["family"] == "dry_grip") & (found["stage"] == "all")].set_index("sample")["mean"]
    error = [mine[cask] - truth[cask] for cask in mine.index]
    assert len(error) > 25 and abs(float(np.mean(error))) < 0.5
