"""The correction of glass hydrometers against a published table of what they show.

The table gives, for a true strength at 60 °F and a temperature, the % vol that a glass hydrometer of
base 60 °F indicates. It is of the nineteenth century and printed to 0.1 % vol; it is the only source
here that tests the expansion of the glass (25e-6 per K) apart from the tables of 27 CFR part 30.
"""

from __future__ import annotations

import pytest

from plugins.proof import proof_from_mass_fraction, read_strength
from plugins.proof.alcoholometry.official import celsius
from tests.published.gauging_computed import indicated
from tests.published.gauging_rows import Published, hold, known_differences, of_topic

ROWS = of_topic("hydrometer reading for true ABV60F (glass hydrometer)")


@pytest.mark.parametrize("entry", ROWS, ids=[entry.id for entry in ROWS])
def test_indicated_strength(entry: Published) -> None:
    """Indicated % vol within 0.1, what the table prints; eleven rows differ by up to 0.14 and are listed."""
    hold(entry, indicated(entry), digits=1.0)


def test_indicated_strength_overall() -> None:
    """Over all rows the formula is neither high nor low: the mean difference is below 0.01 % vol."""
    differences = [indicated(entry) - entry.value for entry in ROWS]
    assert abs(sum(differences) / len(differences)) < 0.01
    assert max(map(abs, differences)) < 0.14
    assert sum(entry.id in known_differences() for entry in ROWS) == 11


@pytest.mark.long
@pytest.mark.parametrize("entry", ROWS, ids=[entry.id for entry in ROWS])
def test_correction_undoes_indication(entry: Published) -> None:
    """Correcting what the formula says is indicated gives the true strength back."""
    shown = indicated(entry)
    if shown < 0:
        assert entry.given["true_abv_60F"] == 0
        return
    w = read_strength(2 * shown, "proof", celsius(entry.given["temp_F"]))
    assert proof_from_mass_fraction(w) / 2 == pytest.approx(entry.given["true_abv_60F"], abs=1e-7)
