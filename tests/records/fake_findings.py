"""Findings on the invented batches, and the files that were dropped."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from pipeline.book.fates import Fate
from pipeline.contract.findings import Finding, Place, Ruling, finding_id


def finding(code: str, severity: str, message: str, **rest: Any) -> Finding:
    made = Finding(code, severity, message, **rest)
    keys = [str(fact) for fact in made.facts]
    return replace(made, id=finding_id(code, made.subject, keys, made.column)) if not made.id else made


def some_findings() -> list[Finding]:
    return [
        finding(
            "proof.temperature-scale",
            "stop",
            "The reading of C-0209 was taken at 17.5 °F, proof 121.2; in °C it agrees with the cask's last gauge.",
            subject="C-0209",
            batch="B-26-02",
            facts=(203,),
            column="temperature",
            observed="17.5 °F",
            expected="about 63 °F (17.5 °C)",
            rule="house practice",
            remedy="Ask who read it, then correct the temperature or void the row.",
            place=Place("gauges february.xlsx", "Lab", "F203"),
        ),
        finding(
            "blend.does-not-balance",
            "stop",
            "B-26-02 was expected at 106.1 proof and gauged at 103.6; the tolerance is 0.5.",
            subject="B-26-02",
            batch="B-26-02",
            facts=(2002, 2060),
            observed="103.6 proof",
            expected="106.1 ± 0.5 proof",
            rule="tolerances.balance_proof",
            remedy="See the figures to check in the record of B-26-02.",
            place=Place("gauges february.xlsx", "Lab", "C60"),
        ),
        finding(
            "label.age-not-met",
            "stop",
            "B-26-03 claims 5 years; M-0340 is 4 years, 3 months and 13 days old.",
            subject="B-26-03",
            batch="B-26-03",
            facts=(3001, 303),
            column="age_statement",
            observed="4 years, 3 months, 13 days",
            expected="5 years",
            rule="Assimilated Reg. 2019/787 Art. 13(6)",
            remedy="Change the statement or leave M-0340 out of the next batch.",
            place=Place("brief B-26-03.xlsx", "Brief", "G4"),
        ),
        finding(
            "label.fact-missing",
            "review",
            "No sheet says how M-0340 was distilled.",
            subject="M-0340",
            batch="B-26-03",
            facts=(303,),
            rule="SI 2009/2890 reg. 3",
            remedy="State it in the inventory export.",
            place=Place("stock march.csv", "", "A41"),
        ),
        finding(
            "blend.strength-on-paper",
            "note",
            "The strength of C-0125 is its dump gauge of the day.",
            subject="C-0125",
            batch="B-26-01",
            facts=(1006,),
            place=Place("blend sheet 1.csv", "", "B6"),
        ),
        replace(
            finding(
                "blend.stale-gauge",
                "review",
                "The gauge of C-0088 is 140 days old; the house wants 90.",
                subject="C-0088",
                batch="B-25-11",
                facts=(5002,),
                observed="140 days",
                expected="90 days",
                remedy="Gauge it again, or accept.",
                place=Place("blend sheet 5.csv", "", "B2"),
            ),
            ruling=Ruling("accept", "Regauged by dip; within a tenth.", "M. Orrin", "2026-02-10", number=39),
        ),
        finding(
            "sheet.unit-assumed",
            "note",
            "The column Volume states no unit; the site's default, gallons, was taken.",
            subject="stock march.csv",
            place=Place("stock march.csv", "", "F1"),
        ),
    ]


def taken_files() -> list[Fate]:
    return [
        Fate("stock march.csv", "taken", 41, "a" * 64, "2026-03-19T08:02:11Z", kinds="casks", rows=42, findings=1),
        Fate(
            "gauges february.xlsx",
            "taken",
            42,
            "b" * 64,
            "2026-03-19T08:02:12Z",
            kinds="readings, instruments",
            rows=318,
            findings=2,
        ),
        Fate(
            "holiday list.xlsx",
            "returned",
            43,
            "c" * 64,
            "2026-03-19T08:02:12Z",
            remedy="Put the headers of a known sheet above the rows: vatting sheet KIND writes one.",
            reason="No sheet of it was recognised: columns found: Name, From, To.",
        ),
        Fate("blend sheet 1.csv", "taken", 44, "d" * 64, "2026-03-20T16:40:00Z", kinds="blends", rows=7),
    ]
