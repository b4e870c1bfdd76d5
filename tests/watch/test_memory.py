"""What has not changed is not worked out again, and the outputs are those of a rebuild from nothing, byte for byte.

Random sequences of drops, corrections, withdrawals and rulings go through one session, as a watcher
has it; after each step all outputs are compared with those that a rebuild makes of the same originals.
"""

from __future__ import annotations

import itertools
import json
import random
import re
import shutil
from collections.abc import Iterator
from contextlib import ExitStack
from datetime import timedelta
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from pipeline.common.collector import patient_collector
from pipeline.runs import run
from pipeline.runs.session import Session, opened
from pipeline.stages import memory
from pipeline.stages.memory import Memory
from tests.make_docs import ROOT
from tests.pipeline import kit, toy_plugin
from tests.sets import fifth

LEFT_ASIDE = ("originals", "log", "returned")


class Long:
    """A session that stays open, and the rebuild that it is compared with."""

    def __init__(self, folder: Path, inbox: Path) -> None:
        self.inbox, self.out, self.fresh = inbox, folder / "out", folder / "fresh"
        self.now, self.steps = kit.NOW, 3
        self._open = ExitStack()
        self.session = self._begin()

    def _begin(self) -> Session:
        return self._open.enter_context(opened(self.inbox, self.out, run.silent, self.now))

    def again(self) -> None:
        """End the session and begin another, as after a change of site.toml."""
        self.close()
        self.session = self._begin()

    def close(self) -> None:
        self._open.close()

    def step(self, **files: bytes) -> None:
        """Drop files, take them, publish what comes first, and what can wait at the second go."""
        for name, data in files.items():
            (self.inbox / name).write_bytes(data)
        self.now += timedelta(hours=1)
        self.session.fixed = self.now
        self.session.take(self.session.look().whole)
        self.session.publish_first()
        steps = itertools.count()
        self.session.publish_rest(lambda: next(steps) >= self.steps)  # left off in the middle
        self.steps += 7
        assert self.session.publish_rest(lambda: False) is not None

    def rebuilt(self) -> dict[str, bytes]:
        """What a rebuild from nothing makes of the originals."""
        shutil.rmtree(self.fresh, ignore_errors=True)
        shutil.copytree(self.out / "originals", self.fresh / "originals")
        run.rebuild(self.fresh, now=self.now)
        return outputs(self.fresh)

    def check(self, told: object) -> None:
        """Fail where an output is not as a rebuild makes it."""
        ours, theirs = outputs(self.out), self.rebuilt()
        assert sorted(ours) == sorted(theirs), told
        unlike = [name for name in ours if ours[name] != theirs[name]]
        assert not unlike, (told, {name: _unlike(ours[name], theirs[name]) for name in unlike[:3]})


def _unlike(ours: bytes, theirs: bytes) -> object:
    both = zip(ours.splitlines(), theirs.splitlines(), strict=False)
    return next(((one, other) for one, other in both if one != other), (len(ours), len(theirs)))


def outputs(out: Path) -> dict[str, bytes]:
    return {
        path.relative_to(out).as_posix(): path.read_bytes()
        for path in sorted(out.rglob("*"))
        if path.is_file()
        and path.relative_to(out).parts[0] not in LEFT_ASIDE
        and not path.name.startswith((".vatting", "book.sqlite"))
    }


# --- the toy house ---------------------------------------------------------------------------------


class Drawn:
    """Draws the next step of a sequence: a sheet, a stock list, rulings, a file nobody knows."""

    def __init__(self, seed: int) -> None:
        self.draw, self.count = random.Random(seed), 0

    def step(self, out: Path) -> dict[str, bytes]:
        self.count += 1
        made = self.draw.choice([self.sheet, self.sheet, self.sheet, self.rulings, self.rulings, self.stock, self.bad])
        return made(out)

    def sheet(self, _: Path) -> dict[str, bytes]:
        """Readings: new ones, corrections of old ones, withdrawals, disputes; sometimes under an old name."""
        draw = self.draw
        rows = []
        for _row in range(draw.randint(1, 5)):
            vessel = draw.choice(["C-1", "c-1", "C-2", "C-3", "C-4", "K-É"])
            day, void = draw.randint(1, 4), draw.choice(["", "", "", "", "yes"])
            reading, hot = draw.choice([5, 100, 120.5, 121]), draw.choice([20, 20, 20.0, 55])
            rows.append(f"{vessel},2026-03-0{day},{reading},{hot},{draw.choice(['B-1', 'b-1', 'B-2', ''])},{void}")
        name = draw.choice([f"lab_{self.count}.csv", f"lab_{self.count}.csv", "lab.csv"])
        return {name: kit.csv(*rows, header=kit.HEADER + ",void")}

    def stock(self, _: Path) -> dict[str, bytes]:
        day = self.draw.randint(1, 28)
        return {f"stock_{self.count}.csv": f"Cask ID,Fill date,As of\nC-1,2020-01-01,2026-04-{day:02d}\n".encode()}

    def bad(self, _: Path) -> dict[str, bytes]:
        return {f"bad_{self.draw.randint(1, 3)}.csv": b"nothing,known\n1,2\n" + bytes([65 + self.draw.randint(0, 9)])}

    def rulings(self, out: Path) -> dict[str, bytes]:
        """Rulings on findings that there are, on one that there is not, and releases."""
        found = json.loads((out / "open.json").read_bytes()) if (out / "open.json").exists() else []
        names = [row["id"] for row in found] + ["F-AAAAAAAAAA"]
        lines = ["finding;ruling;corrected_value;reason;by;ruled_on"]
        for name in self.draw.sample(names, min(len(names), self.draw.randint(1, 3))):
            ruling = self.draw.choice(["accept", "correct", "correct", "void"])
            value = self.draw.choice(["25", "118", "x"]) if ruling == "correct" else ""
            lines.append(f"{name};{ruling};{value};why;ab;2026-05-{self.draw.randint(1, 28):02d}")
        if self.draw.random() < 0.3:
            lines.append(f"{self.draw.choice(['B-1', 'b-1', 'B-2'])};release;;fine;cd;2026-05-30")
        return {f"rulings_{self.count}.csv": ("\n".join(lines) + "\n").encode()}


@pytest.fixture
def toy(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Long]:
    kit.use(monkeypatch, toy_plugin)
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "site.toml").write_text('timezone = "UTC"\n', "utf-8")
    with patient_collector():
        made = Long(tmp_path, tmp_path / "in")
        yield made
        made.close()


@pytest.mark.parametrize("seed", fifth(range(16)))
def test_a_long_session_of_the_toy_house_is_never_stale(toy: Long, seed: int) -> None:
    """Twelve random steps; one of them a new session under other settings."""
    drawn = Drawn(seed)
    for number in range(12):
        if number == 8:
            (toy.inbox / "site.toml").write_text('timezone = "UTC"\n[tolerances]\ntoy_hot = 18\n', "utf-8")
            toy.again()
        files = drawn.step(toy.out)
        toy.step(**files)
        toy.check((number, files))


def test_a_session_that_met_a_full_disk_is_behind_and_the_next_one_is_not(
    toy: Long, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever failed between journal and outputs: the session begun anew makes what a rebuild makes."""
    from pipeline.book.book import Book

    toy.step(**{"lab.csv": kit.csv(*kit.ROWS)})

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    for owner, name in ((Book, "enter"), (Book, "add_published"), (Book, "remember_findings")):
        with monkeypatch.context() as patch:
            patch.setattr(owner, name, full)
            with pytest.raises(OSError, match="No space"):
                toy.step(**{f"{name}.csv": kit.csv(f"{name},2026-03-02,120,55,B-1")})
        toy.again()
        toy.step()
        toy.check(name)
    assert {path.name for path in toy.inbox.iterdir()} == {"site.toml"}


# --- the whole house -------------------------------------------------------------------------------


class Demo:
    """Draws steps from the example inbox: its sheets as they are, changed ones, and rulings."""

    def __init__(self, seed: int) -> None:
        self.draw = random.Random(seed)
        self.left = sorted(path for path in (ROOT / "inbox_example").iterdir() if path.name != "site.toml")
        self.draw.shuffle(self.left)
        self.gone: list[Path] = []

    def some(self, count: int) -> dict[str, bytes]:
        taken, self.left = self.left[:count], self.left[count:]
        self.gone += taken
        return {path.name: path.read_bytes() for path in taken}

    def step(self, out: Path) -> dict[str, bytes]:
        what = self.draw.random()
        if self.left and what < 0.3:
            return self.some(1)
        return self.changed() if what < 0.65 else self.ruled(out)

    def changed(self) -> dict[str, bytes]:
        """A CSV with a figure changed, or a row left out; under its own name or another."""
        path = self.draw.choice([path for path in self.gone if path.suffix == ".csv"])
        lines = path.read_text("latin-1").splitlines()  # bytes in, bytes out
        at = self.draw.randrange(len(lines) // 2, len(lines))
        digits = [place for place, letter in enumerate(lines[at]) if letter.isdigit()]
        if digits and self.draw.random() < 0.7:
            place = self.draw.choice(digits)
            lines[at] = lines[at][:place] + self.draw.choice("123456789") + lines[at][place + 1 :]
        else:
            del lines[at]
        name = self.draw.choice([path.name, f"again_{self.draw.randint(1, 99)}_{path.name}"])
        return {name: ("\n".join(lines) + "\n").encode("latin-1")}

    def ruled(self, out: Path) -> dict[str, bytes]:
        found = json.loads((out / "exceptions" / "open.json").read_bytes())
        names = re.findall(r"F-[A-Z2-7]{10}", json.dumps(found))
        lines = ["finding;ruling;corrected_value;reason;by;ruled_on"]
        for name in self.draw.sample(names, min(len(names), 3)):
            ruling = self.draw.choice(["accept", "correct", "void"])
            value = self.draw.choice(["20", "118", "170"]) if ruling == "correct" else ""
            lines.append(f"{name};{ruling};{value};why;Ilka Vordren;2026-05-{self.draw.randint(1, 28):02d}")
        if self.draw.random() < 0.5:
            lines.append(f"B-26-0{self.draw.randint(1, 3)};release;;fine;Thessaly Brume;2026-05-30")
        return {f"rulings_{self.draw.randint(1, 9999)}.csv": ("\n".join(lines) + "\n").encode()}


@pytest.mark.parametrize("seed", [1, 2])
@pytest.mark.long
def test_a_long_session_of_the_whole_house_is_never_stale(tmp_path: Path, seed: int) -> None:
    """The example's sheets in a random order, one by one, changed and ruled on: each output as a rebuild makes it."""
    inbox, drawn = tmp_path / "in", Demo(seed)
    inbox.mkdir()
    text = (ROOT / "inbox_example" / "site.toml").read_text("utf-8").replace('"leave"', '"move"')
    (inbox / "site.toml").write_text(text, "utf-8")
    with patient_collector():
        long = Long(tmp_path, inbox)
        try:
            long.step(**drawn.some(13))
            long.check("start")
            for number in range(6):
                files = drawn.step(long.out)
                long.step(**files)
                long.check((number, files))
        finally:
            long.close()


# --- memory itself ---------------------------------------------------------------------------------

UNLIKE: list[tuple[Any, Any]] = [
    (1, 1.0),
    (True, 1),
    (0.0, -0.0),
    ({"a": 1}, {"a": 1.0}),
    ({"a": 1, "b": 2}, {"b": 2, "a": 1}),
    ([1, [2, True]], [1, [2, 1]]),
    ({"a": {"b": 0.0}}, {"a": {"b": -0.0}}),
    ([1], (1,)),
    ([1], [1, 2]),
    (float("nan"), float("nan")),
]


@pytest.mark.parametrize(("one", "other"), UNLIKE)
def test_what_would_be_written_otherwise_is_not_the_same(one: Any, other: Any) -> None:
    """A whole number is not a fraction, and a table in another order is another table; else a page would be stale."""
    kept = Memory()
    first = kept.mark("key", one)
    assert kept.mark("key", other) != first


def test_equal_values_keep_their_mark() -> None:
    """So that what rests on them is not worked out again; other keys have other marks."""
    kept = Memory()
    value = {"a": [1, 2.5, "x", None, {"b": (True, 0.0)}]}
    first = kept.mark("key", value)
    assert kept.mark("key", {"a": [1, 2.5, "x", None, {"b": (True, 0.0)}]}) == first
    assert kept.mark("other", value) != first
    assert kept.mark("key", {"a": []}) > first and kept.mark("key", value) > first + 1  # an old mark never comes back


def test_a_long_frame_made_anew_counts_as_changed(monkeypatch: pytest.MonkeyPatch) -> None:
    """Comparing it would cost what is to be saved; the same object does not change."""
    monkeypatch.setattr(memory, "MOST_COMPARED", 3)
    kept, frame = Memory(), pd.DataFrame({"a": range(4)})
    first = kept.frame_mark("key", frame)
    assert kept.frame_mark("key", frame) == first
    assert kept.frame_mark("key", frame.copy()) != first
    short = pd.DataFrame({"a": range(3)})
    first = kept.frame_mark("short", short)
    assert kept.settled("short", short.copy()) == (short, first) or kept.frame_mark("short", short.copy()) == first
    assert kept.frame_mark("short", short.rename(index={0: 7})) != first


def test_a_call_is_made_again_when_what_it_asked_for_changed() -> None:
    """What it was given stayed, what it looked at beside that did not."""
    kept = Memory()
    kept.keep("call", [1], {"run.files": 5}, "old")
    assert kept.recall("call", [1], lambda name: 5) is not None
    assert kept.recall("call", [1], lambda name: 6) is None
    assert kept.recall("call", [2], lambda name: 5) is None
    assert kept.recall("other", [1], lambda name: 5) is None
