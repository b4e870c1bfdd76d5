"""How much of each sample a bench card takes, against what stands on the shelf."""

from __future__ import annotations

import json
from typing import Any

import pandas as pd

from pipeline import Finding, stage
from plugins.bench.cards.tasters import folded
from plugins.bench.declared.frames import NEEDED

Row = dict[str, Any]


@stage(gives=NEEDED)
def find_needs(bench_cards: pd.DataFrame, samples: pd.DataFrame) -> tuple[pd.DataFrame, list[Finding]]:
    """Cards as issued → millilitres of each sample; a card that cannot be made, or a shelf that holds too little."""
    shelf = _shelf(samples)
    rows: list[Row] = []
    findings: list[Finding] = []
    for batch, text, facts in zip(bench_cards["batch"], bench_cards["document"], bench_cards["facts"], strict=True):
        card = json.loads(text)
        if card.get("cannot"):
            findings.append(_cannot(str(batch), str(card["cannot"]), facts))
        short = []
        for item in card.get("needed", ()):
            there, own = shelf.get(str(item["component"]).strip().casefold(), (float("nan"), ()))
            rests = tuple(sorted({*facts, *own}))
            rows.append({"batch": batch, "component": item["component"], "needed_ml": item["ml"], "on_shelf_ml": there,
                         "facts": rests})  # fmt: skip
            if there < item["ml"]:
                short.append((item, there, rests))
        if short:
            findings.append(_short(str(batch), short))
    columns = {name: [row[name] for row in rows] for name in NEEDED.names}
    return NEEDED.build(columns, [row["facts"] for row in rows]), findings


def _shelf(samples: pd.DataFrame) -> dict[str, tuple[float, tuple[int, ...]]]:
    """By source: millilitres in bottles of which nothing says that they are gone, and the rows."""
    there = samples[samples["volume_L"].notna() & samples["fate"].isna()]
    return {
        str(source): (1000.0 * float(part["volume_L"].sum()), tuple(sorted({f for ids in part["facts"] for f in ids})))
        for source, part in there.groupby(folded(there["source"]), sort=True)
    }


def _cannot(batch: str, why: str, facts: tuple[int, ...]) -> Finding:
    return Finding(
        "bench.card-not-made",
        "review",
        f"No bench card could be made for {batch}: {why}",
        subject=batch,
        batch=batch,
        facts=facts,
        remedy=f"Mend that, then vatting card {batch}.",
    )


def _short(batch: str, short: list[tuple[Row, float, tuple[int, ...]]]) -> Finding:
    said = "; ".join(f"{item['component']} {item['ml']:.0f} ml of {there:.0f}" for item, there, _ in short)
    return Finding(
        "bench.sample-too-little",
        "note",
        f"The bench card of {batch} takes more of a sample than the register lists: {said}.",
        subject=batch,
        batch=batch,
        facts=tuple(sorted({fact for _, _, facts in short for fact in facts})),
        column="volume",
        remedy="Draw a fresh sample of these casks before the bench.",
    )
