"""analysis.json: what the tasted trials of a batch answered, as plain data."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pandas as pd

from plugins.bench.answers.compare import mean_interval
from plugins.bench.answers.flights import fold, folded
from plugins.bench.answers.match import worst

SCHEMA = "vatting.trials/1"
BEATS, NO_BETTER, LOSES, TOO_FEW = "beats it", "no better", "worse", "too few trials"
LEAST = 3
OF_SAMPLES = ("profiles", "scores")  # of every sample of the house: only the trials' rows are looked at
Row = dict[str, Any]
Table = pd.DataFrame | None


def analysis(batch: str, frames: dict[str, Table]) -> Row:
    """The batch's trials, each against its best single, its order, faults and remedies; and what the model learnt.

    ``frames``: rows of this batch of the bench's frames, and the taste model's frames whole; None where one is missing.
    """
    rows = {name: _records(frame) for name, frame in frames.items() if name not in OF_SAMPLES}
    trials = _trials(frames, rows)
    chosen = leading(trials)
    order = sorted((trial["trial"] for trial in trials), key=lambda name: name != chosen)
    return {
        "schema": SCHEMA,
        "batch": batch,
        "leading": chosen,
        "flights": _flights(rows),
        "trials": trials,
        "remedies": _remedies(rows, order),
        "model": _model(rows, {c["component"] for t in trials for c in t["components"]}),
        "taught": taught(rows["taste_left_out"]),
        "lineage": rows["lineage"],
    }


def _records(frame: Table) -> list[Row]:
    """Rows without their facts; missing values are None."""
    if frame is None or not len(frame):
        return []
    plain = frame.drop(columns="facts")
    made = plain.astype(object).where(plain.notna(), None).to_dict("records")
    return [{str(key): value for key, value in row.items()} for row in made]


def _trials(frames: dict[str, Table], rows: dict[str, list[Row]]) -> list[Row]:
    """Each tasted trial; a trial of several flights has the answer of its last one."""
    against = {fold(row["trial"]): row for row in rows["trial_comparisons"]}
    latest = sorted(rows["trial_orders"], key=_when)
    order = {fold(row["sample"]): row for row in latest}
    flights = [row["flight"] for row in reversed(latest)]
    matches: dict[str, list[Row]] = {}
    for row in rows["trial_matches"]:
        matches.setdefault(fold(row["trial"]), []).append(row)
    parts: dict[str, list[Row]] = {}
    for row in rows["trial_parts"]:
        parts.setdefault(fold(row["trial"]), []).append(row)
    tastes = _profiles(frames["profiles"], set(parts))
    scores = _scores(frames["scores"], set(parts))
    made = []
    for name in sorted(set(tastes) | ((set(order) | set(scores)) & set(parts))):
        own = parts[name]
        made.append({
            "trial": own[0]["trial"],
            "components": _components(own),
            "profile": tastes.get(name, {}),
            "score": _picked(scores.get(name), "mean_score", "low", "high", "tasters"),
            "against_best_single": _against(against.get(name), parts),
            "rank": order[name]["rank"] if name in order else None,
            "order": _picked(order.get(name), "flight", "wins", "low", "high", "with_first", "tasters"),
            "match": _match(matches.get(name, [])),
            "faults": [_fault(row) for row in rows["trial_faults"] if fold(row["trial"]) == name],
            "accepted": any(row["accepted"] for row in own),
        })  # fmt: skip

    def place(trial: Row) -> tuple[int, int, str]:  # the latest flight first, and in it the best
        if trial["order"] is None:
            return len(flights), 0, trial["trial"]
        return flights.index(trial["order"]["flight"]), trial["rank"], trial["trial"]

    return sorted(made, key=place)


def _when(row: Row) -> tuple[str, str]:
    """When a flight was last tasted, as text in order of time; and its name."""
    return str(row["last_at"] or ""), row["flight"]


def _components(parts: list[Row]) -> list[Row]:
    rows = [
        {"component": p["component"], "share": _first(p["share_alcohol"], p["share_volume"]),
         "ml": p["ml"], "strength_abv": p["strength_abv"], "measurable": p["measurable"], "as_now": p["as_now"]}
        for p in parts
    ]  # fmt: skip
    return sorted(rows, key=lambda row: (-(row["share"] or 0.0), row["component"]))


def _first(*values: Any) -> Any:
    return next((value for value in values if value is not None), None)


def _profiles(profiles: Table, names: set[str]) -> dict[str, Row]:
    made: dict[str, Row] = {}
    if profiles is None or not len(profiles):
        return made
    whole = profiles[(profiles["stage"] == "all") & profiles["mean"].notna()]
    whole = whole.assign(_sample=folded(whole["sample"]))
    for row in whole[whole["_sample"].isin(names)].to_dict("records"):
        taste = {"mean": row["mean"], "low": row["low"], "high": row["high"]}
        made.setdefault(row["_sample"], {})[row["family"]] = taste
    return made


def _scores(scores: Table, names: set[str]) -> dict[str, Row]:
    own = scores if scores is None else scores[folded(scores["sample"]).isin(names)]
    return {fold(row["sample"]): row for row in _records(own)}


def _picked(row: Row | None, *names: str) -> Row | None:
    return None if row is None else {name: row[name] for name in names}


def _against(row: Row | None, parts: dict[str, list[Row]]) -> Row | None:
    if row is None:
        return None
    alone = parts.get(fold(row["against"]), [])
    return {
        "component": alone[0]["component"] if len(alone) == 1 else row["against"], "glass": row["against"],
        "flight": row["flight"], "named": row["named"], "preferred": row["preferred"],
        "of": row["of"], "ties": row["ties"], "p_value": row["p"], "p_corrected": row["p_corrected"],
        "interval": [row["low"], row["high"]], "difference": row["difference"],
        "difference_interval": [row["difference_low"], row["difference_high"]], "p_score": row["p_score"],
        "to_settle": row["to_settle"], "verdict": row["verdict"],
    }  # fmt: skip


def _match(rows: list[Row]) -> Row | None:
    if not rows:
        return None
    families = {row["family"]: _picked(row, "difference", "low", "high", "tasters", "verdict") for row in rows}
    return {
        "standard": rows[0]["standard"],
        "verdict": worst([row["verdict"] for row in rows]),
        "families": families,
    }


def _fault(row: Row) -> Row:
    return {
        "fault": row["family"], "direction": "too little" if row["direction"] > 0 else "too much",
        "tasters": row["tasters"], "of": row["of"], "words": row["words"], "source": row["source"],
        "brought_by": row["brought_by"],
    }  # fmt: skip


def leading(trials: list[Row]) -> str | None:
    """The trial that goes on: the accepted one, else the one that came first, blends before others."""
    blends = [trial for trial in trials if len(trial["components"]) > 1] or trials
    accepted = [trial for trial in blends if trial["accepted"]]
    return str((accepted or blends)[0]["trial"]) if blends else None


def _first_mended(rows: dict[str, list[Row]], order: list[str]) -> tuple[str, str] | None:
    """The trial and the fault whose remedies get a card: those of the leading trial; where nothing of it can be mended,

    the fault that most tasters named, of trials alike in that the one that did better.
    """
    mended = {(row["trial"], row["family"]) for row in rows["remedies"]}
    faults = [fault for fault in rows["trial_faults"] if (fault["trial"], fault["family"]) in mended]
    if not faults:
        return None

    def weight(fault: Row) -> tuple[bool, float, int, str]:
        named = -(fault["tasters"] or 0) / max(fault["of"] or 1, 1)
        return fault["trial"] != order[0], named, order.index(fault["trial"]), fault["family"]

    first = min(faults, key=weight)
    return first["trial"], first["family"]


def _remedies(rows: dict[str, list[Row]], order: list[str]) -> list[Row]:
    """Changes for every fault, trials in order."""
    first = _first_mended(rows, order)
    return [
        {
            "trial": row["trial"], "fault": row["family"], "rank": row["rank"], "component": row["component"],
            "points": row["points"], "change": json.loads(row["shares"]), "moves": json.loads(row["moves"]),
            "moves_fault": {"mean": row["change"], "low": row["low"], "high": row["high"], "sure": row["sure"]},
            "side_effect": row["side_effect"],
            "card": f"next_card_{row['rank']}.xlsx" if (row["trial"], row["family"]) == first else None,
        }
        for row in sorted(rows["remedies"], key=lambda r: (order.index(r["trial"]), r["family"], r["rank"]))
    ]  # fmt: skip


def _flights(rows: dict[str, list[Row]]) -> list[Row]:
    made = []
    for flight in dict.fromkeys(row["flight"] for row in sorted(rows["trial_orders"], key=_when, reverse=True)):
        own = [row for row in rows["trial_orders"] if row["flight"] == flight]
        noise = [row for row in rows["flight_noise"] if row["flight"] == flight]
        made.append({
            "flight": flight,
            "order": [_picked(r, "sample", "role", "rank", "wins", "low", "high", "with_first") for r in own],
            "tasters": own[0]["tasters"], "friedman_p": own[0]["friedman_p"], "kendall_w": own[0]["kendall_w"],
            "method": own[0]["method"],
            "duplicates": [_picked(r, "sample", "tasters", "places_apart", "by_lot", "score_spread") for r in noise],
        })  # fmt: skip
    return made


def _model(rows: dict[str, list[Row]], components: set[str]) -> Row:
    """By family the law's coefficients, and the error of trials left out beside the plain guess's."""
    made: Row = {}
    for row in rows["taste_exponents"]:
        pairs = {
            f"{term['component']} x {term['other']}": {"mean": term["coefficient"], "spread": term["spread"]}
            for term in rows["taste_terms"]
            if term["family"] == row["family"] and {term["component"], term["other"]} <= components
        }
        made[row["family"]] = {
            "coefficients": {"n": row["n"], "low": row["low"], "high": row["high"], "pairs": pairs},
            "proposed": row["proposed"], "source": row["source"], "trials": row["trials"],
            "error_left_out": row["error_left_out"], "naive_error": row["naive_error"],
        }  # fmt: skip
    return made


def taught(left_out: list[Row]) -> Row:
    """Whether the model beats the plain guess "as its largest component", over the tasted trials of this batch.

    Each trial counts once, by the mean over families of squared errors; the interval is that over trials.
    """
    trials: dict[str, list[Row]] = {}
    for row in left_out:
        trials.setdefault(row["trial"], []).append(row)
    made: Row = {"trials": len(trials), "verdict": TOO_FEW, "error_left_out": None, "naive_error": None, "inside": None}
    if not left_out:
        return made
    errors = {name: np.array([r["tasted"] - r["predicted"] for r in own]) for name, own in trials.items()}
    naive = {name: np.array([r["tasted"] - r["naive"] for r in own]) for name, own in trials.items()}
    gain = np.array([float((naive[name] ** 2).mean() - (errors[name] ** 2).mean()) for name in sorted(trials)])
    made["error_left_out"] = _rms(np.concatenate(list(errors.values())))
    made["naive_error"] = _rms(np.concatenate(list(naive.values())))
    made["inside"] = float(np.mean([row["low"] <= row["tasted"] <= row["high"] for row in left_out]))
    made["by_trial"] = [
        {"trial": name, "error": _rms(errors[name]), "naive": _rms(naive[name])} for name in sorted(trials)
    ]
    if len(trials) >= LEAST:
        low, high = mean_interval(gain, 0.90)
        made["verdict"] = BEATS if low > 0.0 else LOSES if high < 0.0 else NO_BETTER
    return made


def _rms(values: np.ndarray) -> float:
    return float(np.sqrt(np.mean(values**2)))
