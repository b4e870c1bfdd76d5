"""Stages and reports that can wait are broken off for a file wherever they say so; nothing half done is kept."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import pandas as pd
import pytest

from pipeline import Column, Finding, Frame, give_way, hookimpl, report, stage
from pipeline.common.giving_way import BrokenOff, broken_off_when
from pipeline.runs.session import Session, opened
from tests.pipeline import kit, toy_plugin

TALLIES = Frame("tallies", key=("vessel",), columns=(Column("vessel", "text"), Column("rows", "int")))
DUE = Frame("cards_due", ("vessel",), (Column("vessel", "text"), Column("basis", "text"), Column("open", "bool")))
CARDS = Frame("cards", ("vessel",), (Column("vessel", "text"), Column("issue", "int"), Column("document", "text")))
begun: list[str] = []


@stage(gives=TALLIES)
def tally(warm: pd.DataFrame) -> tuple[pd.DataFrame, list[Finding]]:
    """Readings of each vessel, slowly; with a finding for each."""
    rows, facts, findings = [], [], []
    for name, part in warm.groupby("vessel", sort=True):
        give_way()
        rows.append((str(name), len(part)))
        facts.append(part["facts"].iloc[0])
        findings.append(Finding("toy.often", "note", f"{name}: {len(part)}", subject=str(name), facts=facts[-1]))
    return TALLIES.build({"vessel": [n for n, _ in rows], "rows": [n for _, n in rows]}, facts), findings


@stage(gives=DUE)
def cards_due(tallies: pd.DataFrame) -> pd.DataFrame:
    """Every vessel is due once."""
    columns = {"vessel": tallies["vessel"], "basis": tallies["rows"].astype("str"), "open": [True] * len(tallies)}
    return DUE.build(columns, tallies["facts"])


@stage(gives=CARDS, issued="cards_due")
def make_card(due: dict[str, Any], issue: int, progress: Callable[[str], None]) -> bytes:
    """A card that takes several steps; an error on the way is none that it should keep to itself."""
    begun.append(due["vessel"])
    try:
        for step in range(3):
            progress(f"step {step}")
    except Exception as error:
        return f"spoilt by {error!r}".encode()
    return f"{due['vessel']} {due['basis']} no. {issue}".encode()


@report(path="cards/{vessel}.txt", per="cards.vessel", later=True)
def card_text(vessel: str, cards: pd.DataFrame) -> bytes:
    """A card as a text, slowly."""
    for _ in range(3):
        give_way()
    return f"{cards['document'].iloc[0]}\n".encode()


def plugin() -> ModuleType:
    made = ModuleType("slow_plugin")
    made.api = 1  # type: ignore[attr-defined]
    made.stages = hookimpl(lambda: [tally, cards_due, make_card], specname="stages")  # type: ignore[attr-defined]
    made.reports = hookimpl(lambda: [card_text], specname="reports")  # type: ignore[attr-defined]
    return made


@pytest.fixture
def session(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Session]:
    """A session that has taken readings of three vessels and published what comes first, but for the slow part."""
    kit.use(monkeypatch, toy_plugin, plugin())
    begun.clear()
    room = kit.Room(tmp_path)
    rows = "".join(f"C-{vessel},2026-03-0{day},100,20,\n" for vessel in range(3) for day in range(1, 4))
    with opened(room.inbox, room.out, lambda *_: None) as made:
        assert {"tallies", "cards_due", "cards"} <= made.house.later
        made.publish_first()
        assert made.publish_rest(lambda: False) is not None
        room.drop("a.csv", f"Cask No,Date,Reading,Temp (degC),Batch\n{rows}".encode())
        made.take(made.look().whole)
        made.publish_first()
        yield made


def asked(times: int) -> Callable[[], bool]:
    """Somebody wants the session when it is asked for the time after so many."""
    left = iter(range(times))
    return lambda: next(left, None) is None


def outputs(session: Session) -> dict[str, str]:
    names = ("open.json", *(f"cards/C-{vessel}.txt" for vessel in range(3)))
    return {name: (session.out / name).read_text("utf-8") for name in names if (session.out / name).exists()}


def test_broken_off_at_every_place_where_it_may_be(session: Session) -> None:
    """At the first place, the second, and so on: nothing failed, nothing kept of it; at last all is made, once."""
    broken = 0
    while session.publish_rest(asked(broken)) is None:
        broken += 1
        session.publish_first()
        assert "failed" not in outputs(session)["open.json"] and session.rest_due
    assert broken > 12  # stages, steps of the cards, reports, and the engine's own places between them
    made = outputs(session)
    assert made["cards/C-2.txt"] == "C-2 3 no. 1\n" and made["open.json"].count("toy.often") == 3
    assert begun.count("C-0") > 1  # a card that was broken off was begun again, and has the first number


def test_nobody_is_asked_elsewhere(session: Session) -> None:
    """Outside of what can wait, ``give_way`` goes on, and so does what follows a broken-off block."""
    give_way()
    with pytest.raises(BrokenOff), broken_off_when(lambda: True):
        give_way()
    give_way()
    assert session.publish_rest(lambda: True) is None
    session.publish()
    assert outputs(session)["cards/C-0.txt"] == "C-0 3 no. 1\n"
