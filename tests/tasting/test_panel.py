"""The panel: agreement, differences, order, noise, what to taste again, the growth of the lexicon."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from plugins.tasting.panel.agreement import correlations, kendall, said
from plugins.tasting.panel.arithmetic import complete, holm
from plugins.tasting.panel.panel_stages import compare_tasters
from tests.tasting.frames_for_tests import Panel, Tasted, sample_register, tasting_site, tastings

NAMES = ("Ada", "Bea", "Cy", "Dot")


def scored(values: np.ndarray, family: str = "citrus") -> pd.DataFrame:
    """Tastings with figures for one family and scores: rows are samples, columns tasters; NaN is left out."""
    rows = [
        {
            "sample": f"C-{s:03d}",
            "taster": NAMES[t],
            "session": "P-1",
            family: values[s, t],
            "score": values[s, t],
        }
        for s in range(values.shape[0])
        for t in range(values.shape[1])
        if not np.isnan(values[s, t])
    ]
    return tastings(*rows)


def truth(samples: int = 12, seed: int = 1, spread: float = 2.0, noise: float = 0.5) -> np.ndarray:
    rng = np.random.default_rng(seed)
    return np.clip(5 + spread * rng.normal(size=(samples, 1)) + noise * rng.normal(size=(samples, 4)), 0, 10)


@pytest.mark.long
def test_no_figure_below_three_tasters_or_six_samples() -> None:
    """With two tasters, or five common samples, agreement says why there is no figure and gives none."""
    for values in (truth()[:, :2], truth(5)):
        agreement = Tasted(scored(values)).panel().agreement
        assert agreement["icc_2_1"].isna().all() and agreement["kendall_w"].isna().all()
        assert all("fewer than 3 tasters have 6 samples" in text for text in agreement["said"])


def test_agreement_over_the_largest_complete_table() -> None:
    """A taster with gaps is left out rather than the samples, and the size of the table is told."""
    values = truth(10)
    values[2:, 3] = np.nan
    row = Tasted(scored(values)).panel().agreement.set_index("family").loc["citrus"]
    assert (row["samples"], row["tasters"], row["left_out"]) == (10, 3, 2)
    assert row["icc_2_1"] == pytest.approx(correlations(values[:, :3])["ICC(2,1)"].value, abs=1e-9)
    assert row["said"] == said(row["icc_2_1"]) and row["kendall_p"] < 0.01


def test_negative_agreement_is_none_and_not_clipped() -> None:
    """Tasters who contradict each other have a negative coefficient, which is called none."""
    values = np.array([[1, 9, 5], [9, 1, 5], [2, 8, 5], [8, 2, 5], [1, 8, 5], [8, 1, 5]], dtype=float)
    found = correlations(values)["ICC(2,1)"].value
    assert found < 0 and said(found) == "none"
    row = Tasted(scored(np.pad(values, ((0, 0), (0, 1)), constant_values=np.nan))).panel().agreement.iloc[0]
    assert row["icc_2_1"] < 0 and row["said"] == "none"


def test_tasters_who_say_the_same_of_everything() -> None:
    """A table without any spread gives no figure and no error."""
    agreement = Tasted(scored(np.full((6, 4), 5.0))).panel().agreement
    assert set(agreement["said"]) == {"no figure: everybody said the same of every sample"}
    assert np.isnan(kendall(np.ones((6, 3))).w)


def test_a_taster_who_differs_is_found_with_the_direction() -> None:
    """A taster two points above the others is above on that family; the others are said nothing of by chance."""
    values = truth(14, noise=0.4) * 0.6 + 1
    values[:, 2] += 2.0
    found = Tasted(scored(values)).panel().differences.set_index(["taster", "family"])
    assert found.loc[("Cy", "citrus"), "direction"] == "above"
    assert found.loc[("Cy", "citrus"), "difference"] == pytest.approx(2.0, abs=0.3)
    assert found.loc[("Ada", "citrus"), "direction"] == "below"  # a third of the others is Cy


@pytest.mark.long
def test_by_chance_nobody_differs() -> None:
    """Over many panels without any bias, hardly one in twenty has a taster said to differ."""
    flagged = 0
    for seed in range(20):
        made = Tasted(scored(truth(8, seed=seed, noise=1.5)))
        found = compare_tasters(made.tasted, made.impressions, made.site)
        flagged += bool((found["direction"] != "").any())
    assert flagged <= 3


@pytest.mark.long
def test_order_is_told_apart_from_sample() -> None:
    """A fall of 0.3 a place is found where orders differ, and cannot be told where all taste in one order."""
    values = truth(8, noise=0.2)
    orders = [np.roll(np.arange(8), 2 * taster) for taster in range(4)]
    rows = [
        {"sample": f"C-{s}", "taster": NAMES[t], "session": "P-1", "order": int(orders[t][s]) + 1,
         "score": float(np.clip(values[s, t] - 0.3 * orders[t][s] + 2, 0, 10)), "nose": "oak"}
        for s in range(8) for t in range(4)
    ]  # fmt: skip
    found = Tasted(tastings(*rows)).panel().order.set_index("measure").loc["score"]
    assert found["high"] < 0 and found["low"] < -0.3 < found["high"] + 0.2
    assert "falls" in found["said"]
    same = Tasted(tastings(*({**row, "order": int(row["sample"][2:]) + 1} for row in rows))).panel().order
    assert "cannot be told" in same.set_index("measure").loc["score", "said"]


def test_noise_from_duplicates() -> None:
    """Two glasses of one sample for one taster: the spread of one tasting is their difference over √2."""
    rows = [
        {"sample": "C-1", "taster": name, "session": "P", "replicate": str(n), "citrus": value}
        for name, pair in (("Ada", (3, 5)), ("Bea", (4, 4)))
        for n, value in enumerate(pair, start=1)
    ]
    noise = Tasted(tastings(*rows)).panel().noise.iloc[0]
    assert (noise["pairs"], noise["blind_pairs"]) == (2, 0)
    assert noise["spread"] == pytest.approx(1.0, abs=1e-12)  # (2²/2 + 0) / 2


def test_what_to_taste_again() -> None:
    """Tasters far apart, a lone fault, doubtful words and an old sample are reasons; a plain sample is none."""
    values = truth(20, noise=0.3)
    values[3] = [0.0, 0.0, 10.0, 10.0]
    plain = [{"sample": f"C-{s:03d}", "taster": NAMES[t], "citrus": values[s, t]} for s in range(20) for t in range(4)]
    again = Tasted(
        tastings(*plain, {"sample": "D", "nose": "smoke? oak?"}, {"sample": "S-9", "nose": "oak"}),
        samples=sample_register({"sample": "S-9", "source": "C-9", "drawn_on": "2025-01-01"}),
    ).panel().again.set_index("sample")["reasons"]  # fmt: skip
    assert set(again.index) == {"C-003", "D", "S-9"}
    assert "far apart" in again["C-003"] and "doubtful" in again["D"] and "days old" in again["S-9"]


def test_a_cask_topped_up_after_its_sample() -> None:
    """A topping after the tasting makes the notes speak of another content: a reason, and a finding."""
    made = Tasted(tastings({"sample": "C-0101", "nose": "oak"}))
    moved = pd.DataFrame(
        {"from": ["VAT-1"], "to": ["c-0101"], "moved_at": pd.to_datetime(["2026-03-09"]), "reason": ["top up"]}
    ).assign(facts=[(77,)])
    panel = Panel(made, moved)
    assert panel.again["reasons"].tolist() == ["taken before top up on 2026-03-09"]
    assert [finding.code for finding in panel.again_findings] == ["tasting.before-topping"]
    assert Panel(Tasted(tastings({"nose": "oak", "tasted_at": "2026-03-10"})), moved).again.empty


def test_unknown_words_are_listed_with_their_company() -> None:
    """A word no family knows is counted, with where it stood, the nearest terms and what stands beside it."""
    rows = [
        {"sample": f"C-{n}", "taster": NAMES[n % 2], "nose": "verjuice and lemon", "palate": "oak, sweet"}
        for n in range(4)
    ]
    words = Tasted(tastings(*rows, {"sample": "C-9", "nose": "oak, honey"})).panel().new_words
    assert words["word"].tolist() == ["verjuice"]
    row = words.iloc[0]
    assert (row["count"], row["tasters"], row["stage"], row["sample"], row["family"]) == (4, 2, "nose", "C-0", "citrus")
    assert "(" in row["near"]


def test_words_for_one_thing_are_suggested() -> None:
    """One taster's hazelnut is another's walnut on the same samples: suggested as one; unrelated words are not."""
    rng = np.random.default_rng(5)
    rows = []
    for n in range(40):
        nutty = n % 3 == 0
        for taster, word in (("Ada", "hazelnut"), ("Bea", "walnut"), ("Cy", "oak")):
            said = [word] if nutty and taster != "Cy" else []
            said += [str(rng.choice(["lemon", "honey", "malt", "vanilla"]))]
            rows.append({"sample": f"C-{n}", "taster": taster, "nose": ", ".join(said)})
    same = Tasted(tastings(*rows)).panel().same
    assert ["hazelnut", "walnut"] in same[["term", "other"]].values.tolist()
    assert len(same) == 1


def test_holm_by_hand() -> None:
    """Three probabilities are adjusted as Holm has it; a missing one stays missing."""
    assert holm(np.array([0.01, 0.04, np.nan, 0.03])) == pytest.approx([0.03, 0.06, np.nan, 0.06], nan_ok=True)


def test_complete_part_of_a_ragged_table() -> None:
    """The largest complete part is found; none where there is none."""
    table = np.ones((8, 4))
    table[:, 1] = np.nan
    rows, columns = complete(table, 3, 6)
    assert len(rows) == 8 and columns.tolist() == [0, 2, 3]
    assert len(complete(table[:, :2], 3, 6)[0]) == 0


def test_figures_about_tasters_are_theirs() -> None:
    """The default gives each taster a page of one's own; session pages show nobody's figures."""
    assert tasting_site()["plugins.tasting.taster_figures"] == "own"
