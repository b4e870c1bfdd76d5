"""A plugin of no trade whose stages, documents and reports are tied to subjects in every way that there is.

``CALLED`` counts what each was called for, so that a run which works everything out anew is seen.
"""

from __future__ import annotations

import json
from collections import Counter
from typing import Any

import numpy as np
import pandas as pd

from pipeline import Column, Finding, Frame, Setting, SheetColumn, SheetKind, document, hookimpl, report, stage, unite

api = 1
CALLED: Counter[str] = Counter()

READ = SheetKind(
    "read",
    key=("vessel", "at", "no"),
    meaning="one reading",
    looks_like="readings of nothing",
    dates="at",
    columns=(
        SheetColumn("vessel", "name", required=True),
        SheetColumn("at", "date", required=True, past=True),
        SheetColumn("no", "name"),
        SheetColumn("value", "number", required=True, low=-1000.0, high=1000.0),
        SheetColumn("tool", "name"),
    ),
)
TOOLS = SheetKind(
    "tools",
    key=("tool",),
    meaning="one tool",
    looks_like="tools",
    columns=(SheetColumn("tool", "name", required=True), SheetColumn("bias", "number", required=True)),
)
POURED = SheetKind(
    "poured",
    key=("batch", "source"),
    meaning="one pour",
    looks_like="pours",
    columns=(
        SheetColumn("batch", "name", required=True),
        SheetColumn("source", "name", required=True),
        SheetColumn("part", "number", required=True),
    ),
)

TRUE = Frame(
    "true",
    ("vessel", "at", "no"),
    (Column("vessel", "text"), Column("at", "moment"), Column("no", "text"), Column("true", "float")),
)
LAST = Frame("last", ("vessel",), (Column("vessel", "text"), Column("true", "float"), Column("count", "int")))
MIXED = Frame("mixed", ("batch",), (Column("batch", "text"), Column("mean", "float"), Column("known", "bool")))
ALL = Frame("all_of_it", (), (Column("vessels", "int"), Column("total", "float")))


@stage(gives=TRUE, per="row of read", links="tools.tool = read.tool")
def make_true(read: pd.DataFrame, tools: pd.DataFrame, site: Any) -> Any:
    """Takes the bias of its tool off each reading."""
    CALLED["true"] += len(read)
    bias = dict(zip(tools["tool"].str.casefold(), tools["bias"], strict=True))
    keys = [str(tool).casefold() if isinstance(tool, str) else "" for tool in read["tool"]]
    off = np.array([bias.get(key, 0.0) for key in keys], float)
    made = read[["vessel", "at", "no"]].assign(true=read["value"] - off, facts=read["facts"])
    high = made["true"] > site["plugins.tied.high"]
    findings = [
        Finding("tied.high", "review", f"{row.vessel} reads {row.true:g}.", subject=row.vessel, facts=row.facts)
        for row in made[high].itertuples()
    ]
    return made, findings


@stage(gives=LAST, per="vessel")
def take_last(true: pd.DataFrame) -> pd.DataFrame:
    """The last reading of each vessel."""
    names = true["vessel"].str.casefold()
    CALLED["last"] += names.nunique()
    ordered = true.assign(key=names).sort_values(["key", "at"], kind="stable")
    rows = ordered.drop_duplicates("key", keep="last")
    counts = names.value_counts()
    facts = unite(ordered["facts"], by=ordered["key"])
    return LAST.build(
        {"vessel": rows["vessel"], "true": rows["true"], "count": [int(counts[key]) for key in rows["key"]]},
        [facts[key] for key in rows["key"]],
    )


@stage(gives=MIXED, per="batch", links="last.vessel = poured.source")
def mix(poured: pd.DataFrame, last: pd.DataFrame) -> Any:
    """The mean of what was poured, by its part."""
    CALLED["mixed"] += poured["batch"].nunique()
    strength = {name.casefold(): (value, facts) for name, value, facts in last[["vessel", "true", "facts"]].to_numpy()}
    rows, findings = [], []
    for _, part in poured.groupby(poured["batch"].str.casefold(), sort=True):
        found = [strength.get(name.casefold(), (np.nan, ())) for name in part["source"]]
        values = np.array([value for value, _ in found], float)
        parts = part["part"].to_numpy(float)
        known = not np.isnan(values).any()
        mean = float((values * parts).sum() / parts.sum()) if known and parts.sum() else np.nan
        facts = tuple(sorted({fact for ids in [*part["facts"], *(ids for _, ids in found)] for fact in ids}))
        rows.append((part["batch"].iloc[0], mean, known, facts))
        if not known:
            name = part["batch"].iloc[0]
            said = f"{name} has a source that nobody read."
            findings.append(Finding("tied.unknown", "stop", said, name, name, facts))
    columns = list(zip(*rows, strict=True)) if rows else [[], [], [], []]
    return MIXED.build(dict(zip(MIXED.names, columns[:3], strict=True)), columns[3]), findings


@stage(gives=ALL)
def take_all(last: pd.DataFrame, site: Any) -> pd.DataFrame:
    """All vessels together, of which the book date is part."""
    CALLED["all"] += 1
    if last.empty:
        return ALL.empty()
    day = site.book_date.day if site.book_date else 0
    return ALL.build(
        {"vessels": [len(last)], "total": [float(last["true"].sum()) + day]},
        [tuple(sorted({fact for ids in last["facts"] for fact in ids}))],
    )


@document(gives="batch_page", per="mixed.batch")
def batch_page(batch: str, mixed: pd.DataFrame, findings: Any, sources: Any) -> Any:
    """One batch by itself."""
    CALLED["batch_page"] += 1
    row = mixed.iloc[0]
    known = bool(row["known"])
    return {
        "batch": batch,
        "status": "reconciled" if known else "held",
        "mean": round(row["mean"], 6) if known else None,
        "said": [finding.message for finding in findings if finding.batch],
        "files": [made["file"] for made in sources.files(row["facts"])],
    }


@document(gives="vessel_pages", per="last.vessel")
def vessel_pages(last: pd.DataFrame, true: pd.DataFrame) -> Any:
    """All vessels that something changed for, in one call."""
    CALLED["vessel_pages"] += len(last)
    rows = zip(last["vessel"], last["true"], last["count"], strict=True)
    every: dict[str, Any] = {name: {"true": round(value, 3), "rows": int(count)} for name, value, count in rows}
    for row in true.itertuples():
        page = next((page for name, page in every.items() if name.casefold() == row.vessel.casefold()), None)
        if page is not None:
            page.setdefault("of", []).append([str(row.at), round(row.true, 3)])
    return every


@report(path="batches/{batch}/record.json", per="mixed.batch", earlier=())
def record_file(batch_page: Any) -> bytes:
    CALLED["record"] += 1
    return json.dumps(batch_page).encode()


@report(path="vessels/{vessel}.txt", per="last.vessel", wait=True, link="what {vessel} read")
def vessel_file(vessel_pages: Any, vessel: str) -> bytes | None:
    CALLED["vessel_file"] += 1
    return f"{vessel} {vessel_pages}".encode() if vessel_pages["rows"] != 2 else None


@report(path="open.json")
def open_file(findings: Any, batch_page: dict[str, Any], all_of_it: pd.DataFrame) -> bytes:
    rows = [[f.id, f.code, f.message, str(f.place), str(f.ruling or "")] for f in findings]
    pages = [[batch, page["mean"]] for batch, page in batch_page.items()]
    return json.dumps([rows, pages, all_of_it["total"].tolist()]).encode()


@report(path="index.html", last=True)
def index(run: Any) -> bytes:
    return repr([(f.name, f.outcome, f.kinds, f.rows) for f in run.files] + run.links).encode()


@hookimpl
def sheet_kinds() -> list[SheetKind]:
    return [READ, TOOLS, POURED]


@hookimpl
def settings() -> list[Setting]:
    return [
        Setting("plugins.tied", "high", "number", 90.0, "", "more than this is asked about"),
        Setting("plugins.tied", "unread", "number", 1.0, "", "nothing reads this"),
    ]


@hookimpl
def stages() -> list[Any]:
    return [take_all, mix, take_last, make_true]


@hookimpl
def reports() -> list[Any]:
    return [index, batch_page, vessel_pages, record_file, vessel_file, open_file]
