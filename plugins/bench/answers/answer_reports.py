"""The files of an analysis: as data, as a page, and the next bench cards."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pandas as pd

from pipeline import Column, Frame, document, report, stage, unite
from pipeline.contract.stages import Nav
from plugins.bench.answers.flights import folded

TRIAL_BATCHES = Frame(
    "trial_batches",
    key=("batch",),
    meaning="batches of which a trial was tasted",
    columns=(
        Column("batch", "text", "", "batch", ("trials.batch",)),
        Column("trials", "int", "", "trials tasted", ("trials.trial", "tasted.sample")),
    ),
)
BENCH = ("trials", "proposals")
PER = "trial_batches.batch"
Table = pd.DataFrame | None


@stage(gives=TRIAL_BATCHES)
def list_trial_batches(trials: pd.DataFrame, tasted: pd.DataFrame, choices: Table = None) -> pd.DataFrame:
    """Batches with trials that were tasted or placed."""
    known = set(folded(tasted["sample"]))
    if choices is not None:
        known |= set(folded(choices["trial"]))
    own = trials[folded(trials["trial"]).isin(known) & trials["batch"].notna()]
    if not len(own):
        return TRIAL_BATCHES.empty()
    count = own.groupby("batch")["trial"].nunique()
    columns = {"batch": list(count.index), "trials": count.to_list()}
    return TRIAL_BATCHES.build(columns, unite(own["facts"], by=own["batch"]).tolist())


@document(gives="trial_analysis", per=PER)
def analyse_trials(
    batch: str,
    trial_comparisons: Table = None,
    trial_orders: Table = None,
    flight_noise: Table = None,
    trial_matches: Table = None,
    trial_faults: Table = None,
    remedies: Table = None,
    trial_parts: Table = None,
    profiles: Table = None,
    scores: Table = None,
    taste_exponents: Table = None,
    taste_terms: Table = None,
    taste_left_out: Table = None,
    lineage: Table = None,
) -> dict[str, Any]:
    """What the trials of a batch answered."""
    from plugins.bench.answers.analysis import analysis

    frames = {
        "trial_comparisons": trial_comparisons, "trial_orders": trial_orders, "flight_noise": flight_noise,
        "trial_matches": trial_matches, "trial_faults": trial_faults, "remedies": remedies,
        "trial_parts": trial_parts, "profiles": profiles, "scores": scores, "taste_exponents": taste_exponents,
        "taste_terms": taste_terms, "taste_left_out": taste_left_out, "lineage": lineage,
    }  # fmt: skip
    made: dict[str, Any] = plain(analysis(batch, frames))
    return made


def plain(value: Any) -> Any:
    """Plain data; numbers of 12 significant digits, none that JSON has not."""
    if isinstance(value, dict):
        return {str(key): plain(inner) for key, inner in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(inner) for inner in value]
    if value is None or isinstance(value, (str, bool, int)):
        return value
    if isinstance(value, (np.bool_, np.integer)):
        return value.item()
    number = float(value)
    return float(f"{number:.12g}") + 0.0 if np.isfinite(number) else None


@report(path="trials/{batch}/analysis.json", per=PER, wait=True)
def analysis_json(batch: str, trial_analysis: dict[str, Any], trial_batches: pd.DataFrame) -> bytes:
    """The analysis as data."""
    return (json.dumps(trial_analysis, ensure_ascii=False, indent=2, allow_nan=False) + "\n").encode()


@report(path="trials/{batch}/analysis.html", per=PER, wait=True, link="what the bench glasses of {batch} showed")
def analysis_html(
    batch: str, trial_analysis: dict[str, Any], trial_batches: pd.DataFrame, site: Any, findings: Any
) -> bytes:
    """The analysis as a page."""
    from plugins.bench.answers.page import page

    own = [f for f in findings if f.batch == batch and f.code.startswith(("trials.", "bench.")) and f.is_open]
    return page(trial_analysis, site.house, own)


@report(path="trials/bench.html", wait=True, nav=(Nav(4, "bench", ("proposal_sets", "trial_batches"), folders=BENCH),))
def bench_html(site: Any, trial_batches: Table = None, proposal_sets: Table = None) -> bytes | None:
    """Each batch that was proposed or tried in the glass, with its pages."""
    from plugins.bench.answers.page import overview

    return overview(site.house, trial_batches, proposal_sets)


def _card(trial_analysis: dict[str, Any], number: int, site: Any, tasted: Table) -> bytes | None:
    from plugins.bench.answers.next_card import next_card
    from plugins.bench.cards.card_workbook import card_bytes
    from plugins.bench.cards.measure import Bench
    from plugins.bench.cards.tasters import tasters_of

    card = next_card(trial_analysis, f"next_card_{number}.xlsx", Bench.of(site), tasters_of(site, tasted))
    return None if card is None else card_bytes(card)


@report(path="trials/{batch}/next_card_1.xlsx", per=PER, wait=True)
def next_card_1(trial_analysis: Any, trial_batches: pd.DataFrame, site: Any, tasted: Table = None) -> bytes | None:
    """The bench card of the remedy with the least side effect."""
    return _card(trial_analysis, 1, site, tasted)


@report(path="trials/{batch}/next_card_2.xlsx", per=PER, wait=True)
def next_card_2(trial_analysis: Any, trial_batches: pd.DataFrame, site: Any, tasted: Table = None) -> bytes | None:
    """The bench card of the second remedy."""
    return _card(trial_analysis, 2, site, tasted)


@report(path="trials/{batch}/next_card_3.xlsx", per=PER, wait=True)
def next_card_3(trial_analysis: Any, trial_batches: pd.DataFrame, site: Any, tasted: Table = None) -> bytes | None:
    """The bench card of the third remedy."""
    return _card(trial_analysis, 3, site, tasted)


REPORTS: list[Any] = [analyse_trials, analysis_json, analysis_html, bench_html, next_card_1, next_card_2, next_card_3]
