"""A plugin of no trade: one of each thing that a plugin can add, so that the engine is tried alone."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pandas as pd

from pipeline import (
    Column,
    Finding,
    Frame,
    Setting,
    SheetColumn,
    SheetKind,
    UnitWords,
    document,
    hookimpl,
    report,
    stage,
    unite,
)
from pipeline.book.releases import signed_out
from pipeline.common.codes import short_digest

api = 1

GAUGES = SheetKind(
    "gauges",
    key=("vessel", "taken_at", "reading_no"),
    meaning="one toy reading of a vessel",
    looks_like="toy readings",
    dates="taken_at",
    measured=True,
    apart=("method",),
    columns=(
        SheetColumn("vessel", "name", required=True, words="cask; cask no; barrel"),
        SheetColumn("taken_at", "moment", required=True, past=True, words="date; read at; gauge date"),
        SheetColumn("reading", "number", required=True, low=0.0, high=200.0, words="value; observed reading"),
        SheetColumn(
            "temperature",
            "number",
            required=True,
            quantity="temperature",
            unit="degC",
            low=-30.0,
            high=60.0,
            words="temp; jar temperature; fahrenheit reading=degF",
        ),
        SheetColumn("volume", "number", quantity="volume", unit="L", low=0.0, words="vol; wine gallons=gal"),
        SheetColumn("strength", "number", quantity="toy strength", words="proof now=proof"),
        SheetColumn("tries", "count", low=0.0, words="units; attempts"),
        SheetColumn("method", "choice", choices=(("glass", ("spindle", "hydro-meter")), ("meter", ("digital",)))),
        SheetColumn("sealed", "yes_no", words="seal"),
        SheetColumn("reading_no", "name", words="rep"),
        SheetColumn("batch", "name", words="batch no"),
        SheetColumn("remark", "text", words="notes"),
    ),
)

STOCK = SheetKind(
    "stock",
    key=("cask", "filling", "as_of"),
    meaning="one toy cask in a list",
    looks_like="a toy stock list",
    dates="as_of",
    day_of_taking=("as_of",),
    defaults=(("filling", ("cask", "filled_on")),),
    columns=(
        SheetColumn("cask", "name", required=True, words="cask id"),
        SheetColumn("filling", "name"),
        SheetColumn("as_of", "date", past=True, words="stock date"),
        SheetColumn("filled_on", "date", required=True, past=True, words="fill date; entered"),
        SheetColumn("owner", "text", words="belongs to"),
        SheetColumn("location", "text", words="warehouse"),
    ),
)

FILLS = SheetKind(
    "fills",
    key=("fill_batch", "fill_line"),
    meaning="one toy bottle tested",
    looks_like="toy fill checks",
    needs_one_of=(("net_volume", "net_weight"),),
    columns=(
        SheetColumn("fill_batch", "name", required=True),
        SheetColumn("fill_line", "name", required=True),
        SheetColumn("net_volume", "number", quantity="volume", unit="L"),
        SheetColumn("net_weight", "number", quantity="mass", unit="kg"),
    ),
)

STRENGTH_UNITS = [
    UnitWords("toy strength", "proof", ("proof", "° proof")),
    UnitWords("toy strength", "%vol", ("% vol", "abv")),
]

WARM = Frame(
    "warm",
    key=("vessel", "taken_at", "reading_no"),
    columns=(
        Column("vessel", "text", uses=("gauges.vessel",)),
        Column("taken_at", "moment", uses=("gauges.taken_at",)),
        Column("reading_no", "text", uses=("gauges.reading_no",)),
        Column("batch", "text", uses=("gauges.batch",)),
        Column(
            "corrected",
            "float",
            meaning="reading less temperature in degC",
            uses=("gauges.reading", "gauges.temperature_degC"),
        ),
    ),
    meaning="toy readings less their temperature",
)

SUMS = Frame(
    "sums",
    key=("batch",),
    columns=(
        Column("batch", "text", uses=("warm.batch",)),
        Column("total", "float", meaning="sum of the corrected readings", uses=("warm.corrected",)),
        Column("rows", "int", meaning="readings in it", uses=("warm.corrected",)),
    ),
    meaning="toy sums of a batch",
)


@stage(gives=WARM)
def warm_up(gauges: pd.DataFrame, site: Any) -> Any:
    """Takes the temperature off the reading."""
    hot = gauges["temperature_degC"] > site["tolerances.toy_hot"]
    findings = [
        Finding(
            "toy.hot",
            "stop",
            f"Vessel {row.vessel} was read at {row.temperature_degC:.1f} degC.",
            subject=str(row.vessel),
            batch="" if pd.isna(row.batch) else str(row.batch),
            facts=row.facts,
            column="temperature",
            observed=f"{row.temperature_degC:.1f}",
            expected=f"at most {site['tolerances.toy_hot']:g}",
        )
        for row in gauges[hot].itertuples()
    ]
    low = gauges["reading"] < 10.0
    findings += [
        Finding(
            "toy.low", "review", f"{row.vessel} reads low.", subject=str(row.vessel), facts=row.facts, column="reading"
        )
        for row in gauges[low].itertuples()
    ]
    made = gauges[["vessel", "taken_at", "reading_no", "batch"]].assign(
        corrected=gauges["reading"] - gauges["temperature_degC"], facts=gauges["facts"]
    )
    return made, findings


@stage(gives=SUMS)
def add_up(warm: pd.DataFrame) -> pd.DataFrame:
    """Adds up what a batch has."""
    rows = warm[warm["batch"].notna()]
    if rows.empty:
        return SUMS.empty()
    groups = rows.groupby("batch", sort=True)
    facts = unite(rows["facts"], by=rows["batch"])
    totals = groups["corrected"].sum()
    return SUMS.build(
        {"batch": totals.index.to_numpy(), "total": totals.to_numpy(), "rows": groups.size().to_numpy()}, list(facts)
    )


@document(gives="toy_record", per="sums.batch")
def toy_record(batch: str, sums: pd.DataFrame, warm: pd.DataFrame, findings: Any, sources: Any, run: Any) -> Any:
    """One batch as plain data."""
    concerned = [finding for finding in findings if finding.batch == batch and finding.is_open]
    stopped = any(finding.severity == "stop" for finding in concerned)
    total = float(sums["total"].iloc[0])
    digest = short_digest(repr((batch, total)).encode())
    status = "held" if stopped else "reconciled"
    signed = run.releases.get(batch.casefold(), [])
    return {
        "batch": batch,
        "status": signed_out(digest, status, status, "reconciled", signed),
        "signing": {"code": digest, "last_fact": "2026-03-02", "ruled_by": [], "but_for_law": status, "of_law": 0},
        "total": total,
        "parts": [{"component": row.vessel, "corrected": float(row.corrected)} for row in warm.itertuples()],
        "sources": sources.files(fact for facts in sums["facts"] for fact in facts),
        "made_by": "toy",
    }


def toy_tells(data: bytes, site: Any) -> dict[str, list[str]]:
    record = json.loads(data)
    return {"account": [f"It is {record['status']}."], "keys": sorted(record)}


@report(path="batches/{batch}/record.json", per="sums.batch", earlier=("made_by",), signed=True, tells=toy_tells)
def toy_record_file(toy_record: Any) -> bytes:
    return json.dumps(toy_record, indent=1, ensure_ascii=False).encode("utf-8") + b"\n"


@report(path="warm.csv")
def warm_file(warm: pd.DataFrame, sources: Any) -> bytes:
    lines = ["vessel,taken_at,corrected,place"]
    places = sources.places(warm["facts"], "reading")
    for row, place in zip(warm.itertuples(), places, strict=True):
        lines.append(f"{row.vessel},{row.taken_at},{row.corrected:.9g},{place}")
    return "\n".join(lines).encode("utf-8") + b"\n"


@report(path="open.json")
def open_file(findings: list[Finding]) -> bytes:
    rows = [
        {
            "id": f.id,
            "code": f.code,
            "severity": f.severity,
            "message": f.message,
            "place": str(f.place),
            "ruling": str(f.ruling or ""),
        }
        for f in findings
    ]
    return json.dumps(rows, indent=1, ensure_ascii=False).encode("utf-8")


@report(path="history.json")
def history_file(run: Any) -> bytes:
    rows = [[line.finding, line.ruling.ruling, line.state, line.file] for line in run.history]
    return json.dumps(rows, indent=1, ensure_ascii=False).encode("utf-8")


@report(path="index.html", last=True)
def index(run: Any, toy_record: dict[str, Any]) -> bytes:
    lines = [f"{file.name}: {file.outcome} {file.kinds} {file.rows}" for file in run.files]
    lines += [f"{batch}: {record['status']}" for batch, record in toy_record.items()]
    return "\n".join([*lines, *run.problems]).encode("utf-8")


@hookimpl
def sheet_kinds() -> list[SheetKind]:
    return [GAUGES, STOCK, FILLS]


@hookimpl
def unit_words() -> list[UnitWords]:
    return STRENGTH_UNITS


@hookimpl
def settings() -> list[Setting]:
    return [
        Setting("tolerances", "toy_hot", "number", 40.0, "degC", "hotter than this is a finding", low=0.0),
        Setting("plugins.toy", "word", "text", "", meaning="a word"),
    ]


@hookimpl
def stages() -> list[Any]:
    return [add_up, warm_up]


@hookimpl
def reports() -> list[Any]:
    return [index, toy_record, toy_record_file, warm_file, open_file, history_file]


@hookimpl
def data_files() -> dict[str, list[Path]]:
    return {}


# required columns of the toy readings → words they go by
KIND_HEADERS = {
    "vessel": ["vessel", "cask", "cask no", "barrel"],
    "taken_at": ["taken_at", "date", "read at", "gauge date"],
    "reading": ["reading", "value", "observed reading"],
    "temperature": ["temperature", "temp", "jar temperature"],
}
