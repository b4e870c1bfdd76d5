"""The analysis in words: one sentence for each answer, and honest where there is none."""

from __future__ import annotations

from typing import Any

from pipeline.writing.spoken import number
from plugins.bench.answers.analysis import BEATS, LOSES, NO_BETTER, TOO_FEW
from plugins.bench.answers.compare import least_shown

Row = dict[str, Any]
WATER = "water"
HARDLY = 0.75  # of the places that lots would put two glasses of the same apart
GUESS = '"tastes like its largest component"'


def signed(value: Any, places: int = 1) -> str:
    return "–" if value is None else f"{value:+.{places}f}".replace("-", "−")


def chance(value: Any) -> str:
    """A probability as it is read."""
    if value is None:
        return "–"
    return "under 0.001" if value < 0.001 else f"{value:.3f}" if value < 0.1 else f"{value:.2f}"


def choice(row: Row) -> str:
    """How many preferred the trial, in words."""
    if not row["of"]:
        return f"all {row['ties']} put both alike" if row["ties"] else "nobody had both"
    ties = f", {row['ties']} put both alike" if row["ties"] else ""
    return f"{row['preferred']} of {row['of']} preferred it{ties}"


def settles(row: Row) -> str:
    """What would settle a comparison, in words."""
    if row["verdict"] != "not shown either way":
        return "settled"
    if not row["of"]:
        return "no number of tasters, as alike as they were put" if row["ties"] else "taste both"
    few = f"{row['of']} tasters can never show it; " if least_shown(row["of"]) is None else ""
    if row["to_settle"] is None:
        return few + "no number of tasters, as alike as they were put"
    return f"{few}about {row['to_settle']} tasters in a fresh flight, were the share as seen"


def lead(document: Row) -> str:
    """The answer in one sentence."""
    first = next((t for t in document["trials"] if t["trial"] == document["leading"]), None)
    if first is None:
        return "No trial has been tasted."
    row = first["against_best_single"]
    start = f"{first['trial']} is the accepted one" if first["accepted"] else f"{first['trial']} leads the blends"
    if row is None:
        return (
            f"{start}. Nobody placed or scored it beside one of its components, so nothing is said of the best single."
        )
    if row["verdict"] == "better":
        return f"{start}, and is better than its best single, {row['component']}: {choice(row)}."
    if row["verdict"] == "worse":
        return f"{start}, but its best single, {row['component']}, is better: {choice(row)}."
    plain = "is not shown either way"
    return f"{start}. Whether it is better than its best single, {row['component']}, {plain}: {choice(row)}."


def order(flight: Row) -> str:
    """Whether the tasters agree on an order."""
    if flight["tasters"] < 2:
        return "One taster's order; nothing is said of others."
    agree = "agree on an order" if flight["friedman_p"] <= 0.05 else "do not agree on an order more than by chance"
    return (
        f"{flight['tasters']} tasters {agree} (Friedman, {flight['method']} probability "
        f"{chance(flight['friedman_p'])}; Kendall's W {number(flight['kendall_w'], 2)})."
    )


def duplicate(row: Row) -> str:
    """What the blind duplicate says of the noise."""
    said = (
        f"Two glasses of {row['sample']}: {row['tasters']} tasters put them {number(row['places_apart'])} places apart"
    )
    said += f" on the mean; by lot it would be {number(row['by_lot'])}."
    if row["score_spread"] is not None:
        said += f" One score has a standard deviation of {number(row['score_spread'], 2)}."
    if row["places_apart"] is not None and row["places_apart"] >= HARDLY * row["by_lot"]:
        said += " That is hardly better than by lot: the order of this flight says little."
    return said


def match(row: Row) -> str:
    count = {verdict: 0 for verdict in ("matches", "differs", "not shown either way")}
    for item in row["families"].values():
        count[item["verdict"]] += 1
    return (
        f"{row['verdict']} ({count['matches']} matched, {count['differs']} differ, "
        f"{count['not shown either way']} not shown either way)"
    )


def remedy(row: Row) -> str:
    """A change in words."""
    if row["component"] == WATER:
        return f"A little lower in strength: {number(row['points'], 0)} % of the volume as water"
    way = "more" if row["points"] > 0 else "less"
    share = 100.0 * row["change"].get(row["component"], 0.0)
    if share < 0.05:
        return f"Leave out {row['component']}"
    return f"{number(abs(row['points']), 0)} points {way} of {row['component']}, to {number(share, 0)} % of the alcohol"


def model(row: Row) -> str:
    """Whether the model beats the plain guess."""
    if row["verdict"] == TOO_FEW:
        return f"{row['trials']} tasted trials with tasted components are too few to judge the model; three are needed."
    errors = f"{number(row['error_left_out'], 2)} points against {number(row['naive_error'], 2)} of the guess"
    said = {
        BEATS: f"The model beats the plain guess {GUESS}",
        LOSES: f"The model is worse than the plain guess {GUESS}; go by the glass",
        NO_BETTER: f"The model is no better than the plain guess {GUESS}, as far as {row['trials']} trials can tell",
    }
    return f"{said[row['verdict']]}: error {errors}."
