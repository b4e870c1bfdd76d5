"""What if the law changes: every batch on record judged by other rule files, and the verdicts that differ."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import pandas as pd

from pipeline.contract.site import DataFile, Site
from plugins.label_age.rules.files import read_rules
from plugins.label_age.rules.versions import BrokenFile

KEY = ["batch", "market", "claim"]


@dataclass(frozen=True)
class Changed:
    """A verdict that other rule files change; empty where there was none, or is none any more."""

    batch: str
    market: str
    claim: str
    before: str
    after: str
    rule: str
    reason: str


@dataclass(frozen=True)
class Compared:
    """All verdicts that change, of how many, over how many batches; and rule files that do not count."""

    batches: int
    verdicts: int
    changed: list[Changed]
    broken: list[str]

    def as_data(self) -> dict[str, Any]:
        return asdict(self)


def files_with(site: Site, folder: Path) -> tuple[DataFile, ...]:
    """The house's rule files, each replaced by the folder's of the same name, and the folder's others beside them.

    Raises OSError or UnicodeDecodeError where one cannot be read.
    """
    read = {path.name: path.read_text("utf-8-sig") for path in sorted(folder.glob("*.toml"))}
    files = [_with_text(file, read.pop(file.name, file.text)) for file in site.data.get("rules", ())]
    return (*files, *(_with_text(DataFile(folder.name, name, "", ""), text) for name, text in read.items()))


def _with_text(file: DataFile, text: str) -> DataFile:
    return replace(file, text=text, sha256=hashlib.sha256(text.encode()).hexdigest())


def compare(site: Site, frames: Mapping[str, pd.DataFrame], files: tuple[DataFile, ...]) -> Compared:
    """Judge by the site's rule files and by ``files``; ``frames`` are those that the stage judge_labels needs."""
    from plugins.label_age.stages import judge_labels

    given = {need.name: frames[need.name] for need in judge_labels.needs if need.name in frames}
    other = replace(site, data={**site.data, "rules": files})
    before, after = (judge_labels(**{**given, "site": one})[0] for one in (site, other))
    both = before.merge(after, on=KEY, how="outer", suffixes=("", "_after"))
    differ = both[both["verdict"].fillna("") != both["verdict_after"].fillna("")]
    changed = [
        Changed(
            **{name: row[name] for name in KEY}, before=_text(row["verdict"]), after=_text(row["verdict_after"]),
            rule=_text(row["rule_id_after"]) or _text(row["rule_id"]),
            reason=_text(row["reason_after"]),
        )
        for row in differ.sort_values(KEY).to_dict("records")
    ]  # fmt: skip
    return Compared(before["batch"].nunique(), len(both), changed, [_named(fault) for fault in read_rules(files)[1]])


def _text(value: Any) -> str:
    return "" if pd.isna(value) else str(value)


def _named(fault: BrokenFile) -> str:
    return f"{fault.place}: {fault.message}"
