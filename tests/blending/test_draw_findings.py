"""Findings on draws: each where it must be, and absent where all is well."""

from __future__ import annotations

from typing import Any

import pytest

from tests.blending.sheets import FIRST_FACT, Room, brief, cask, draw, reading

LINE = FIRST_FACT["blends"]


def room(*lines: dict[str, Any], **more: Any) -> Room:
    made = Room(blends=list(lines), briefs=[brief()], casks=[cask("C-0101"), cask("C-0311")])
    made.readings = [reading("C-0101", 120, "2026-03-01"), reading("C-0311", 122, "2026-03-01")]
    for name, value in more.items():
        setattr(made, name, value)
    return made


def test_a_sound_blend_sheet_gives_no_finding() -> None:
    """Two casks read the day before, weighed, from a house's own stock into an empty vat."""
    made = room(draw("C-0101", drawn_weight="150 kg"), draw("C-0311", drawn_weight="150 kg")).work()
    assert made.codes() == []


def test_an_unknown_cask_is_a_stop_that_names_the_nearest() -> None:
    """C-0131 is in no inventory; two digits exchanged give C-0311."""
    found = room(draw("C-0131", drawn_weight="150 kg", drawn_proof="120 proof")).work().only("blend.unknown-component")
    assert (found.severity, found.subject, found.batch, found.column) == ("stop", "C-0131", "B-1", "component")
    assert found.expected == "C-0311"
    assert found.facts == (LINE,)


@pytest.mark.long
@pytest.mark.parametrize("name", ["C-0311", "water", "heel", "barrel rinse", "caramel"])
def test_what_is_known_is_no_unknown_component(name: str) -> None:
    """Casks, water, heel and named additions are known."""
    made = room(draw(name, drawn_volume="10 L", temperature="20 degC", drawn_proof="100 proof")).work()
    assert not made.found("blend.unknown-component")


def test_a_line_without_strength_is_a_stop_and_out_of_the_sums() -> None:
    """The row stays with NaN; the sums are of the others, and say so."""
    made = room(draw("C-0101", drawn_weight="150 kg"), draw("C-0311", drawn_weight="150 kg"), readings=[])
    made.readings = [reading("C-0101", 120, "2026-03-01")]
    worked = made.work()
    found = worked.only("blend.no-strength")
    assert (found.severity, found.subject, found.column) == ("stop", "C-0311", "drawn_proof")
    assert len(worked["components"]) == 2
    assert worked.entry("drawn")["mass_kg"] == worked["components"]["mass_kg"].sum()
    assert "1 of the batch left out" in worked.entry("expected")["basis"]


def test_an_impossible_drawn_proof_is_no_strength() -> None:
    """220 proof is none: nothing is guessed from it."""
    made = room(draw("C-0101", drawn_weight="1 kg", drawn_proof="220 proof"), readings=[]).work()
    assert made.codes() == ["blend.no-strength"]


def test_a_line_without_quantity_is_a_stop() -> None:
    """A planned volume is not a drawn one."""
    found = room(draw("C-0101", planned_volume="50 gal")).work().only("blend.no-quantity")
    assert (found.severity, found.column) == ("stop", "drawn_volume")


@pytest.mark.parametrize(("read_on", "stale"), [("2025-12-02", False), ("2025-12-01", True)])
def test_a_gauge_is_stale_after_more_than_the_houses_days(read_on: str, stale: bool) -> None:
    """90 days before the draw is still good, 91 are not; the strength is used all the same."""
    made = room(draw("C-0101", drawn_weight="150 kg"), readings=[reading("C-0101", 120, read_on)]).work()
    assert bool(made.found("blend.stale-gauge")) is stale
    assert made["components"]["proof_60F"][0] == pytest.approx(120)
    if stale:
        found = made.only("blend.stale-gauge")
        assert (found.severity, found.observed) == ("review", "91 days")
        assert found.facts == (LINE, FIRST_FACT["readings"])


def test_the_limit_of_a_stale_gauge_is_the_sites() -> None:
    """[tolerances] gauge_days counts."""
    old = [reading("C-0101", 120, "2025-12-01")]
    made = room(draw("C-0101", drawn_weight="150 kg"), readings=old, settings={"tolerances.gauge_days": 120})
    assert made.work().codes() == []


@pytest.mark.long
def test_drawn_before_it_was_filled_is_a_stop() -> None:
    """A cask cannot give spirit before it has any; the day of filling itself is possible."""
    lines = draw("C-0101", "2026-03-02", drawn_weight="150 kg", drawn_proof="120 proof")
    late = room(lines, casks=[cask("C-0101", filled_on="2026-03-03")]).work().only("blend.drawn-before-filled")
    assert (late.severity, late.subject, late.column) == ("stop", "C-0101", "drawn_at")
    same_day = room(lines, casks=[cask("C-0101", filled_on="2026-03-02")]).work()
    assert not same_day.found("blend.drawn-before-filled")


def test_one_component_twice_without_times_is_shown_and_both_are_counted() -> None:
    """Two lines of one day may be two draws or one entered twice: both count until ruled on."""
    lines = [draw("C-0101", line="1", drawn_weight="60 kg"), draw("C-0101", line="2", drawn_weight="50 kg")]
    made = room(*lines).work()
    found = made.only("blend.same-component-twice")
    assert found.severity == "review"
    assert set(found.facts) == {LINE, LINE + 1}
    assert made.entry("drawn")["mass_kg"] > 110


@pytest.mark.parametrize(("second", "shown"), [("50 kg", False), ("60 kg", True)])
def test_timed_draws_are_draws_of_their_own_unless_the_quantity_is_the_same(second: str, shown: bool) -> None:
    """Two times a day with unlike weights are two draws; the same weight to the digit is looked at."""
    lines = [
        draw("C-0101", "2026-03-02T09:00", drawn_weight="60 kg"),
        draw("C-0101", "2026-03-02T15:00", drawn_weight=second),
    ]
    assert bool(room(*lines).work().found("blend.same-component-twice")) is shown


def test_several_waters_are_no_repetition() -> None:
    """Water goes in two to four times as a matter of course."""
    lines = [draw("water", line=str(n), drawn_weight="50 kg") for n in (1, 2, 3)]
    assert not room(draw("C-0101", drawn_weight="150 kg"), *lines).work().found("blend.same-component-twice")


@pytest.mark.parametrize(("emptied", "shown"), [(True, True), (False, False)])
def test_a_draw_after_the_cask_was_emptied_is_shown(emptied: bool, shown: bool) -> None:
    """Also where the second draw went into another batch."""
    lines = [
        draw("C-0101", "2026-03-02", drawn_weight="60 kg", emptied=emptied),
        draw("C-0101", "2026-03-09", batch="B-2", drawn_weight="50 kg"),
    ]
    made = room(*lines, briefs=[brief(), brief("B-2", vessel="VAT-2")]).work()
    assert bool(made.found("blend.drawn-after-emptied")) is shown
    if shown:
        assert made.only("blend.drawn-after-emptied").batch == "B-2"


def test_a_refilled_cask_may_be_drawn_again() -> None:
    """Emptied was the earlier filling."""
    lines = [
        draw("C-0101", "2024-03-02", drawn_weight="60 kg", drawn_proof="120 proof", emptied=True),
        draw("C-0101", "2026-03-09", drawn_weight="50 kg", drawn_proof="120 proof"),
    ]
    casks = [cask("C-0101", filled_on="2015-01-01"), cask("C-0101", filled_on="2024-06-01")]
    assert not room(*lines, casks=casks).work().found("blend.drawn-after-emptied")


@pytest.mark.parametrize(("volume", "shown"), [("200 L", False), ("260 L", True)])
def test_more_than_a_cask_can_hold_is_shown(volume: str, shown: bool) -> None:
    """A 200 L cask may measure a little more, never 260 L."""
    made = room(draw("C-0101", drawn_volume=volume, temperature="20 degC", basis="metered")).work()
    assert bool(made.found("blend.drawn-above-content")) is shown


def test_all_draws_of_a_filling_count_together_against_its_capacity() -> None:
    """Two draws of 130 L from a 200 L cask are too much together."""
    lines = [
        draw("C-0101", day, drawn_volume="130 L", temperature="20 degC", basis="metered")
        for day in ("2026-03-02", "2026-03-04")
    ]
    found = room(*lines).work().only("blend.drawn-above-content")
    assert found.observed.startswith("26")
    assert set(found.facts) >= {LINE, LINE + 1}


@pytest.mark.long
@pytest.mark.parametrize(
    ("hold", "shown"),
    [(None, False), ("none", False), ("reserved for B-1", False), ("duty hold", True), ("sold", True)],
)
def test_a_cask_on_hold_is_shown(hold: str | None, shown: bool) -> None:
    """Any hold but one for this very batch."""
    made = room(draw("C-0101", drawn_weight="150 kg"), casks=[cask("C-0101", hold=hold)]).work()
    assert bool(made.found("blend.cask-on-hold")) is shown
    if shown:
        found = made.only("blend.cask-on-hold")
        assert (found.severity, found.column, found.facts[0]) == ("review", "hold", FIRST_FACT["casks"])


@pytest.mark.long
@pytest.mark.parametrize(
    ("owner", "shown"),
    [(None, False), ("own", False), ("Larkmoor", False), ("LARKMOOR SPIRITS", False), ("Private 12", True)],
)
def test_a_cask_of_another_owner_is_shown(owner: str | None, shown: bool) -> None:
    """Spirit of customers does not go into the house's batch unseen."""
    made = room(
        draw("C-0101", drawn_weight="150 kg"),
        casks=[cask("C-0101", owner=owner)],
        settings={"house": "Larkmoor Spirits"},
    )
    assert bool(made.work().found("blend.cask-not-owned")) is shown


def test_without_a_house_nothing_is_said_of_owners() -> None:
    """Who is not named cannot be compared."""
    made = room(draw("C-0101", drawn_weight="150 kg"), casks=[cask("C-0101", owner="Private 12")])
    assert not made.work().found("blend.cask-not-owned")


def test_a_line_without_a_date_is_shown_and_takes_the_batchs_last() -> None:
    """Which reading counts rests on the date of the draw."""
    readings = [
        reading("C-0101", 120, "2026-03-01"),
        reading("C-0101", 100, "2026-05-01"),
        reading("C-0311", 122, "2026-03-01"),
    ]
    lines = [draw("C-0101", None, drawn_weight="60 kg"), draw("C-0311", "2026-03-02", drawn_weight="50 kg")]
    made = room(*lines, readings=readings).work()
    assert made.only("blend.no-date").column == "drawn_at"
    table = made["components"].set_index("component")
    assert table.loc["C-0101", "proof_60F"] == pytest.approx(120)


def test_strengths_on_paper_are_marked_by_one_note_a_batch() -> None:
    """Forty casks without a reading are one note, not forty."""
    lines = [draw(name, drawn_weight="60 kg", drawn_proof="120 proof") for name in ("C-0101", "C-0311")]
    found = room(*lines, readings=[]).work().only("blend.strength-on-paper")
    assert found.severity == "note"
    assert found.facts == (LINE, LINE + 1)


@pytest.mark.long
@pytest.mark.parametrize(
    ("volume", "more", "shown"),
    [
        ("80 gal", {"temperature": "20 degC"}, True),
        ("168 L", {"temperature": "20 degC"}, False),
        ("175 L", {"temperature": "20 degC"}, False),
        ("175 L", {"temperature": "20 degC", "basis": "metered"}, True),
    ],
)
def test_a_weight_and_a_volume_that_differ_are_shown(volume: str, more: dict[str, Any], shown: bool) -> None:
    """150 kg of 120 proof are 168 L: by dip of a cask 3 % is let pass twice, by meter 0.4 %. The weight counts."""
    made = room(draw("C-0101", drawn_weight="150 kg", drawn_volume=volume, **more)).work()
    assert made["components"]["mass_kg"][0] == pytest.approx(150.2, abs=0.05)
    assert bool(made.found("blend.weight-and-volume-differ")) is shown
    if shown:
        found = made.only("blend.weight-and-volume-differ")
        assert (found.severity, found.column, found.facts) == ("review", "drawn_volume", (LINE,))
        assert found.expected == "150.2 kg by weight"


@pytest.mark.parametrize(
    ("names", "said"),
    [
        (("C-0101",), "C-0101 has a volume without a temperature"),
        (("C-0101", "C-0311"), "C-0101, C-0311 have a volume without a temperature"),
    ],
)
def test_notes_are_singular_for_one_and_plural_for_several(names: tuple[str, ...], said: str) -> None:
    """One cask has, two casks have."""
    made = room(*(draw(name, drawn_volume="100 L") for name in names)).work()
    found = made.only("blend.volume-temperature-assumed")
    assert said in found.message
    assert found.observed == ("1 line" if len(names) == 1 else "2 lines")


@pytest.mark.long
def test_caramel_without_a_strength_is_noted_rinse_without_one_is_held() -> None:
    """What by its name brings no alcohol counts as mass; what carries spirit needs its strength."""
    caramel = room(draw("caramel", drawn_weight="2 kg"), draw("C-0101", drawn_weight="150 kg")).work()
    assert caramel.codes() == ["blend.addition-without-alcohol"]
    assert caramel.entry("water")["mass_kg"] == pytest.approx(2.0, rel=0.01)
    rinse = room(draw("barrel rinse", drawn_weight="2 kg"), draw("C-0101", drawn_weight="150 kg")).work()
    assert rinse.codes() == ["blend.no-strength"]
