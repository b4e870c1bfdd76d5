"""The dossier of one batch: whole, the same bytes for the same state, and nothing in it of anybody else."""

from __future__ import annotations

import ast
import hashlib
import io
import json
import os
import re
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path
from typing import Any

import pytest

from pipeline.common.errors import NotKnown, OutputError
from plugins.records.dossier import check_dossier
from plugins.records.dossier.bag import bag, zipped
from plugins.records.dossier.command import write
from plugins.records.dossier.others import Others
from tests.audit.room import BRIEFS, READINGS, vat_gauge
from tests.audit.test_releases import House
from tests.made_once import made_once

FOREIGN = ("NK-2", "NB-2", "Birch Trading", "Harbour Stores", "Night Heron")
CHECKER = Path(check_dossier.__file__)


def two_customers(folder: Path) -> None:
    """Two batches: blend sheets of each alone, one inventory, briefs and readings of both; B1 is signed."""
    room = House(folder)
    cask = "cask,filled_on,as_of,owner"
    room.table("casks.csv", cask, [("K1", "2018-03-01", "2026-01-01", ""),
                                   ("NK-2", "2018-03-01", "2026-01-01", "Birch Trading")])  # fmt: skip
    room.table("briefs.csv", BRIEFS, [("B1", "Reed Warbler", "US", "V1", "yes", 120, "750 mL"),
                                      ("NB-2", "Night Heron", "US", "V2", "yes", 120, "750 mL")])  # fmt: skip
    for batch, source in (("B1", "K1"), ("NB-2", "NK-2")):
        rows = [(batch, source, "150 kg", "2026-01-10")]
        room.table(f"blend_{batch}.csv", "batch,component,drawn_weight,drawn_at", rows)
    gauge = ("2026-01-05", 120, "proof", "at 60 °F", "60 °F", "H-1", "", "", "")
    room.table("readings.csv", READINGS, [("K1", *gauge), ("NK-2", *gauge), vat_gauge(120.1)])
    room.table("removals.csv", "removed_on,lot_code,cause,bottles,recipient",
               [("2026-02-10", "L2", "ship", 60, "Harbour Stores")])  # fmt: skip
    room.run()
    room.release("release.csv")


@pytest.fixture(scope="module")
def house() -> Path:
    return made_once("dossier-house", two_customers)[0]


@pytest.fixture(scope="module")
def made(house: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("dossier") / "B1.zip"
    write("b1", path, house / "out")
    return path


def told(path: Path) -> Any:
    return json.loads(check_dossier.files_of(path)["data/dossier.json"])


def test_it_is_whole_by_tools_that_its_reader_has(made: Path, tmp_path: Path) -> None:
    """Each digest of both manifests by ``sha256sum -c``, where there is such a program, and by Python."""
    zipfile.ZipFile(made).extractall(tmp_path)
    folder = tmp_path / "B1"
    names = ("manifest-sha256.txt", "tagmanifest-sha256.txt")
    if shutil.which("sha256sum"):
        done = subprocess.run(["sha256sum", "-c", "--strict", *names], cwd=folder, capture_output=True, text=True)
        assert done.returncode == 0, done.stdout + done.stderr
    stated = {
        path: digest for name in names for digest, path in map(str.split, (folder / name).read_text().splitlines())
    }
    assert stated == {path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
                      for path in folder.rglob("*") if path.is_file() and path.name != names[1]}  # fmt: skip
    info = dict(line.split(": ", 1) for line in (folder / "bag-info.txt").read_text("utf-8").splitlines())
    payload = [path for path in (folder / "data").rglob("*") if path.is_file()]
    assert info["Payload-Oxum"] == f"{sum(path.stat().st_size for path in payload)}.{len(payload)}"
    assert (folder / "bagit.txt").read_text() == "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"


def test_the_checker_needs_python_alone(made: Path, house: Path, tmp_path: Path) -> None:
    """Run apart from the project, isolated, on the published copy; with the head that the printed record bears."""
    published = house / "out" / "check_dossier.py"
    record = json.loads((house / "out/batches/B1/record.json").read_text("utf-8"))
    assert hashlib.sha256(published.read_bytes()).hexdigest() == record["made_by"]["checker"]
    program = shutil.copy(published, tmp_path / "check.py")
    words = [sys.executable, "-I", "-S", program, made, record["head"][:30]]
    done = subprocess.run(words, capture_output=True, cwd=tmp_path, text=True, env={"PATH": os.defpath})
    assert done.returncode == 0 and "All agrees." in done.stdout, done.stdout + done.stderr
    nodes = list(ast.walk(ast.parse(published.read_text("utf-8"))))
    imported = {alias.name for node in nodes if isinstance(node, ast.Import) for alias in node.names}
    imported |= {str(node.module) for node in nodes if isinstance(node, ast.ImportFrom)}
    assert {name.partition(".")[0] for name in imported} <= sys.stdlib_module_names


def test_the_same_state_gives_the_same_bytes(made: Path, house: Path, tmp_path: Path) -> None:
    """Whatever the clock and the place says; another file in its place is never written over."""
    again = tmp_path / "again.zip"
    shutil.copytree(house / "out", tmp_path / "out")
    write("B1", again, tmp_path / "out")
    assert again.read_bytes() == made.read_bytes()
    again.write_bytes(b"something else")
    with pytest.raises(OutputError, match="is there already"):
        write("B1", again, house / "out")


def test_nothing_of_others_is_in_it(made: Path) -> None:
    """No name of another batch, cask, owner, product or customer in any file or name of a file."""
    for name, data in check_dossier.files_of(made).items():
        text = f"{name}\n{data.decode('utf-8', 'replace')}"
        if name.endswith(".xlsx"):
            with zipfile.ZipFile(io.BytesIO(data)) as book:
                text = "\n".join(book.read(part).decode("utf-8", "replace") for part in book.namelist())
        for foreign in FOREIGN:
            assert not re.search(rf"(?<!\w){re.escape(foreign)}(?!\w)", text), (name, foreign)
    said = told(made)
    assert [one["path"] for one in said["originals"]] == ["originals/blend_B1.csv", "originals/release.csv"]
    left = {one["name"]: one["why"] for one in said["left_out"]}
    assert set(left) == {"casks.csv", "briefs.csv", "readings.csv", "site.toml"}
    assert "others" in left["readings.csv"] and said["files_that_name_others"] == []


def test_it_holds_what_was_signed_and_every_row_used(made: Path, house: Path) -> None:
    """The signed files byte for byte; of sheets left out, the rows that the record rests on."""
    files = check_dossier.files_of(made)
    for name, digest in told(made)["signed"].items():
        assert hashlib.sha256(files[f"data/record/signed/{name}"]).hexdigest() == digest
    assert set(told(made)["signed"]) == {"record.json", "record.html", "record.xlsx"}
    assert told(made)["stands"] == "as signed" and told(made)["status"] == "released"
    rows = files["data/rows_used.csv"].decode("utf-8")
    assert ",K1" in rows and "net_weight_kg,149.9" in rows
    record = json.loads(files["data/record/record.json"])
    used = {tuple(line.split(",")[:3]) for line in rows.splitlines()[1:]}
    assert used == {(s["sha256"], s["sheet"], str(row)) for s in record["sources"] for row in s["rows"]}


CHANGES = {
    "a byte of an original": ("data/originals/blend_B1.csv", b"150 kg", b"151 kg"),
    "a figure of the record": ("data/record/record.json", b'"batch": "B1"', b'"batch": "B9"'),
    "a shown line of the journal": ("data/journal.jsonl", b"blend_B1.csv", b"blend_B9.csv"),
    "a chain of the journal": ("data/journal.jsonl", b'{"chain":"2:', b'{"chain":"7:'),
    "a head": ("data/dossier.json", b'"head": "', b'"head": "9'),
}


@pytest.mark.parametrize("sealed_anew", [False, True])
@pytest.mark.parametrize("what", CHANGES)
def test_what_was_changed_is_named(made: Path, tmp_path: Path, what: str, sealed_anew: bool) -> None:
    """By the manifests; where these were written anew too, by the journal, but for what no journal line vouches for."""
    name, old, new = CHANGES[what]
    files = check_dossier.files_of(made)
    assert old in files[name]
    files[name] = files[name].replace(old, new, 1)
    if sealed_anew:
        files = bag({path[5:]: data for path, data in files.items() if path.startswith("data/")}, {})
    path = tmp_path / "changed.zip"
    path.write_bytes(zipped("B1", files))
    faults, _ = check_dossier.check(path)
    assert bool(faults) == (not sealed_anew or what != "a figure of the record")


def test_a_file_that_goes_or_comes_is_named(made: Path, tmp_path: Path) -> None:
    """Of the payload and beside it."""
    files = check_dossier.files_of(made)
    path = tmp_path / "changed.zip"
    for name in ("data/rulings.json", "manifest-sha256.txt", "bag-info.txt"):
        path.write_bytes(zipped("B1", {other: data for other, data in files.items() if other != name}))
        assert any(name in fault for fault in check_dossier.check(path)[0])
    path.write_bytes(zipped("B1", {**files, "data/more.txt": b"x", "beside.txt": b"x"}))
    assert sorted(check_dossier.check(path)[0]) == [
        "beside.txt does not belong here", "data/more.txt is in no manifest"]  # fmt: skip
    assert check_dossier.check(made, ["3:" + "0" * 24])[0] == ["the head on the paper is not one of this journal's"]


def test_unknown_batches_and_changed_outputs_are_refused(house: Path, tmp_path: Path) -> None:
    """A batch without a record; a record that somebody wrote into."""
    with pytest.raises(NotKnown, match="B9"):
        write("B9", tmp_path / "x.zip", house / "out")
    shutil.copytree(house / "out", tmp_path / "out")
    page = tmp_path / "out/batches/B1/record.html"
    page.write_bytes(page.read_bytes() + b" ")
    with pytest.raises(OutputError, match="not as it was published"):
        write("B1", tmp_path / "x.zip", tmp_path / "out")


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("cask K2 and", True),
        ("K20, aK2", False),
        ("k2", True),
        ("K2-a", True),
        ("birch trading", True),
        ("Birch", False),
    ],
)
def test_names_are_found_whole_and_without_regard_to_case(text: str, found: bool) -> None:
    """A letter or figure beside it makes another name."""
    assert bool(Others(["K2", "Birch Trading", " "]).in_text(text)) == found


def test_what_cannot_be_searched_stays_out() -> None:
    """A picture, an old workbook, a ZIP that is none."""
    others = Others(["K2"])
    assert others.in_file("a.jpg", b"\xff\xd8") and others.in_file("a.xls", b"x")
    assert others.in_file("a.csv", "cask\nK2\n".encode("utf-16")) and not others.in_file("a.csv", b"cask\nK1\n")
    assert others.in_file("K2.csv", b"cask\nK1\n")
