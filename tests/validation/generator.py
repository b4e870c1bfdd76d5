"""Honest lab readings of an invented stock, made from the physics backwards, and slips planted in them.

A cask's strength drifts 1 to 3 proof a year, up or down; jars are at room or warehouse temperature by
season; instruments scatter by 0.2 proof; figures are written as the graduation shows them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from pipeline.contract.site import Site
from plugins.blending.declared.kinds import BLENDS, BOTTLINGS, BRIEFS, CASKS
from plugins.proof import (
    T_20C,
    T_60F,
    abv_from_mass_fraction,
    density,
    mass_fraction_from_density,
    mass_fraction_from_proof,
    proof_from_mass_fraction,
)
from plugins.proof.declared.kinds import INSTRUMENTS, READINGS, VESSELS
from plugins.proof.gauging.correct import correct_proof

NOISE_PROOF = 0.2
GLASS = 25e-6
HYDROMETER_PROOF, HYDROMETER_VOL, METER = "H-2", "H-7", "D-1"


@dataclass
class Stock:
    """The frames of a distillery, with what the generator knows: true strength and temperature per reading."""

    frames: dict[str, pd.DataFrame]
    columns: dict[str, np.ndarray]
    true_proof: np.ndarray
    jar_degC: np.ndarray

    def proofs(self, site: Site) -> pd.DataFrame:
        proofs, _ = correct_proof(self.frames["readings"], self.frames["instruments"], self.frames["vessels"], site)
        return proofs

    def rebuilt(self, **changes: np.ndarray) -> Stock:
        """The same with columns of the readings changed."""
        columns = {**self.columns, **changes}
        frames = {**self.frames, "readings": readings_of(columns)}
        return Stock(frames, columns, self.true_proof, self.jar_degC)


def readings_of(columns: dict[str, Any], first_fact: int = 100_000) -> pd.DataFrame:
    count = len(columns["vessel"])
    return READINGS.frame().build(columns, [(first_fact + row,) for row in range(count)])


def frame_of(kind: Any, columns: dict[str, Any], first_fact: int) -> pd.DataFrame:
    count = len(next(iter(columns.values()))) if columns else 0
    return kind.frame().build(columns, [(first_fact + row,) for row in range(count)])


def shown_by_hydrometer(fraction: np.ndarray, jar_degC: np.ndarray, base_degC: np.ndarray) -> np.ndarray:
    """Mass fraction of the mark at which a glass hydrometer floats."""
    mark = density(fraction, jar_degC) * (1.0 + GLASS * (jar_degC - base_degC))
    return mass_fraction_from_density(mark, base_degC)


def honest(count: int, seed: int, gauges: int = 4, warmer_K: float = 0.0) -> Stock:
    """``count`` honest readings of ``count / gauges`` casks, with all jars warmer or colder by ``warmer_K``."""
    rng = np.random.default_rng(seed)
    casks = count // gauges
    names = np.array([f"C-{number:05d}" for number in range(1, casks + 1)], dtype=object)
    filled = np.datetime64("2016-01-01") + rng.integers(0, 3000, casks).astype("timedelta64[D]")
    entry = np.where(rng.random(casks) < 0.7, rng.uniform(105.0, 125.0, casks), rng.uniform(120.0, 130.0, casks))
    drift = rng.uniform(1.0, 3.0, casks) * rng.choice([-1.0, 1.0], casks)
    of = np.sort(rng.integers(0, casks, count))
    end = np.datetime64("2026-03-01")
    share = rng.random(count)
    at = (filled[of] + (share * (end - filled[of]).astype(float)).astype("timedelta64[D]")).astype("datetime64[us]")
    # Labs gauge on some days of the month only, so that a day has several readings.
    at = (at.astype("datetime64[D]").astype(np.int64) // 14 * 14).astype("datetime64[D]")
    at = np.maximum(at, filled[of]).astype("datetime64[us]")
    minutes = rng.integers(480, 1000, count) + np.arange(count) % 60 * 1000
    at = at + (minutes % 1440).astype("timedelta64[m]")
    years = (at - filled[of].astype("datetime64[us]")).astype(float) / (365.25 * 86400e6)
    proof = entry[of] + drift[of] * years
    season = 8.0 * np.sin(2 * np.pi * (at.astype("datetime64[D]").astype(np.int64) % 365.25) / 365.25)
    jar = np.where(rng.random(count) < 0.5, rng.normal(20.0, 2.0, count), rng.normal(13.0, 2.5, count) + season)
    jar = jar + warmer_K
    columns = _written(rng, names[of], at, proof, jar)
    frames = {
        "casks": _inventory(rng, names, filled, entry, columns, of),
        "readings": readings_of(columns),
        "vessels": VESSELS.frame().empty(),
        "briefs": BRIEFS.frame().empty(),
        "blends": BLENDS.frame().empty(),
        "bottlings": BOTTLINGS.frame().empty(),
        "instruments": frame_of(
            INSTRUMENTS,
            {
                "instrument": [HYDROMETER_PROOF, HYDROMETER_VOL, METER],
                "kind": ["hydrometer", "hydrometer", "density meter"],
                "scale": ["proof", "%vol", "kg/m3"],
                "base_temperature_degC": [T_60F, T_20C, np.nan],
                "glass_expansion_per_K": [GLASS, GLASS, np.nan],
            },
            50_000,
        ),
    }
    return Stock(frames, columns, proof, jar)


def _written(rng: Any, vessel: np.ndarray, at: np.ndarray, proof: np.ndarray, jar: np.ndarray) -> dict[str, Any]:
    """What the lab wrote: three instruments, each with its scale and its thermometer."""
    count = len(vessel)
    which = rng.integers(0, 3, count)
    seen = mass_fraction_from_proof(proof + rng.normal(0.0, NOISE_PROOF, count))
    in_F = np.round((jar * 1.8 + 32.0) * 2.0) / 2.0
    in_C = np.round(jar * 10.0) / 10.0
    fahrenheit = which == 0
    temperature = np.where(fahrenheit, (in_F - 32.0) / 1.8, in_C)
    base = np.where(which == 0, T_60F, T_20C)
    mark = shown_by_hydrometer(seen, temperature, base)
    by_proof = np.round(proof_from_mass_fraction(mark) * 5.0) / 5.0
    by_vol = np.round(abv_from_mass_fraction(mark) * 10.0) / 10.0
    by_meter = np.round(density(seen, temperature), 2)
    reading = np.select([which == 0, which == 1], [by_proof, by_vol], by_meter)
    scales = np.array(["proof", "%vol", "kg/m3"], dtype=object)
    return {
        "vessel": vessel,
        "taken_at": at,
        "taken_at_timed": np.ones(count, dtype=bool),
        "reading": reading,
        "reading_unit": scales[which],
        "scale": scales[which],
        "temperature_degC": temperature,
        "temperature_unit": np.where(fahrenheit, "degF", "degC").astype(object),
        "instrument": np.array([HYDROMETER_PROOF, HYDROMETER_VOL, METER], dtype=object)[which],
        "reading_no": np.array([str(row) for row in range(count)], dtype=object),
    }


def _inventory(
    rng: Any, names: np.ndarray, filled: np.ndarray, entry: np.ndarray, columns: dict[str, Any], of: np.ndarray
) -> pd.DataFrame:
    """One export: entry strength for nine casks of ten, half of it in % vol; capacity and entry volume for all."""
    count = len(names)
    in_vol = rng.random(count) < 0.5
    stated = np.where(in_vol, abv_from_mass_fraction(mass_fraction_from_proof(entry)), entry)
    known = rng.random(count) < 0.9
    return frame_of(
        CASKS,
        {
            "cask": names,
            "as_of": np.full(count, np.datetime64("2026-03-01")),
            "filled_on": filled,
            "entry_proof": np.where(known, np.round(stated, 1), np.nan),
            "entry_proof_unit": np.where(in_vol, "%vol", "proof").astype(object),
            "entry_volume_L": np.full(count, 198.0),
            "capacity_L": np.full(count, 200.0),
        },
        1,
    )
