"""A batch told in lines for ``vatting explain``, from its published record: the account, and each part by itself."""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any

from plugins.records.record import words
from plugins.records.record.reasons import why

MOST_FINDINGS, MOST_NEXT, MOST_WHY = 5, 2, 2
NAMES = {"drawn": "Drawn", "water": "Water", "expected": "Expected", "gauged": "Gauged", "bottled": "Bottled"}
MISSING = {"water": "none", "gauged": "not gauged yet", "bottled": "not bottled yet"}
Row = dict[str, Any]


def parts_told(data: bytes, site: Any) -> dict[str, list[str]]:
    """Part → lines: ``account`` (at most 19), ``balance``, ``label``, ``taste``, ``sources``; ``data``: record.json."""
    record = json.loads(data)
    us = words.units_first(record["market"] or ",".join(site.markets)) == "US"
    return {
        "account": account(record, us),
        "balance": balance(record, us),
        "label": [_claim(claim) for claim in record["label"]] or ["No claim was judged."],
        "taste": taste(record),
        "sources": [_source(source) for source in record["sources"]],
    }


def account(record: Row, us: bool) -> list[str]:
    """What the batch is, where it stands and why, its figures, and what is open."""
    what = ", for ".join(filter(None, [record["product"] or "No product named", record["market"]]))
    lines = [f"{what}. Status: {record['status']}. {' '.join(why(record)[:MOST_WHY])}"]
    lines.append(f"Step: {record['step']}. {record['step_why']}")
    lines += [f"Next: {todo['action']} ({todo['why']})" for todo in record["next"][:MOST_NEXT]]
    lines += [_entry(name, record["balance"][name], us) for name in NAMES]
    lines.append(f"Lost: {_losses(record['balance'], us)}")
    missed = record["balance"]["imbalance"]
    said = words.misses(missed["mass_z"], missed["ethanol_z"])
    lines.append(said.split(";", 1)[0] + "." if said else "Expected and gauged cannot be compared yet.")
    return lines + _findings(record["findings"])


def _findings(found: Iterable[Row]) -> list[str]:
    """The gravest open findings, each by its first sentence."""
    waiting = [one for one in found if one["severity"] != "note" and one["ruling"] is None]
    if not waiting:
        return ["Nothing that concerns it is open."]
    lines = [f"{one['severity']}: {one['message'].split('. ')[0].rstrip('.')}. ({one['id']})" for one in waiting]
    more = len(lines) - MOST_FINDINGS
    return lines[:MOST_FINDINGS] + ([f"and {words.count(more, 'finding')} more"] if more > 0 else [])


def _entry(name: str, entry: Row | None, us: bool) -> str:
    """``Gauged: 100.0 proof (50.06 % vol), 489.1 gal (1,845.3 L), …``."""
    if entry is None:
        return f"{NAMES[name]}: {MISSING.get(name, 'not known')}"
    strength = (f"{words.number(entry['proof_60F'], 1)} proof", f"{words.number(entry['abv_20C'], 2)} % vol")
    volume = (f"{words.number(entry['volume_60F_gal'], 1)} gal", f"{words.number(entry['volume_20C_L'], 1)} L")
    alcohol = (f"{words.number(entry['proof_gallons'], 1)} proof gal", f"{words.number(entry['lpa'], 1)} LPA")
    shown = [volume] if name == "water" else [strength, volume, alcohol]
    figures = [_both(*pair, us) for pair in shown]
    spread = entry["uncertainty"]["proof_60F"] if name in ("expected", "gauged") else None
    if spread is not None:
        figures[0] += f" ± {words.number(spread, 2)} proof" if us else f" ± {words.number(spread / 2, 2)} % vol"
    figures.append(f"{words.number(entry['mass_kg'], 1)} kg")
    return f"{NAMES[name]}: {', '.join(figures)}"


def _both(american: str, metric: str, us: bool) -> str:
    first, second = (american, metric) if us else (metric, american)
    return f"{first} ({second})"


def _losses(figures: Row, us: bool) -> str:
    """Each step's loss and its share of what was drawn."""
    name, unit = ("proof_gallons", "proof gal") if us else ("lpa", "LPA")
    whole = (figures["drawn"] or {}).get(name)
    told = [
        f"{words.STEPS[step].lower()} {words.number(lost[name], 1)} {unit} ({words.share(lost[name], whole, 2)})"
        for step, lost in figures["loss"].items()
        if lost is not None
    ]
    return "; ".join(told) or "not known yet"


def balance(record: Row, us: bool) -> list[str]:
    """Entries with their basis, components with their cells, losses in mass, alcohol and strength, figures to check."""
    lines: list[str] = []
    for name in NAMES:
        entry = record["balance"][name]
        lines.append(_entry(name, entry, us) + (f"; {entry['basis']}" if entry and entry["basis"] else ""))
        lines += words.corrections(entry["corrected"]) if entry else []
    lines += [_component(part, us) for part in record["components"]]
    for step, lost in record["balance"]["loss"].items():
        if lost is not None:
            figures = [f"{words.number(lost['mass_kg'], 2)} kg", f"{words.number(lost['ethanol_kg'], 2)} kg of alcohol"]
            figures += [f"{words.number(lost['proof_60F'], 1)} proof"] if lost["proof_60F"] is not None else []
            lines.append(f"Lost {words.STEPS[step].lower()}: {', '.join(figures)}")
    for figure in record["balance"]["imbalance"]["figures_to_check"]:
        unit = words.unit(figure["unit"])
        lines.append(
            f"To check: {words.listing(figure['components'])}, {words.spoken(figure['quantity'] or '')} "
            f"{words.free(figure['as_read'])} → {words.free(figure['as_corrected'])} {unit}: {figure['slip']} "
            f"({words.place(figure['place'])})"
        )
    return lines


def _component(part: Row, us: bool) -> str:
    strength = _both(f"{words.number(part['proof_60F'], 1)} proof", f"{words.number(part['abv_20C'], 2)} % vol", us)
    basis = words.BASES.get(part["drawn_basis"] or "", part["drawn_basis"] or "basis not stated")
    figures = [] if part["kind"] == "water" else [strength]
    figures += [f"{words.number(part['mass_kg'], 1)} kg", basis]
    return f"{part['component']}: {', '.join(figures)} ← {'; '.join(_rows(source) for source in part['sources'])}"


def _rows(source: Row) -> str:
    where = " · ".join(filter(None, [source["file"], source["sheet"]]))
    return f"{where}, {'row' if len(source['rows']) == 1 else 'rows'} {words.ranges(source['rows'])}"


def _source(source: Row) -> str:
    return f"{_rows(source)}; SHA-256 {source['sha256'][:24]}…"


def _claim(claim: Row) -> str:
    unsure = "; the rule is unverified" if claim["unverified"] else ""
    rule = f" ({claim['rule']}{unsure})" if claim["rule"] else ""
    said = f"{claim['claim']}, {claim['market']}. {claim['reason']}{rule}"
    return said if str(claim["reason"]).casefold().startswith(claim["verdict"]) else f"{claim['verdict']}: {said}"


def taste(record: Row) -> list[str]:
    """Families on their scale from 0 to 10, the strongest first."""
    found = [(name, band) for name, band in (record["profile"] or {}).items() if band["mean"] is not None]
    found.sort(key=lambda item: (-item[1]["mean"], item[0]))
    lines = []
    for name, band in found:
        room = "" if band["low"] is None else f" ({words.number(band['low'], 1)} to {words.number(band['high'], 1)})"
        lines.append(f"{words.spoken(name)} {words.number(band['mean'], 1)}{room}")
    return lines or ["No tasting of the batch itself is in the book."]
