"""From tasting rows to answers: better than the best single, in order, like the standard, and what would mend it."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pandas as pd
import pytest

from plugins.bench.answers.answer_stages import (
    compare_with_singles,
    find_faults,
    find_remedies,
    match_standard,
    measure_flights,
    order_flights,
)
from plugins.bench.declared.frames import CHOSEN, GLASSES
from tests.bench.kit import BATCH, Bench, aim, brief, flight_rows

SCORES = {"T-1": [7, 8, 7, 6, 8.0], "T-2": [8, 8, 7, 7, 9.0], "C-1": [6, 7, 7, 6, 7.0], "C-2": [4, 5, 5, 5, 4.0]}


def of(frame: pd.DataFrame, **names: str) -> dict[str, Any]:
    for name, value in names.items():
        frame = frame[frame[name] == value]
    assert len(frame) == 1
    return {str(key): value for key, value in frame.iloc[0].items()}


def test_against_its_best_single() -> None:
    """T-1 against C-1, which did better than C-2: four of five who chose, and not shown either way."""
    bench = Bench(flight_rows(SCORES))
    row = of(compare_with_singles(bench.tasted, bench.trials, bench.impressions, brief()), trial="T-1")
    assert (row["against"], row["preferred"], row["of"], row["ties"]) == ("C-1", 3, 3, 2)
    assert row["p"] == 0.25 and row["verdict"] == "not shown either way" and not row["named"]
    assert row["difference"] == pytest.approx(0.6)
    assert int(row["to_settle"]) > 5


def test_the_choice_is_paid_for() -> None:
    """Without a named single the probability is adjusted over all pairs; with one over the trials only."""
    bench = Bench(flight_rows({"T-1": [8.0] * 5, "C-1": [7.0] * 5, "C-2": [6.0] * 5}))
    free = of(compare_with_singles(bench.tasted, bench.trials, bench.impressions, brief()), trial="T-1")
    glasses = GLASSES.build(
        {"flight": ["F-1"], "code": ["417"], "trial": ["C-1"], "batch": [BATCH], "role": ["best single"]}, [(8001,)]
    )
    named = of(compare_with_singles(bench.tasted, bench.trials, bench.impressions, brief(), glasses), trial="T-1")
    assert named["named"] and named["p"] == free["p"] == named["p_corrected"] == 0.0625
    assert free["p_corrected"] == 0.125


def test_all_of_nine_is_shown() -> None:
    """Nine tasters all one way is shown, whatever it is corrected for here; two flights are judged apart."""
    given = {"T-1": [8.0] * 9, "C-1": [6.0] * 9}
    rows = [
        {**row, "taster": f"taster {at}"}
        for sample, scores in given.items()
        for at, row in enumerate(flight_rows({sample: [scores[0]]}) * 9)
    ]  # fmt: skip
    bench = Bench(rows + flight_rows({"T-1": [5.0], "C-1": [6.0]}, "F-2"))
    made = compare_with_singles(bench.tasted, bench.trials, bench.impressions, brief())
    assert of(made, flight="F-1")["verdict"] == "better" and of(made, flight="F-2")["verdict"] == "not shown either way"
    assert pd.isna(of(made, flight="F-1")["to_settle"]) and of(made, flight="all flights")["of"] == 10


def test_flights_together() -> None:
    """A trial of two flights is judged in each and over both, where a taster of both counts once."""
    one, two = (
        flight_rows({"T-1": [8, 8.0], "C-1": [6, 6.0]}),
        flight_rows({"T-1": [5, 8, 7.0], "C-1": [6, 6, 6.0]}, "F-2"),
    )
    bench = Bench(one + two)
    made = compare_with_singles(bench.tasted, bench.trials, bench.impressions, brief())
    assert made["flight"].tolist() == ["F-1", "F-2", "all flights"]
    assert made["of"].tolist() == [2, 3, 2] and made["ties"].tolist() == [0, 0, 1]
    assert made["preferred"].tolist() == [2, 2, 2]


def test_places_count_before_scores() -> None:
    """Where a taster put glasses in order on a bench card, that order counts; without tasting rows too."""
    bench = Bench(flight_rows({"T-1": [5.0], "C-1": [7.0]}))
    chosen = CHOSEN.build(
        {
            "flight": ["F-1", "F-1", "F-1", "F-1"], "taster": ["Ada", "Ada", "Zoe", "Zoe"],
            "code": ["T-1", "C-1", "417", "905"], "trial": ["T-1", "C-1", "T-1", "C-1"], "place": [1.0, 2.0, 1.0, 2.0],
        },
        [(9001,), (9002,), (9003,), (9004,)],
    )  # fmt: skip
    made = compare_with_singles(bench.tasted, bench.trials, bench.impressions, brief(), None, chosen)
    row = of(made, trial="T-1")
    assert (row["preferred"], row["of"]) == (2, 2) and {9003, 9004} <= set(row["facts"])


def test_a_flight_in_order() -> None:
    """T-2 comes first and C-2 last; the interval holds its own middle; who cannot be told from the first is said."""
    bench = Bench(flight_rows(SCORES))
    made = order_flights(bench.tasted, bench.trials, bench.impressions, brief())
    assert made["sample"].tolist() == ["T-2", "T-1", "C-1", "C-2"]
    assert (made["low"] <= made["wins"]).all() and (made["wins"] <= made["high"]).all()
    assert made["friedman_p"].iloc[0] < 0.05 and made["with_first"].tolist()[0]
    assert not made["with_first"].tolist()[-1]


def test_the_blind_duplicate() -> None:
    """Two glasses of T-1: how many places and how far in score they lie apart."""
    bench = Bench(flight_rows({**SCORES, "T-1#2": [5, 8, 5, 6, 8.0]}))
    row = of(measure_flights(bench.tasted, bench.trials, bench.impressions, brief()), sample="T-1")
    assert row["tasters"] == 5 and row["by_lot"] == 2.0
    assert row["score_spread"] == pytest.approx(np.sqrt((4 + 0 + 4 + 0 + 0) / 5 / 2))


def test_like_the_standard() -> None:
    """Against the batch that the brief names: alike in score within a point, unlike in smoke, by the same rule."""
    rows = flight_rows({"T-2": [7, 7, 8, 7, 7.0]})
    standard = flight_rows({"T-2": [7, 7, 7, 7, 7.0]})
    rows += [{**row, "sample": "B-25-02", "smoke_peat": 5.0 + 0.1 * at} for at, row in enumerate(standard)]
    bench = Bench(rows)
    made = match_standard(bench.tasted, bench.trials, bench.impressions, brief("like B-25-02"), bench.site)
    assert of(made, family="score")["verdict"] == "matches"
    assert of(made, family="smoke_peat")["verdict"] == "differs"
    assert of(made, family="smoke_peat")["difference"] == pytest.approx(0.7 - 5.2 + 0.2, abs=0.01)


def test_the_rated_difference_from_the_standard() -> None:
    """Tasters rate each glass against the named standard; what they give the standard served blind is taken off."""
    bench = Bench(flight_rows({"T-1": [7.0] * 5, "T-2": [7.0] * 5, "B-25-02": [7.0] * 5}))
    tasters = list(dict.fromkeys(bench.tasted["taster"]))
    rated = {"T-1": [1.0, 2.0, 1.0, 2.0, 1.0], "T-2": [6.0, 7.0, 6.0, 8.0, 7.0], "B-25-02": [1.0, 2.0, 1.0, 1.0, 2.0]}
    rows = [
        (taster, code, value) for code, given in rated.items() for taster, value in zip(tasters, given, strict=True)
    ]
    chosen = CHOSEN.build(
        {
            "flight": ["F-1"] * 15, "taster": [row[0] for row in rows], "code": [row[1] for row in rows],
            "trial": [row[1] for row in rows], "difference": [row[2] for row in rows],
        },
        [(9001 + at,) for at in range(15)],
    )  # fmt: skip
    given = (bench.tasted, bench.trials, bench.impressions, brief("like B-25-02"), bench.site)
    made = match_standard(*given, None, chosen)
    near, far = (of(made, trial=trial, family="rated difference") for trial in ("T-1", "T-2"))
    assert near["difference"] == pytest.approx(0.0) and near["verdict"] == "matches"
    assert far["difference"] == pytest.approx(5.4) and far["verdict"] == "differs" and far["tasters"] == 5
    assert "rated difference" not in set(match_standard(*given)["family"])


def faults(bench: Bench, **families: float) -> pd.DataFrame:
    return find_faults(bench.tasted, bench.mentions, bench.trials, brief(), aim(**families), bench.profiles)


def test_faults_in_words() -> None:
    """Too dry and smoke gone are too much and too little, with who said so and the component that brings it."""
    bench = Bench(flight_rows(SCORES, words={"T-1": "too dry", "T-2": "smoke gone, not thin"}))
    made = faults(bench, vanilla_cream=4.0)
    dry = of(made, trial="T-1", family="dry_grip")
    assert (dry["direction"], dry["tasters"], dry["of"], dry["brought_by"]) == (-1, 5, 5, "C-2")
    assert not len(made[made["family"] == "body"])


def test_smoke_that_was_never_there_is_no_fault() -> None:
    """ "No smoke" of casks without smoke, where the aim asks for none, says what it is and nothing wrong."""
    bench = Bench(flight_rows(SCORES, words={"T-1": "no smoke"}))
    assert not len(faults(bench, vanilla_cream=4.0)[lambda frame: frame["family"] == "smoke_peat"])
    asked = of(faults(bench, smoke_peat=2.0), trial="T-1", family="smoke_peat")
    assert asked["direction"] == 1 and asked["source"] == "words"


def test_beside_the_aim() -> None:
    """A family more than half a point beyond the aim's band is a fault without a word of it."""
    bench = Bench(flight_rows({name: given * 2 for name, given in SCORES.items()}))
    row = of(faults(bench, vanilla_cream=8.0), trial="T-1", family="vanilla_cream")
    assert row["source"] == "aim" and row["direction"] == 1 and "wanted 7.5 to 8.5" in str(row["words"])


def test_remedies_move_the_fault() -> None:
    """For too dry: at most three changes, each claimed to move it down, ranked by what else they move."""
    scores = {**SCORES, "T-3": [6, 6, 6, 6, 6.0], "T-4": [5, 5, 5, 5, 5.0], "C-3": [5, 5, 5, 5, 5.0]}
    bench = Bench(flight_rows(scores, words={"T-1": "too dry"}))
    found = faults(bench, vanilla_cream=4.0)
    made = find_remedies(found, bench.moves, bench.trials)
    dry = made[(made["trial"] == "T-1") & (made["family"] == "dry_grip")]
    assert 1 <= len(dry) <= 3 and (dry["change"] <= -0.5).all() and (dry["sure"] >= 0.95).all()
    assert dry["side_effect"].is_monotonic_increasing
    for row in dry.to_dict("records"):
        shares = json.loads(row["shares"])
        assert sum(shares.values()) == pytest.approx(1.0, abs=1e-5)
        if row["component"] == "C-2":
            assert row["points"] < 0
        assert "dry_grip" in json.loads(row["moves"])


def test_nothing_tasted_nothing_said() -> None:
    """Without tastings of trials the frames are there and empty."""
    bench = Bench(flight_rows({"C-1": [6.0]}))
    assert not len(compare_with_singles(bench.tasted, bench.trials, bench.impressions, brief()))
    assert not len(order_flights(bench.tasted, bench.trials, bench.impressions, brief()))
    assert not len(find_remedies(faults(bench, vanilla_cream=8.0), bench.moves, bench.trials))
