"""Which certificate was in force for a reading, and what it says.

Corrections are interpolated between the certificate's points and held beyond its first and last one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import chain
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pipeline.common.names import coded, folded_or_missing
from plugins.proof.alcoholometry.formula import Array

DESCRIBED = (
    "kind",
    "scale",
    "base_temperature_degC",
    "base_temperature_unit",
    "glass_expansion_per_K",
    "range_low",
    "range_high",
    "graduation",
)
IN_FORCE, TOO_EARLY, EXPIRED, NO_CERTIFICATE, NOT_LISTED = "in force", "too early", "expired", "none", "not listed"
UNDATED = np.datetime64("0001-01-01", "D")


@dataclass(frozen=True)
class Certificate:
    """One certificate of one instrument: its points, its dates and what it describes.

    ``described`` maps the columns of ``DESCRIBED`` to what is stated. ``from_day`` is the day of
    calibration (year 1 where none is stated), ``until_day`` NaT where it does not expire.
    """

    instrument: str
    described: dict[str, Any]
    from_day: np.datetime64
    until_day: np.datetime64
    points: Array
    corrections: Array
    uncertainty_points: Array
    uncertainties: Array
    facts: tuple[int, ...]
    is_certificate: bool

    @property
    def has_points(self) -> bool:
        """Whether it states a correction or an uncertainty at any reading: what makes a certificate."""
        return bool(self.points.size or self.uncertainties.size)

    def correction(self, reading: Array) -> Array:
        """What to add to readings, in the scale's unit."""
        return np.interp(reading, self.points, self.corrections) if self.points.size else np.zeros(reading.shape)

    def uncertainty(self, reading: Array) -> Array:
        """Expanded uncertainty (k=2) at readings, in the scale's unit; NaN where none is stated."""
        if not self.uncertainties.size:
            return np.full(reading.shape, np.nan)
        return np.interp(reading, self.uncertainty_points, self.uncertainties)


@dataclass(frozen=True)
class InForce:
    """For every reading the place of its certificate in ``certificates``.

    ``place`` is -1 where the instrument is not known; ``too_early`` marks readings before the
    instrument's first certificate: what it describes holds, its corrections do not.
    """

    certificates: list[Certificate]
    place: NDArray[np.intp]
    too_early: NDArray[np.bool_]

    def described(self, name: str) -> NDArray[Any]:
        """What the certificates say under a column of ``DESCRIBED``, per reading."""
        numeric = name not in ("kind", "scale", "base_temperature_unit")
        missing: Any = np.nan if numeric else ""
        stated = [certificate.described.get(name, missing) for certificate in self.certificates]
        return np.array([*stated, missing], dtype=np.float64 if numeric else object)[self.place]

    def standing(self, taken_at: pd.Series) -> NDArray[np.object_]:
        """How the certificate of each reading stood at its moment; ``taken_at`` as given to ``in_force``."""
        last = [np.datetime64("NaT", "D")]
        until = np.array([*(c.until_day for c in self.certificates), *last], dtype="datetime64[D]")[self.place]
        none = np.array([*(not c.is_certificate for c in self.certificates), False])[self.place]
        late = taken_at.to_numpy("datetime64[D]") > until
        cases = [self.place < 0, none, self.too_early, late]
        return np.select(cases, [NOT_LISTED, NO_CERTIFICATE, TOO_EARLY, EXPIRED], IN_FORCE).astype(object)

    def groups(self) -> list[tuple[Certificate | None, NDArray[np.intp]]]:
        """Rows by certificate; None for those without."""
        if not self.place.size:
            return []
        order = np.argsort(self.place, kind="stable")
        places, starts = np.unique(self.place[order], return_index=True)
        rows = np.split(order, starts[1:])
        return [(self.certificates[p] if p >= 0 else None, r) for p, r in zip(places.tolist(), rows, strict=True)]


def certificates_of(instruments: pd.DataFrame) -> dict[str, list[Certificate]]:
    """All certificates by folded instrument name, each list in order of calibration."""
    return {key: _completed(certificates) for key, certificates in _stated(instruments).items()}


def _stated(instruments: pd.DataFrame) -> dict[str, list[Certificate]]:
    """What sheets state of each day of calibration, certificate or not."""
    table = instruments.assign(_key=folded_or_missing(instruments["instrument"]))
    table = table.sort_values(["_key", "calibrated_on", "reading"], na_position="first", kind="stable")
    found: dict[str, list[Certificate]] = {}
    for (key, _), rows in table.groupby(["_key", "calibrated_on"], dropna=False, sort=False):
        found.setdefault(str(key), []).append(_certificate(rows))
    return found


def _certificate(rows: pd.DataFrame) -> Certificate:
    with_correction = rows.dropna(subset=["reading", "correction"])
    with_uncertainty = rows.dropna(subset=["reading", "uncertainty"])
    calibrated, until = rows["calibrated_on"].iloc[0], rows["valid_until"].min()
    dated = not pd.isna(calibrated)
    return Certificate(
        instrument=str(rows["instrument"].iloc[0]),
        described={name: rows[name].dropna().iloc[0] for name in DESCRIBED if rows[name].notna().any()},
        from_day=np.datetime64(calibrated, "D") if dated else UNDATED,
        until_day=np.datetime64("NaT", "D") if pd.isna(until) else np.datetime64(until, "D"),
        points=with_correction["reading"].to_numpy(np.float64),
        corrections=with_correction["correction"].to_numpy(np.float64),
        uncertainty_points=with_uncertainty["reading"].to_numpy(np.float64),
        uncertainties=with_uncertainty["uncertainty"].to_numpy(np.float64),
        facts=tuple(sorted(set(chain.from_iterable(rows["facts"])))),
        is_certificate=bool(dated or len(with_correction) or rows["certificate"].notna().any()),
    )


def pointless(instruments: pd.DataFrame) -> list[tuple[Certificate, Certificate]]:
    """Pairs (certificate that counts, later day of calibration that states no point of one)."""
    pairs = []
    for stated in _stated(instruments).values():
        whole = [c for c in stated if c.has_points]
        later = [c for c in stated if not c.has_points and whole and c.from_day > whole[-1].from_day]
        pairs += [(whole[-1], c) for c in later[-1:]]
    return pairs


def _completed(certificates: list[Certificate]) -> list[Certificate]:
    """The certificates; what one leaves out of the instrument's description, the others say, latest first.

    Where any states points, a day of calibration without one is no certificate and takes the place of none.
    """
    described: dict[str, Any] = {}
    for certificate in certificates:
        described.update(certificate.described)
    some = any(c.has_points for c in certificates)
    whole = [c for c in certificates if (c.has_points if some else c.is_certificate)]
    descriptions = [c for c in certificates if not (c.has_points if some else c.is_certificate)]
    facts = tuple(chain.from_iterable(c.facts for c in descriptions))
    return [
        replace(c, described={**described, **c.described}, facts=tuple(sorted({*c.facts, *facts})))
        for c in (whole or certificates[-1:])
    ]


def in_force(names: pd.Series, taken_at: pd.Series, known: dict[str, list[Certificate]]) -> InForce:
    """The certificate in force for each reading: the last one calibrated on or before its day.

    Parameters: instrument names and moments of reading (one index), and ``certificates_of``.
    """
    place = np.full(len(names), -1, dtype=np.intp)
    too_early = np.zeros(len(names), dtype=bool)
    days = taken_at.to_numpy("datetime64[D]")
    names_of = coded(names)
    codes, uniques = names_of.codes, names_of.names
    certificates: list[Certificate] = []
    rows_of = np.argsort(codes, kind="stable")
    bounds = np.searchsorted(codes[rows_of], np.arange(len(uniques) + 1))
    for code, key in enumerate(uniques):
        mine = known.get(str(key), [])
        if mine:
            rows = rows_of[bounds[code] : bounds[code + 1]]
            found = np.searchsorted(np.array([c.from_day for c in mine]), days[rows], side="right") - 1
            too_early[rows] = found < 0
            place[rows] = np.maximum(found, 0) + len(certificates)
            certificates.extend(mine)
    return InForce(certificates, place, too_early)


def facts_of(readings: Sequence[tuple[int, ...]], chosen: InForce) -> list[tuple[int, ...]]:
    """Facts of each reading with those of its certificate; the reading's own come first."""
    further = [certificate.facts for certificate in chosen.certificates] + [()]
    return [own + further[place] for own, place in zip(readings, chosen.place.tolist(), strict=True)]


def thermometer_unit(certificate: Certificate | None) -> str:
    """Unit of a thermometer's certificate: its scale, else its base temperature's; empty if none."""
    if certificate is None:
        return ""
    stated = (certificate.described.get("scale"), certificate.described.get("base_temperature_unit"))
    return next((str(unit) for unit in stated if unit in ("degC", "degF")), "")
