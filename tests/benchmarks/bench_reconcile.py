"""How long a batch of 400 components takes to be reconciled and diagnosed: python -m tests.benchmarks.bench_reconcile

The target is half a second for the three stages that do it, on two cores, with a mis-keyed temperature in one cask.
"""

from __future__ import annotations

import time

from plugins.blending import plugin
from tests.blending.sheets import Room, Worked
from tests.blending.test_figures import JARS, STRENGTHS, hydrometer, room

STAGES = ("imbalances", "reconciled", "figures_to_check")
TIMES = 5


def open_batch(dumped: bool) -> Room:
    """400 casks of which 80 have their temperature in the other scale, so that the account does not close.

    ``dumped``: each was weighed before it was drawn too, and lost 1 % at its dump.
    """
    made = room(STRENGTHS * 100, JARS * 100)
    for place in range(80):
        made.readings[place] = hydrometer(f"C-{place:04d}", STRENGTHS[place % 4], JARS[place % 4])
        made.readings[place]["temperature"] = f"{round((JARS[place % 4] - 32) / 1.8)} degF"
    for place in range(400 if dumped else 0):
        made.readings[place]["net_weight"] = f"{(150 + 2 * place) / 0.99:.2f} kg"
        made.blends[place]["emptied"] = True
    return made


def seconds(worked: Worked, made: Room, name: str) -> float:
    """The least of several times of one stage, in seconds of the processor: other work does not count."""
    stage = next(stage for stage in plugin.stages() if stage.gives == name)
    needs = {need.name: made.site() if need.name == "site" else worked[need.name] for need in stage.needs}
    found = []
    for _ in range(TIMES):
        start = time.process_time()
        stage(**needs)
        found.append(time.process_time() - start)
    return min(found)


def main() -> None:
    for dumped, words in ((False, "drawn by weight"), (True, "each with a dump gauge of its own too")):
        made = open_batch(dumped)
        worked = made.work()
        row, listed = worked["imbalances"].iloc[0], len(worked["figures_to_check"])
        count = len(worked["components"])
        print(f"{count} components, {words}: chi-square {row['chi_square']:.1f}, {listed} figures to check")
        total = 0.0
        for name in STAGES:
            spent = seconds(worked, made, name)
            total += spent
            print(f"  {name:<18}{spent:7.3f} s")
        print(f"  {'together':<18}{total:7.3f} s  (target 0.5 s)")


if __name__ == "__main__":
    main()
