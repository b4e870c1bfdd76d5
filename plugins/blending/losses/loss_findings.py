"""Losses and gains that want a person. Limits are the house's; a lawful limit is judged elsewhere."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Any

from pipeline import Finding
from pipeline.contract.site import Site
from plugins.blending.declared.settings import HOUSE
from plugins.blending.reconciling.tolerances import certain, is_gain, is_loss

LIMITS = {
    "dump": ("dump_loss_percent",),
    "process": ("process_loss_percent",),
    "filter": ("filter_loss_percent",),
    "bottling": ("bottling_loss_percent",),
    "unexplained": ("process_loss_percent", "bottling_loss_percent"),
}
WHERE = {
    "dump": "between the casks' dump gauges and what was drawn",
    "process": "between what was drawn and the vat's gauge",
    "filter": "between the gauges before and after filtering",
    "bottling": "between the vat's gauge and what was bottled, sampled and left",
    "unexplained": "between what was drawn and what was bottled, sampled and left",
}
COLUMN = {
    "dump": "drawn_volume",
    "process": "reading",
    "filter": "reading",
    "bottling": "bottles",
    "unexplained": "bottles",
}


def about_losses(steps: Sequence[Any], site: Site) -> list[Finding]:
    """Findings on the steps of ``losses`` that uncertainty and the house's normal losses do not explain.

    A gain above the house's limit that uncertainty may explain is a note.
    """
    judged = [step for step in steps if step.step in LIMITS and float(step.before[1]) > 0]
    looks = Counter(step.batch for step in judged)
    return [finding for step in judged for finding in _about(step, certain(site, looks[step.batch]), site)]


def _about(step: Any, sure: float, site: Site) -> Iterator[Finding]:
    before, missing = float(step.before[1]), float(step.missing[1])
    percent, spread = 100.0 * missing / before, 100.0 * step.spread / before
    mass, mass_u = float(step.missing[0] / step.before[0]), step.mass_spread / float(step.before[0])
    limit = sum(site[f"tolerances.{name}"] for name in LIMITS[step.step])
    allowed = site["tolerances.gain_percent"]
    shares = percent, spread, 100.0 * mass, 100.0 * mass_u
    if -percent > allowed:
        yield _gain(step, -percent, spread, bool(is_gain(*shares, allowed, sure)), allowed)
    elif is_loss(*shares, limit, sure):
        yield _loss(step, percent, spread, before, missing, limit)


def _gain(step: Any, percent: float, spread: float, beyond: bool, limit: float) -> Finding:
    code = "bottling.more-than-gauged" if step.step == "bottling" else "balance.gain"
    before, missing = float(step.before[1]), float(step.missing[1])
    known = "beyond what" if beyond else "within what"
    return Finding(
        code,
        "review" if beyond else "note",
        f"Batch {step.batch} gained {-missing:.1f} of {before:.1f} proof gallons ({percent:.1f} %) {WHERE[step.step]}, "
        f"{known} an uncertainty of {spread:.1f} % explains; spirit does not grow.",
        subject=step.batch,
        batch=step.batch,
        facts=step.facts,
        column=COLUMN[step.step],
        observed=f"a gain of {percent:.1f} %",
        expected=f"a gain of at most {limit:g} %",
        rule=f"[tolerances] gain_percent, {HOUSE}",
        remedy="Look for a heel, rinse or draw that was not written down, a double count, or a wrong unit.",
    )


def _loss(step: Any, percent: float, spread: float, before: float, missing: float, limit: float) -> Finding:
    return Finding(
        "balance.loss-above-house-limit",
        "review",
        f"Batch {step.batch} lost {missing:.1f} of {before:.1f} proof gallons ({percent:.1f} %, "
        f"uncertainty {spread:.1f} %) {WHERE[step.step]}, above the house's {limit:g} %.",
        subject=step.batch,
        batch=step.batch,
        facts=step.facts,
        column=COLUMN[step.step],
        observed=f"a loss of {percent:.1f} %",
        expected=f"a loss of at most {limit:g} %",
        rule=f"[tolerances] {' and '.join(LIMITS[step.step])}, {HOUSE}",
        remedy="Look for a spill, a remainder or samples not written down, or a wrong figure; "
        "a large loss may have to be reported: ask the officer.",
    )
