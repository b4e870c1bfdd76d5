"""A fake of what the engine hands to records: invented batches with figures that hang together roughly.

Nothing here is a check of arithmetic: densities are read off a coarse table, good enough to look real.
"""

from __future__ import annotations

import inspect
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

import numpy as np
import pandas as pd

from pipeline.findings import Finding, Place, Ruling, finding_id
from pipeline.publish import RunInfo
from pipeline.rulings import HistoryLine
from pipeline.taking import Fate
from plugins.records import plugin
from plugins.records.plain import fold
from tests.support import site_with

ABV = [0.0, 40.0, 43.0, 46.0, 50.0, 60.0, 70.0, 80.0, 90.0, 100.0]
DENSITY = [998.2, 948.05, 943.06, 937.73, 930.14, 909.11, 885.56, 859.27, 829.18, 789.24]
GALLON = 3.785411784
NAMES = ("briefs", "components", "balances", "losses", "imbalances", "figures_to_check", "component_ages", "ages")
DATES = ("filled_on", "drawn_at", "counted_from", "counted_to", "due", "tasted_at", "gauged_at")


VERSIONS = {
    "vatting": "0.1.0",
    "plugins": {"blending": "0.1.0", "proof": "0.1.0", "records": "0.1.0"},
    "rules": {"label_age/uk.toml": "5d41402abc4b", "label_age/us.toml": "7d793037a076"},
}


def quantities(mass: float, abv: float) -> dict[str, float]:
    """A coarse stand-in for the real alcoholometry."""
    litres = mass / float(np.interp(abv, ABV, DENSITY)) * 1000
    lpa = litres * abv / 100
    gallons = litres / GALLON * 0.9964
    proof = abv * 1.9967
    return {
        "mass_kg": mass,
        "ethanol_kg": lpa * 0.78924,
        "volume_60F_gal": gallons,
        "volume_20C_L": litres,
        "proof_60F": proof,
        "proof_apparent_60F": proof,
        "abv_20C": abv,
        "proof_gallons": gallons * proof / 100,
        "lpa": lpa,
    }


def mixed(parts: list[dict[str, Any]]) -> dict[str, float]:
    mass = sum(part["mass_kg"] for part in parts)
    ethanol = sum(part["ethanol_kg"] for part in parts)
    low, high = 0.0, 100.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (low, middle) if quantities(mass, middle)["ethanol_kg"] > ethanol else (middle, high)
    return quantities(mass, low)


@dataclass
class Sources:
    """Facts under 1000 stand in readings.xlsx, others in the batch's blend sheet, row by row."""

    late: dict[int, int] = field(default_factory=dict)

    def place(self, fact: int, column: str = "") -> Place:
        if fact < 1000:
            return Place("gauges february.xlsx", "Lab", f"{'F' if column == 'temperature' else 'C'}{fact % 1000}")
        return Place(f"blend sheet {fact // 1000}.csv", "", f"B{fact % 1000}")

    def files(self, facts: Any) -> list[dict[str, Any]]:
        found: dict[tuple[str, str], set[int]] = {}
        for fact in facts:
            place = self.place(fact)
            found.setdefault((place.file, place.sheet), set()).add(fact % 1000)
        return [
            {"file": file, "sha256": f"{abs(hash_of(file)):064x}", "sheet": sheet, "rows": sorted(lines)}
            for (file, sheet), lines in sorted(found.items())
        ]

    def newest(self, facts: Any) -> int:
        return max((self.late.get(fact, 1) for fact in facts), default=0)


def hash_of(text: str) -> int:
    return int.from_bytes(text.encode("utf-8").ljust(32, b"~")[:32], "big")


@dataclass
class World:
    """Frames of all batches and what else documents and reports may ask for."""

    frames: dict[str, pd.DataFrame | None]
    findings: list[Finding]
    run: RunInfo
    sources: Sources = field(default_factory=Sources)
    published: dict[str, dict[str, pd.DataFrame]] = field(default_factory=dict)
    site: Any = None

    def batches(self) -> list[str]:
        components = self.frames["components"]
        return [] if components is None else list(dict.fromkeys(components["batch"]))

    def give(self, name: str, batch: str | None, documents: dict[str, Any]) -> Any:
        """What the engine hands over for a parameter."""
        if name == "batch":
            return batch
        if name in documents:
            return documents[name] if batch is None else documents[name][batch]
        if name == "published" and batch is not None:
            return {p: {f: of_batch(t, batch) for f, t in frames.items()} for p, frames in self.published.items()}
        if name in ("findings", "run", "sources", "published", "site"):
            return getattr(self, name)
        frame = self.frames.get(name)
        return frame if batch is None or frame is None else of_batch(frame, batch)

    def call(self, function: Any, batch: str | None = None, **documents: Any) -> Any:
        """Call a document or report as the engine does."""
        wanted = inspect.signature(function.function).parameters
        return function(**{name: self.give(name, batch, documents) for name in wanted})

    def record(self, batch: str) -> dict[str, Any]:
        return self.call(plugin.batch_record, batch)

    def records(self) -> dict[str, dict[str, Any]]:
        return {batch: self.record(batch) for batch in self.batches()}


def of_batch(frame: pd.DataFrame, batch: str) -> pd.DataFrame:
    return frame[frame["batch"] == batch].reset_index(drop=True) if "batch" in frame else frame


def table(lines: list[dict[str, Any]], *columns: str) -> pd.DataFrame:
    """A frame with dates as pandas keeps them and a column ``facts``."""
    made = pd.DataFrame(lines, columns=None if lines else [*columns, "facts"])
    for name in made.columns:
        if name in DATES:
            made[name] = pd.to_datetime(made[name], format="ISO8601").astype("datetime64[us]")
    return made


def finding(code: str, severity: str, message: str, **rest: Any) -> Finding:
    made = Finding(code, severity, message, **rest)
    keys = [str(fact) for fact in made.facts]
    return replace(made, id=finding_id(code, made.subject, keys, made.column)) if not made.id else made


PLANS = (
    # batch, product, market, casks: (id, filled, abv, kg), water kg, gauged, bottled share, age claim
    ("B-26-01", "Fenholm Small Vat", "US", (("C-0102", "2020-04-14", 62.9, 168.2), ("C-0107", "2020-04-15", 62.1, 171.9), ("C-0111", "2021-03-02", 63.4, 175.0), ("C-0118", "2021-03-03", 61.7, 166.4), ("C-0125", "2021-10-20", 63.0, 172.8)), 182.0, 0.9994, 0.986),  # fmt: skip
    ("B-26-02", "Fenholm Reserve", "US, EU", (("C-0203", "2018-05-08", 60.4, 151.0), ("C-0204", "2018-05-08", 61.2, 149.2), ("C-0209", "2018-06-19", 59.8, 147.7), ("C-0212", "2019-02-05", 60.9, 155.3)), 96.0, 0.9768, None),  # fmt: skip
    ("B-26-03", "Fenholm Single Malt 5", "UK", (("M-0311", "2020-09-01", 59.2, 190.4), ("M-0312", "2020-09-01", 58.7, 187.0), ("M-0340", "2021-11-30", 60.1, 201.3)), 210.0, 1.0003, None),  # fmt: skip
    ("B-26-04", "Fenholm Cask Strength", "US", (("C-0131", "2021-04-12", 62.2, 172.1), ("C-0132", "2021-04-12", 62.8, 170.3)), 0.0, None, None),  # fmt: skip
    ("B-25-11", "Fenholm Small Vat", "US", (("C-0088", "2019-04-14", 61.9, 161.1), ("C-0090", "2019-04-15", 62.4, 163.0), ("C-0093", "2019-04-15", 61.1, 158.8)), 118.0, 0.9997, 0.989),  # fmt: skip
)


def world() -> World:
    """Five invented batches: one reconciled, one held, one whose age claim fails, one not gauged, one released."""
    lines: dict[str, list[dict[str, Any]]] = {name: [] for name in (*NAMES, "labels", "notes", "profiles", "scores")}
    for number, plan in enumerate(PLANS, start=1):
        add_batch(lines, number, *plan)
    add_figures(lines)
    add_labels(lines)
    add_tasting(lines)
    frames: dict[str, Any] = {name: table(found) for name, found in lines.items()}
    frames["tastings"] = table([{"sample": "B-26-01", "taster": "Ilse", "facts": (901,)}])
    run = RunInfo(files=taken_files(), versions=dict(VERSIONS), book_date=date(2026, 3, 20), releases={"b-25-11": Ruling("release", "All figures checked; label approved.", "M. Orrin", "2026-02-11", number=40)})  # fmt: skip
    run.history = [
        HistoryLine("F-AAAAAAAAAA", "blend.stale-gauge", "C-0088", "The gauge of C-0088 is 140 days old.", Ruling("accept", "Regauged by dip; within a tenth.", "M. Orrin", "2026-02-10", number=39), "dip book p. 12", "in force", "open.xlsx")  # fmt: skip
    ]
    site = site_with(markets=("US",), book_date=run.book_date)
    site.values["house"] = "Fenholm Distillery"
    return World(frames, some_findings(), run, site=site)


def add_batch(lines: Any, number: int, batch: str, product: str, market: str, casks: Any, water: float, gauged: float | None, bottled: float | None) -> None:  # fmt: skip
    base = number * 1000
    day = f"2026-0{min(number, 3)}-{10 + number:02d}" if not batch.startswith("B-25") else "2025-11-24"
    lines["briefs"].append({"batch": batch, "product": product, "market": market, "due": "2026-04-30", "facts": (base + 1,)})
    parts = []
    for position, (cask, filled, abv, mass) in enumerate(casks, start=1):
        row = {
            "batch": batch,
            "component": cask,
            "drawn_at": day + (" 09:30" if position % 2 else ""),
            "line": str(position),
            "kind": "cask",
            "filling": f"{cask}/1",
            "filled_on": filled,
            "strength_basis": "apparent" if position == 2 else "true",
            "obscuration_proof": None if position == 2 else 0.5,
            "planned_volume_60F_gal": round(mass / 3.4, 0),
            "drawn_basis": "weighed" if position < 4 else "share of dump",
            "strength_source": f"reading H-{1 + position % 2} {day}",
            "facts": (base + 1 + position, 100 * number + position),
            **quantities(mass, abv),
        }
        parts.append(row)
        lines["component_ages"].append(age_line(batch, row))
    if water:
        for position, share in enumerate((0.92, 0.08), start=1):
            row = {"batch": batch, "component": "water", "drawn_at": day + f" 1{position + 2}:00", "line": f"w{position}", "kind": "water", "drawn_basis": "metered", "facts": (base + 40 + position,), **quantities(water * share, 0.0)}  # fmt: skip
            parts.append(row)
    lines["components"].extend(parts)
    youngest = min((row for row in lines["component_ages"] if row["batch"] == batch), key=lambda row: row["age_days"])
    lines["ages"].append({"batch": batch, "youngest_component": youngest["component"], **{k: youngest[k] for k in ("years", "months", "days")}, "facts": youngest["facts"]})  # fmt: skip
    add_balance(lines, base, batch, parts, gauged, bottled)


def age_line(batch: str, row: dict[str, Any]) -> dict[str, Any]:
    start, end = pd.Timestamp(row["filled_on"]), pd.Timestamp(row["drawn_at"]).normalize()
    months = (end.year - start.year) * 12 + end.month - start.month - (end.day < start.day)
    anniversary = start + pd.DateOffset(months=months)
    return {
        **{name: row[name] for name in ("component", "drawn_at", "line", "facts")},
        "batch": batch,
        "age_days": float((end - start).days),
        "years": months // 12,
        "months": months % 12,
        "days": (end - anniversary).days,
        "counted_from": row["filled_on"],
        "counted_to": end,
    }


def add_balance(lines: Any, base: int, batch: str, parts: Any, gauged: float | None, bottled: float | None) -> None:
    spirit = [part for part in parts if part["kind"] != "water"]
    water = [part for part in parts if part["kind"] == "water"]
    expected = mixed(parts)
    entries: dict[str, dict[str, float]] = {"drawn": mixed(spirit)}
    if water:
        entries["water"] = quantities(sum(part["mass_kg"] for part in water), 0.0)
    entries["expected"] = expected
    if gauged is not None:
        entries["gauged"] = quantities(expected["mass_kg"] * 0.9987, expected["abv_20C"] * gauged)
    if bottled is not None:
        entries["bottled"] = quantities(entries["gauged"]["mass_kg"] * bottled, entries["gauged"]["abv_20C"] - 0.02)
    bases = {
        "gauged": "mean of 2 readings of V-3, H-2 and DM-1; computed, the official gauge is by the tables",
        "bottled": "516 bottles of 750 mL and the line strength",
    }
    for name, entry in entries.items():
        official = float(np.floor(entry["proof_gallons"] * 10 + 0.5) / 10)
        lines["balances"].append(
            {
                "batch": batch,
                "entry": name,
                **entry,
                "proof_gallons_official": official,
                "mass_uncertainty_kg": 0.9 if name != "water" else None,
                "ethanol_uncertainty_kg": 0.6,
                "proof_uncertainty": {"expected": 0.12, "gauged": 0.09, "bottled": 0.1, "drawn": 0.14}.get(name),
                "basis": bases.get(name),
                "facts": (base + 2, base + 60),
            }
        )
    contraction = sum(part["volume_60F_gal"] for part in parts) - expected["volume_60F_gal"]
    agrees = None if gauged is None else gauged > 0.99
    lines["imbalances"].append(
        {
            "batch": batch,
            "contraction_60F_gal": contraction,
            "mass_z": None if gauged is None else 0.7,
            "ethanol_z": None if gauged is None else (0.4 if agrees else 9.6),
            "smallest_visible_proof": None if gauged is None else 1.3,
            "smallest_visible_kg": None if gauged is None else 3.2,
            "agrees": agrees,
            "facts": (base + 2, base + 60),
        }
    )
    if bottled is not None:
        for step, share in (("dump", 0.004), ("filter", 0.003), ("bottling", 0.006), ("samples", 0.0008), ("unexplained", -0.0006)):  # fmt: skip
            lines["losses"].append({"batch": batch, "step": step, "mass_kg": share * expected["mass_kg"], "proof_gallons": share * expected["proof_gallons"], "lpa": share * expected["lpa"], "facts": (base + 2,)})  # fmt: skip


def add_figures(lines: Any) -> None:
    for rank, (component, quantity, unit, read, mended, slip, after) in enumerate(
        (
            ("C-0209", "temperature", "degF", 17.5, 63.5, "read in °C, entered in a column of °F", 0.6),
            ("C-0203, C-0204", "drawn_weight", "lb", 329.1, 339.1, "one digit misread", 3.1),
        ),
        start=1,
    ):
        lines["figures_to_check"].append({"batch": "B-26-02", "rank": rank, "components": component, "quantity": quantity, "unit": unit, "as_read": read, "as_corrected": mended, "slip": slip, "z_before": 9.6, "z_after": after, "fact": 203 if rank == 1 else 2002, "facts": (203,)})  # fmt: skip


def add_labels(lines: Any) -> None:
    said = {
        "B-26-01": (
            ("straight", "US", "met", "Every component is at least 2 years in charred new oak, entered at 125 proof or less.", "27 CFR 5.143", False, '{"charred": true, "distilled_proof": 138.0, "entry_proof": 124.5, "bonded_storage": "assumed", "years_in_new_oak": 4}'),  # fmt: skip
            ("age statement", "US", "met", "The youngest component is 4 years, 2 months and 22 days old; the label says 4 years.", "27 CFR 5.74", True, '{"age_statement": "4 years", "youngest": "C-0125"}'),  # fmt: skip
            ("bottled in bond", "US", "not met", "The components come from 4 distilling seasons; one is required.", "27 CFR 5.88", False, '{"distilled_on": "2020-04-12", "seasons": 4}'),  # fmt: skip
            ("bottling strength", "US", "met", "Gauged 50.02 % vol at 60 °F, the label says 50.0 %; the tolerance is 0.3.", "27 CFR 5.65", False, '{"proof_60F": 100.04, "label_abv": 50.0}'),  # fmt: skip
        ),
        "B-26-03": (
            ("age statement", "UK", "not met", "M-0340 was filled on 2021-11-30 and drawn on 2026-03-13: 4 years, 3 months and 13 days. The label says 5 years.", "Assimilated Reg. 2019/787 Art. 13(6)", False, '{"age_statement": "5 years", "youngest": "M-0340", "under_supervision": "assumed"}'),  # fmt: skip
            ("single malt", "UK", "cannot tell", "No sheet says that M-0340 was distilled in pot stills.", "SI 2009/2890 reg. 3", True, '{"distillery": "Fenholm", "grain": "malted barley 100", "still": null}'),  # fmt: skip
            ("minimum strength", "UK", "met", "40.9 % vol at 20 °C, at least 40 is required.", "Assimilated Reg. 2019/787 Annex I", False, '{"abv_20C": 40.9}'),  # fmt: skip
        ),
    }
    for batch, claims in said.items():
        for claim, market, verdict, reason, rule, unverified, facts in claims:
            lines["labels"].append({"batch": batch, "market": market, "claim": claim, "verdict": verdict, "reason": reason, "rule": rule, "unverified": unverified, "rule_version": "2025-01-19" if market == "US" else "2024-01-01", "facts_used": facts, "facts": (1002,)})  # fmt: skip


def add_tasting(lines: Any) -> None:
    for family, mean in (("oak_wood", 5.8), ("vanilla_cream", 5.1), ("dried_fruit_wine", 3.3), ("spice", 4.4), ("grain_malt", 2.6), ("body", 6.0), ("heat", 2.9), ("off_notes", 0.2)):  # fmt: skip
        lines["profiles"].append({"sample": "B-26-01", "family": family, "stage": "all", "mean": mean, "low": max(mean - 1.4, 0.0), "high": mean + 1.4, "notes": 4, "tasters": 4, "facts": (901,)})  # fmt: skip
        lines["profiles"].append({"sample": "B-26-01", "family": family, "stage": "nose", "mean": mean - 1, "low": None, "high": None, "notes": 4, "tasters": 4, "facts": (901,)})  # fmt: skip
    for taster, stage, text in (
        ("Ilse", "nose", "Vanilla pod and toasted oak, a little orange peel behind."),
        ("Tam", "nose", "Toffee, dry oak; closed at first."),
        ("Ilse", "palate", "Round, sweet entry, cinnamon, then drier wood."),
        ("Tam", "palate", "Full. Clove! No heat to speak of."),
        ("Ilse", "finish", "Long, warming, raisin."),
    ):
        lines["notes"].append({"sample": "b-26-01", "taster": taster, "tasted_at": "2026-02-02", "replicate": None, "stage": stage, "text": text, "facts": (901,)})  # fmt: skip
    lines["scores"].append({"sample": "B-26-01", "mean_score": 7.6, "low": 7.0, "high": 8.2, "notes": 4, "tasters": 4, "facts": (901,)})  # fmt: skip


def some_findings() -> list[Finding]:
    return [
        finding("proof.temperature-scale", "stop", "The reading of C-0209 was taken at 17.5 °F, observed proof 121.2; in °C it agrees with the cask's last gauge, in °F it is 9.8 proof too high.", subject="C-0209", batch="B-26-02", facts=(203,), column="temperature", observed="17.5 °F", expected="about 63 °F (17.5 °C)", rule="house practice", remedy="Ask who read it, then correct the temperature or void the row.", place=Place("gauges february.xlsx", "Lab", "F203")),  # fmt: skip
        finding("blend.does-not-balance", "stop", "B-26-02 was expected at 106.1 proof and gauged at 103.6; the tolerance is 0.5.", subject="B-26-02", batch="B-26-02", facts=(2002, 2060), observed="103.6 proof", expected="106.1 ± 0.5 proof", rule="tolerances.balance_proof", remedy="See the figures to check in the record of B-26-02.", place=Place("gauges february.xlsx", "Lab", "C60")),  # fmt: skip
        finding("label.age-not-met", "stop", "B-26-03 claims 5 years; M-0340 is 4 years, 3 months and 13 days old.", subject="B-26-03", batch="B-26-03", facts=(3001, 303), column="age_statement", observed="4 years, 3 months, 13 days", expected="5 years", rule="Assimilated Reg. 2019/787 Art. 13(6)", remedy="Change the statement or leave M-0340 out of the next batch.", place=Place("brief B-26-03.xlsx", "Brief", "G4")),  # fmt: skip
        finding("label.fact-missing", "review", "No sheet says how M-0340 was distilled.", subject="M-0340", batch="B-26-03", facts=(303,), rule="SI 2009/2890 reg. 3", remedy="State it in the inventory export.", place=Place("stock march.csv", "", "A41")),  # fmt: skip
        finding("blend.strength-on-paper", "note", "The strength of C-0125 is its dump gauge of the day.", subject="C-0125", batch="B-26-01", facts=(1006,), place=Place("blend sheet 1.csv", "", "B6")),  # fmt: skip
        replace(finding("blend.stale-gauge", "review", "The gauge of C-0088 is 140 days old; the house wants 90.", subject="C-0088", batch="B-25-11", facts=(5002,), observed="140 days", expected="90 days", remedy="Gauge it again, or accept.", place=Place("blend sheet 5.csv", "", "B2")), ruling=Ruling("accept", "Regauged by dip; within a tenth.", "M. Orrin", "2026-02-10", number=39)),  # fmt: skip
        finding("sheet.unit-assumed", "note", "The column Volume states no unit; the site's default, gallons, was taken.", subject="stock march.csv", place=Place("stock march.csv", "", "F1")),  # fmt: skip
    ]


def taken_files() -> list[Fate]:
    return [
        Fate("stock march.csv", "taken", 41, "a" * 64, "2026-03-19T08:02:11Z", kinds="casks", rows=42, findings=1),
        Fate("gauges february.xlsx", "taken", 42, "b" * 64, "2026-03-19T08:02:12Z", kinds="readings, instruments", rows=318, findings=2),
        Fate("holiday list.xlsx", "returned", 43, "c" * 64, "2026-03-19T08:02:12Z", remedy="Put the headers of a known sheet above the rows: vatting sheet KIND writes one.", reason="No sheet of it was recognised: it looks like none of the known kinds. Columns found: Name, From, To."),  # fmt: skip
        Fate("blend sheet 1.csv", "taken", 44, "d" * 64, "2026-03-20T16:40:00Z", kinds="blends", rows=7),
    ]


def crowd(world_: World, batches: int, findings: int) -> World:
    """The same world with many batches and many findings, for speed and for caps."""
    frames = dict(world_.frames)
    for name in ("components", "balances", "losses", "imbalances", "component_ages", "ages", "briefs"):
        one = of_batch(frames[name], "B-26-01")
        frames[name] = pd.concat([frames[name], *(one.assign(batch=f"B-{n:04d}") for n in range(batches))], ignore_index=True)
    many = [
        finding("proof.no-temperature", ("stop", "review", "note")[n % 3], f"Row {n} has no temperature; the reading was left out.", subject=f"K-{n:05d}", facts=(500_000 + n,), column="temperature", remedy="State the temperature.", place=Place(f"readings {n % 40}.csv", "", f"D{n}"))  # fmt: skip
        for n in range(findings)
    ]
    return replace(world_, frames=frames, findings=[*world_.findings, *many])


__all__ = ["World", "crowd", "finding", "fold", "table", "world"]
