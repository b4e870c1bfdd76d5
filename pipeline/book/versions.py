"""Two versions of a published document, compared figure by figure."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

SHOWN = 6
FOLLOW = ("findings", "sources", "rulings", "releases", "signing")  # from other figures, or from a release itself


@dataclass(frozen=True)
class Change:
    """One figure that changed, by its path in the document (``balance.expected.proof_60F``)."""

    path: str
    old: Any
    new: Any

    def __str__(self) -> str:
        return f"{self.path} {_shown(self.old)} → {_shown(self.new)}"


def compare(old: bytes, new: bytes, left_out: tuple[str, ...]) -> list[Change]:
    """The figures in which two JSON documents differ, but for the top-level keys left out."""
    before, after = _flat(old, left_out), _flat(new, left_out)
    paths = [*before, *(path for path in after if path not in before)]
    return [
        Change(path, before.get(path), after.get(path))
        for path in paths
        if before.get(path, _GONE) != after.get(path, _GONE)
    ]


_GONE = object()


def _flat(data: bytes, left_out: tuple[str, ...]) -> dict[str, Any]:
    flat: dict[str, Any] = {}

    def walk(value: Any, path: str) -> None:
        if isinstance(value, dict) and value:
            for key, inner in value.items():
                if path or key not in left_out:
                    walk(inner, f"{path}.{key}" if path else key)
        elif isinstance(value, list) and value:
            named: Counter[str] = Counter()
            for index, inner in enumerate(value):
                label = _label(inner, index)
                named[label] += 1  # two additions of water have one name
                walk(inner, f"{path}[{label}{f' no. {named[label]}' if named[label] > 1 else ''}]")
        else:
            flat[path] = value

    walk(json.loads(data), "")
    return flat


def _label(item: Any, index: int) -> str:
    """Items are told apart by what they are of, so that a new first row does not change all others."""
    if isinstance(item, dict):
        parts = [str(item[key]) for key in ("id", "component", "claim", "market", "file", "sheet") if item.get(key)]
        if parts:
            return " ".join(parts[:2])
    return str(index)


def _shown(value: Any) -> str:
    if value is None:
        return "nothing"
    return f"{value:.6g}" if isinstance(value, float) else str(value)


def told(changes: Iterable[Change]) -> str:
    """Some of the changes in words, but for those that follow from others; empty for none."""
    said = [str(change) for change in changes if not change.path.startswith(FOLLOW)]
    more = f" and {len(said) - SHOWN} more" if len(said) > SHOWN else ""
    return "; ".join(said[:SHOWN]) + more
