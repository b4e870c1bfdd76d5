"""Invented stocks for the cellar's tests: frames with a hidden truth, and sheets written as rows."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
import pandas as pd

from pipeline.contract.kinds import SheetKind
from pipeline.testing import site_with
from plugins.blending.declared.kinds import BLENDS, BOTTLINGS, BRIEFS, CASKS, MOVEMENTS
from plugins.cellar.accounts import account_stage
from plugins.cellar.casks import histories as points
from plugins.cellar.casks.changes import note_changes
from plugins.cellar.declared.frames import FILLINGS, HISTORIES
from plugins.cellar.declared.kinds import REMOVALS
from plugins.cellar.rates import forecasts, rate_stage
from plugins.cellar.stock import lineage
from plugins.cellar.stock import stock_checks as truth
from plugins.proof.declared.kinds import INSTRUMENTS, READINGS, VESSELS
from plugins.proof.gauging.correct import correct_proof
from tests.blending.sheets import FIRST_FACT, Room, frame, work

FIRST_FACT.setdefault("movements", 900_001)
BOOK_DATE = date(2026, 1, 1)
Row = dict[str, Any]


@dataclass
class Truth:
    """A simulated stock: frames, and per filling the true loss (share a year), change of strength and content now."""

    fillings: pd.DataFrame
    histories: pd.DataFrame
    loss: np.ndarray
    change: np.ndarray
    log_now: np.ndarray
    proof_now: np.ndarray


def curves_of(histories: pd.DataFrame, fillings: pd.DataFrame, site: Any) -> pd.DataFrame:
    """The house curve of a stock."""
    found: pd.DataFrame = rate_stage.pool_evaporation(histories, fillings, site)[0]
    return found


def rates_of(histories: pd.DataFrame, fillings: pd.DataFrame, site: Any) -> tuple[pd.DataFrame, list[Any]]:
    """Each filling's rate with its findings."""
    found: tuple[pd.DataFrame, list[Any]] = rate_stage.fit_rates(
        histories, fillings, curves_of(histories, fillings, site), site
    )
    return found


def simulate(
    seed: int,
    casks: int = 400,
    gauges: tuple[int, int] = (0, 2),
    between: tuple[float, float, float, float] = (0.006, 0.004, 0.003, 0.005),
    season: float = 0.005,
    settings_season_proof: float = 0.25,
) -> Truth:
    """``gauges``: fewest and most regauges after filling. ``between``: spread of warehouses, floors, woods, casks."""
    rng = np.random.default_rng(seed)
    warehouse, floor, wood = rng.integers(0, 5, casks), rng.integers(0, 4, casks), rng.integers(0, 6, casks)
    at_warehouse, at_floor, at_wood = (
        rng.normal(0, one, size) for one, size in zip(between[:3], (5, 20, 6), strict=True)
    )
    own = rng.normal(0, between[3], casks)
    loss = 0.03 + at_warehouse[warehouse] + at_floor[warehouse * 4 + floor] + at_wood[wood] + own
    change = 0.2 + 100 * (at_warehouse[warehouse] + at_floor[warehouse * 4 + floor]) + rng.normal(0, 0.4, casks)
    age = rng.uniform(2.0, 12.0, casks)
    start = np.datetime64(BOOK_DATE, "D")
    filled = start - np.round(age * 365.25).astype("timedelta64[D]")
    age = (start - filled).astype(int) / 365.25
    fillings = FILLINGS.build(
        {
            "cask": [f"C-{one:05d}" for one in range(casks)],
            "filling": [f"F-{one:05d}" for one in range(casks)],
            "filled_on": pd.Series(filled),
            "spirit": np.where(wood < 3, "Bourbon", "Single malt").astype(object),
            "species": np.array(["American oak", "European oak"], dtype=object)[wood % 2],
            "wood_use": np.array(["virgin", "first fill", "refill"], dtype=object)[wood // 2],
            "wood": [f"wood {one}" for one in wood],
            "warehouse": [f"W{one}" for one in warehouse],
            "floor": [f"W{one} {two}" for one, two in zip(warehouse, floor, strict=True)],
            "capacity_L": np.full(casks, 200.0),
            "entry_volume_L": np.full(casks, 198.0),
            "listed_on": pd.Series(filled),
        },
        [(1 + one,) for one in range(casks)],
    )
    count = 1 + rng.integers(gauges[0], gauges[1] + 1, casks)
    place = np.repeat(np.arange(casks), count)
    first = np.concatenate([[0], np.cumsum(count)[:-1]])
    share = rng.uniform(0.15, 1.0, len(place))
    share[first] = 0.0
    days = np.round(share * age[place] * 365.25)
    order = np.lexsort((days, place))
    years = days[order] / 365.25
    entry = np.log(rng.normal(198.0, 1.0, casks))
    relative = np.where(np.isin(np.arange(len(place)), first), 0.01, rng.choice([0.0025, 0.03], len(place)))
    litres = np.exp(entry[place] - loss[place] * years + rng.normal(0, np.hypot(relative, season)))
    proof = 120.0 + rng.normal(0, 1, casks)[place] + change[place] * years
    shown = proof + rng.normal(0, np.hypot(0.2, settings_season_proof), len(place))
    number = np.arange(len(place)) - first[place] + 1
    histories = HISTORIES.build(
        {
            "cask": fillings["cask"].to_numpy(object)[place],
            "filling": fillings["filling"].to_numpy(object)[place],
            "number": number,
            "at": pd.Series(filled[place] + days[order].astype(int).astype("timedelta64[D]")),
            "kind": np.where(number == 1, "filled", "gauged").astype(object),
            "basis": np.where(number == 1, "at filling", "weighed").astype(object),
            "volume_20C_L": litres,
            "volume_uncertainty_L": litres * relative,
            "proof_apparent_60F": shown,
            "proof_uncertainty": np.full(len(place), 0.2),
            "proof_by_instrument": np.zeros(len(place)),
            "obscuration_proof": np.zeros(len(place)),
            "log_shift": np.zeros(len(place)),
            "comparable": np.ones(len(place), dtype=bool),
        },
        [(100_000 + one,) for one in range(len(place))],
    )
    now = proof[first] - change * years[first] + change * age
    return Truth(fillings, histories, loss, change, entry - loss * age, now)


# --- sheets as rows -----------------------------------------------------------------------------------

KINDS: dict[str, SheetKind] = {
    kind.name: kind for kind in (CASKS, MOVEMENTS, BRIEFS, BLENDS, BOTTLINGS, READINGS, VESSELS, INSTRUMENTS)
}


def cask(name: str, **more: Any) -> Row:
    """A row of an inventory."""
    row: Row = {
        "cask": name,
        "as_of": "2025-01-10",
        "filled_on": "2020-01-10",
        "spirit": "Bourbon",
        "entry_proof": "120 proof",
        "entry_volume": "200 L",
        "species": "American oak",
        "wood_use": "virgin",
        "capacity": "205 L",
        "location": "A-1-01",
    }
    return row | more


def weighed(name: str, on: str, net: float, reading: float = 122.0) -> Row:
    """A gauge by weight with a hydrometer at 60 °F."""
    return {
        "vessel": name,
        "taken_at": on,
        "reading": f"{reading} proof",
        "temperature": "60 degF",
        "instrument": "H-1",
        "net_weight": f"{net} kg",
    }


def run(
    casks: list[Row],
    readings: list[Row] | None = None,
    movements: list[Row] | None = None,
    book_date: date = BOOK_DATE,
    settings: Row | None = None,
    **sheets: list[Row],
) -> tuple[dict[str, pd.DataFrame], list[Any]]:
    """All of the cellar's stages over rows of sheets: frames by name, and findings."""
    room = Room(
        casks=casks,
        readings=readings or [],
        blends=sheets.get("blends", []),
        briefs=sheets.get("briefs", []),
        bottlings=sheets.get("bottlings", []),
    )
    site = site_with(settings, book_date=book_date)
    frames = {
        name: frame(KINDS[name], getattr(room, name)) for name in ("casks", "readings", "blends", "briefs", "bottlings")
    }
    frames |= {name: frame(KINDS[name], []) for name in ("vessels", "instruments")}
    gone = REMOVALS.frame().empty()
    moves = frame(KINDS["movements"], movements or []) if movements else MOVEMENTS.frame().empty()
    worked = work(frames, site)
    made = {**frames, **worked.frames, "movements": moves, "removals": gone}
    if "proofs" not in made:
        made["proofs"] = correct_proof(made["readings"], made["instruments"], made["vessels"], site)[0]
    findings: list[Any] = []
    for stage in (
        note_changes,
        points.list_fillings,
        points.gather_histories,
        rate_stage.pool_evaporation,
        rate_stage.fit_rates,
        forecasts.reckon_contents,
        forecasts.forecast_casks,
        forecasts.look_out,
        truth.check_stock,
        account_stage.post_accounts,
        account_stage.close_months,
        lineage.trace_lineage,
    ):
        needed = {need.name: site if need.name == "site" else made.get(need.name) for need in stage.needs}
        answer = stage(**needed)
        given, told = answer if isinstance(answer, tuple) else (answer, [])
        every = {
            fact
            for table in needed.values()
            if isinstance(table, pd.DataFrame)
            for facts in table["facts"]
            for fact in facts
        }
        assert stage.frame is not None
        made[stage.gives] = stage.frame.check(given, f"cellar.{stage.name}", every)
        findings += told
    return made, findings
