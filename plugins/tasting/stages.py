"""The stages of tasting, from sheets and notes to the table of casks."""

from __future__ import annotations

from pipeline.contract.stages import Stage
from plugins.tasting.panel.growth import find_new_words, suggest_same
from plugins.tasting.panel.panel_stages import (
    compare_tasters,
    list_sessions,
    measure_agreement,
    measure_noise,
    measure_order,
)
from plugins.tasting.panel.taste_again import list_again
from plugins.tasting.profiles.impressions import weigh_words
from plugins.tasting.profiles.profile_stages import profile_samples, score_samples
from plugins.tasting.samples.resolve import resolve_samples
from plugins.tasting.stock.cask_diary import write_diary
from plugins.tasting.stock.cask_table import list_casks
from plugins.tasting.stock.cask_words import hear_words
from plugins.tasting.stock.stock_stages import find_for_targets, find_like, group_casks, measure_wood, place_casks
from plugins.tasting.words.notes import find_mentions, keep_notes

STAGES: list[Stage] = [
    resolve_samples,
    keep_notes,
    find_mentions,
    weigh_words,
    profile_samples,
    score_samples,
    list_sessions,
    measure_agreement,
    compare_tasters,
    measure_order,
    measure_noise,
    list_again,
    find_new_words,
    suggest_same,
    find_like,
    find_for_targets,
    place_casks,
    group_casks,
    measure_wood,
    hear_words,
    list_casks,
    write_diary,
]
