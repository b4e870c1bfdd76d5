"""A changed setting, rule, plugin or program is told: what, old and new, by whom, and what opened or closed."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from pipeline.contract.findings import Finding
from pipeline.kept import environment
from pipeline.runs.run import rebuild
from tests.pipeline import toy_plugin
from tests.pipeline.kit import ROWS, Room, csv, use

HOT = "C-7,2026-03-02,120,55,B-1"
SITE = 'timezone = "UTC"\n'


@pytest.fixture
def hot(tmp_path: Path, monkeypatch: Any) -> Room:
    """A house with one reading that its plugin finds too hot."""
    use(monkeypatch, toy_plugin)
    room = Room(tmp_path, SITE)
    room.run(("lab.csv", csv(*ROWS, HOT)))
    return room


def told(room: Room, *files: tuple[str, bytes]) -> list[Finding]:
    return [f for f in room.run(*files).worked.findings if f.code.startswith("site.")]


def journal(room: Room) -> list[dict[str, Any]]:
    text = (room.out / "originals" / "journal.jsonl").read_text("utf-8")
    return [line for line in map(json.loads, text.splitlines()) if line["outcome"] in ("settings", "effect")]


def test_nothing_is_told_of_a_house_that_is_as_it_was(hot: Room) -> None:
    assert told(hot) == [] and len(journal(hot)) == 1


def test_a_wider_tolerance_says_what_it_closed(hot: Room) -> None:
    """E19: the finding is gone, and the first page and the tables say which, and because of what."""
    (finding,) = [f for f in hot.run().worked.findings if f.code == "toy.hot"]
    hot.set_site(SITE + "[tolerances]\ntoy_hot = 80\n")
    changed, closed = sorted(told(hot), key=lambda f: f.code, reverse=True)[::-1]
    assert (changed.code, changed.severity) == ("site.changed", "note")
    assert "tolerances.toy_hot 40.0 → 80.0" in changed.message and "account" in changed.message
    assert changed.expected == "setting tolerances.toy_hot: 40.0"
    assert (closed.code, closed.severity) == ("site.closed-findings", "review")
    assert finding.id in closed.message and "toy_hot 40.0 → 80.0" in closed.message


def test_what_is_dropped_together_with_a_change_is_told_apart(hot: Room) -> None:
    """A file that opens findings of its own is taken after the effect of the change is known."""
    hot.set_site(SITE + "[tolerances]\ntoy_hot = 19\n")
    findings = told(hot, ("more.csv", csv("C-9,2026-03-09,111,25,B-9")))
    (opened,) = [f for f in findings if f.code == "site.opened-findings"]
    assert "(stop, toy.hot, C-1)" in opened.message and "C-9" not in opened.message


def test_changed_code_is_told(hot: Room, monkeypatch: Any) -> None:
    """E20: figures may move though no version did; a digest of the code is among what is compared."""
    before = environment.parts()
    monkeypatch.setattr("pipeline.site.description.parts", lambda: {**before, "code of plugins": "f" * 32})
    (changed,) = told(hot)
    assert "code of plugins" in changed.message and "f" * 12 in changed.message


def test_a_rebuild_by_other_code_says_so_and_what_it_closed(hot: Room, monkeypatch: Any) -> None:
    before = environment.parts()
    monkeypatch.setattr("pipeline.site.description.parts", lambda: {**before, "code of plugins": "f" * 32})
    rebuild(hot.out, now=hot.now)
    assert [line["outcome"] for line in journal(hot)] == ["settings", "settings", "effect"]


def test_changes_come_back_with_the_originals(hot: Room) -> None:
    """What was told of changes is made of the journal alone."""
    hot.set_site(SITE + "[tolerances]\ntoy_hot = 80\n")
    before = told(hot)
    rebuild(hot.out, now=hot.now)
    assert told(hot) == before != []


def test_a_change_whose_effect_was_not_told_is_settled_by_the_next_run(hot: Room, monkeypatch: Any) -> None:
    """Ended between the two lines, a run leaves the effect to the next."""
    hot.set_site(SITE + "[tolerances]\ntoy_hot = 80\n")
    with monkeypatch.context() as broken:
        broken.setattr("pipeline.runs.session.note_effect", lambda *_: (_ for _ in ()).throw(OSError("no space")))
        with pytest.raises(OSError, match="no space"):
            hot.run()
    assert [line["outcome"] for line in journal(hot)] == ["settings", "settings"]
    assert [f.code for f in told(hot)] == ["site.changed", "site.closed-findings"]  # what it closed is not forgotten
    assert [line["outcome"] for line in journal(hot)] == ["settings", "settings", "effect"]


def test_looser_settings_are_told_to_the_first_page(hot: Room) -> None:
    assert [one.setting for one in hot.run().run.loosened] == ["people"]
    hot.set_site(SITE + '[rulings]\nby = ["R. One"]\n[limits]\nfile_megabytes = 900\n')
    (one,) = hot.run().run.loosened
    assert (one.setting, one.value, one.default) == ("limits.file_megabytes", "900 MB", "100 MB")
