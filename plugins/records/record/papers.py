"""What an inspector asks of a batch's record beside its account: who, what spirit, which gauges, which bottles.

Sections in brackets: 27 CFR 19.598 and 19.599 (read), 19.600 (read in an older edition), 19.618 and 30.21 (read).
What no sheet and no setting states is None, and pages say "not stated".
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from pipeline.common.names import fold
from plugins import proof
from plugins.records.record.plain import natural, rows
from plugins.records.record.retention import retention
from plugins.records.record.serials import late_entries, serial, serials

if TYPE_CHECKING:
    import pandas as pd

Row = dict[str, Any]
SPIRIT = ("spirit", "grain", "distillery", "state", "country", "distilled_on", "wood_use", "species")
GAUGE = (
    *("vessel", "taken_at", "purpose", "sample_point", "method", "instrument", "certificate", "reading", "scale"),
    *("temperature_degC", "temperature_unit", "thermometer", "solids_mg_100mL", "proof_60F", "proof_uncertainty"),
    *("proof_official", "strength_basis", "abv_20C", "content_basis", "content_mass_kg", "content_uncertainty_kg"),
    *("content_volume_60F_gal", "content_volume_20C_L", "content_proof_gallons"),
)
RUN = (
    *("bottled_on", "run", "bottle_size_L", "bottles", "bottles_per_case", "cases", "part_case", "case_serials"),
    *("lot_code", "label_abv", "dumped_back", "destroyed", "samples"),
    *("remainder_volume_L", "remainder_proof", "remainder_proof_unit", "remainder_to"),
)
TEST = (
    *("checked_at", "tank", "line", "bottle_size_L", "net_volume_L", "net_weight_kg", "temperature_degC", "proof"),
    *("proof_unit", "headspace", "action"),
)
BESIDE = ("proofs", "casks", "proposals")
"""Frames of which a record shows rows that its other frames rest on."""


def identity(record: Row, brief: Row, site: Any) -> Row:
    """Serial number, producer, plant numbers, bonded statement and formula number [19.598(a), (b), (j), 19.599(m)]."""
    bonded = any("bond" in claim["claim"] for claim in record["label"] if claim["claim"])
    return {
        "serial": record["batch"],
        "producer": site["plugins.records.producer"] or site.house or None,
        "plant_numbers": dict(site["plugins.records.plant_numbers"]) or None,
        "formula": brief.get("formula"),
        "bonded": bonded,
        "bonded_statement": site["plugins.records.bonded_statement"] or None,
        "vessel": brief.get("vessel"),
        "vessel_empty": brief.get("vessel_empty"),
    }


def loss(step: Row) -> Row:
    """A loss with its mass of ethanol and, where it is one, the strength of what is missing [19.598(l), (n)]."""
    pure = float(proof.density(1.0, proof.T_20C)) / 1000.0
    ethanol = None if step["lpa"] is None else step["lpa"] * pure
    share = ethanol / step["mass_kg"] if ethanol is not None and step["mass_kg"] else None
    strength = float(proof.proof_from_mass_fraction(share)) if share is not None and 0.0 <= share <= 1.0 else None
    return {**step, "ethanol_kg": ethanol, "proof_60F": strength}


def gauges(facts: Iterable[int], proofs: pd.DataFrame | None) -> list[Row]:
    """The gauges that figures of the record rest on, each a gauge record with its serial [19.618, 30.21]."""
    counted = set(facts)
    found = [
        {"serial": serial("readings", row["facts"][0]), **{name: row.get(name) for name in GAUGE}}
        for row in rows(proofs)
        if row["facts"][0] in counted
    ]
    return sorted(found, key=lambda row: (row["taken_at"] or "", natural(row["vessel"]), row["serial"]))


def spirit(part: Row, casks: pd.DataFrame | None, home: str) -> Row:
    """Kind of a cask's spirit as the inventory last stated it, and what is to be noted [19.598(c)]."""
    key = fold(part["component"])
    mine = [row for row in rows(casks) if fold(row["cask"] or "") == key and row["filled_on"] == part.get("filled_on")]
    mine.sort(key=lambda row: row["as_of"] or "")
    told: Row = {name: None for name in SPIRIT}
    for row in mine:  # what a later export leaves blank stands as before
        told |= {name: row[name] for name in SPIRIT if row.get(name) is not None}
    if part["kind"] != "cask":
        return {**told, "note": "added" if part["kind"] == "addition" else None}
    abroad = home and told["country"] and fold(told["country"]) != fold(home)
    return {**told, "note": f"imported from {told['country']}" if abroad else None}


def runs(bottlings: pd.DataFrame | None, sources: Any) -> list[Row]:
    """Each bottling run with its serial [19.599]."""
    made = []
    for row in sorted(rows(bottlings), key=lambda row: (row["bottled_on"] or "", natural(row.get("run")))):
        made.append({"serial": serial("bottlings", row["facts"][0]), **{name: row.get(name) for name in RUN}})
    return made


def tests(fill_checks: pd.DataFrame | None) -> list[Row]:
    """Each test of strength and fill on the line with its serial [19.600]."""
    found = sorted(rows(fill_checks), key=lambda row: (row["checked_at"] or "", natural(row.get("line"))))
    return [
        {"serial": serial("fill_checks", row["facts"][0]), **{name: row.get(name) for name in TEST}} for row in found
    ]


def transactions(record: Row, lines: list[Row], drawn: list[Row], vessel: str | None) -> list[Row]:
    """What went into the vat and out of it: day, from where, whither, and the records it rests on [19.598(d)–(m)].

    ``lines``: the rows of the frame ``components``, in the order of the record's.
    """
    made = []
    for line, part in zip(lines, record["components"], strict=True):
        into = {"way": "in", "at": line.get("drawn_at"), "from": part["component"], "to": vessel}
        made.append({**into, "serial": part["serial"], "gauges": part["gauges"], "line": line.get("line"),
                     "volume_60F_gal": part["volume_60F_gal"], "volume_20C_L": part["volume_20C_L"],
                     "proof_gallons": part["proof_gallons"], "lpa": part["lpa"]})  # fmt: skip
    for run in drawn:
        out = {"way": "out", "at": run["bottled_on"], "from": vessel, "to": run["lot_code"] or "bottles"}
        litres = (run["bottles"] or 0) * (run["bottle_size_L"] or 0) or None
        made.append({**out, "serial": run["serial"], "gauges": [], "line": run["run"], "volume_60F_gal": None,
                     "volume_20C_L": litres, "proof_gallons": None, "lpa": None})  # fmt: skip
        if run["remainder_volume_L"]:
            rest = {**made[-1], "to": run["remainder_to"], "volume_20C_L": run["remainder_volume_L"]}
            made.append(rest)
    return made


def figures(record: Row, proposals: pd.DataFrame | None, gauged: list[Row], tested: list[Row]) -> list[Row]:
    """Strengths and quantities of prediction, vat and bottle side by side; each None where no sheet gives one.

    The prediction is that of the first proposal of the last set issued.
    """
    issued = rows(proposals)
    last = max((row["issue"] for row in issued), default=None)
    first = next((row for row in issued if row["issue"] == last), {})
    balance = record["balance"]
    found = [_figure("proposed", first, "first proposal of the last set that was issued" if first else None)]
    found.append(
        _figure("glass", {}, None)
    )  # what was tasted is compared in the trial's pages; no sheet states a strength
    for name, said in (("expected", "reckoned from what was drawn and added"), ("gauged", "the vat's own gauge"),
                       ("bottled", "bottles by their size, at the strength of the gauge")):  # fmt: skip
        found.append(_figure(name, balance[name] or {}, said if balance[name] else None))
    line = [row for row in gauged if row["purpose"] in ("bottling tank", "line")]
    found += [_figure("gauged on the line", row, f"{row['serial']}, {row['vessel']}") for row in line]
    strengths = [row["proof"] for row in tested if row["proof"] is not None]
    units = {row["proof_unit"] for row in tested if row["proof"] is not None}
    if strengths and len(units) == 1:
        mean, unit = sum(strengths) / len(strengths), units.pop()
        told = {"proof_60F": mean} if unit == "proof" else {"stated": f"{mean:.2f} {unit}"}
        found.append(_figure("tested in bottle", {}, f"mean of {len(strengths)} bottles, as stated") | told)
    return found


def _figure(name: str, row: Row, said: str | None) -> Row:
    told = {
        key: row.get(key) for key in ("proof_60F", "abv_20C", "volume_60F_gal", "volume_20C_L", "proof_gallons", "lpa")
    }
    return {"of": name, **told, "stated": None, "how": said}


def added(record: Row, frames: dict[str, pd.DataFrame | None], lines: list[Row], brief: Row, facts: Iterable[int],
          sources: Any, site: Any) -> Row:  # fmt: skip
    """The keys that stand at the end of the record; ``lines`` as in ``transactions``."""
    counted = set(facts)
    home, vessel = site["plugins.records.home_country"], brief.get("vessel")
    for line, part in zip(lines, record["components"], strict=True):
        part["serial"] = next(iter(serials(line["facts"], sources, "blends")), None)
        part["gauges"] = serials(line["facts"], sources, "readings")
        part["spirit"] = spirit({**part, "kind": line["kind"]}, frames.get("casks"), home)
        part["vessel"] = vessel
    known, filled = gauges(counted, frames.get("proofs")), runs(frames.get("bottlings"), sources)
    checked = tests(frames.get("fill_checks"))
    markets = (record["market"] or ",".join(site.markets)).split(",")
    entries = [sources.file(sources.spot(fact).number)["taken_at"] for fact in counted]
    return {
        "identity": identity(record, brief, site),
        "gauges": known,
        "bottlings": filled,
        "tests": checked,
        "transactions": transactions(record, lines, filled, vessel),
        "figures": figures(record, frames.get("proposals"), known, checked),
        "late": late_entries(counted, sources, site),
        "retention": retention((market.strip() for market in markets), max(entries, default="")),
    }
