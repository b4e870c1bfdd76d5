"""The stages of the bench, from a brief's card to its answers."""

from __future__ import annotations

from pipeline.contract.stages import Stage
from plugins.bench.answers.answer_reports import list_trial_batches
from plugins.bench.answers.answer_stages import STAGES as ANSWERS
from plugins.bench.cards.card_stage import find_cards_due, issue_cards
from plugins.bench.cards.needs import find_needs
from plugins.bench.returned.parts import read_parts
from plugins.bench.returned.reading_stages import read_chosen, read_glasses, read_notes

STAGES: list[Stage] = [
    find_cards_due,
    issue_cards,
    find_needs,
    read_glasses,
    read_chosen,
    read_notes,
    read_parts,
    list_trial_batches,
    *ANSWERS,
]
