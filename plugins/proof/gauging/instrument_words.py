"""What is said of checks of instruments."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pipeline import Finding
from plugins.proof.gauging.certificates import Certificate

NAMED = 8


def _day(moment: Any) -> str:
    return str(pd.Timestamp(moment).date())


def _figure(value: float, unit: str | None) -> str:
    return f"{value:.6g} {unit}" if unit else f"{value:.6g}"


def bad(
    check: pd.Series, said: dict[str, Any], since: Any, proofs: pd.DataFrame, doubtful: NDArray[np.intp]
) -> Finding:
    """A check that found an instrument out, with the readings since the last good one."""
    rows = proofs.iloc[doubtful]
    vessels = list(dict.fromkeys(rows["vessel"]))
    named = ", ".join(map(str, vessels[:NAMED])) + (f" and {len(vessels) - NAMED} more" if len(vessels) > NAMED else "")
    before = (
        f"since it was last known good ({_day(since)})" if since is not None else "with it, never known good before,"
    )
    count = f"{len(rows)} reading{'s' if len(rows) != 1 else ''}"
    doubt = f"{count} {before} in doubt: {named}." if len(rows) else f"No reading {before}."
    doubt = doubt.replace(" in doubt", " are in doubt" if len(rows) != 1 else " is in doubt", 1)
    return Finding(
        "instrument.check-bad",
        "review",
        f"{check['instrument']} was out on {_day(check['checked_at'])}: it showed "
        f"{_figure(said['found'], said['unit'])} for {_figure(said['reference'], said['unit'])}. With its correction "
        f"that is {abs(said['error']):.3g} apart; {said['allowed']:.3g} is let pass. {doubt}",
        subject=str(check["instrument"]),
        facts=(check["facts"][0], *(facts[0] for facts in rows["facts"])),
        column="found",
        observed=_figure(said["found"], said["unit"]),
        expected=_figure(said["reference"], said["unit"]),
        remedy="Gauge again with a good instrument and have this one calibrated; rule accept if the readings stand.",
    )


def cannot_tell(check: pd.Series, said: dict[str, Any]) -> Finding:
    """A check of which nobody can say whether it was good."""
    if np.isnan(said["error"]):
        why = f"its figures are in other units than its scale ({said['unit'] or 'not stated'})"
        remedy = "State reference and found in the instrument's own unit."
    else:
        why = "no instruments sheet states its graduation or uncertainty"
        remedy = "Drop an instruments sheet that states its graduation or its certificate's uncertainty."
    return Finding(
        "instrument.check-untold",
        "review",
        f"Whether {check['instrument']} was good on {_day(check['checked_at'])} cannot be told: {why}. It showed "
        f"{check['found']:.6g} {check['found_unit'] if pd.notna(check['found_unit']) else ''} for "
        f"{check['reference']:.6g}.".replace("  ", " "),
        subject=str(check["instrument"]),
        facts=(check["facts"][0],),
        column="found",
        remedy=remedy,
    )


def drifts(check: pd.Series, said: dict[str, Any], per_year: float, then: float, due_on: Any) -> Finding:
    """An instrument that is good, but will not be at the next check."""
    return Finding(
        "instrument.will-be-out",
        "note",
        f"{check['instrument']} drifts by {per_year:+.2g} a year and would be {abs(then):.2g} out on {_day(due_on)}, "
        f"when it is checked next; {said['allowed']:.3g} is let pass.",
        subject=str(check["instrument"]),
        facts=(check["facts"][0],),
        column="found",
        remedy="Check it sooner, or have it calibrated.",
    )


def due(
    last: list[tuple[pd.Series, Any]], known: dict[str, list[Certificate]], today: date | None, days: int
) -> Iterator[Finding]:
    """One finding for all that is to be checked or calibrated within some days of the book date."""
    if today is None:
        return
    to = np.datetime64(today) + days
    said, facts = [], []
    for check, due_on in last:
        if due_on is not None and np.datetime64(due_on, "D") <= to:
            said.append(f"{check['instrument']} to be checked by {_day(due_on)} (last on {_day(check['checked_at'])})")
            facts.append(check["facts"][0])
    for certificates in known.values():
        until = certificates[-1].until_day
        if np.datetime64(today) <= until <= to:
            said.append(f"{certificates[-1].instrument}, whose certificate ends on {until}")
            facts.append(certificates[-1].facts[0])
    if said:
        yield Finding(
            "instrument.check-due",
            "note",
            f"Due in the week to {to}: {'; '.join(said)}.",
            subject="instruments",
            facts=tuple(facts),
            remedy="Check each against a reference and drop a sheet with instrument, checked_at, reference and found.",
        )


def without_points(certificate: Certificate, later: Certificate) -> Finding:
    """A later day of calibration that came without corrections and so takes the place of no certificate."""
    return Finding(
        "instrument.no-certificate-yet",
        "review",
        f"{later.instrument} is listed as calibrated on {later.from_day}, without one correction; the certificate of "
        f"{certificate.from_day} still counts.",
        subject=later.instrument,
        facts=later.facts,
        column="calibrated_on",
        observed=str(later.from_day),
        expected=str(certificate.from_day),
        remedy="Drop the new certificate with its readings and corrections; rule accept if there is none.",
    )
