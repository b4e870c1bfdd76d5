"""explain opens with what a report tells of its subject, and gives one part alone; read from the published file."""

from __future__ import annotations

import json

import pytest

from pipeline.common.errors import NotKnown
from pipeline.runs.explain import explain, explain_part
from pipeline.runs.explain_told import parts_told
from pipeline.runs.last_worked import worked_last
from tests.pipeline import toy_plugin
from tests.pipeline.kit import ROWS, Room, csv


@pytest.fixture
def lab(room: Room) -> Room:
    room.run(("lab.csv", csv(*ROWS)))
    return room


def account(room: Room, name: str) -> list[str]:
    first = explain(name, room.out).parts[0]
    return [first.title, *(line.text for line in first.lines)]


def test_a_batch_opens_with_its_account(lab: Room) -> None:
    """However its name is spelled; a cask has none and opens with its findings as before."""
    assert account(lab, "B-1") == account(lab, "b-1") == ["Account", "It is reconciled."]
    assert account(lab, "C-1")[0] == "Findings"


def test_one_part_alone(lab: Room) -> None:
    """No other part and no walk with it; what is not there is named with what is."""
    (part,) = explain_part("b-2", "keys", lab.out).parts
    record = json.loads((lab.out / "batches/B-2/record.json").read_bytes())
    assert part.title == "Keys" and [line.text for line in part.lines] == sorted(record)
    with pytest.raises(NotKnown, match="B-1 has no part taste; it has account, keys"):
        explain_part("B-1", "taste", lab.out)
    with pytest.raises(NotKnown, match="C-1 has no record yet"):
        explain_part("C-1", "keys", lab.out)


def test_a_file_that_was_changed_is_not_read(lab: Room) -> None:
    """Figures that somebody wrote over are not told as the batch's."""
    path = lab.out / "batches/B-1/record.json"
    path.write_bytes(path.read_bytes().replace(b"reconciled", b"released"))
    assert account(lab, "B-1")[1] == "batches/B-1/record.json is not as it was published: vatting run makes it anew."


def test_a_report_that_cannot_tell_costs_its_account_alone(lab: Room) -> None:
    """The walk is all there; the account says which plugin failed."""
    with worked_last(lab.out) as (house, _, book):
        report = next(one for one in house.plugins.reports if one.tells is toy_plugin.toy_tells)

        def fails(data: bytes, site: object) -> dict[str, list[str]]:
            raise ValueError("no such key")

        object.__setattr__(report, "tells", fails)
        said = parts_told("B-1", house, book, lab.out)["account"]
        object.__setattr__(report, "tells", toy_plugin.toy_tells)
    assert said == ["toy could not tell of it (ValueError: no such key)."]
