"""Kinds of damage to outputs: what is done, and the words that must appear."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Any

from pipeline.book.chain import NOTHING, chained, digest_of_line, read_chain
from pipeline.common.files import sha256

Damage = Callable[[Path], object]


def journal(out: Path) -> Path:
    return out / "originals" / "journal.jsonl"


def lines(out: Path) -> list[bytes]:
    return journal(out).read_bytes().splitlines(keepends=True)


def with_lines(change: Callable[[list[bytes]], object]) -> Damage:
    """Damage to the journal's lines as a list; number N is at place N."""

    def damage(out: Path) -> None:
        listed = lines(out)
        changed = change(listed)
        journal(out).write_bytes(b"".join(changed if isinstance(changed, list) else listed))

    return damage


def changed(number: int, old: bytes, new: bytes) -> Damage:
    def change(listed: list[bytes]) -> None:
        assert old in listed[number]
        listed[number] = listed[number].replace(old, new, 1)

    return with_lines(change)


def rechained(out: Path, number: int, old: bytes, new: bytes, to_the_end: bool) -> None:
    """A line changed with its own digest made to fit; ``to_the_end``: all that follow are chained anew."""
    made: list[bytes] = []
    before = NOTHING
    for link, raw in zip(read_chain(journal(out).read_bytes()).links, lines(out), strict=True):
        body = link.body.replace(old, new, 1) if link.number == number else link.body
        fits = link.number == number or (to_the_end and link.number > number)
        made.append(chained(link.number, before, body) + b"\n" if fits else raw)
        before = digest_of_line(made[-1])
    journal(out).write_bytes(b"".join(made))


def appended(**said: Any) -> Damage:
    """A line added with a chain that fits."""

    def damage(out: Path) -> None:
        last = read_chain(journal(out).read_bytes()).links[-1]
        line = {"number": last.number + 1, "taken_at": "2026-06-02T00:00:00Z", "name": "x", "outcome": "taken", **said}
        body = json.dumps(line).encode()[1:]
        with journal(out).open("ab") as stream:
            stream.write(chained(last.number + 1, last.digest, body) + b"\n")

    return damage


def begun_later(out: Path) -> None:
    """The whole journal as if a later version had begun it."""
    rechained(out, 0, b'"format":1', b'"format":2', to_the_end=True)


def original(out: Path, name: str = "lab.csv") -> Path:
    for line in lines(out):
        read = json.loads(line)
        if read.get("name") == name:
            return out / "originals" / read["sha256"]
    raise KeyError(name)


def flipped(path: Path, at: int = 0) -> None:
    data = bytearray(path.read_bytes())
    data[at] ^= 1
    path.write_bytes(bytes(data))


def sql(statement: str) -> Damage:
    def damage(out: Path) -> None:
        with sqlite3.connect(out / "book.sqlite") as book:
            assert book.execute(statement).rowcount
        book.close()

    return damage


def zeroed(out: Path, start: int) -> None:
    data = bytearray((out / "book.sqlite").read_bytes())
    data[start : start + 400] = bytes(400)
    (out / "book.sqlite").write_bytes(bytes(data))


def unchained(out: Path) -> None:
    """All beginnings taken off, so that it looks like a journal of an earlier version."""
    bodies = [b"{" + link.body + b"\n" for link in read_chain(journal(out).read_bytes()).links[1:]]
    journal(out).write_bytes(b"".join(bodies))


CHANGED = "was changed after it was written"
GAP = "is missing, or lines were moved"
TWICE = "a line stands twice, or lines were moved"
ANOTHER = "one of the two was changed"
OTHER_LINE = "was entered from another line than the one that stands in the journal"
NO_LINE = "is named by no line of the journal that agrees"

DAMAGES: dict[str, tuple[Damage, str]] = {
    # the journal's lines
    "time of a line": (changed(2, b'"taken_at":"2026', b'"taken_at":"2019'), f"line 3 (number 2, .*{CHANGED}"),
    "name in a line": (changed(2, b"lab.csv", b"lob.csv"), f"line 3 (number 2, .*{CHANGED}"),
    "digest in a line": (changed(2, b'"sha256":"', b'"sha256":"0'), f"line 3 .*{CHANGED}"),
    "resolved ruling": (changed(6, b"looked at", b"nodded at"), f"line 7 .*{CHANGED}"),
    "a space added": (changed(3, b'"name":', b'"name": '), f"line 4 .*{CHANGED}"),
    "a doubled key": (changed(2, b'"name":', b'"name":"y","name":'), f"line 3 .*{CHANGED}"),
    "number in a chain": (changed(3, b'{"chain":"3:', b'{"chain":"9:'), f"line 4 (number 9, .*{GAP}"),
    "digest before in a chain": (
        with_lines(
            lambda all_: all_.__setitem__(3, all_[3][:12] + (b"0" if all_[3][12:13] != b"0" else b"1") + all_[3][13:])
        ),
        f"line 4 .*{ANOTHER}",
    ),
    "no chain in a line": (changed(3, b'{"chain":', b'{"chian":'), "line 4 .*does not begin as a line"),
    "middle line removed": (with_lines(lambda all_: all_.pop(3)), f"line 4 (number 4, .*3 {GAP}"),
    "three lines removed": (with_lines(lambda all_: all_.__delitem__(slice(2, 5))), f"2 to 4 {GAP}"),
    "first line removed": (with_lines(lambda all_: all_.pop(0)), "line 1 .*what stood before it is missing"),
    "last line removed": (with_lines(lambda all_: all_.pop()), "is not in originals/journal.jsonl, which ends with"),
    "two lines swapped": (with_lines(lambda all_: [*all_[:3], all_[4], all_[3], *all_[5:]]), f"line 4 .*{GAP}"),
    "a line doubled": (with_lines(lambda all_: all_.insert(3, all_[3])), f"line 5 .*{TWICE}"),
    "an old line at the end": (with_lines(lambda all_: all_.append(all_[2])), TWICE),
    "an empty line": (with_lines(lambda all_: all_.insert(3, b"\n")), "line 4 .*does not begin as a line"),
    "a foreign line": (with_lines(lambda all_: all_.insert(3, b'{"number":3}\n')), "line 4 .*does not begin as a line"),
    "half the last line": (
        lambda out: journal(out).write_bytes(journal(out).read_bytes()[:-40]),
        "is not finished: writing was cut off there",
    ),
    "last newline": (
        lambda out: journal(out).write_bytes(journal(out).read_bytes()[:-1] + b" "),
        "another byte stands where the newline was",
    ),
    "line ends of another system": (
        lambda out: journal(out).write_bytes(journal(out).read_bytes().replace(b"\n", b"\r\n")),
        f"line 1 .*{CHANGED}",
    ),
    "a mark at the beginning": (
        lambda out: journal(out).write_bytes(b"\xef\xbb\xbf" + journal(out).read_bytes()),
        "line 1 .*does not begin as a line",
    ),
    "journal emptied": (lambda out: journal(out).write_bytes(b""), "which ends with number"),
    "journal removed": (lambda out: journal(out).unlink(), "journal.jsonl is not there"),
    "chain taken off": (unchained, "is not chained: it was put in its place"),
    "a line with its own digest made to fit": (
        lambda out: rechained(out, 2, b"lab.csv", b"lob.csv", to_the_end=False),
        f"line 4 .*{ANOTHER}",
    ),
    "all lines chained anew": (lambda out: rechained(out, 2, b"lab.csv", b"lob.csv", to_the_end=True), OTHER_LINE),
    "an unknown outcome": (appended(outcome="blessed"), "has the outcome 'blessed', which this version"),
    "a second beginning": (appended(outcome="begun"), "has the outcome 'begun'"),
    "another number in the text": (appended(number=99), "states another number in its text"),
    "a later format": (begun_later, "written by a later version of vatting"),
    "an original that nobody has": (appended(sha256="0" * 64, settings="1" * 64), "originals/0000.*is not there"),
    # originals
    "an original emptied": (lambda out: original(out).write_bytes(b""), "lab.csv, .*has 0 bytes where"),
    "an original cut": (lambda out: original(out).write_bytes(original(out).read_bytes()[:-1]), "bytes where"),
    "an original removed": (lambda out: original(out).unlink(), "lab.csv, number 2, 2026-.*is not there"),
    "an original changed": (lambda out: flipped(original(out)), "lab.csv, .*has other bytes than were taken"),
    "a returned file's bytes": (lambda out: flipped(original(out, "bad.csv")), "bad.csv, .*other bytes"),
    "the settings' bytes": (lambda out: flipped(original(out, "site.toml")), "site.toml, .*other bytes"),
    "an earlier record's bytes": (
        lambda out: flipped(original(out, "batches/B-1/record.json")),
        "record.json, .*other bytes",
    ),
    "a file added": (lambda out: (out / "originals" / "notes.txt").write_text("hm"), f"notes.txt {NO_LINE}"),
    "an original added": (lambda out: (out / "originals" / sha256(b"hm")).write_bytes(b"hm"), NO_LINE),
    # the book
    "book: a file's name": (
        sql("UPDATE files SET name = 'x.csv' WHERE number = 2"),
        "file 2 (x.csv) says something else",
    ),
    "book: a file's digest": (
        sql("UPDATE files SET sha256 = '00' WHERE number = 2"),
        "file 2 (lab.csv) says something",
    ),
    "book: a line's time": (
        sql("UPDATE files SET line = replace(line, '2026-06-01', '2019-06-01') WHERE number = 2"),
        "file 2 (lab.csv) says something else",
    ),
    "book: a head": (
        sql('UPDATE files SET line = replace(line, \'"head": "2:\', \'"head": "2:0\') WHERE number = 2'),
        OTHER_LINE,
    ),
    "book: a file removed": (sql("DELETE FROM files WHERE number = 3"), "file 3 is missing; the journal has it"),
    "book: a file added": (
        sql("INSERT INTO files VALUES (99, 'x.csv', '00', '{}')"),
        "file 99 (x.csv) is not in originals/journal.jsonl",
    ),
    "book: a ruling": (
        sql("UPDATE ruled SET about = replace(about, 'looked at', 'nodded at')"),
        "ruling 1 of file 6 (F-.*is not as the journal has it",
    ),
    "book: a ruling removed": (sql("DELETE FROM ruled"), "ruling 1 of file 6 (F-.*is not as the journal has it"),
    "book: bytes zeroed": (lambda out: zeroed(out, 4096 * 3), "book.sqlite is damaged"),
    "book: its header": (lambda out: zeroed(out, 0), "book.sqlite is damaged"),
    "book: other bytes": (lambda out: (out / "book.sqlite").write_bytes(b"rubbish" * 999), "book.sqlite is damaged"),
    # outputs
    "a record": (lambda out: flipped(out / "batches/B-1/record.json", 30), "batches/B-1/record.json is not as vatting"),
    "a record removed": (
        lambda out: (out / "batches/B-1/record.json").unlink(),
        "batches/B-1/record.json is not there",
    ),
    "an earlier record": (
        lambda out: flipped(out / "batches/B-1/earlier/1.json", 30),
        "batches/B-1/earlier/1.json is not the earlier version",
    ),
    "the start page": (lambda out: flipped(out / "index.html"), "index.html is not as vatting last wrote it"),
    "the open findings": (lambda out: flipped(out / "open.json"), "open.json is not as vatting last wrote it"),
    "a table": (lambda out: flipped(out / "warm.csv", 40), "warm.csv is not as vatting last wrote it"),
}
