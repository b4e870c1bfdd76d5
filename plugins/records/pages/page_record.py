"""What record.html shows, part by part, as plain values for the template."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

from pipeline.common.codes import in_groups
from plugins.records.pages import paper
from plugins.records.pages.pictures import Piece, Scale, around, bar, span, stacked
from plugins.records.record import reconciled_figures, words
from plugins.records.record.claims import read
from plugins.records.record.notices import caveats, judged_on, troubles
from plugins.records.record.plain import natural, rows
from plugins.records.record.reasons import why
from plugins.records.record.record import ENTRIES, STEPS, draw, of_sample, poured
from plugins.records.record.signing import in_force
from plugins.records.record.steps import STEPS_OF_A_BATCH

if TYPE_CHECKING:
    import pandas as pd

Row = dict[str, Any]
MOST_AGES = 24
STAGES = ("nose", "palate", "finish", "remark")


def view(record: Row, frames: dict[str, pd.DataFrame | None], site: Any, run: Any) -> Row:
    """Everything that the template of a batch record needs.

    ``frames``: this batch's components, component_ages, labels, grounds, scores and notes (None where missing).
    """
    units = words.units_first(record["market"] or ",".join(site.markets))
    found = [
        {**finding, "of": words.of(finding["subject"], record["batch"], (finding["place"] or {}).get("file"))}
        for finding in record["findings"]
    ]
    code = in_groups(record["signing"]["code"] or "")
    made_up = makeup(record, frames.get("component_ages"), frames.get("components"), units)
    return {
        "record": record,
        "paper": paper.view(record, site.house, code, made_up),
        "house": site.house,
        "book_date": judged_on(record, run),
        "problems": troubles(run),
        "why": why(record),
        "steps": STEPS_OF_A_BATCH,
        "code": code,
        "caveats": caveats(record),
        "signed": in_force(record),
        "headline": headline(record, units),
        "needs": [finding for finding in found if wants_a_person(finding)],
        "others": [finding for finding in found if not wants_a_person(finding)],
        "account": account(record, units),
        "reconciled": reconciled_figures.view(record),
        "makeup": made_up,
        "ages": ages(frames.get("component_ages")),
        "age": words.age(*(record["age"][name] for name in ("years", "months", "days"))),
        "label": label(record["label"], frames.get("labels"), frames.get("grounds")),
        "profile": profile(record["profile"]),
        "scores": rows(of_sample(frames.get("scores"), record["batch"])),
        "tasted": tasted(of_sample(frames.get("notes"), record["batch"])),
        "extra": extra(record["extra"]),
        "units": units,
    }


def wants_a_person(finding: Row) -> bool:
    return finding["severity"] in ("stop", "review") and finding["ruling"] is None


def gauge(record: Row) -> tuple[str, Row | None]:
    """The entry that speaks for the batch: gauged, else expected, else what was drawn."""
    for name in ("gauged", "expected", "drawn"):
        if record["balance"][name] is not None:
            return name, record["balance"][name]
    return "", None


def headline(record: Row, units: str) -> list[Row]:
    """The four figures at the top."""
    name, found = gauge(record)
    said = {"gauged": "as gauged", "expected": "expected, not yet gauged", "drawn": "as drawn", "": "not known"}[name]
    figures = []
    if found is not None:
        for title, us, metric in (
            ("Strength", strength_us(found), strength_metric(found)),
            ("Quantity", wine_gallons(found["volume_60F_gal"]), litres(found["volume_20C_L"])),
            (
                "Alcohol",
                (words.number(found["proof_gallons"], 1), "proof gallons"),
                (words.number(found["lpa"], 1), "LPA"),
            ),
        ):
            big, small = (us, metric) if units == "US" else (metric, us)
            figures.append({"title": title, "big": big, "small": " ".join(small), "note": said})
    age = record["age"]
    if age["years"] is not None:
        rest = f"{words.count(age['months'] or 0, 'month')}, {words.count(age['days'] or 0, 'day')}"
        big = (str(age["years"]), "year" if age["years"] == 1 else "years")
        figures.append({"title": "Age", "big": big, "small": rest, "note": f"youngest {age['youngest_component']}"})
    return figures


def strength_us(found: Row) -> tuple[str, str]:
    return words.number(found["proof_60F"], 1), "proof at 60\u00a0°F"


def strength_metric(found: Row) -> tuple[str, str]:
    return words.number(found["abv_20C"], 2), "% vol at 20\u00a0°C"


def wine_gallons(value: float | None) -> tuple[str, str]:
    return words.number(value, 1), "wine gallons at 60\u00a0°F"


def litres(value: float | None) -> tuple[str, str]:
    return words.number(value, 1), "litres at 20\u00a0°C"


def account(record: Row, units: str) -> Row:
    balance = record["balance"]
    return {
        "volumes": volumes(record, units),
        "strengths": strengths(balance, units),
        "entries": [{"name": name, "title": words.ENTRIES[name], "entry": balance[name]} for name in ENTRIES],
        "differences": differences(balance),
        "losses": losses(balance, units),
        "official": (balance["gauged"] or {}).get("proof_gallons_official"),
        "misses": words.misses(balance["imbalance"]["mass_z"], balance["imbalance"]["ethanol_z"]),
        "bases": [
            (words.ENTRIES[name], balance[name]["basis"])
            for name in ENTRIES
            if balance[name] and balance[name]["basis"]
        ],
    }


def volumes(record: Row, units: str) -> list[Row]:
    """What went in, the contraction, and what was expected, gauged and bottled, on one scale."""
    column, unit = ("volume_60F_gal", "wine gallons") if units == "US" else ("volume_20C_L", "litres")
    parts = [
        (part[column], f"poured {part['kind']}", part["component"]) for part in record["components"] if part[column]
    ]
    parts.sort(key=lambda part: part[1].endswith("water"))
    went_in = sum(value for value, _, _ in parts)
    balance = record["balance"]
    expected = (balance["expected"] or {}).get(column)
    known = [went_in, *((balance[name] or {}).get(column) or 0.0 for name in ENTRIES[2:])]
    scale = Scale(0.0, max(known))
    if not max(known):
        return []
    made = [volume_row("Went in", f"the volumes added up, {unit}", went_in, stacked(parts), scale)]
    if expected is not None and went_in:
        lost = [Piece(expected, went_in, "contraction", "contraction")]
        made.append(volume_row("Contraction", "spirit and water take less room", expected - went_in, lost, scale, True))
    for name in ENTRIES[2:]:
        entry = balance[name]
        if entry is None:
            made.append({"title": words.ENTRIES[name], "small": "", "value": "none yet", "picture": bar([], scale)})
        elif entry[column] is not None:
            piece = [Piece(0.0, entry[column], f"entry {name}", name)]
            made.append(volume_row(words.ENTRIES[name], "", entry[column], piece, scale))
    return made


def volume_row(title: str, small: str, value: float, pieces: list[Piece], scale: Scale, sign: bool = False) -> Row:
    shown = words.signed(value, 1) if sign else words.number(value, 1)
    return {"title": title, "small": small, "value": shown, "picture": bar(pieces, scale)}


def strengths(balance: Row, units: str) -> Row | None:
    """Expected, gauged and bottled strength with their uncertainty (1 proof as 0.5 % vol), drawn twice as wide."""
    column, half = ("proof_60F", 1.0) if units == "US" else ("abv_20C", 0.5)
    found = [(name, entry) for name in ENTRIES[2:] if (entry := balance[name]) and entry[column] is not None]
    if len(found) < 2:
        return None
    apart = {name: half * (entry["uncertainty"]["proof_60F"] or 0.0) for name, entry in found}
    scale = around([entry[column] + side * 2 * apart[name] for name, entry in found for side in (-1, 1)])
    made = []
    for name, entry in found:
        value, room = entry[column], apart[name]
        made.append(
            {
                "title": words.ENTRIES[name],
                "value": words.number(value, 2),
                "room": f"± {words.number(room, 2)}" if room else "",
                "picture": span(value - 2 * room, value, value + 2 * room, scale, name),
            }
        )
    return {"rows": made, "low": words.number(scale.low, 2), "high": words.number(scale.high, 2)}


def differences(balance: Row) -> list[tuple[str, str]]:
    """Gauged less expected, in the units of the books."""
    expected, gauged = balance["expected"], balance["gauged"]
    if expected is None or gauged is None:
        return []
    made = []
    for column, places, unit in (
        ("proof_60F", 2, "proof"),
        ("volume_60F_gal", 1, "wine gallons"),
        ("volume_20C_L", 1, "litres"),
        ("proof_gallons", 1, "proof gallons"),
        ("lpa", 1, "LPA"),
        ("mass_kg", 1, "kg"),
    ):
        if expected[column] is not None and gauged[column] is not None:
            made.append((words.signed(gauged[column] - expected[column], places), unit))
    return made


def losses(balance: Row, units: str) -> list[Row]:
    """Losses by step, the largest giving the scale; a gain is a negative loss."""
    column = "proof_gallons" if units == "US" else "lpa"
    found = [(name, balance["loss"][name]) for name in STEPS if balance["loss"][name]]
    drawn = (balance["drawn"] or {}).get(column)
    scale = Scale(0.0, max((abs(step[column] or 0.0) for _, step in found), default=0.0))
    made = []
    for name, step in found:
        value = step[column]
        if value is None:
            continue
        look = "gain" if value < 0 else "loss"
        made.append(
            {
                "title": words.STEPS[name],
                "small": "a gain" if value < 0 else "",
                "value": words.number(value, 1),
                "room": words.share(value, drawn, 2) if drawn else "",
                "picture": bar([Piece(0.0, abs(value), look)], scale),
            }
        )
    return made


def makeup(record: Row, component_ages: pd.DataFrame | None, components: pd.DataFrame | None, units: str) -> Row:
    """The components as lines of a table, with the sums that may be summed."""
    by_draw = {draw(row): row for row in rows(component_ages)}
    lines = poured(components)
    total = sum(line["mass_kg"] or 0.0 for line in lines)
    for line, part in zip(lines, record["components"], strict=False):
        line["corrected"] = words.corrections(part["corrected"])
        line["spirit"], line["apart"] = part["spirit"]["spirit"], line.get("proof_uncertainty")
        age = by_draw.get(draw(line), {})
        day, _, hour = (line["drawn_at"] or words.NONE).partition("T")
        line["day"] = day
        named = line["kind"] == line["component"].casefold()
        line["kind_said"] = "" if named else words.KINDS.get(line["kind"], line["kind"])
        line["at"] = ", ".join(part for part in (hour, f"line {line['line']}" if line["line"] else "") if part)
        line["age"] = words.short_age(age.get("years"), age.get("months"), age.get("days"))
        line["share"] = (
            f"{words.number(100 * line['mass_kg'] / total, 1)} %" if line["mass_kg"] and total else words.NONE
        )
        line["measured"] = words.BASES.get(line.get("drawn_basis") or "", line.get("drawn_basis") or words.NONE)
        line["apparent"] = line.get("strength_basis") == "apparent"
    sums = {
        name: sum(line[name] or 0.0 for line in lines)
        for name in ("volume_60F_gal", "volume_20C_L", "proof_gallons", "lpa", "mass_kg")
    }
    return {
        "lines": lines,
        "sums": sums,
        "counted": counted(lines),
        "apparent": any(line["apparent"] for line in lines),
        "on_paper": any(line.get("drawn_basis") in ("regauge on paper", "share of dump") for line in lines),
    }


def counted(lines: list[Row]) -> str:
    """``5 casks, 2 additions of water``."""
    found = Counter(line["kind"] for line in lines)
    return ", ".join(words.count(number, *words.COUNTED.get(kind, ("component",))) for kind, number in found.items())


def ages(component_ages: pd.DataFrame | None) -> Row | None:
    """Each component's age as a bar, youngest first; of many components, how many in each year."""
    found = sorted(
        (row for row in rows(component_ages) if row.get("age_days") is not None),
        key=lambda row: (row["age_days"], natural(row["component"])),
    )
    if not found:
        return None
    if len(found) > MOST_AGES:
        return {"rows": by_year(found), "grouped": True}
    scale = Scale(0.0, max(row["age_days"] for row in found))
    for row in found:
        row["youngest"] = row["age_days"] == found[0]["age_days"]
    return {
        "grouped": False,
        "rows": [
            {
                "title": row["component"],
                "small": f"{words.day(row['counted_from'])} to {words.day(row['counted_to'])}",
                "value": words.short_age(row["years"], row["months"], row["days"]),
                "youngest": row["youngest"],
                "picture": bar([Piece(0.0, row["age_days"], "youngest" if row["youngest"] else "older")], scale),
            }
            for row in found
        ],
    }


def by_year(found: list[Row]) -> list[Row]:
    each = Counter(row["years"] for row in found)
    scale = Scale(0.0, max(each.values()))
    youngest = found[0]["years"]
    return [
        {
            "title": words.count(year, "year"),
            "small": f"youngest {found[0]['component']}" if year == youngest else "",
            "value": words.count(each[year], "component"),
            "youngest": year == youngest,
            "picture": bar([Piece(0.0, each[year], "youngest" if year == youngest else "older")], scale),
        }
        for year in sorted(each)
    ]


def label(claims: list[Row], labels: pd.DataFrame | None, grounds: pd.DataFrame | None) -> Row:
    """Claims, those not met first, each with its grounds; and how many of each verdict."""
    counted = Counter(claim["verdict"] for claim in claims)
    return {
        "claims": read(claims, labels, grounds),
        "says": words.listing([f"{counted[verdict]} {verdict}" for verdict in words.LABEL_ORDER if counted[verdict]]),
        "unverified": any(claim["unverified"] for claim in claims),
        "lost": labels is None,
    }


def profile(families: Row | None) -> list[Row]:
    """Flavour families on their scale from 0 to 10, strongest first."""
    scale = Scale(0.0, 10.0)
    found = [(name, band) for name, band in (families or {}).items() if band["mean"] is not None]
    found.sort(key=lambda item: (-item[1]["mean"], item[0]))
    return [
        {
            "title": words.spoken(name),
            "value": words.number(band["mean"], 1),
            "room": "" if band["low"] is None else f"{words.number(band['low'], 1)} to {words.number(band['high'], 1)}",
            "picture": span(band["low"], band["mean"], band["high"], scale, "taste"),
        }
        for name, band in found
    ]


def tasted(notes: pd.DataFrame | None) -> list[Row]:
    """What was said, by stage, then taster, in the tasters' own words."""
    said = [row for row in rows(notes) if row.get("text")]
    made = []
    for stage in STAGES:
        lines = [row for row in said if row["stage"] == stage]
        if lines:
            lines.sort(
                key=lambda row: (natural(row["taster"]), row.get("tasted_at") or "", natural(row.get("replicate")))
            )
            made.append({"stage": stage, "lines": lines})
    return made


def extra(found: Row) -> list[Row]:
    """Frames of the site's own plugins as tables."""
    return [
        {"plugin": plugin, "frame": frame, "columns": list(lines[0]), "lines": lines}
        for plugin, frames in found.items()
        for frame, lines in frames.items()
        if lines
    ]
