"""The stages of proposals, from stock and taste to what was poured."""

from __future__ import annotations

from pipeline.contract.stages import Stage
from plugins.proposals.briefs.due import find_due
from plugins.proposals.briefs.propose import propose_blends
from plugins.proposals.sets.read_sets import read_draws, read_profiles, read_proposals, read_runway, trace_batches
from plugins.proposals.stock.stock_stage import list_stock
from plugins.proposals.taste.taste_stages import model_pairs, model_taste
from plugins.proposals.taste.taught_stages import judge_model, model_moves

STAGES: list[Stage] = [
    list_stock,
    model_taste,
    model_pairs,
    judge_model,
    model_moves,
    find_due,
    propose_blends,
    read_proposals,
    read_draws,
    read_profiles,
    read_runway,
    trace_batches,
]
