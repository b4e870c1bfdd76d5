"""Checks a dossier of vatting with Python alone: python check_dossier.py DOSSIER [HEAD …]

DOSSIER is the ZIP or its unpacked folder; HEAD, number and at least 24 digits, is one kept on paper. This file comes
from elsewhere than the dossier: its own SHA-256 stands on each record. It says what agrees, and ends with 1 where
something does not. It does not say that a reading is true, nor that the journal was not written anew as a whole by
somebody who holds every head: for that, give a head that was kept elsewhere.
"""

from __future__ import annotations

import hashlib
import json
import re
import sys
import zipfile
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

TAGS = ("bagit.txt", "bag-info.txt", "manifest-sha256.txt")


def files_of(path: str | Path) -> dict[str, bytes]:
    """Path in the package → bytes, of a ZIP with one folder or of that folder."""
    path = Path(path)
    if path.is_dir():
        return {one.relative_to(path).as_posix(): one.read_bytes() for one in path.rglob("*") if one.is_file()}
    with zipfile.ZipFile(path) as archive:
        names = archive.namelist()
        if len(set(names)) != len(names) or len({name.split("/")[0] for name in names}) != 1:
            raise ValueError("it is no ZIP of one folder in which each file stands once")
        return {name.partition("/")[2]: archive.read(name) for name in names if not name.endswith("/")}


def manifest(data: bytes) -> dict[str, str]:
    """Path → SHA-256 as a manifest states them."""
    rows = (line.split(None, 1) for line in data.decode("utf-8").splitlines())
    return {path: digest.lower() for digest, path in rows}


def check_manifests(files: dict[str, bytes]) -> Iterator[str]:
    """What does not agree between files and manifests."""
    for name, wanted in (("tagmanifest-sha256.txt", TAGS), ("manifest-sha256.txt", None)):
        if name not in files:
            yield f"{name} is missing"
            continue
        stated = manifest(files[name])
        lying = set(wanted or (path for path in files if path.startswith("data/")))
        for path in sorted(lying | set(stated)):
            if path not in files:
                yield f"{path} is missing"
            elif path not in stated:
                yield f"{path} is in no manifest"
            elif hashlib.sha256(files[path]).hexdigest() != stated[path]:
                yield f"{path} was changed"
    known = {*TAGS, "tagmanifest-sha256.txt"}
    yield from (f"{path} does not belong here" for path in sorted(files) if path not in known and path[:5] != "data/")


def check_chain(data: bytes, heads: dict[int, str], shown: dict[int, Any], faults: list[str]) -> None:
    """Reads the journal's chain: fills ``heads`` (number → digest) and ``shown`` (number → what a line says)."""
    number, before = -1, "0" * 64
    for place, line in enumerate(data.split(b"\n")[:-1], start=1):
        found = re.match(rb'(\{"chain":"(\d+):([0-9a-f]{64}):([0-9a-f]{64})")(?:,|\}$)', line)
        if not found or int(found[2]) != number + 1 or found[3].decode() != before:
            faults.append(f"journal.jsonl line {place} does not follow the one before it")
            return
        number, header = int(found[2]), found[1] + b","
        before = hashlib.sha256(header).hexdigest()
        heads[number] = before
        if line[len(found[1]) :] != b"}":
            body = line[len(header) :]
            if hashlib.sha256(body).hexdigest() != found[4].decode():
                faults.append(f"journal.jsonl line {place} was changed")
                return
            shown[number] = json.loads(b"{" + body)


def names_in(said: dict[int, Any]) -> set[str]:
    """Every SHA-256 that journal lines name."""
    return set(re.findall(r"\b[0-9a-f]{64}\b", json.dumps(list(said.values()))))


def check(path: str | Path, papers: Iterable[str] = ()) -> tuple[list[str], str]:
    """(faults, what was seen) of a dossier."""
    files = files_of(path)
    faults = list(check_manifests(files))
    heads: dict[int, str] = {}
    shown: dict[int, Any] = {}
    needed = ("data/journal.jsonl", "data/dossier.json", "data/record/record.json")
    if any(name not in files for name in needed):
        return [*faults, "it is no dossier: one of " + ", ".join(needed) + " is missing"], ""
    check_chain(files["data/journal.jsonl"], heads, shown, faults)
    told, named = json.loads(files["data/dossier.json"]), names_in(shown)
    record = json.loads(files["data/record/record.json"])
    for what, head in (
        ("dossier", told["head"]),
        ("record", record.get("head") or ""),
        *(("paper", p) for p in papers),
    ):
        number, _, digits = "".join(head.split()).partition(":")
        if len(digits) < 24 or not number.isdigit() or not heads.get(int(number), "").startswith(digits.lower()):
            faults.append(f"the head on the {what} is not one of this journal's")
    lying = {hashlib.sha256(data).hexdigest(): name for name, data in files.items()}
    left = {one["sha256"]: one for one in told["left_out"]}
    for one in told["originals"]:
        if lying.get(one["sha256"]) != "data/" + one["path"] or one["sha256"] not in named:
            faults.append(f"the original {one['path']} is not the one that the journal names")
    for source in record["sources"]:
        if source["sha256"] not in lying and source["sha256"] not in left:
            faults.append(f"the record rests on {source['file']}, of which the dossier says nothing")
    for name, digest in told["signed"].items():
        if lying.get(digest) is None or digest not in named:
            faults.append(f"{name} is not what was signed")
    seen = (
        f"{told['batch']}, {told['stands']}: {len(files)} files, {len(heads)} journal lines of which {len(shown)} are"
    )
    return faults, f"{seen} shown, {len(told['originals'])} originals, {len(left)} left out. Head {told['head']}"


if __name__ == "__main__":
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    problems, summary = check(sys.argv[1], sys.argv[2:])
    print(summary)
    print("\n".join(problems) if problems else "All agrees.")
    sys.exit(1 if problems else 0)
