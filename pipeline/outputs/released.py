"""What publishing says of signed releases: how each stands, what changed since, and the record as it was signed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

from pipeline.book.journal import Originals
from pipeline.book.releases import LAPSED, MEANING, Signed, signed_path, state_of
from pipeline.book.rulings import HistoryLine
from pipeline.book.versions import compare, told
from pipeline.common.codes import in_groups
from pipeline.contract.findings import Finding
from pipeline.outputs.replacing import replace_file

Standings = dict[str, dict[str, Any]]
Releases = dict[str, list[Signed]]


def settle(history: list[HistoryLine], releases: Releases, standings: Standings) -> None:
    """Let the history say of each release how it stands; ``standings``: case-folded batch → how it stands."""
    states = {
        (name, signed.number, signed.by): state_of(signed, standings.get(name, {}), signs[at + 1 :])
        for name, signs in releases.items()
        for at, signed in enumerate(signs)
    }
    for at, line in enumerate(history):
        state = states.get((line.finding.casefold(), line.ruling.number, line.ruling.by))
        if state and line.state == "in force" and line.ruling.ruling in MEANING:
            history[at] = replace(line, state=state)


def lapsed(releases: Releases, standings: Standings) -> Iterator[tuple[str, Signed]]:
    """The batches whose last release has lapsed."""
    for name, signs in sorted(releases.items()):
        standing = [signed for signed in signs if not signed.withdrawn]
        if standing and state_of(standing[-1], standings.get(name, {})) == LAPSED:
            yield name, standing[-1]


def lapsed_finding(name: str, signed: Signed, stood: dict[str, Any], old: bytes, new: bytes) -> Finding:
    """The finding that a release does not hold any more, with the figures that differ; ``old``: the record signed."""
    batch = stood.get("name") or name
    changes = told(compare(old, new, ())) if old and new else ""
    what = f"Changed: {changes}." if changes else "No figure of it differs." if old and new else ""
    if not signed.code:
        what = "It names no version of the record."
    now = f"It is {stood['status']} now." if stood else "It has no record any more."
    code = stood.get("code")
    versions = f"Signed was {in_groups(signed.code)}, now it is {in_groups(code)}." if signed.code and code else ""
    return Finding(
        "record.release-lapsed",
        "stop",
        f"{batch} counts no longer as {signed.gives}: its record changed after {signed.by} signed it on "
        f"{signed.ruled_on}. {' '.join(filter(None, (now, what, versions)))}",
        subject=str(batch),
        batch=str(batch),
        remedy="Look at the record, and release it again with its code of now, or withdraw the release.",
    )


def restore_signed(out: Path, originals: Originals, releases: Releases) -> None:
    """Let the records lie beside the batches as they were signed."""
    for signs in releases.values():
        for number, signed in enumerate(signs, start=1):
            for path, digest in signed.files:
                place = signed_path(path, number)
                if not (out / place).exists():
                    replace_file(out, place, originals.read(digest))
