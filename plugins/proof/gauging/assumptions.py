"""The stage ``note_assumptions``: what was assumed of many readings alike, said once for all of them.

Certificates out of their time and instruments without one, scales, methods and temperatures that nobody stated,
and a thermometer that cannot be used.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pipeline import Finding, stage
from pipeline.common.names import folded
from pipeline.contract.frames import first_facts
from plugins.proof.alcoholometry.instruments import read_strength
from plugins.proof.alcoholometry.strength import T_20C, T_60F, proof_from_mass_fraction
from plugins.proof.declared.frames import ASSUMPTIONS
from plugins.proof.gauging.certificates import (
    EXPIRED,
    NO_CERTIFICATE,
    NOT_LISTED,
    TOO_EARLY,
    Certificate,
    certificates_of,
    in_force,
    thermometer_unit,
)

Rows = NDArray[np.intp]
ASSUMED = {T_60F: ("gallons", "60 °F"), T_20C: ("litres", "20 °C")}
OUTSIDE = {TOO_EARLY: "valid only from", EXPIRED: "valid until"}


@stage(gives=ASSUMPTIONS)
def note_assumptions(proofs: pd.DataFrame, instruments: pd.DataFrame, site: Any) -> tuple[pd.DataFrame, list[Finding]]:
    """What was assumed of readings: one row and one finding for all readings of which it was assumed alike."""
    if proofs.empty:
        return ASSUMPTIONS.empty(), []
    known = certificates_of(instruments)
    made = [
        *_thermometers(proofs, known, site["instruments.thermometer"]),
        *_certificates(proofs, known),
        *_methods(proofs),
        *_scales(proofs),
        *_bases(proofs, site.markets),
        *_temperatures(proofs),
    ]
    rows = {(finding.code, finding.message): (count, finding.facts) for count, finding in made}
    columns = {
        "code": [code for code, _ in rows],
        "said": [message for _, message in rows],
        "readings": [count for count, _ in rows.values()],
    }
    facts = [facts or _one(proofs, 0) for _, facts in rows.values()]
    return ASSUMPTIONS.build(columns, facts), [finding for _, finding in made]


def _one(proofs: pd.DataFrame, row: int) -> tuple[int, ...]:
    """The fact of a reading."""
    return (int(first_facts(proofs["facts"])[row]),)


def _counted(count: int, what: str) -> str:
    return f"{count} {what}s" if count > 1 else f"one {what}"


def _thermometers(
    proofs: pd.DataFrame, known: dict[str, list[Certificate]], name: str
) -> Iterator[tuple[int, Finding]]:
    """The site's thermometer where nothing, or no unit, is known of it on the day of some reading."""
    if not name:
        return
    days = pd.Series(np.unique(proofs["taken_at"].to_numpy("datetime64[D]")))
    names = pd.Series([name] * len(days), dtype="str")
    for certificate, _ in in_force(names, days, known).groups():
        if certificate is None or not thermometer_unit(certificate):
            yield len(proofs), _no_thermometer(name, certificate)


def _no_thermometer(name: str, certificate: Certificate | None) -> Finding:
    if certificate is None:
        said, remedy = "no instruments sheet lists it", "Drop a sheet of its certificate, or correct site.toml."
    else:
        said, remedy = "its sheet states no scale of degC or degF", "State degC or degF as the certificate's scale."
    return Finding(
        "proof.thermometer-not-usable",
        "review",
        f"Thermometer {name} of the setting instruments.thermometer: {said}; temperatures were not corrected.",
        subject=name,
        facts=() if certificate is None else certificate.facts,
        column="scale",
        remedy=remedy,
    )


def _certificates(proofs: pd.DataFrame, known: dict[str, list[Certificate]]) -> Iterator[tuple[int, Finding]]:
    """One finding per certificate that was not in force, one note per instrument without any."""
    stands = proofs["certificate"].to_numpy(dtype=object)
    for standing, said in OUTSIDE.items():
        rows = np.flatnonzero(stands == standing)
        part = proofs.iloc[rows]
        for certificate, own in in_force(part["instrument"], part["taken_at"], known).groups():
            if certificate is not None:
                yield own.size, _out_of_calibration(proofs, certificate, rows[own], said)
    without = np.flatnonzero(stands == NO_CERTIFICATE)
    for key, rows in _by_name(folded(proofs["instrument"])[without], without):
        yield rows.size, _no_certificate(known[key][0].instrument, _one(proofs, rows[0]), rows.size)
    unlisted = np.flatnonzero(stands == NOT_LISTED)
    names = proofs["instrument"].iloc[unlisted].fillna("").str.strip().to_numpy(dtype=object)
    for name, rows in _by_name(names, unlisted):
        yield rows.size, _no_certificate(name, _one(proofs, rows[0]), rows.size)


def _by_name(names: NDArray[np.object_], rows: Rows) -> list[tuple[str, Rows]]:
    """The rows of each name, by name; ``names`` has one for each row."""
    codes, spellings = pd.factorize(names, sort=True)
    order = np.argsort(codes, kind="stable")
    ends = np.cumsum(np.bincount(codes, minlength=len(spellings)))[:-1]
    return list(zip(spellings.tolist(), np.split(rows[order], ends), strict=True)) if len(rows) else []


def _out_of_calibration(proofs: pd.DataFrame, certificate: Certificate, rows: Rows, said: str) -> Finding:
    expired = said == OUTSIDE[EXPIRED]
    day = certificate.until_day if expired else certificate.from_day
    days = proofs["taken_at"].iloc[rows].to_numpy("datetime64[D]")
    first, last = days.min(), days.max()
    taken = f"{rows.size} readings from {first} to {last} rest" if rows.size > 1 else f"a reading of {first} rests"
    used = "its corrections were used all the same" if expired else "no corrections were added"
    return Finding(
        "proof.instrument-out-of-calibration",
        "review",
        f"{certificate.instrument}: its certificate is {said} {day}, but {taken} on it; {used}.",
        subject=certificate.instrument,
        facts=(*certificate.facts, *sorted(set(first_facts(proofs["facts"])[rows].tolist()))),
        column="valid_until" if expired else "calibrated_on",
        observed=str(last if expired else first),
        expected=f"{said} {day}",
        rule="27 CFR 30.23 adds the instrument's own corrections",
        remedy="Drop the certificate that was in force, or read again with a calibrated instrument.",
    )


def _no_certificate(name: str, facts: tuple[int, ...], count: int) -> Finding:
    who = f"{name} has no certificate" if name else "No instrument is named"
    readings = f"{count} readings were" if count > 1 else "one reading was"
    return Finding(
        "proof.no-certificate",
        "note",
        f"{who}: {readings} taken without corrections and with the usual uncertainty.",
        subject=name,
        facts=facts,
        column="instrument",
        expected="a calibration certificate on an instruments sheet",
        remedy="Drop the points of its certificate as an instruments sheet." if name else "Name the instrument.",
    )


def _scales(proofs: pd.DataFrame) -> Iterator[tuple[int, Finding]]:
    """One note for all readings whose scale is the site's default."""
    rows = np.flatnonzero(proofs["scale_assumed"].to_numpy(dtype=bool))
    if rows.size:
        scale = str(proofs["scale"].iloc[rows[0]])
        yield (
            rows.size,
            Finding(
                "proof.scale-assumed",
                "note",
                f"No scale is stated for {_counted(rows.size, 'reading')}; the site's default, {scale}, was taken.",
                facts=_one(proofs, rows[0]),
                column="reading",
                expected="a scale in its column, the header or the cell",
                remedy="State the scale, or set default_scale under [instruments] in site.toml.",
            ),
        )


def _bases(proofs: pd.DataFrame, markets: Collection[str]) -> Iterator[tuple[int, Finding]]:
    """One finding for all strengths that are corrected to a temperature that nobody states.

    It is to be reviewed where the site's markets do not tell: where both are usual, or none is stated.
    """
    rows = np.flatnonzero(~np.isnan(proofs["base_assumed_degC"].to_numpy(dtype=np.float64)))
    if not rows.size:
        return
    first = proofs.iloc[rows[0]]
    in_doubt = not markets or ("US" in markets and any(market != "US" for market in markets))
    taken, not_taken = ("60 °F", "20 °C") if first["base_assumed_degC"] == T_60F else ("20 °C", "60 °F")
    words = np.array([f"at {not_taken}"], dtype=object)
    scale, method = (np.array([first[name]], dtype=object) for name in ("scale", "method"))
    reading = np.array([first["reading"]], dtype=np.float64)
    otherwise = proof_from_mass_fraction(read_strength(reading, scale, reading, method, words))[0]
    were = f"{_counted(rows.size, 'strength')} {'are' if rows.size > 1 else 'is'} corrected"
    yield (
        rows.size,
        Finding(
            "proof.base-assumed",
            "review" if in_doubt else "note",
            f"{were}, but not said to which temperature; {taken} was taken. State it in the header: at {taken}.",
            facts=_one(proofs, rows[0]),
            column="state",
            observed=f"{first['vessel']}: {reading[0]:g} {scale[0]} as {first['proof_apparent_60F']:.2f} proof",
            expected=f"{otherwise:.2f} proof, if it is corrected to {not_taken}",
            rule="common practice, no source: 60 °F where a market is the US, else 20 °C",
            remedy=f"Head the column ABV at {taken} or ABV at {not_taken}, whichever it is, and drop the file again.",
        ),
    )


def _methods(proofs: pd.DataFrame) -> Iterator[tuple[int, Finding]]:
    """One note each for all densities and for all specific gravities whose method was assumed."""
    assumed = proofs["method_assumed"].to_numpy(dtype=bool)
    of_gravity = (proofs["scale"] == "sg60").to_numpy(dtype=bool)
    for marked, what, taken in (
        (~of_gravity, "in a unit of density", "by a density meter, at its cell's temperature and without glass"),
        (of_gravity, "of specific gravity", "by a glass hydrometer at the jar's temperature"),
    ):
        rows = np.flatnonzero(assumed & marked)
        if rows.size:
            yield (
                rows.size,
                Finding(
                    "proof.method-assumed",
                    "note",
                    f"No method and no kind of instrument is stated for {_counted(rows.size, 'reading')} {what}; "
                    f"{'they were' if rows.size > 1 else 'it was'} taken as {taken}.",
                    facts=_one(proofs, rows[0]),
                    column="method",
                    expected="hydrometer or density meter, on the row or on an instruments sheet",
                    rule="common practice, no source",
                    remedy="State the method beside the reading, or the kind of the instrument on its sheet.",
                ),
            )


def _temperatures(proofs: pd.DataFrame) -> Iterator[tuple[int, Finding]]:
    """One note for each temperature that volumes were taken at."""
    assumed = proofs["volume_temperature_assumed_degC"].to_numpy(dtype=np.float64)
    for temperature, (unit, at) in ASSUMED.items():
        rows = np.flatnonzero(assumed == temperature)
        if rows.size:
            yield (
                rows.size,
                Finding(
                    "proof.volume-temperature-assumed",
                    "note",
                    f"{_counted(rows.size, 'volume')} in {unit} without a temperature "
                    f"{'were' if rows.size > 1 else 'was'} taken at {at}.",
                    facts=_one(proofs, rows[0]),
                    column="volume_temperature",
                    expected="the temperature of the vessel",
                    remedy="Enter the vessel's temperature beside its volume.",
                ),
            )
