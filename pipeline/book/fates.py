"""What becomes of a file that was dropped, as people are told of it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any


@dataclass
class Fate:
    """What became of a file: outcome ``taken``, ``returned``, ``repeated`` or ``known``."""

    name: str
    outcome: str
    number: int = 0
    sha256: str = ""
    taken_at: str = ""
    reason: str = ""
    remedy: str = ""
    kinds: str = ""
    rows: int = 0
    findings: int = 0


def fate_of_line(line: dict[str, Any]) -> Fate:
    """A journal line, as people are told of it."""
    fate = Fate(line["name"], line["outcome"], line["number"], line["sha256"], line["taken_at"])
    fate.reason, fate.remedy = line.get("reason", ""), line.get("remedy", "")
    if "signature" in line:
        fate.kinds = "a signature that does not count" if line["signature"]["refused"] else "signature"
    return fate


def known_fate(line: dict[str, Any], name: str) -> Fate:
    """The fate of a file whose bytes were taken before."""
    same = "" if line["name"] == name else f" as {line['name']}"
    return replace(
        fate_of_line(line),
        name=name,
        outcome="known",
        reason=f"The same bytes were taken before{same} (no. {line['number']}).",
    )
