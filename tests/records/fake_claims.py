"""Label verdicts and tastings of the invented batches."""

from __future__ import annotations

from typing import Any


def add_labels(lines: Any) -> None:
    said = {
        "B-26-01": (
            (
                "straight",
                "US",
                "met",
                "Every component is at least 2 years in charred new oak, entered at 125 proof or less.",
                "27 CFR 5.143",
                False,
                '{"charred": true, "distilled_proof": 138.0, "entry_proof": 124.5, "bonded_storage": "assumed"}',
            ),
            (
                "age statement",
                "US",
                "met",
                "The youngest component is 4 years, 2 months and 22 days old; the label says 4 years.",
                "27 CFR 5.74",
                True,
                '{"age_statement": "4 years", "youngest": "C-0125"}',
            ),
            (
                "bottled in bond",
                "US",
                "not met",
                "The components come from 4 distilling seasons; one is required.",
                "27 CFR 5.88",
                False,
                '{"distilled_on": "2020-04-12", "seasons": 4}',
            ),
            (
                "bottling strength",
                "US",
                "met",
                "Gauged 50.02 % vol at 60 °F, the label says 50.0 %; the tolerance is 0.3.",
                "27 CFR 5.65",
                False,
                '{"proof_60F": 100.04, "label_abv": 50.0}',
            ),
        ),
        "B-26-03": (
            (
                "age statement",
                "UK",
                "not met",
                "M-0340, filled on 2021-11-30, is 4 years, 3 months and 13 days old; the label says 5 years.",
                "Assimilated Reg. 2019/787 Art. 13(6)",
                False,
                '{"age_statement": "5 years", "youngest": "M-0340", "under_supervision": "assumed"}',
            ),
            (
                "single malt",
                "UK",
                "cannot tell",
                "No sheet says that M-0340 was distilled in pot stills.",
                "SI 2009/2890 reg. 3",
                True,
                '{"distillery": "Fenholm", "grain": "malted barley 100", "still": null}',
            ),
            (
                "minimum strength",
                "UK",
                "met",
                "40.9 % vol at 20 °C, at least 40 is required.",
                "Assimilated Reg. 2019/787 Annex I",
                False,
                '{"abv_20C": 40.9}',
            ),
        ),
    }
    for batch, claims in said.items():
        for claim, market, verdict, reason, rule, unverified, facts in claims:
            lines["labels"].append(
                {
                    "batch": batch,
                    "market": market,
                    "claim": claim,
                    "verdict": verdict,
                    "reason": reason,
                    "rule": rule,
                    "unverified": unverified,
                    "rule_version": "2025-01-19" if market == "US" else "2024-01-01",
                    "facts_used": facts,
                    "facts": (1002,),
                }
            )


def add_tasting(lines: Any) -> None:
    for family, mean in (
        ("oak_wood", 5.8),
        ("vanilla_cream", 5.1),
        ("dried_fruit_wine", 3.3),
        ("spice", 4.4),
        ("grain_malt", 2.6),
        ("body", 6.0),
        ("heat", 2.9),
        ("off_notes", 0.2),
    ):
        lines["profiles"].append(
            {
                "sample": "B-26-01",
                "family": family,
                "stage": "all",
                "mean": mean,
                "low": max(mean - 1.4, 0.0),
                "high": mean + 1.4,
                "notes": 4,
                "tasters": 4,
                "facts": (901,),
            }
        )
        lines["profiles"].append(
            {
                "sample": "B-26-01",
                "family": family,
                "stage": "nose",
                "mean": mean - 1,
                "low": None,
                "high": None,
                "notes": 4,
                "tasters": 4,
                "facts": (901,),
            }
        )
    for taster, stage, text in (
        ("Ilse", "nose", "Vanilla pod and toasted oak, a little orange peel behind."),
        ("Tam", "nose", "Toffee, dry oak; closed at first."),
        ("Ilse", "palate", "Round, sweet entry, cinnamon, then drier wood."),
        ("Tam", "palate", "Full. Clove! No heat to speak of."),
        ("Ilse", "finish", "Long, warming, raisin."),
    ):
        lines["notes"].append(
            {
                "sample": "b-26-01",
                "taster": taster,
                "tasted_at": "2026-02-02",
                "replicate": None,
                "stage": stage,
                "text": text,
                "facts": (901,),
            }
        )
    lines["scores"].append(
        {"sample": "B-26-01", "mean_score": 7.6, "low": 7.0, "high": 8.2, "notes": 4, "tasters": 4, "facts": (901,)}
    )
