"""Stages that see only what batches name give what they would give of everything."""

from __future__ import annotations

import pandas as pd

from plugins.blending.components.components import draw_components
from plugins.blending.components.known_names import known_names
from plugins.blending.components.narrow import of_draws, other_names_read
from plugins.blending.slips.figures import find_figures
from tests.blending.sheets import brief, cask, reading
from tests.blending.test_figures import room


def test_the_gauge_of_the_vat_counts_for_draws_only_where_a_heel_lay_in_it() -> None:
    """Of proofs the stage of draws sees those of what is drawn, and of every vessel where a heel is listed."""
    proofs = pd.DataFrame({"vessel": ["C-1", "VAT-1", "c-2 ", "C-9"], "facts": [(1,), (2,), (3,), (4,)]})
    briefs = pd.DataFrame({"vessel": ["VAT-1"], "batch": ["B-1"]})
    for components, seen in ((["C-1", "C-2"], ["C-1", "c-2 "]), (["C-1", "heel"], ["C-1", "VAT-1"])):
        blends = pd.DataFrame({"component": components, "batch": ["B-1", "B-1"]})
        assert of_draws(proofs, {"blends": blends, "briefs": briefs})["vessel"].tolist() == seen


def test_names_that_the_lab_reads_and_no_inventory_lists() -> None:
    readings = pd.DataFrame({"vessel": ["c-1", "T-1", "C-1", "t-1", None], "facts": [(n,) for n in range(5)]})
    casks = pd.DataFrame({"cask": ["C-1", None]})
    found = other_names_read(readings, {"casks": casks})
    assert found["vessel"].tolist() == ["T-1"] and found["facts"].tolist() == [(1,)]


def test_all_of_the_book_gives_the_same() -> None:
    """A batch with an open account, casks beside it whose numbers are nearly its casks', and many that are not."""
    made = room()
    made.readings[0]["temperature"] = "20 degF"
    for number in range(40, 60):
        made.casks.append(cask(f"C-{number:04d}", proof="121 proof"))
        made.readings.append(reading(f"C-{number:04d}", 118.0, "2026-01-20", purpose="regauge"))
    made.casks.append(cask("C-0013", proof="130 proof"))
    made.briefs.append(brief("B-2", vessel="VAT-2"))
    worked = made.work()
    site = made.site()
    for stage in (known_names, draw_components, find_figures):
        given = {need.name: worked[need.name] for need in stage.needs if need.name != "site"}
        plain = stage(**given, **({"site": site} if stage is not known_names else {}))
        plain = plain[0] if isinstance(plain, tuple) else plain
        assert stage.narrow and len(plain)
        pd.testing.assert_frame_equal(plain, worked[stage.gives])
