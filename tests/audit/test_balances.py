"""record.json's balance against the auditors' own conservation of mass and ethanol mass."""

from __future__ import annotations

from math import hypot
from pathlib import Path
from typing import Any

import pytest

from tests.audit.alcohol import (
    GALLON_L,
    IMPERIAL_GALLON_L,
    POUND_KG,
    T_60F,
    by_proof_hydrometer,
    celsius,
    density,
    entry,
    mass,
    of_proof,
    proof,
    true_mass,
)
from tests.audit.room import SITE, Room

HEADER = (
    "vessel,taken_at,reading,scale,state,temperature,instrument,purpose,net_weight,gross_weight,tare_weight,"
    "volume,volume_temperature"
)
BLENDS = "batch,component,line,drawn_volume,drawn_weight,temperature,drawn_proof,basis,drawn_at"
BOTTLINGS = "batch,bottled_on,bottle_size,bottles,run,label_abv,dumped_back,destroyed,samples,remainder_volume"
TABLES = {
    "readings.csv": [
        ("K1", "2026-01-05T08:00", 120, "dump", "152 kg"),
        ("K1", "2026-01-08T08:00", 119, "check"),
        ("K2", "2026-01-05T08:00", 124, "dump"),
        ("T9", "2026-01-05T08:00", 110, "check"),
        ("V1", "2026-01-09T08:00", 96, "before water"),
        ("V1", "2026-01-12T08:00", 90.3, "after water", "", "1050 kg", "430 kg"),
        ("V1", "2026-02-12T09:00", 60.2, "check", "100 kg"),
    ],
    "blends.csv": [
        ("heel", 1, "5 gal", "", "60 °F", 80, "dipped", "2026-01-06T08:00"),
        ("K1", 2, "", "150 kg", "", "", "weighed", "2026-01-06T09:00"),
        ("K1", 3, "", "40 kg", "", "", "weighed", "2026-01-08T09:00"),
        ("K2", 4, "", "330 lb", "", "", "weighed", "2026-01-08T10:00"),
        ("T9", 5, "30 gal", "", "75 °F", "", "metered", "2026-01-08T11:00"),
        ("water", 6, "20 gal", "", "50 °F", "", "metered", "2026-01-09T09:00"),
        ("water", 7, "40 L", "", "", "", "metered", "2026-01-09T10:00"),
        ("water", 8, "25 L", "", "10 °C", "", "metered", "2026-01-09T18:00"),
        ("rinse water", 9, "5 gal", "", "60 °F", 10, "metered", "2026-01-09T18:30"),
    ],
}


def own_parts() -> dict[int, tuple[float, float]]:
    """Line → true mass and mass fraction, from the sheets above by the rules of contract.md."""
    weak, rinse = of_proof(80), of_proof(10)
    first, second, other, tank = of_proof(120), of_proof(119), of_proof(124), of_proof(110)
    return {
        1: (mass(5 * GALLON_L, weak, T_60F), weak),
        2: (true_mass(150, first), first),
        3: (true_mass(40, second), second),
        4: (true_mass(330 * POUND_KG, other), other),
        5: (mass(30 * GALLON_L, tank, celsius(75)), tank),
        6: (mass(20 * GALLON_L, 0.0, celsius(50)), 0.0),
        7: (mass(40, 0.0, 20.0), 0.0),
        8: (mass(25, 0.0, 10.0), 0.0),
        9: (mass(5 * GALLON_L, rinse, T_60F), rinse),
    }


def mixed(lines: tuple[int, ...]) -> dict[str, float]:
    parts = [own_parts()[line] for line in lines]
    total = sum(part for part, _ in parts)
    return entry(total, sum(part * fraction for part, fraction in parts) / total)


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    room = Room(tmp_path_factory.mktemp("balance"))
    room.table("casks.csv", "cask,filled_on,as_of", [("K1", "2018-03-01", ""), ("K2", "2019-07-15", "")])
    brief = ("B1", "P", "US", "V1", "no", 90, "750 mL")
    room.table("briefs.csv", "batch,product,market,vessel,vessel_empty,bottling_proof,bottle_size", [brief])
    full = [(*row, "", "", "")[:7] for row in TABLES["readings.csv"]]
    rows = [(v, at, p, "proof", "at 60 °F", "60 °F", "H-1", why, n, g, t, "", "") for v, at, p, why, n, g, t in full]
    room.table("readings.csv", HEADER, rows)
    room.table("blends.csv", BLENDS, [("B1", *row) for row in TABLES["blends.csv"]])
    runs = [
        ("B1", "2026-01-13", "750 mL", 500, 1, 45, 3, 2, 4, ""),
        ("B1", "2026-01-13", "750 mL", 200, 2, 45, 0, 1, 2, ""),
        ("B1", "2026-01-14", "375 mL", 100, 1, 45, "", "", "", "1.5 gal"),
    ]
    room.table("bottlings.csv", BOTTLINGS, runs)
    room.run()
    return room.record("B1")


def holds(stated: dict[str, Any], own: dict[str, float]) -> None:
    for name, value in own.items():
        assert stated[name] == pytest.approx(value, rel=1e-10, abs=1e-9), name


@pytest.mark.long
def test_every_line_keeps_its_own_quantity_and_strength(record: dict[str, Any]) -> None:
    """Two draws of one cask, three waters, heel, vessel and rinse water each stand with their own figures."""
    names = ["heel", "K1", "K1", "K2", "T9", "water", "water", "water", "rinse water"]
    kinds = ["heel", "cask", "cask", "cask", "vessel", "water", "water", "water", "addition"]
    assert [part["component"] for part in record["components"]] == names
    assert [part["kind"] for part in record["components"]] == kinds
    for part, (kilograms, fraction) in zip(record["components"], own_parts().values(), strict=True):
        holds(part, entry(kilograms, fraction))


@pytest.mark.long
def test_drawn_water_and_expected_are_sums_of_mass_and_ethanol(record: dict[str, Any]) -> None:
    """Masses and ethanol masses are added, never volumes; rinse water brings spirit and counts as drawn."""
    holds(record["balance"]["drawn"], mixed((1, 2, 3, 4, 5, 9)))
    holds(record["balance"]["water"], mixed((6, 7, 8)))
    holds(record["balance"]["expected"], mixed(tuple(own_parts())))


@pytest.mark.long
def test_contraction_is_the_volume_that_mixing_took(record: dict[str, Any]) -> None:
    """The volumes of the lines at 60 °F less the volume expected."""
    apart = sum(entry(*part)["volume_60F_gal"] for part in own_parts().values())
    own = apart - mixed(tuple(own_parts()))["volume_60F_gal"]
    assert record["balance"]["contraction_60F_gal"] == pytest.approx(own, rel=1e-9)
    assert own > 1


def test_gauged_is_the_last_reading_after_water_and_before_bottling(record: dict[str, Any]) -> None:
    """Not the one before water, nor the one a month after bottling; weight by gross less tare."""
    fraction = of_proof(90.3)
    holds(record["balance"]["gauged"], entry(true_mass(620, fraction), fraction))


def test_bottled_is_bottles_by_their_size_at_the_gauged_strength(record: dict[str, Any]) -> None:
    """700 bottles of 750 mL and 100 of 375 mL at 60 °F, for the US."""
    fraction = of_proof(90.3)
    holds(record["balance"]["bottled"], entry(mass(700 * 0.75 + 100 * 0.375, fraction, T_60F), fraction))


def test_losses_by_step(record: dict[str, Any]) -> None:
    """Process: expected less gauged; samples: the bottles kept; bottling: what is left over with the remainder."""
    loss, balance = record["balance"]["loss"], record["balance"]
    process = balance["expected"]["proof_gallons"] - balance["gauged"]["proof_gallons"]
    assert loss["process"]["proof_gallons"] == pytest.approx(process, abs=1e-6)
    fraction = of_proof(90.3)
    samples = entry(mass(6 * 0.75, fraction, T_60F), fraction)["proof_gallons"]
    assert loss["samples"]["proof_gallons"] == pytest.approx(samples, rel=1e-9)
    rest = 1.5 * 0.903
    own = balance["gauged"]["proof_gallons"] - balance["bottled"]["proof_gallons"] - samples - rest
    assert loss["bottling"]["proof_gallons"] == pytest.approx(own, abs=1e-6)


@pytest.mark.long
def test_a_dump_loss_and_a_gain_in_the_vat(tmp_path: Path) -> None:
    """152 kg in the cask, 150 kg drawn, 160 kg in the vat: 2 kg lost at the dump, and z over both uncertainties."""
    room = Room(tmp_path)
    room.table("casks.csv", "cask,filled_on", [("K1", "2018-03-01")])
    room.table("briefs.csv", "batch,vessel,vessel_empty", [("B1", "V1", "yes")])
    at_60F = (120, "proof", "at 60 °F", "60 °F", "H-1")
    cask = ("K1", "2026-01-10T08:00", *at_60F, "dump", "152 kg", "", "", "", "")
    vat = ("V1", "2026-01-11T08:00", *at_60F, "after water", "160 kg", "", "", "", "")
    room.table("readings.csv", HEADER, [cask, vat])
    line = ("B1", "K1", "150 kg", "weighed", "2026-01-10T09:00", "yes")
    room.table("blends.csv", "batch,component,drawn_weight,basis,drawn_at,emptied", [line])
    room.run()
    fraction, balance = of_proof(120), room.record("B1")["balance"]
    drawn, gauged = true_mass(150, fraction), true_mass(160, fraction)
    assert balance["loss"]["dump"]["mass_kg"] == pytest.approx(true_mass(152, fraction) - drawn, abs=1e-8)
    own = (drawn - gauged) / hypot(0.002 * drawn, 0.002 * gauged)
    assert balance["imbalance"]["mass_z"] == pytest.approx(own, rel=1e-9)
    assert own < -10


def test_uncertainties_add_by_how_each_was_had(record: dict[str, Any]) -> None:
    """Weighed 0.2 %, metered 0.4 %, dipped 0.5 % (the settings' defaults), half of each in common to all had so."""
    parts = own_parts()
    share = {1: 0.005, 2: 0.002, 3: 0.002, 4: 0.002, 5: 0.004, 6: 0.004, 7: 0.004, 8: 0.004, 9: 0.004}
    for name, lines in {"drawn": (1, 2, 3, 4, 5, 9), "water": (6, 7, 8), "expected": tuple(parts)}.items():
        spread = {line: share[line] * parts[line][0] for line in lines}
        together = [sum(spread.get(line, 0.0) for line in had_so) for had_so in ((1,), (2, 3, 4), (5, 9), (6, 7, 8))]
        own = hypot(*(0.75**0.5 * value for value in spread.values()), *(0.5 * value for value in together))
        assert record["balance"][name]["uncertainty"]["mass_kg"] == pytest.approx(own, rel=1e-9), name


# --- which figure counts -----------------------------------------------------------------------

CASES = {  # readings of the cask: (instrument, taken_at, proof); inventory (proof, gauged_on); drawn_proof; wanted
    "the last at or before the draw": ([("H", "2026-01-02", 118), ("H", "2026-01-12", 125)], None, "", 118),
    "same day counts as before": ([("H", "2026-01-10T20:00", 118)], None, "", 118),
    "a reading wins over paper": ([("H", "2026-01-02", 118)], (121, "2026-01-05"), 122, 118),
    "drawn_proof next": ([], (121, "2026-01-05"), 122, 122),
    "then the inventory": ([], (121, "2026-01-05"), "", 121),
    "not an inventory after the draw": ([], (121, "2026-01-20"), "", None),
    "nothing": ([], None, "", None),
    "ninety days old": ([("H", "2025-10-12", 118)], None, "", 118),
    "ninety-one days old": ([("H", "2025-10-11", 118)], None, "", 118),
}


@pytest.fixture(scope="module")
def choices(tmp_path_factory: pytest.TempPathFactory) -> Room:
    room = Room(tmp_path_factory.mktemp("choices"))
    readings, casks, blends, briefs = [], [], [], []
    for number, (read, paper, drawn, _) in enumerate(CASES.values()):
        at_20C = ("proof", "at 60 °F", "60 °F")
        readings += [(f"K{number}", at, value, *at_20C, device, "", *[""] * 5) for device, at, value in read]
        readings.append((f"V{number}", "2026-01-11", 120, *at_20C, "H", "", "150 kg", *[""] * 4))
        value, day = paper or ("", "")
        casks.append((f"K{number}", "2018-03-01", day or "2026-01-01", value, day))
        blends.append((f"B{number}", f"K{number}", "", "", "150 kg", "", drawn, "weighed", "2026-01-10"))
        briefs.append((f"B{number}", f"V{number}", "yes"))
    room.table("readings.csv", HEADER, readings)
    room.table("casks.csv", "cask,filled_on,as_of,proof,gauged_on", casks)
    room.table("blends.csv", BLENDS, blends)
    room.table("briefs.csv", "batch,vessel,vessel_empty", briefs)
    room.run()
    return room


@pytest.mark.long
@pytest.mark.parametrize("name", CASES)
def test_which_strength_counts(choices: Room, name: str) -> None:
    """contract.md, Which figure counts: reading, drawn_proof, inventory; none of these holds the batch."""
    number, (_, _, _, wanted) = list(CASES).index(name), CASES[name]
    record = choices.record(f"B{number}")
    stated = record["components"][0]["proof_60F"]
    assert stated == (None if wanted is None else pytest.approx(wanted, rel=1e-11))
    assert (record["status"] == "held") == (wanted is None)


@pytest.mark.long
def test_only_a_gauge_older_than_ninety_days_is_stale(choices: Room) -> None:
    """At ninety days nothing is said; a day more is a review finding, and the strength is still used."""
    stale = f"B{list(CASES).index('ninety-one days old')}"
    assert [finding["batch"] for finding in choices.open("blend.stale-gauge")] == [stale]


@pytest.mark.long
def test_several_instruments_at_one_time_weigh_by_their_uncertainty(tmp_path_factory: pytest.TempPathFactory) -> None:
    """The mean of hydrometer and meter, each weighted by one over its uncertainty squared."""
    room = Room(tmp_path_factory.mktemp("several"))
    at = ("2026-01-05T10:00",)
    rows = [
        ("K1", *at, 120, "proof", "as read", "60 °F", "H-1", "hydrometer"),
        ("K1", *at, 0.91, "g/cm3", "as read", "20 °C", "D-1", "density meter"),
    ]
    room.table("readings.csv", "vessel,taken_at,reading,scale,state,temperature,instrument,method", rows)
    room.table("casks.csv", "cask,filled_on", [("K1", "2018-03-01")])
    line = ("B1", "K1", "", "", "150 kg", "", "", "weighed", "2026-01-10")
    room.table("blends.csv", BLENDS, [line])
    room.run()
    found = room.csv("casks/gauges.csv")
    weights = [float(row["proof_uncertainty"]) ** -2 for row in found]
    own = sum(w * float(row["proof_60F"]) for w, row in zip(weights, found, strict=True)) / sum(weights)
    assert room.record("B1")["components"][0]["proof_60F"] == pytest.approx(own, rel=1e-9)
    assert abs(own - 119.5) > 0.1  # no plain mean


@pytest.mark.long
def test_trade_wordings_imperial_gallons_and_site_units(tmp_path_factory: pytest.TempPathFactory) -> None:
    """A UK site's sheets with a title row, semicolons, decimal commas and dd/mm dates come to the same arithmetic."""
    site = 'timezone = "Europe/London"\ndate_order = "dmy"\n[units]\ngal = "imperial"\ntemperature = "degF"\n'
    room = Room(tmp_path_factory.mktemp("trade"), site)
    room.write("a.csv", "Stock week 2;;\n;;\nCask No.;Filled;Bulk litres\nK1;01/03/2018;190,5\nTotal;;190,5\n")
    room.write("b.csv", "Barrel #\tDate Read\tHydrometer proof\tJar temp\nK1\t05/01/2026\t120.3\t68\n")
    room.write("c.csv", "Vatting,Cask,Disgorged (gal),Spirit temp (°C),Date drawn\nB1,K1,10,15,10/01/2026\n")
    assert {fate.outcome for fate in room.run().fates} == {"taken"}
    fraction = by_proof_hydrometer(120.3, 68)
    part = room.record("B1")["components"][0]
    assert part["filled_on"] == "2018-03-01"
    assert part["proof_60F"] == pytest.approx(proof(fraction), rel=1e-11)
    assert part["mass_kg"] == pytest.approx(mass(10 * IMPERIAL_GALLON_L, fraction, 15.0), rel=1e-10)
    assert part["mass_kg"] != pytest.approx(10 * GALLON_L * density(fraction, 15.0) / 1000, rel=0.01)


@pytest.mark.long
def test_dips_are_read_off_the_vessel_s_table(tmp_path_factory: pytest.TempPathFactory) -> None:
    """15 cm between 10 L at 0 and 1,000 L at 100 cm, at the vessel's own temperature."""
    room = Room(tmp_path_factory.mktemp("dip"), SITE)
    points = [("V1", "0 cm", "10 L"), ("V1", "100 cm", "1000 L"), ("V1", "200 cm", "2200 L")]
    room.table("vessels.csv", "vessel,depth,volume_at_depth", points)
    room.table("briefs.csv", "batch,vessel,vessel_empty", [("B1", "V1", "yes")])
    room.table("casks.csv", "cask,filled_on", [("K1", "2018-03-01")])
    room.table("blends.csv", BLENDS, [("B1", "K1", "", "", "150 kg", "", 100, "weighed", "2026-01-10")])
    row = ("V1", "2026-01-12", 100, "proof", "at 60 °F", "60 °F", "15 cm", "25 °C")
    room.table("r.csv", "vessel,taken_at,reading,scale,state,temperature,depth,volume_temperature", [row])
    room.run()
    gauged = room.record("B1")["balance"]["gauged"]
    assert gauged["mass_kg"] == pytest.approx(mass(10 + 15 * 9.9, of_proof(100), 25.0), rel=1e-10)


@pytest.mark.long
def test_the_remainder_s_reading_on_the_bottling_day_is_not_the_vat_s_gauge(tmp_path: Path) -> None:
    """contract.md: the last reading before the first bottling; a day without time is before its timed rows."""
    room = Room(tmp_path)
    room.table("casks.csv", "cask,filled_on", [("K1", "2018-03-01")])
    room.table("briefs.csv", "batch,vessel,vessel_empty", [("B1", "V1", "yes")])
    at_60F = ("proof", "at 60 °F", "60 °F", "H-1", "check")
    gauge = ("V1", "2026-01-12T07:00", 120, *at_60F, "150 kg", *[""] * 4)
    rest = ("V1", "2026-01-13T18:00", 119.5, *at_60F, "12 kg", *[""] * 4)
    room.table("readings.csv", HEADER, [gauge, rest])
    room.table("blends.csv", BLENDS, [("B1", "K1", "", "", "150 kg", "", 120, "weighed", "2026-01-10")])
    room.table("bottlings.csv", "batch,bottled_on,bottle_size,bottles", [("B1", "2026-01-13", "750 mL", 200)])
    room.run()
    assert room.record("B1")["balance"]["gauged"]["proof_60F"] == 120


def test_basis_says_that_official_figures_are_computed(record: dict[str, Any]) -> None:
    """contract.md: basis says whether rounded figures are computed or read from the official table."""
    assert "computed" in record["balance"]["gauged"]["basis"]
