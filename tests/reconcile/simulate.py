"""How often sound batches are said not to close, planted slips found, and their true cause named: one command.

    python -m tests.reconcile.simulate [--cases 2000] [--seed 2026] [--jobs 2]

Every case is a batch of sheets that goes through gauging and all stages of reconciliation. Intervals are
Wilson's of 95 % (1927, from memory). Theory is noncentral chi-square: two balances at a level of 1 in 50.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from itertools import starmap
from typing import Any

import numpy as np

from plugins.blending.figures_named import OF_STRENGTH
from plugins.blending.reconciling import levels
from plugins.blending.reconciling.account import accounts
from plugins.blending.reconciling.judged import Judged
from tests.blending.sheets import Room, Worked
from tests.reconcile.cellar import Batch, evenly, half_normal, make
from tests.reconcile.planting import Planted, of_a_kind, of_size

LEVEL = 0.02
AT_ONCE = 200
SHEETS = ("blends", "readings", "casks", "briefs", "bottlings")
SIZES = (1.0, 2.0, 3.0, 4.0, 4.3, 5.0)


@dataclass(frozen=True)
class Case:
    """What became of one batch: whether its account closes, whether anything asks for a person, where the
    planted slip stands among the figures to check (0: nowhere), of how many names; balances; and its kind."""

    closes: bool
    asks: bool
    rank: int
    names: int
    balances: int
    kind: str


def room_of(batches: Iterable[Batch]) -> Room:
    made = Room()
    for batch in batches:
        for sheet in SHEETS:
            getattr(made, sheet).extend(getattr(batch, sheet))
    return made


def judged_of(worked: Worked, room: Room) -> dict[str, Judged]:
    names = ("balances", "components", "briefs", "proofs", "bottlings")
    return {one.batch: Judged(one, LEVEL) for one in accounts(*(worked[name] for name in names), room.site())}


def cases(seed: int, count: int, what: str, size: float = 0.0) -> list[Case]:
    """So many cases: ``clean``, ``clean vat``, ``clean even``, ``sized`` (of ``size``) or ``kinds``."""
    random = np.random.default_rng(seed)
    only_vat = what in ("clean vat", "sized")
    lose = evenly if what == "clean even" else half_normal
    batches = [make(f"B{place:04d}", random, only_vat, lose) for place in range(count)]
    planted: dict[str, Planted] = {}
    if what == "sized":
        sound = room_of(batches)
        judged = judged_of(sound.work(until="balances"), sound)
        planted = {one.name: of_size(one, judged[one.name], size, random) for one in batches}
    elif what == "kinds":
        planted = {one.name: of_a_kind(one, random) for one in batches}
    return list(_became(room_of(batches).work(), batches, planted))


def _became(worked: Worked, batches: list[Batch], planted: dict[str, Planted]) -> Iterator[Case]:
    tests = worked["imbalances"].set_index("batch")
    figures = dict(list(worked["figures_to_check"].groupby("batch")))
    asking = {
        finding.batch
        for finding in worked.findings
        if finding.severity != "note" and finding.code.startswith(("balance.", "bottling.more"))
    }
    for batch in batches:
        slip = planted.get(batch.name)
        rank, names = _rank(figures.get(batch.name), slip) if slip else (0, 0)
        row = tests.loc[batch.name]
        yield Case(
            bool(row["closes"]), batch.name in asking, rank, names, int(row["degrees"]), slip.kind if slip else ""
        )


def _rank(figures: Any, slip: Planted) -> tuple[int, int]:
    """The first figure to check that names the slip's component and column, and how many it names.

    Reading and temperature stand in one row of the gauging book and make one strength: either names the other.
    """
    wanted = {*slip.columns, *(OF_STRENGTH if slip.columns[0] in OF_STRENGTH else ())}
    for row in figures.to_dict("records") if figures is not None else ():
        names = row["components"].split(", ")
        one_more = slip.columns == ("component",) and row["quantity"] == "component" and slip.component != "water"
        by_name = slip.component in names or (one_more and slip.component.split("-")[0] in names)
        if by_name and row["quantity"] in wanted:
            return int(row["rank"]), len(names)
    return 0, 0


def interval(hits: int, of: int) -> tuple[float, float]:
    """Wilson's interval of 95 % for a share."""
    z, share = 1.959964, hits / of
    centre, width = share + z**2 / (2 * of), z * np.sqrt(share * (1 - share) / of + z**2 / (4 * of**2))
    return (centre - width) / (1 + z**2 / of), (centre + width) / (1 + z**2 / of)


def said(hits: int, of: int) -> str:
    if not of:
        return "      none         "
    low, high = interval(hits, of)
    return f"{hits / of:6.3f} [{low:.3f}, {high:.3f}]"


def run(what: str, count: int, seed: int, jobs: int, size: float = 0.0) -> list[Case]:
    """All cases, in chunks with seeds of their own, so that neither jobs nor order change them."""
    seeds = np.random.SeedSequence([seed, SEED_OF[what], int(size * 10)]).generate_state(-(-count // AT_ONCE))
    asked = [(int(one), min(AT_ONCE, count - place * AT_ONCE), what, size) for place, one in enumerate(seeds)]
    if jobs == 1:
        return [case for chunk in starmap(cases, asked) for case in chunk]
    with ProcessPoolExecutor(jobs) as pool:
        return [case for chunk in pool.map(cases, *zip(*asked, strict=True)) for case in chunk]


SEED_OF = {"clean": 1, "clean vat": 2, "clean even": 3, "sized": 4, "kinds": 5}


def clean_table(count: int, seed: int, jobs: int) -> Iterator[str]:
    yield f"Sound batches that are said not to close (level {LEVEL}); and any review finding on a balance or loss"
    for what, words in (
        ("clean vat", "vat only, two balances"),
        ("clean", "vat, filter, bottles, dump gauges"),
        ("clean even", "the same, losses even up to the normal one"),
    ):
        made = run(what, count, seed, jobs)
        alarms, asks = sum(not case.closes for case in made), sum(case.asks for case in made)
        yield f"  {words:<44}{len(made):>6}  {said(alarms, len(made))}   findings {said(asks, len(made))}"


def sized_table(count: int, seed: int, jobs: int) -> Iterator[str]:
    yield "One figure wrong by so many standard uncertainties of the two balances; cause among the first three"
    yield f"  {'size':>4}{'cases':>8}  {'found':<23}{'theory':>7}   {'cause named, of those found':<28}{'names':>6}"
    for size in SIZES:
        made = run("sized", count, seed, jobs, size)
        found = [case for case in made if not case.closes]
        named = [case for case in found if 1 <= case.rank <= 3]
        theory = float(levels.power(size, LEVEL, 2))
        width = np.median([case.names for case in named]) if named else np.nan
        yield (
            f"  {size:4.1f}{len(made):>8}  {said(len(found), len(made)):<23}{theory:7.3f}   "
            f"{said(len(named), len(found)):<28}{width:6.0f}"
        )


def kinds_table(count: int, seed: int, jobs: int) -> Iterator[str]:
    yield "One slip of a kind that people make, anywhere in a batch; cause among the first three, and first"
    made = run("kinds", count, seed, jobs)
    for kind in [*sorted({case.kind for case in made}), "all"]:
        of_kind = [case for case in made if kind in (case.kind, "all")]
        found = [case for case in of_kind if not case.closes]
        named = sum(1 <= case.rank <= 3 for case in found)
        first = sum(case.rank == 1 for case in found)
        yield (
            f"  {kind:<26}{len(of_kind):>6}  found {said(len(found), len(of_kind))}   "
            f"named {said(named, len(found))}   first {said(first, len(found))}"
        )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--cases", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=2026)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--table", choices=("clean", "sized", "kinds", "all"), default="all")
    asked = parser.parse_args()
    tables = {"clean": clean_table, "sized": sized_table, "kinds": kinds_table}
    for name, table in tables.items():
        if asked.table in (name, "all"):
            for line in table(asked.cases, asked.seed, asked.jobs):
                print(line, flush=True)
            print(flush=True)


if __name__ == "__main__":
    main()
