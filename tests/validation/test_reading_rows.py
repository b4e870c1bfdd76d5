"""Names, dates, temperatures, repeats and contents of readings."""

from __future__ import annotations

from tests.validation.sheets import cask, checked_readings, codes, reading, sheet

STOCK = sheet("casks", *(cask(f"C-{number:04}") for number in range(301, 312)), cask("C-0900", capacity_L=200.0))


def test_unknown_vessel_names_the_neighbour_whose_strength_fits() -> None:
    """C-0131 is unknown; C-0311 is one swap away and was last at that strength."""
    rows = (reading("C-0311", "2025-09-14", 118.4), reading("C-0131", "2026-03-02", 118.1))
    _, findings = checked_readings(casks=STOCK, readings=sheet("readings", *rows))
    (finding,) = findings
    assert (finding.code, finding.severity, finding.subject) == ("reading.unknown-vessel", "review", "C-0131")
    assert finding.expected == "C-0311 (two digits swapped; its strength fits)"


def test_unknown_vessel_is_one_finding_however_often_it_was_read() -> None:
    """Three readings of one unknown name are one question, placed at the first."""
    rows = [reading("TANK-9", f"2026-03-0{day}", 118.0) for day in (3, 1, 2)]
    _, findings = checked_readings(casks=STOCK, readings=sheet("readings", *rows))
    assert codes(findings) == ["reading.unknown-vessel"]
    assert findings[0].facts == (1001,) and "3 times" in findings[0].message


def test_names_of_vessels_briefs_and_batches_are_known() -> None:
    """A vat of the vessel list, the vessel of a brief and a batch are no unknown names, nor is any without a list."""
    rows = sheet("readings", *(reading(name, "2026-03-02", 90.0) for name in ("VAT-1", "VAT-2", "B-1")))
    _, findings = checked_readings(
        casks=STOCK,
        vessels=sheet("vessels", {"vessel": "vat-1"}),
        briefs=sheet("briefs", {"batch": "B-1", "vessel": "VAT-2"}),
        readings=rows,
    )
    assert findings == []
    assert checked_readings(readings=rows)[1] == []


def test_read_before_filled() -> None:
    """A cask read before its first filling is asked about; an entry gauge of the day before is not."""
    rows = (reading("C-0311", "2021-02-01", 118.0), reading("C-0310", "2021-02-28", 118.0, purpose="entry"))
    _, findings = checked_readings(casks=STOCK, readings=sheet("readings", *rows))
    assert [(finding.code, finding.subject) for finding in findings] == [("reading.before-filled", "C-0311")]
    assert findings[0].facts == (1000, 11)


def test_read_after_emptied() -> None:
    """A cask read a month after it was emptied is asked about; a sample of the dump read two days later is not."""
    blends = sheet(
        "blends", {"batch": "B-1", "component": "C-0311", "drawn_at": "2025-11-03", "emptied": True, "line": "1"}
    )
    late = sheet("readings", reading("C-0311", "2025-12-03", 118.0), reading("C-0311", "2025-11-05", 118.0))
    _, findings = checked_readings(casks=STOCK, blends=blends, readings=late)
    assert [(finding.code, finding.facts) for finding in findings] == [("reading.after-emptied", (1000, 700))]
    assert "emptied into batch B-1 on 2025-11-03" in findings[0].message


def test_temperature_apart_from_its_day() -> None:
    """20 keyed as °F for a cask without history stands out from the day's 66 to 70 °F, with the likely reading."""
    rows = [reading(f"C-030{place}", "2026-03-02", 118.0, degF=66.0 + place) for place in range(1, 6)]
    _, findings = checked_readings(
        casks=STOCK, readings=sheet("readings", *rows, reading("C-0306", "2026-03-02", 118.0, 20.0))
    )
    (finding,) = findings
    assert (finding.code, finding.severity, finding.column) == ("reading.temperature-apart", "review", "temperature")
    assert "read at 20 °F" in finding.message and "Read as 20 °C it would fit." in finding.message


def test_a_cold_store_among_warm_rooms_is_only_a_note() -> None:
    """A jar 20 K below the day's, which the other scale does not explain, holds up nothing."""
    rows = [reading(f"C-030{place}", "2026-03-02", 118.0, degF=84.0) for place in range(1, 6)]
    _, findings = checked_readings(
        casks=STOCK, readings=sheet("readings", *rows, reading("C-0306", "2026-03-02", 118.0, 45.0))
    )
    assert [(f.severity, f.code) for f in findings if f.subject == "C-0306"] == [("note", "reading.temperature-apart")]


def repeated(count: int, **more: object) -> list[str]:
    rows = [reading(f"C-0{301 + place}", "2026-03-02", 117.2, degF=64.5, **more) for place in range(count)]
    return codes(checked_readings(casks=STOCK, readings=sheet("readings", *rows))[1])


def test_figures_copied_down() -> None:
    """Five casks one below the other with one reading and one temperature are a note; four are none."""
    assert repeated(5) == ["reading.repeated-figures"]
    assert repeated(4) == []


def test_one_lot_at_filling_reads_alike() -> None:
    """At entry, casks filled from one tank have one strength: nothing is said."""
    assert repeated(6, purpose="entry") == []


def test_replicates_of_one_cask_may_agree() -> None:
    """Six equal readings of one cask are replicates, not copies."""
    rows = [reading("C-0301", "2026-03-02", 117.2, degF=64.5, reading_no=str(number)) for number in range(6)]
    assert checked_readings(casks=STOCK, readings=sheet("readings", *rows))[1] == []


def test_gross_taken_for_net() -> None:
    """230 kg net of 118 proof are 262 L, more than the cask of 200 L holds; 175 kg are not."""
    row = reading("C-0900", "2026-03-02", 118.0, net_weight_kg=230.0)
    _, findings = checked_readings(casks=STOCK, readings=sheet("readings", row))
    (finding,) = findings
    assert (finding.code, finding.severity, finding.column) == ("reading.gross-as-net", "review", "net_weight")
    assert "a net weight of 230.0 kg is 25" in finding.message and "holds 200 L" in finding.message
    assert checked_readings(casks=STOCK, readings=sheet("readings", {**row, "net_weight_kg": 175.0}))[1] == []


def test_volume_above_capacity() -> None:
    """A stated volume above the capacity asks for its unit."""
    row = reading("C-0900", "2026-03-02", 118.0, volume_L=757.0, volume_unit="L")
    _, findings = checked_readings(casks=STOCK, readings=sheet("readings", row))
    assert codes(findings) == ["reading.volume-above-capacity"]
    assert findings[0].message.endswith("Is the unit right?")
