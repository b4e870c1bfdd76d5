"""One spelling for names that differ only in case, gone on with as columns grow."""

from __future__ import annotations

import random

from pipeline.common.spelling import Spelling


def plainly(written: dict[str, list[str]]) -> dict[str, list[str]]:
    """The rule without any memory."""
    first: dict[str, str] = {}
    return {key: [first.setdefault(name.casefold(), name) for name in names] for key, names in written.items()}


def test_the_spelling_that_came_first_is_shown_everywhere() -> None:
    written = {"casks": ["C-1", "c-2"], "readings": ["c-1", "C-2", "T-1"]}
    assert Spelling().shown(written) == {"casks": ["C-1", "c-2"], "readings": ["C-1", "c-2", "T-1"]}


def test_a_name_added_to_an_earlier_column_may_change_the_later_ones() -> None:
    spelling = Spelling()
    assert spelling.shown({"casks": ["C-1"], "readings": ["c-2"]}) == {"casks": ["C-1"], "readings": ["c-2"]}
    assert spelling.shown({"casks": ["C-1", "C-2"], "readings": ["c-2"]})["readings"] == ["C-2"]


def test_columns_that_grow_shrink_and_go_are_shown_as_if_seen_for_the_first_time() -> None:
    """3,000 steps of books that mostly grow: a few names in two spellings, rows withdrawn, a column more or less."""
    chance = random.Random(5)
    names = [f"{letter}-{number}" for letter in "CcTt" for number in range(40)]
    spelling, written = Spelling(), {"casks": list[str](), "readings": [], "blends": []}
    for _ in range(3000):
        key = chance.choice(list(written))
        kept = list(written[key])
        if chance.random() < 0.03 and kept:
            kept.pop(chance.randrange(len(kept)))
        elif chance.random() < 0.01:
            kept = []
        else:
            name = chance.choice(names)
            kept += [name] if name not in kept else []
        written = {**written, key: kept}
        if chance.random() < 0.01:
            written = {"bottlings": [], **written} if "bottlings" not in written else dict(list(written.items())[1:])
        assert spelling.shown(written) == plainly(written)
