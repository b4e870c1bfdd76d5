"""What commands cost, each a whole process: the rows of the table that people feel."""

from __future__ import annotations

from collections.abc import Iterator

from tests.benchmarks.houses import House, demo, settled, sheets
from tests.benchmarks.processes import Figure, vatting
from tests.make_inbox_world import casks

LARGE = House(casks=25_000, batches=1)
FULL = House(casks=25_000, gauges=1, batches=2_000, notes=20_000)
CURVE = [House(casks=1_000, gauges=readings // 1_000) for readings in (10_000, 100_000, 1_000_000)]


def fifty(day: str) -> str:
    """A sheet of fifty readings of casks of the example distillery."""
    names = [cask.name for cask in casks()]
    rows = (f"{names[at % len(names)]},{day} {8 + at % 9:02d}:{at:02d},{118 + at % 9}.5,68,H-1\n" for at in range(50))
    return "Cask No.,Date,Observed Proof,Temp (°F),Instrument\n" + "".join(rows)


def from_nothing() -> Iterator[Figure]:
    """The example inbox into empty outputs."""
    yield Figure("vatting run, the demo from nothing", demo()[1].units, "units", 15)


def run_again() -> Iterator[Figure]:
    """The same run again: the inbox holds nothing that is new."""
    place, _ = demo()
    place.run()  # whatever was dropped by another row is taken
    yield Figure("vatting run, nothing new, demo's book", place.run().units, "units", 1.5)
    large, _ = settled(LARGE)
    large.run()
    yield Figure(f"vatting run, nothing new, {LARGE}", large.run().units, "units", 1.5)


def one_sheet() -> Iterator[Figure]:
    """Fifty readings come new into the example's book."""
    place, _ = demo()
    place.drop("fifty.csv", fifty("2026-03-20"))
    yield Figure("vatting run, one new 50-row sheet, demo's book", place.run().units, "units", 5)


def one_sheet_large() -> Iterator[Figure]:
    """Fifty readings come new into a large book."""
    place, _ = settled(LARGE)
    place.drop("fifty.csv", sheets(LARGE)[1][0])
    cost = place.run()
    yield Figure(f"vatting run, one new 50-row sheet, {LARGE}", cost.units, "units", 8)
    yield Figure("  its memory", cost.megabytes, "MB")


def check() -> Iterator[Figure]:
    """A small file is judged beside the example's site.toml, and nothing recorded."""
    place, _ = demo()
    path = place.drop("to_check.csv", fifty("2026-03-21"))
    cost = vatting("check", path)
    path.unlink()
    yield Figure("vatting check, one small file", cost.units, "units", 3)


def explain() -> Iterator[Figure]:
    """Every figure of a batch with its cells."""
    small = House(casks=62)
    for words, (place, _), batch in (("demo's book", demo(), "B-26-01"), (str(small), settled(small), "B-1")):
        cost = vatting("explain", batch, "--out", place.out)
        assert batch in cost.said
        yield Figure(f"vatting explain BATCH, {words}", cost.units, "units", 4)


def calc() -> Iterator[Figure]:
    """One sum at a prompt."""
    yield Figure("vatting calc proof 193 75degF", vatting("calc", "proof", "193", "75degF").units, "units", 1)


def house() -> Iterator[Figure]:
    """A whole large house from nothing."""
    _, cost = settled(FULL)
    yield Figure(f"vatting run from nothing, {FULL}", cost.seconds, "s", 120)
    yield Figure("  its memory", cost.megabytes, "MB", 1500)


def curve() -> Iterator[Figure]:
    """How a run grows with the readings of a thousand casks."""
    for one in CURVE:
        place, cost = settled(one)
        place.run()
        again = place.run()
        place.drop("fifty.csv", sheets(one)[1][0])
        sheet = place.run()
        for words, spent in (("from nothing", cost), ("nothing new", again), ("one 50-row sheet", sheet)):
            yield Figure(f"{one}: {words}", spent.seconds, "s")
            yield Figure(f"{one}: {words}, memory", spent.megabytes, "MB")
