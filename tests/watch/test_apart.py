"""Large files are read in a process of their own: the same result, and bounds that hold."""

from __future__ import annotations

import io
import json
import os
import signal
import sys
import threading
import zipfile
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from pipeline.book.packed import pack_sheet
from pipeline.contract.site import Site
from pipeline.inbox import bounded_reader as apart
from pipeline.inbox.attempts import Tries
from pipeline.inbox.bounded_reader import Reader, ReaderEnded, is_small
from pipeline.inbox.judging import judge
from pipeline.sheets.judged import Judged
from pipeline.site.house import House, build_house
from tests.bad_input import corpus
from tests.pipeline import kit
from tests.sets import share
from tests.support import lying_in
from tests.watch.kit import until

TEXT = 'timezone = "UTC"\ndate_order = "iso"\n'
HEAD = "Cask No.,Date,Observed Proof,Temp (°F)\n"
LARGE_BYTES, LARGE = 100_000, 5_000  # and rows that are more
LINUX = pytest.mark.skipif(sys.platform != "linux", reason="memory is bounded where Linux bounds it")


def rows(count: int) -> bytes:
    """Readings, the last of them with a temperature that is none."""
    lines = [f"C-{n:06d},2026-03-02,{100 + n % 30}.5,68\n" for n in range(count - 1)]
    return (HEAD + "".join(lines) + "C-999999,2026-03-02,120.5,warm\n").encode()


def house(**settings: Any) -> House:
    made = build_house(TEXT, Path())
    site = made.site
    return replace(made, site=Site({**site.values, **settings}, site.sources, site.folder, site.text, data=site.data))


@pytest.fixture
def reader(monkeypatch: pytest.MonkeyPatch) -> Iterator[Reader]:
    """A reader of the whole house, to which files of more than 100 kB are large."""
    monkeypatch.setattr(apart, "SMALL_BYTES", LARGE_BYTES)
    with Reader(TEXT, Path()) as made:
        made.house = house()
        yield made


def pid(reader: Reader) -> int:
    assert reader._process is not None
    return reader._process.pid


@pytest.mark.long
@pytest.mark.searching
@pytest.mark.parametrize("name", ["large.csv", "large.xlsx"])
def test_a_large_file_is_judged_as_it_would_be_here(reader: Reader, name: str) -> None:
    """Rows, values, findings and columns are the same; one process reads one file after the other."""
    data = rows(share(70_000))
    if name.endswith("xlsx"):
        table = [line.split(",") for line in data.decode().splitlines()[-share(8_000) :]]
        data = _stored(kit.xlsx({"lab": [HEAD.strip().split(","), *table]}))
    assert not is_small(data)
    theirs, ours = reader.judge(name, data, kit.DAY), judge(name, data, reader.house.site, reader.house, kit.DAY)
    first = pid(reader)
    assert (theirs.reason, theirs.findings) == (ours.reason, ours.findings)
    for one, other in zip(theirs.sheets, ours.sheets, strict=True):
        assert (one.kind.name, one.sheet, one.header_row, one.rows, one.columns, one.findings) == (
            *(other.kind.name, other.sheet, other.header_row, other.rows, other.columns, other.findings),
        )
        assert (one.blocks or pack_sheet(one)) == pack_sheet(other)
    assert ours.sheets and reader.judge("again.csv", rows(LARGE), kit.DAY).sheets
    assert pid(reader) == first


def _stored(data: bytes) -> bytes:
    """A workbook packed without making it smaller."""
    made = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as source, zipfile.ZipFile(made, "w", zipfile.ZIP_STORED) as target:
        for info in source.infolist():
            target.writestr(info.filename, source.read(info))
    return made.getvalue()


@pytest.mark.long
def test_what_is_small() -> None:
    """Few bytes, and parts that unpack to few bytes, as found by unpacking them."""
    assert is_small(b"") and is_small(kit.csv(*kit.ROWS)) and is_small(kit.xlsx({"lab": kit.PLAIN}))
    assert not is_small(b"x" * (apart.SMALL_BYTES + 1))
    many = kit.repacked(kit.xlsx({"lab": kit.PLAIN}), lambda name, data: data + b" " * 5_000_000)
    assert len(many) < apart.SMALL_BYTES and not is_small(many)
    assert is_small(corpus.lying_bomb())  # the lie is found, and it is returned without unpacking


def test_a_small_file_starts_no_process(reader: Reader) -> None:
    """It would cost more than it bounds."""
    assert reader.judge("lab.csv", HEAD.encode() + b"C-1,2026-03-02,120.5,68\n", kit.DAY).sheets
    assert reader._process is None


@pytest.mark.long
def test_the_time_limit_is_real(reader: Reader, monkeypatch: pytest.MonkeyPatch) -> None:
    """Given up after the stated time, with the setting to raise; the next file is read by a new process."""
    reader.start()
    assert reader.judge("first.csv", rows(LARGE), kit.DAY).sheets
    first = pid(reader)
    reader.house = house(**{"limits.seconds": 0.2})
    judged = reader.judge("slow.csv", rows(300_000), kit.DAY)
    assert "took longer than 0.2 s" in judged.reason and "raise seconds under [limits]" in judged.remedy
    reader.house = house()
    assert reader.judge("next.csv", rows(LARGE), kit.DAY).sheets and pid(reader) != first
    with pytest.raises(ProcessLookupError):
        os.kill(first, 0)


@pytest.mark.long
@LINUX
def test_the_memory_limit_is_real(reader: Reader) -> None:
    """A file that needs more is returned with the setting to raise; the process is not used again."""
    reader.close()
    with Reader(TEXT + "[limits]\nmemory_megabytes = 100\n", Path()) as made:
        made.house = build_house(made.text, Path())
        judged = made.judge("greedy.csv", rows(1_200_000), kit.DAY)
        assert "more than 100 MB of memory" in judged.reason and "memory_megabytes" in judged.remedy
        assert made._process is None
        assert made.judge("next.csv", rows(LARGE), kit.DAY).sheets


def test_memory_that_ends_here_is_said_too(reader: Reader, monkeypatch: pytest.MonkeyPatch) -> None:
    """Reading a small file may meet the end of memory as well."""

    def none_left(*_: object) -> Judged:
        raise MemoryError

    monkeypatch.setattr(apart, "judge", none_left)
    assert "of memory" in reader.judge("lab.csv", b"x\n", kit.DAY).reason


@pytest.mark.long
def test_a_reader_that_is_killed_says_so(reader: Reader) -> None:
    """Whoever kills it (the system does, when memory ends), the file is not lost and the next one is read."""
    data = rows(300_000)
    reader.start()
    threading.Timer(0.1, lambda: os.kill(pid(reader), signal.SIGKILL)).start()
    with pytest.raises(ReaderEnded):
        reader.judge("large.csv", data, kit.DAY)
    assert reader.judge("next.csv", rows(LARGE), kit.DAY).sheets


@pytest.mark.long
def test_a_reader_that_ended_between_two_files_is_started_again(reader: Reader) -> None:
    """Nothing was in hand: nobody needs to hear of it."""
    assert reader.judge("first.csv", rows(LARGE), kit.DAY).sheets
    os.kill(pid(reader), signal.SIGKILL)
    until(lambda: reader._process is None or reader._process.poll() is not None)
    assert reader.judge("next.csv", rows(LARGE), kit.DAY).sheets


@pytest.mark.long
def test_what_a_plugin_prints_does_not_get_among_the_answers(
    reader: Reader, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    """Standard output is where the answers go; prints go to standard error."""
    (tmp_path / "own" / "noisy").mkdir(parents=True)
    (tmp_path / "own" / "noisy" / "plugin.py").write_text(
        "import os\napi = 1\nos.write(1, b'loud')\nprint('silent')\n", "utf-8"
    )
    with Reader(TEXT + 'plugin_folders = ["own"]\n', tmp_path) as made:
        made.house = house()
        assert made.judge("large.csv", rows(LARGE), kit.DAY).sheets
    printed = capfd.readouterr()
    assert "loud" in printed.err and "loud" not in printed.out
    assert "silent" not in printed.err + printed.out  # what is printed by Python's own means goes to the log


# --- tries -----------------------------------------------------------------------------------------


class Deadly:
    """A reader that dies of some bytes, so many times."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, times: int) -> None:
        self.left, self.asked = times, 0
        plain = Reader.judge

        def judge(reader: Reader, name: str, data: bytes, day: Any, *more: Any) -> Judged:
            if b"DEADLY" not in data:
                return plain(reader, name, data, day, *more)
            self.asked += 1
            if self.left:
                self.left -= 1
                raise ReaderEnded("it ended")
            return plain(reader, name, data.replace(b"DEADLY", b"C-1"), day)

        monkeypatch.setattr(Reader, "judge", judge)


DEADLY = kit.csv("DEADLY,2026-03-02,120,20,")


def test_a_file_that_ends_the_reader_is_returned_in_the_end(room: kit.Room, monkeypatch: pytest.MonkeyPatch) -> None:
    """After the stated number of tries, in words; the others are taken, and the count is forgotten."""
    deadly = Deadly(monkeypatch, 100)
    room.set_site('timezone = "UTC"\n[limits]\ntries = 2\n')
    result = room.run(("a_deadly.csv", DEADLY), ("b.csv", kit.csv(*kit.ROWS)))
    assert [(fate.name, fate.outcome) for fate in result.fates] == [("a_deadly.csv", "returned"), ("b.csv", "taken")]
    assert deadly.asked == 2 and "was begun 2 times and never came to an end" in result.fates[0].reason
    assert (room.out / "returned" / "a_deadly.csv").read_bytes() == DEADLY
    assert not (room.out / ".vatting.tries").exists()


def test_a_file_that_ended_the_reader_once_is_taken(room: kit.Room, monkeypatch: pytest.MonkeyPatch) -> None:
    """It may have been the system's fault."""
    deadly = Deadly(monkeypatch, 1)
    assert [fate.outcome for fate in room.run(("a.csv", DEADLY)).fates] == ["taken"] and deadly.asked == 2


def test_tries_outlive_the_program(room: kit.Room, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file that ends the whole program each time is returned by the start after the last try."""

    class Killed(BaseException):
        pass

    plain = Reader.judge

    def judge(reader: Reader, name: str, data: bytes, day: Any, *more: Any) -> Judged:
        if data == DEADLY:
            raise Killed
        return plain(reader, name, data, day, *more)

    monkeypatch.setattr(Reader, "judge", judge)
    room.drop("deadly.csv", DEADLY)
    for count in (1, 2, 3):
        with pytest.raises(Killed):
            room.run()
        assert list(json.loads((room.out / ".vatting.tries").read_text("utf-8")).values()) == [count]
    result = room.run(("b.csv", kit.csv(*kit.ROWS)))
    assert [(fate.name, fate.outcome) for fate in result.fates] == [("deadly.csv", "returned"), ("b.csv", "taken")]
    assert not (room.out / ".vatting.tries").exists() and lying_in(room.inbox) == []


@pytest.mark.parametrize("spoilt", [b"", b"[1]", b'{"a": "x"}', b"\xff\xfe", b"null"])
def test_a_spoilt_count_begins_anew(tmp_path: Path, spoilt: bytes) -> None:
    """It costs some tries more, and no fault."""
    (tmp_path / "tries").write_bytes(spoilt)
    tries = Tries(tmp_path / "tries")
    assert (tries.begin("a"), tries.begin("a"), tries.begin("b")) == (1, 2, 1)
    assert Tries(tmp_path / "tries").begin("a") == 3
    tries.done("a")
    tries.done("b")
    assert not (tmp_path / "tries").exists()


# --- the corpus of harmful files -------------------------------------------------------------------


@LINUX
@pytest.mark.parametrize("makers", [corpus.SMALL, pytest.param(corpus.SMALL | corpus.LARGE, marks=pytest.mark.long)])
def test_the_corpus_of_harmful_files(tmp_path: Path, makers: dict[str, Any]) -> None:
    """All at once, at full size: each has its fate in words, and memory stays under 900 MB."""
    files = {name: (make(), fate) for name, (make, fate) in makers.items()}
    told, _, peak = corpus.take(tmp_path, {name: data for name, (data, _) in files.items()})
    assert "Traceback" not in told
    out = tmp_path / "out"
    returned = {path.name for path in (out / "returned").iterdir() if not path.name.endswith(".why.txt")}
    assert returned == {name for name, (_, fate) in files.items() if fate == "returned"}
    for name in returned:
        why = (out / "returned" / f"{name}.why.txt").read_text("utf-8")
        assert why.startswith(f"{name} was not taken.\n\nWhy: ") and "What to do: " in why
        limit = 100_000_001 if len(files[name][0]) > 100e6 else None
        assert (out / "returned" / name).read_bytes()[:limit] == files[name][0][:limit]
    assert lying_in(tmp_path / "in") == []
    assert peak < 900e6, f"{peak / 1e6:.0f} MB"
