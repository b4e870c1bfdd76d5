"""analysis.html: what the tasters' choices show, what would mend the trial, and what the model learnt."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from pipeline.writing.pages import Pages
from pipeline.writing.spoken import makeup, number, spoken
from plugins.bench.answers import words
from plugins.bench.answers.words import chance, signed

if TYPE_CHECKING:
    import pandas as pd

Row = dict[str, Any]
SHOWN_FAMILIES = 6
LEAST_SHOWN = 0.1  # points: smaller moves are not drawn
CAUTIONS = (
    'Intervals are 95 % where nothing else is said; probabilities are exact. "Not shown either way" is no proof that '
    "two glasses are alike: it says that so few tasters cannot tell.",
    "A remedy is what the taste model expects, to be tried on the next card; it is no instruction to pour.",
    "Cask strength burns: nose at the strength on the card, spit, drink water, eat; eight to ten small glasses at "
    "most. Nobody is asked to swallow; no driving or machines after. The site's alcohol policy comes first.",
)


def strip(
    low: Any, middle: Any, high: Any, ends: tuple[float, float], mark: Any = None, hollow: bool = False, said: str = ""
) -> Markup:
    """An interval on a scale: a bar with end stops, its middle a thick or thin line, a dashed line at ``mark``."""
    first, last = ends

    def at(value: float) -> float:
        return round(1000.0 * (min(max(value, first), last) - first) / (last - first), 1)

    parts = [Markup('<line class="axis" x1="0" x2="1000" y1="12" y2="12"/>')]
    if mark is not None:
        parts.append(Markup('<line class="even" x1="{}" x2="{}" y1="0" y2="24"/>').format(at(mark), at(mark)))
    if low is not None and high is not None:
        a, b = at(low), at(high)
        parts.append(
            Markup('<rect class="interval" x="{}" width="{}" y="8" height="8"/>').format(a, max(round(b - a, 1), 2))
        )
        parts += [Markup('<line class="stop" x1="{}" x2="{}" y1="5" y2="19"/>').format(end, end) for end in (a, b)]
    if middle is not None:
        x = at(middle)
        parts.append(
            Markup('<line class="{}" x1="{}" x2="{}" y1="1" y2="23"/>').format(
                "tick hollow" if hollow else "tick", x, x
            )
        )
    return Markup(
        '<svg class="strip" viewBox="0 0 1000 24" preserveAspectRatio="none" role="img" aria-label="{}">{}</svg>'
    ).format(said, Markup("").join(parts))


def moves(change: Row, fault: str) -> list[Row]:
    """The fault and what else moves most, each with its interval; the rest below a tenth of a point is not drawn."""
    rest = [family for family in change if family != fault and abs(change[family]["mean"]) >= LEAST_SHOWN]
    rest = sorted(rest, key=lambda family: (-abs(change[family]["mean"]), family))[: SHOWN_FAMILIES - 1]
    return [{"family": family, **change[family]} for family in [fault, *rest]]


def page(document: Row, house: str, findings: list[Any]) -> bytes:
    """The page's bytes; equal values give equal bytes."""
    faults = [
        {"trial": trial["trial"], **fault, "options": [
            r for r in document["remedies"] if r["trial"] == trial["trial"] and r["fault"] == fault["fault"]
        ]}
        for trial in sorted(document["trials"], key=lambda t: t["trial"] != document["leading"])
        for fault in trial["faults"]
    ]  # fmt: skip
    shifted = [
        {"family": family, **row}
        for family, row in document["model"].items()
        if row["trials"] >= 3 and abs(row["coefficients"]["n"] - row["proposed"]) >= 0.005
    ]
    values = {
        "d": document, "house": house or "", "findings": findings, "cautions": CAUTIONS, "faults": faults,
        "shifted": shifted, "lead": next((t for t in document["trials"] if t["trial"] == document["leading"]), None),
    }  # fmt: skip
    return _pages().page("analysis.html", values)


def overview(house: str, trial_batches: pd.DataFrame | None, proposal_sets: pd.DataFrame | None) -> bytes | None:
    """The page of all batches that were proposed or tried; None where there is none."""
    trials = {} if trial_batches is None else dict(zip(trial_batches["batch"], trial_batches["trials"], strict=True))
    issues = {} if proposal_sets is None else dict(zip(proposal_sets["batch"], proposal_sets["issue"], strict=True))
    rows = [{"batch": name, "issue": issues.get(name), "trials": trials.get(name)} for name in {*trials, *issues}]
    rows.sort(key=lambda row: row["batch"])
    return _pages().page("bench.html", {"house": house or "", "batches": rows}) if rows else None


@cache
def _pages() -> Pages:
    functions = {
        "strip": strip, "moves": moves, "makeup": makeup, "choice": words.choice, "settles": words.settles,
        "remedy_words": words.remedy, "model_words": words.model, "lead_words": words.lead,
        "match_words": words.match, "duplicate_words": words.duplicate, "order_words": words.order,
    }  # fmt: skip
    return Pages("plugins.bench.answers", functions, number=number, spoken=spoken, chance=chance, signed=signed)
