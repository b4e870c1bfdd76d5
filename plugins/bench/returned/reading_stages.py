"""The stages that read a returned bench card: glasses, choices, notes."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from pipeline import Finding, stage
from plugins import proof
from plugins.bench.cards.tasters import folded
from plugins.bench.declared.frames import CHOSEN, GLASSES, NOTES
from plugins.bench.declared.kinds import FAMILIES
from plugins.bench.returned.reading import TEXTS, Returned, Row, judged, read_choices


def as_abv(strength: pd.Series, unit: pd.Series) -> np.ndarray:
    """Strengths as stated → % vol at 20 °C, NaN where none is stated."""
    value = strength.to_numpy("float64")
    found = np.full(len(value), np.nan)
    stated = np.isfinite(value)
    if stated.any():
        w = proof.mass_fraction_from_strength(value[stated], unit.fillna("proof").to_numpy(dtype=object)[stated])
        found[stated] = proof.abv_from_mass_fraction(w)
    return found


@stage(gives=GLASSES)
def read_glasses(bench_glasses: pd.DataFrame, trials: pd.DataFrame) -> tuple[pd.DataFrame, list[Finding]]:
    """The key of bench flights, each glass with its trial's batch and parts."""
    rows = bench_glasses.reset_index(drop=True)
    name = folded(rows["trial"])
    own = folded(trials["trial"])
    parts = own.value_counts()
    batch = dict(zip(own, trials["batch"], strict=True))
    named = rows["batch"].astype(object).where(rows["batch"].notna(), name.map(batch))
    columns = {
        "flight": rows["flight"], "code": rows["code"], "trial": rows["trial"], "batch": named, "role": rows["role"],
        "strength": as_abv(rows["nosing_strength"], rows["nosing_strength_unit"]), "order": rows["order"],
        "components": name.map(parts).fillna(0).astype(int),
    }  # fmt: skip
    doubled = pd.DataFrame({"f": folded(rows["flight"]), "c": folded(rows["code"])}).duplicated().to_numpy()
    made = GLASSES.build(columns, rows["facts"])[~doubled].reset_index(drop=True)
    return made, [*_strange(made), *_no_duplicate(made)]


def _strange(glasses: pd.DataFrame) -> Any:
    """Glasses of trials that no sheet describes."""
    for row in glasses[glasses["components"] == 0].to_dict("records"):
        yield Finding(
            "bench.glass-without-trial",
            "review",
            f"Glass {row['code']} of flight {row['flight']} holds trial {row['trial']}, and no sheet says what that is "
            "made of.",
            subject=str(row["trial"]),
            batch=_text(row["batch"]),
            facts=row["facts"],
            column="trial",
            observed=str(row["trial"]),
            expected="a trial with its components",
            remedy="Drop the bench card with its page Pour, or correct the trial's name.",
        )


def _no_duplicate(glasses: pd.DataFrame) -> Any:
    """Flights in which nothing stands twice."""
    for flight, part in glasses.groupby("flight", sort=True):
        if folded(part["trial"]).duplicated().any():
            continue
        yield Finding(
            "bench.no-duplicate",
            "note",
            f"Flight {flight} holds no trial twice, so how repeatable a taster is cannot be told.",
            subject=str(flight),
            batch=_text(part["batch"].iloc[0]),
            facts=part["facts"].iloc[0],
            column="role",
            remedy="Pour one trial under two codes in the next flight.",
        )


@stage(gives=CHOSEN)
def read_chosen(
    bench_choices: pd.DataFrame, glasses: pd.DataFrame, trials: pd.DataFrame
) -> tuple[pd.DataFrame, list[Finding]]:
    """Tasters' pages → places, preferences, differences and scores of known glasses, each taster once."""
    back = read_choices(bench_choices, glasses)
    count = folded(glasses["flight"]).value_counts()
    of_flight: dict[tuple[str, str], list[Row]] = {}
    for row in back.rows:
        of_flight.setdefault((row["flight"], row["taster"]), []).append(row)
    findings = [*back.findings, *_nothing_said(back, glasses)]
    kept: list[Row] = []
    for (flight, taster), rows in of_flight.items():
        glasses_there = int(count[flight.strip().casefold()]) if flight.strip().casefold() in count else len(rows)
        findings += _places(rows, glasses_there)
        judging, complete = judged(rows, glasses_there)
        if not complete:
            findings.append(_half(flight, taster, rows, judging, glasses))
        kept += [{**row, "complete": complete} for row in judging]
    findings += [*_not_blind(kept, trials), *_two_names(of_flight)]
    columns = {name: [row[name] for row in kept] for name in CHOSEN.names}
    return CHOSEN.build(columns, [row["facts"] for row in kept]), findings


def _nothing_said(back: Returned, glasses: pd.DataFrame) -> Any:
    """Tasters whose rows came back empty, together for each flight."""
    whole: dict[str, list[tuple[str, tuple[int, ...]]]] = {}
    for flight, taster, facts in back.empty:
        whole.setdefault(flight, []).append((taster, facts))
    answered = {row["flight"] for row in back.rows}
    for flight, who in sorted(whole.items()):
        batch = glasses[glasses["flight"] == flight]["batch"].iloc[0]
        names = ", ".join(name for name, _ in who)
        yield Finding(
            "bench.nothing-said",
            "note",
            f"The rows of {names} in flight {flight} are empty; they count as not having tasted."
            if flight in answered
            else f"The card of flight {flight} came back without anything said by {names}.",
            subject=flight,
            batch=_text(batch),
            facts=tuple(sorted({fact for _, facts in who for fact in facts})),
            column="place",
            remedy="If they tasted, fill in their rows and drop the card again.",
        )


def _places(rows: list[Row], count: int) -> Any:
    """Places beyond the number of glasses count as none."""
    for row in rows:
        if pd.notna(row["place"]) and row["place"] > count:
            seen, row["place"] = row["place"], float("nan")
            yield Finding(
                "bench.impossible-place",
                "review",
                f"{row['taster']} gave code {row['code']} the place {seen:g} in flight {row['flight']}, of {count} "
                "glasses.",
                subject=str(row["code"]),
                batch=_text(row["batch"]),
                facts=row["facts"],
                column="place",
                observed=f"{seen:g}",
                expected=f"1 to {count}",
                remedy="Correct the place and drop the page again; it counts as not placed until then.",
            )


def _half(flight: str, taster: str, rows: list[Row], judging: list[Row], glasses: pd.DataFrame) -> Finding:
    there = {row["code"] for row in judging}
    missing = [code for code in glasses[glasses["flight"] == flight]["code"] if code not in there]
    return Finding(
        "bench.half-filled",
        "review",
        f"{taster} judged {len(judging)} of the {len(judging) + len(missing)} glasses of flight {flight}: nothing on "
        f"{', '.join(missing)}.",
        subject=flight,
        batch=_text(rows[0]["batch"]),
        facts=tuple(dict.fromkeys(fact for row in rows for fact in row["facts"])),  # the first one's place is shown
        column="place",
        observed=f"{len(judging)} glasses",
        expected=f"{len(judging) + len(missing)} glasses",
        remedy="Fill in the rest and drop the card again; until then what was judged counts, as no full ranking.",
    )


def _not_blind(kept: list[Row], trials: pd.DataFrame) -> Any:
    """Who made the trials knows the codes."""
    made_by: dict[str, set[str]] = {}
    for name, who in zip(folded(trials["trial"]), folded(trials["made_by"]), strict=True):
        made_by.setdefault(name, set()).add(who)
    seen: set[tuple[str, str]] = set()
    for row in kept:
        who = row["taster"].strip().casefold()
        if who in made_by.get(row["trial"].strip().casefold(), ()) and (row["flight"], who) not in seen:
            seen.add((row["flight"], who))
            yield Finding(
                "bench.made-and-tasted",
                "note",
                f"{row['taster']} made the trials of flight {row['flight']} and tasted them: that was not blind if "
                "they knew the codes.",
                subject=row["flight"],
                batch=_text(row["batch"]),
                facts=row["facts"],
                column="taster",
                remedy="Let somebody else pour and keep the page Glasses.",
            )


def _two_names(of_flight: dict[tuple[str, str], list[Row]]) -> Any:
    """Two names of one flight with the same words on every glass: one taster, renamed in a later card."""
    seen: dict[tuple[Any, ...], tuple[str, list[Row]]] = {}
    for (flight, taster), rows in of_flight.items():
        words = [(row["code"], *(str(row[name]) for name in TEXTS if pd.notna(row[name]))) for row in rows]
        if len(words) < 2 or min(map(len, words)) < 2:
            continue  # places alone agree by chance
        said = (flight, *sorted(words))
        first = seen.setdefault(said, (taster, rows))
        if first[0] == taster:
            continue
        yield Finding(
            "bench.two-names",
            "review",
            f"{first[0]} and {taster} wrote the same of every glass of flight {flight}: is that one taster?",
            subject=flight,
            batch=_text(rows[0]["batch"]),
            facts=tuple(dict.fromkeys(fact for row in [*rows, *first[1]] for fact in row["facts"])),
            column="taster",
            observed=f"{first[0]} and {taster}",
            expected="each taster once",
            remedy="Void the rows of the name that was wrong (column void); until then both count.",
        )


@stage(gives=NOTES)
def read_notes(bench_choices: pd.DataFrame, glasses: pd.DataFrame) -> pd.DataFrame:
    """What was written and scored on tasters' pages, as tastings of the trials; a duplicate is a replicate."""
    rows = [
        row
        for row in read_choices(bench_choices, glasses).rows
        if any(pd.notna(row[name]) for name in ("score", *TEXTS, *FAMILIES))
    ]
    there = folded(glasses["flight"]) + "\x1f" + folded(glasses["trial"])
    twice = set(there[there.duplicated(keep=False)])
    columns: dict[str, Any] = {name: [row[name] for row in rows] for name in (*TEXTS, *FAMILIES, "score", "order")}
    for name in ("flight", "code", "taster", "tasted_at"):
        columns[name] = [row[name] for row in rows]
    columns["sample"] = [row["trial"] for row in rows]
    columns["nosing_strength_abv"] = [row["strength"] for row in rows]
    keys = folded(pd.Series([row["flight"] for row in rows])) + "\x1f" + folded(pd.Series([r["trial"] for r in rows]))
    columns["replicate"] = [row["code"] if key in twice else None for row, key in zip(rows, keys, strict=True)]
    return NOTES.build(columns, [row["facts"] for row in rows])


def _text(value: Any) -> str:
    return str(value) if pd.notna(value) else ""
