"""After every step of a random life the kept results are what a run from nothing gives, and no more was worked out.

Steps: new sheets, corrections, withdrawals, rulings, settings that are read and not read, files deleted and spoilt in
the outputs, and kept results deleted, cut off or overwritten. Every run is a new session, as a new process would be.
"""

from __future__ import annotations

import random
import shutil
from pathlib import Path

import pandas as pd
import pytest

from pipeline.runs.run import rebuild
from tests.pipeline import kit
from tests.pipeline.kept import tied_plugin
from tests.pipeline.kept.plain_run import plain_run

SEEDS, STEPS = range(1), 14
MORE_SEEDS = range(1, 11)
VESSELS = ["V-1", "V-2", "V-3", "V-4", "v-2", "V-5"]
BATCHES = ["B-1", "B-2", "B-3"]
CHANGES = ["new", "new", "new", "correct", "void", "tools", "pour", "pour", "rule", "settings", "unread"]
DAMAGE = ["spoil", "lose", "cut", "overwrite", "nothing"]


class Life:
    """A house that lives by random steps."""

    def __init__(self, folder: Path, seed: int) -> None:
        self.room = kit.Room(folder)
        self.random = random.Random(seed)
        self.files = 0

    def step(self) -> str:
        what = self.random.choice(CHANGES + DAMAGE)
        getattr(self, f"_{what}")()
        return what

    def check(self) -> None:
        """Outputs, frames and findings are those of a run from nothing."""
        result = self.room.run()
        if any(f.code == "outputs.not-as-written" for f in result.worked.findings):
            result = self.room.run()  # it is told once, by the run that wrote the file anew
        text = (self.room.site / "site.toml").read_text("utf-8")
        frames, found = plain_run(self.room.out, text, self.room.site)
        for name, frame in frames.items():
            pd.testing.assert_frame_equal(result.worked.frames[name], frame, obj=name)
        codes = ("tied.high", "tied.unknown")
        said = [f for f in result.worked.findings if f.code in codes]
        assert sorted({f[3] for f in found}) == sorted({f.message for f in said})
        before = self.room.bytes()
        shutil.copytree(self.room.out, self.room.out.parent / "anew", dirs_exist_ok=True)
        anew = kit.Room.__new__(kit.Room)
        anew.out = self.room.out.parent / "anew"
        shutil.rmtree(anew.out / "kept")
        rebuild(anew.out)
        assert {path: data for path, data in anew.bytes().items()} == before
        shutil.rmtree(anew.out)

    def _sheet(self, header: str, *rows: str) -> None:
        self.files += 1
        self.room.run((f"sheet {self.files}.csv", kit.csv(*rows, header=header)))

    def _new(self) -> None:
        pick = self.random
        rows = [
            f"{pick.choice(VESSELS)},2026-0{pick.randint(1, 5)}-{pick.randint(10, 28)},{self.files}{at},"
            f"{pick.randint(0, 120)},{pick.choice(['T-1', 't-2', ''])}"
            for at in range(pick.randint(1, 4))
        ]
        self._sheet("vessel,at,no,value,tool", *rows)

    def _correct(self) -> None:
        self._sheet("vessel,at,no,value", f"V-1,2026-03-10,9,{self.random.randint(0, 120)}")

    def _void(self) -> None:
        self._sheet("vessel,at,no,value,void", f"V-1,2026-03-10,9,5,{self.random.choice(['yes', 'no'])}")

    def _tools(self) -> None:
        self._sheet("tool,bias", f"{self.random.choice(['T-1', 'T-2'])},{self.random.randint(0, 5)}")

    def _pour(self) -> None:
        name = self.random.choice(VESSELS)
        self._sheet("batch,source,part", f"{self.random.choice(BATCHES)},{name},{self.random.randint(1, 9)}")

    def _rule(self) -> None:
        result = self.room.run()
        if result.worked.findings:
            found = self.random.choice(result.worked.findings)
            what = self.random.choice(["accept;", "void;", "accept;"])
            self.files += 1
            self.room.rule(f"{found.id};{what};looked at;Ann;2026-05-30", name=f"rulings {self.files}.csv")

    def _settings(self) -> None:
        self.room.set_site(f'timezone = "UTC"\n[plugins.tied]\nhigh = {self.random.randint(20, 100)}\n')

    def _unread(self) -> None:
        self.room.set_site(f'timezone = "UTC"\n[plugins.tied]\nunread = {self.random.randint(20, 100)}\n')

    def _outputs(self) -> list[Path]:
        out = self.room.out
        made = [*out.glob("batches/*/record.json"), *out.glob("vessels/*.txt"), *out.glob("*.json")]
        return sorted(made)

    def _spoil(self) -> None:
        for path in self.random.sample(self._outputs(), min(2, len(self._outputs()))):
            path.write_bytes(b"{}")

    def _lose(self) -> None:
        for path in self.random.sample(self._outputs(), min(2, len(self._outputs()))):
            path.unlink()

    def _cut(self) -> None:
        path = self.room.out / "kept" / "kept.sqlite"
        if path.exists():
            with open(path, "r+b") as stream:
                stream.truncate(self.random.randint(0, path.stat().st_size))

    def _overwrite(self) -> None:
        path = self.room.out / "kept" / "kept.sqlite"
        if path.exists():
            data = bytearray(path.read_bytes())
            for _ in range(40):
                data[self.random.randrange(100, len(data))] ^= 0xFF
            path.write_bytes(bytes(data))

    def _nothing(self) -> None:
        shutil.rmtree(self.room.out / "kept", ignore_errors=True)


@pytest.mark.parametrize("seed", [*SEEDS, *(pytest.param(seed, marks=pytest.mark.long) for seed in MORE_SEEDS)])
def test_every_step_ends_where_a_run_from_nothing_ends(
    seed: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kit.use(monkeypatch, tied_plugin)
    life = Life(tmp_path, seed)
    life._sheet("vessel,at,no,value,tool", *(f"V-{n},2026-03-10,9,{n * 20},T-1" for n in range(1, 6)))
    life._sheet("batch,source,part", "B-1,V-1,2", "B-1,V-2,3", "B-2,V-3,1", "B-3,V-9,1")
    life.check()
    for _ in range(STEPS):
        life.step()
        life.check()


@pytest.fixture
def counted(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> kit.Room:
    """A room with five vessels and three batches, all worked out."""
    kit.use(monkeypatch, tied_plugin)
    room = kit.Room(tmp_path)
    rows = [f"V-{n},2026-03-10,9,{n * 20},T-{n % 2}" for n in range(1, 6)]
    room.run(("read.csv", kit.csv(*rows, header="vessel,at,no,value,tool")))
    room.run(("tools.csv", kit.csv("T-0,1", "T-1,2", header="tool,bias")))
    room.run(("pour.csv", kit.csv("B-1,V-1,2", "B-1,V-2,3", "B-2,V-3,1", "B-3,V-9,1", header="batch,source,part")))
    tied_plugin.CALLED.clear()
    return room


def test_nothing_new_calls_nothing(counted: kit.Room) -> None:
    counted.run()
    assert tied_plugin.CALLED == {}


def test_a_reading_touches_its_vessel_and_its_batch(counted: kit.Room) -> None:
    counted.run(("more.csv", kit.csv("V-3,2026-03-11,1,50,T-1", header="vessel,at,no,value,tool")))
    called = dict(tied_plugin.CALLED)
    assert called.pop("all") == 1  # the book date moved
    assert called == {
        "true": 1, "last": 1, "mixed": 1, "batch_page": 1, "vessel_pages": 1, "record": 1, "vessel_file": 1
    }  # fmt: skip


def test_a_reading_of_a_vessel_that_no_batch_names_touches_no_batch(counted: kit.Room) -> None:
    counted.run(("more.csv", kit.csv("V-5,2026-03-09,1,50,T-1", header="vessel,at,no,value,tool")))
    assert dict(tied_plugin.CALLED) == {"true": 1, "last": 1, "all": 1, "vessel_pages": 1, "vessel_file": 1}


def test_a_tool_touches_the_readings_made_with_it(counted: kit.Room) -> None:
    counted.run(("more.csv", kit.csv("T-0,4", header="tool,bias")))
    assert tied_plugin.CALLED["true"] == 2 and tied_plugin.CALLED["last"] == 2 and tied_plugin.CALLED["mixed"] == 1


def test_what_gives_the_same_is_no_change_behind_it(counted: kit.Room) -> None:
    """A tool that nothing was read with is looked at by nobody; an earlier reading changes no last one's value."""
    counted.run(("more.csv", kit.csv("T-7,4", header="tool,bias")))
    assert dict(tied_plugin.CALLED) == {}


def test_a_setting_touches_what_reads_it(counted: kit.Room) -> None:
    counted.set_site('timezone = "UTC"\n[plugins.tied]\nunread = 7\n')
    counted.run()
    assert dict(tied_plugin.CALLED) == {}
    counted.set_site('timezone = "UTC"\n[plugins.tied]\nhigh = 30\n')
    counted.run()
    assert tied_plugin.CALLED["true"] == 5 and "last" not in tied_plugin.CALLED


def test_a_lost_file_is_made_again_alone(counted: kit.Room) -> None:
    (counted.out / "vessels" / "V-4.txt").unlink()
    counted.run()
    assert dict(tied_plugin.CALLED) == {"vessel_pages": 1, "vessel_file": 1}
