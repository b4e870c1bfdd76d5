"""The record as it is printed: all that a record must hold, in few pages, each with batch, head and number."""

from __future__ import annotations

from typing import Any

from pipeline.common.heads import on_paper
from pipeline.writing.framing import css_text
from plugins.records.record import words

Row = dict[str, Any]
NOT_STATED = "not stated"
FIGURES = {
    "proposed": "Proposed",
    "glass": "Glass of the trial",
    "expected": "Expected, from what went in",
    "gauged": "Gauged in the vat",
    "bottled": "Bottled",
    "gauged on the line": "Gauged on the line",
    "tested in bottle": "Tested in the bottle",
}


def view(record: Row, house: str, code: str, makeup: Row) -> Row:
    """What the printed part of the template needs beside the record; ``makeup`` as the page has it."""
    head = on_paper(record["head"]) if record["head"] else ""
    return {
        "left": css_text(
            f"{house + ' · ' if house else ''}Batch {record['batch']} · {record['status']} · record {code}"
        ),
        "head": css_text(f"Head {head}" if head else "No head"),
        "figures": [{**row, "title": FIGURES[row["of"]]} for row in record["figures"]],
        "plants": [
            f"{market}: {number}" for market, number in sorted((record["identity"]["plant_numbers"] or {}).items())
        ],
        "spirits": spirits(makeup),
        "gauges": [gauge(row) for row in record["gauges"]],
        "tests": tests(record["tests"]),
        "counted": counted(record["bottlings"]),
        "found": [row for row in record["findings"] if row["severity"] != "note"],
        "notes": sum(row["severity"] == "note" for row in record["findings"]),
        "stated": lambda value: NOT_STATED if value in (None, "") else value,
    }


def spirits(makeup: Row) -> list[Row]:
    """Quantities by ingredient: casks of one spirit together; vessels, heels, additions and water apart."""
    found: dict[str, Row] = {}
    for line in makeup["lines"]:
        name = (
            line["spirit"] or "spirit not stated"
            if line["kind"] == "cask"
            else words.KINDS.get(line["kind"], line["kind"])
        )
        row = found.setdefault(name, {"name": name, "lines": 0, "volume_60F_gal": 0.0, "volume_20C_L": 0.0,
                                      "proof_gallons": 0.0, "lpa": 0.0, "mass_kg": 0.0, "unknown": 0})  # fmt: skip
        row["lines"] += 1
        row["unknown"] += line["mass_kg"] is None
        for key in ("volume_60F_gal", "volume_20C_L", "proof_gallons", "lpa", "mass_kg"):
            row[key] += line[key] or 0.0
    return list(found.values())


def gauge(row: Row) -> Row:
    """A gauge with its reading and temperature as they were read."""
    warm, unit = row["temperature_degC"], row["temperature_unit"]
    shown = NOT_STATED if warm is None else (
        f"{words.number(warm * 1.8 + 32, 1)} °F" if unit == "degF" else f"{words.number(warm, 1)} °C")  # fmt: skip
    return {**row, "read": f"{words.free(row['reading'])} {words.unit(row['scale'])}".strip(), "at_temperature": shown}


def counted(runs: list[Row]) -> str:
    """What the loss at bottling holds of bottles, in words; empty where no sheet states any."""
    said = []
    for name, one, where in (("destroyed", "bottle broken", "counted in the loss at bottling"),
                             ("samples", "bottle kept back", "counted as samples"),
                             ("dumped_back", "bottle poured back", "no loss")):  # fmt: skip
        known = [run for run in runs if run[name] is not None]
        if known:
            litres = sum(run[name] * run["bottle_size_L"] for run in known)
            count = words.count(sum(run[name] for run in known), one, one.replace("bottle", "bottles"))
            said.append(f"{count} ({words.number(litres, 2)} L): {where}")
    return "; ".join(said)


def tests(found: list[Row]) -> list[Row]:
    """Tests by day, tank, line and size: how many, and the lowest, mean and highest that was found."""
    made: dict[tuple[Any, ...], list[Row]] = {}
    for row in found:
        made.setdefault(((row["checked_at"] or "")[:10], row["tank"], row["bottle_size_L"]), []).append(row)
    return [_tested(key, group) for key, group in made.items()]


def _tested(key: tuple[Any, ...], group: list[Row]) -> Row:
    day, tank, size = key
    fills = [row["net_volume_L"] * 1000 for row in group if row["net_volume_L"] is not None]
    strengths = [(row["proof"], row["proof_unit"]) for row in group if row["proof"] is not None]
    unit = strengths[0][1] if strengths and len({of for _, of in strengths}) == 1 else None
    off = [100 * (fill / 1000 / size - 1) for fill in fills if size]
    return {
        "day": day, "tank": tank, "size": size, "count": len(group),
        "serials": f"{group[0]['serial']} to {group[-1]['serial']}" if len(group) > 1 else group[0]["serial"],
        "fill": _spread(fills, 1, "mL"), "off": _spread(off, 2, "%"),
        "strength": _spread([value for value, _ in strengths], 2, words.unit(unit)) if unit else NOT_STATED,
        "actions": [row["action"] for row in group if row["action"]],
    }  # fmt: skip


def _spread(values: list[float], places: int, unit: str) -> str:
    if not values:
        return NOT_STATED
    mean = words.number(sum(values) / len(values), places)
    low, high = words.number(min(values), places), words.number(max(values), places)
    return f"{mean} {unit} ({low} to {high})" if len(values) > 1 else f"{mean} {unit}"
