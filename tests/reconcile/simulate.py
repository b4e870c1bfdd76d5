"""How often sound batches are said not to close, planted slips found, and their true cause named: one command.

    python -m tests.reconcile.simulate [--cases 2000] [--seed 2026] [--jobs 2] [--table clean|sized|kinds|two]

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

from plugins.blending.reconciling import levels
from plugins.blending.reconciling.account import accounts
from plugins.blending.reconciling.judged import Judged
from plugins.blending.slips.figures_named import OF_STRENGTH
from tests.blending.sheets import Room, Worked
from tests.reconcile.cellar import Batch, evenly, half_normal, make
from tests.reconcile.planting import Planted, of_a_kind, of_size, two_of_kinds

LEVEL = 0.02
AT_ONCE = 200
SHEETS = ("blends", "readings", "casks", "briefs", "bottlings")
SIZES = (1.0, 2.0, 3.0, 4.0, 4.3, 5.0)


@dataclass(frozen=True)
class Case:
    """What became of one batch: whether its account closes, whether anything asks for a person, where the
    planted slip stands among the figures to check (0: nowhere), of how many names; balances; its kind; whether the
    first figure names the very column; and of a second slip its rank, and whether two are said to explain it."""

    closes: bool
    asks: bool
    rank: int
    names: int
    balances: int
    kind: str
    exact: bool = False
    second: int = 0
    two: bool = False


def room_of(batches: Iterable[Batch]) -> Room:
    made = Room()
    for batch in batches:
        for sheet in SHEETS:
            getattr(made, sheet).extend(getattr(batch, sheet))
    return made


def judged_of(worked: Worked, room: Room) -> dict[str, Judged]:
    names = ("balances", "components", "briefs", "filter_gauges", "bottlings")
    return {one.batch: Judged(one, LEVEL) for one in accounts(*(worked[name] for name in names), room.site())}


def cases(seed: int, count: int, what: str, size: float = 0.0) -> list[Case]:
    """So many cases: ``clean``, ``clean vat``, ``clean even``, ``sized`` (of ``size``), ``kinds`` or ``two``."""
    random = np.random.default_rng(seed)
    only_vat = what in ("clean vat", "sized")
    lose = evenly if what == "clean even" else half_normal
    batches = [make(f"B{place:04d}", random, only_vat, lose) for place in range(count)]
    planted: dict[str, tuple[Planted, ...]] = {}
    if what == "sized":
        sound = room_of(batches)
        judged = judged_of(sound.work(until="balances"), sound)
        planted = {one.name: (of_size(one, judged[one.name], size, random),) for one in batches}
    elif what == "kinds":
        planted = {one.name: (of_a_kind(one, random),) for one in batches}
    elif what == "two":
        planted = {one.name: two_of_kinds(one, random) for one in batches}
    return list(_became(room_of(batches).work(), batches, planted))


def _became(worked: Worked, batches: list[Batch], planted: dict[str, tuple[Planted, ...]]) -> Iterator[Case]:
    tests = worked["imbalances"].set_index("batch")
    figures = dict(list(worked["figures_to_check"].groupby("batch")))
    asking = {
        finding.batch
        for finding in worked.findings
        if finding.severity != "note" and finding.code.startswith(("balance.", "bottling.more"))
    }
    for batch in batches:
        slips, listed, row = planted.get(batch.name, ()), figures.get(batch.name), tests.loc[batch.name]
        ranks = [_rank(listed, slip) for slip in slips] + [(0, 0), (0, 0)]
        yield Case(
            bool(row["closes"]),
            batch.name in asking,
            *ranks[0],
            int(row["degrees"]),
            slips[0].kind if slips else "",
            ranks[0][0] == 1 and listed is not None and listed["quantity"].iloc[0] in slips[0].columns,
            ranks[1][0],
            listed is not None and "together with this" in listed["slip"].iloc[0],
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


SEED_OF = {"clean": 1, "clean vat": 2, "clean even": 3, "sized": 4, "kinds": 5, "two": 6}


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
    yield "One slip of a kind that people make, anywhere; cause among the first three; first, with the very column"
    made = run("kinds", count, seed, jobs)
    for kind in [*sorted({case.kind for case in made}), "all"]:
        of_kind = [case for case in made if kind in (case.kind, "all")]
        found = [case for case in of_kind if not case.closes]
        named = sum(1 <= case.rank <= 3 for case in found)
        first = sum(case.exact for case in found)
        yield (
            f"  {kind:<26}{len(of_kind):>6}  found {said(len(found), len(of_kind))}   "
            f"named {said(named, len(found))}   first {said(first, len(found))}"
        )


def two_table(count: int, seed: int, jobs: int) -> Iterator[str]:
    yield "Two slips of kinds that people make on two components of a batch"
    made = run("two", count, seed, jobs)
    found = [case for case in made if not case.closes]
    paired = [case for case in found if case.two]
    ranks = [(case.rank, case.second) for case in found]
    one = sum(any(1 <= rank <= 3 for rank in pair) for pair in ranks)
    both = sum(all(1 <= rank <= 3 for rank in pair) for pair in ranks)
    right = sum(max(case.rank, case.second) <= 2 and min(case.rank, case.second) >= 1 for case in paired)
    yield f"  {len(made)} batches; found {said(len(found), len(made))}"
    yield f"  one or both among the first three {said(one, len(found))}   both {said(both, len(found))}"
    yield f"  two together are said to explain it {said(len(paired), len(found))}"
    yield f"  and are the right two, of those {said(right, len(paired))}"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--cases", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=2026)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--table", choices=("clean", "sized", "kinds", "two", "all"), default="all")
    asked = parser.parse_args()
    tables = {"clean": clean_table, "sized": sized_table, "kinds": kinds_table, "two": two_table}
    for name, table in tables.items():
        if asked.table in (name, "all"):
            for line in table(asked.cases, asked.seed, asked.jobs):
                print(line, flush=True)
            print(flush=True)


if __name__ == "__main__":
    main()
