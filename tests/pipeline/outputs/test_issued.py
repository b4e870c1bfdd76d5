"""What a stage issues is made once, kept with its bytes, and read back from then on."""

from __future__ import annotations

from pathlib import Path
from types import ModuleType
from typing import Any

import pandas as pd
import pytest

from pipeline import Column, Frame, SheetColumn, SheetKind, hookimpl, stage
from pipeline.book.journal import Originals
from pipeline.runs.dry_run import would_change
from pipeline.runs.run import issue_anew, rebuild
from pipeline.runs.run import silent as quiet
from tests.pipeline.kit import Room, use

ORDERS = SheetKind(
    "orders",
    key=("order",),
    meaning="a toy order",
    columns=(
        SheetColumn("order", "name", required=True),
        SheetColumn("wish", "text", required=True),
        SheetColumn("closed", "yes_no"),
    ),
)
GOODS = SheetKind(
    "goods",
    key=("item",),
    columns=(SheetColumn("item", "name", required=True), SheetColumn("amount", "number", required=True)),
)
DUE = Frame(
    "offers_due", ("order",), (Column("order", "text"), Column("basis", "text"), Column("open", "bool")), "what is due"
)
OFFERS = Frame("offers", ("order",), (Column("order", "text"), Column("issue", "int"), Column("document", "text")))


@stage(gives=DUE)
def find_due(orders: pd.DataFrame) -> pd.DataFrame:
    """Every order that is not closed."""
    shut = orders["closed"].fillna(False)
    return DUE.build({"order": orders["order"], "basis": orders["wish"], "open": ~shut}, orders["facts"])


@stage(gives=OFFERS, issued="offers_due")
def make_offer(due: dict[str, Any], issue: int, goods: pd.DataFrame) -> bytes:
    """What is in stock when it is made."""
    return f"{due['order']} no. {issue}: {due['basis']}, {goods['amount'].sum():g} in stock".encode()


def plugin() -> ModuleType:
    made = ModuleType("toy_offers_plugin")
    made.api = 1  # type: ignore[attr-defined]

    def sheet_kinds() -> list[Any]:
        return [ORDERS, GOODS]

    def stages() -> list[Any]:
        return [find_due, make_offer]

    for function in (sheet_kinds, stages):
        setattr(made, function.__name__, hookimpl(function))
    return made


@pytest.fixture
def room(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Room:
    use(monkeypatch, plugin())
    return Room(tmp_path)


def order(wish: str = "mild", closed: str = "") -> tuple[str, bytes]:
    return f"order-{wish}{closed}.csv", f"order,wish,closed\nO-1,{wish},{closed}\n".encode()


def goods(amount: int) -> tuple[str, bytes]:
    return f"goods{amount}.csv", f"item,amount\nX,{amount}\n".encode()


def offers(result: Any) -> list[str]:
    return list(result.worked.frames["offers"]["document"])


def issued(room: Room) -> list[dict[str, Any]]:
    return [line for line in room.journal() if line["outcome"] == "issued"]


def test_it_is_made_once_and_read_back(room: Room) -> None:
    """Changed stock changes no issue; its bytes lie in originals under the journal's digest."""
    made = offers(room.run(goods(5), order()))
    assert made == ["O-1 no. 1: mild, 5 in stock"]
    assert offers(room.run(goods(7))) == made
    line = issued(room)
    assert [(item["name"], item["issue"], item["basis"]) for item in line] == [("offers/O-1", 1, "mild")]
    assert Originals(room.out / "originals").read(line[0]["sha256"]).decode() == made[0]


def test_new_content_is_a_new_issue(room: Room) -> None:
    """The basis decides: other content is the next issue, the same content none."""
    room.run(goods(5), order())
    assert offers(room.run(order("strong"), goods(6))) == ["O-1 no. 2: strong, 6 in stock"]
    assert offers(room.run(goods(9))) == ["O-1 no. 2: strong, 6 in stock"]


def test_a_person_asks_for_it_anew(room: Room) -> None:
    """issue_anew makes the next issue of just that name; of a name that nobody knows, none."""
    room.run(goods(5), order())
    room.run(goods(8))
    result, made = issue_anew(room.out, "offers", "O-1", now=room.now)
    assert made and offers(result) == ["O-1 no. 2: mild, 8 in stock"]
    assert issue_anew(room.out, "offers", "O-9", now=room.now)[1] is False
    assert len(issued(room)) == 2


def test_what_is_closed_is_read_but_never_made(room: Room) -> None:
    """A row that is not open keeps its last issue and gets no new one."""
    assert offers(room.run(goods(5), order(closed="yes"))) == []
    assert offers(room.run(order())) == ["O-1 no. 1: mild, 5 in stock"]
    assert offers(room.run(order("other", "yes"))) == ["O-1 no. 1: mild, 5 in stock"]


def test_rebuild_reads_back(room: Room) -> None:
    """A rebuild gives the issued bytes, not what today's stock would give, and issues nothing."""
    room.run(goods(5), order())
    before = offers(room.run(goods(7)))
    assert offers(rebuild(room.out, now=room.now)) == before
    assert len(issued(room)) == 1


def test_a_trial_issues_nothing(room: Room) -> None:
    """A dry run of a rebuild leaves the journal as it was."""
    room.run(goods(5), order())
    lines = room.journal()
    would_change(room.out, quiet, room.now)
    assert room.journal() == lines


def test_bytes_that_are_lost_are_told(room: Room) -> None:
    """A lost original is never silently made anew."""
    room.run(goods(5), order())
    (room.out / "originals" / issued(room)[0]["sha256"]).unlink()
    result = room.run(goods(7))
    failed = [finding for finding in result.worked.findings if finding.code == "stage.failed"]
    assert len(failed) == 1 and "restore originals/ from a backup" in failed[0].message
    assert len(issued(room)) == 1
