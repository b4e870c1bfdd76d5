"""The stage ``passages``: draws, heels, movements, bottlings, remainders, removals and samples as one list of ways."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import pandas as pd

from pipeline import stage
from pipeline.common.names import fold
from plugins import proof
from plugins.cellar.accounts.postings import official
from plugins.cellar.casks.changes import GALLONS, moved
from plugins.cellar.casks.strengths import stated_proof
from plugins.cellar.declared.frames_lots import PASSAGES
from plugins.cellar.declared.kinds import BACK
from plugins.cellar.lots.holders import Holders, Node, end_of

Row = dict[str, Any]
GONE = ("ship", "destroy", "leak", "spill", "sample")
NO_TIME = "no time of day is stated, and that day {} may be meant"


@stage(gives=PASSAGES, wait=True)
def list_passages(
    components: pd.DataFrame,
    briefs: pd.DataFrame,
    movements: pd.DataFrame,
    bottlings: pd.DataFrame,
    balances: pd.DataFrame,
    fillings_of_casks: pd.DataFrame,
    removals: pd.DataFrame,
    samples: pd.DataFrame,
) -> pd.DataFrame:
    """Sheets → every way that spirit took from one holder to another, with how much where that is stated."""
    holders = Holders(components, briefs, fillings_of_casks, [name for name in map(lot_of, rows_of(bottlings)) if name])
    rows = [
        *_drawn(components, holders),
        *_heels(components, briefs, holders),
        *_moved(movements, holders),
        *_bottled(bottlings, balances, holders),
        *_removed(removals, bottlings, balances, holders),
        *_sampled(samples, holders),
    ]
    rows.sort(key=_order)
    columns: dict[str, Any] = {name: [row.get(name) for row in rows] for name in PASSAGES.names}
    columns["number"] = range(1, len(rows) + 1)
    for name in ("at", "at_latest"):
        columns[name] = pd.Series(columns[name], dtype="datetime64[us]")
    for name in ("volume_20C_L", "proof_gallons", "lpa", "bottles"):
        columns[name] = pd.Series(columns[name], dtype=float)
    return PASSAGES.build(columns, [row["facts"] for row in rows])


def lot_of(run: Row) -> str:
    """A run's lot: its code; batch and day where none is stated."""
    if not _missing(run["lot_code"]):
        return str(run["lot_code"])
    return f"{run['batch']} of {run['bottled_on']:%Y-%m-%d}" if not _missing(run["bottled_on"]) else str(run["batch"])


def removed_bottles(row: Row) -> float:
    """Bottles of a removal: whole cases and loose ones; NaN where the sheet does not say."""
    cases, each, loose = row["cases"], row["bottles_per_case"], row["bottles"]
    if _missing(cases):
        return float("nan") if _missing(loose) else float(loose)
    return float(cases * each + (0.0 if _missing(loose) else loose)) if not _missing(each) else float("nan")


def _way(out: Node, into: Node, row: Row, at: Any, latest: Any, how: str, **more: Any) -> Row:
    ends = {f"{side}_{name}": value or None for side, node in (("from", out), ("to", into))
            for name, value in zip(("kind", "name", "filling"), node, strict=True)}  # fmt: skip
    return {**ends, "at": at, "at_latest": latest, "how": how, "facts": row["facts"], **more}


def _ways(outs: list[Node], intos: list[Node], row: Row, at: Any, latest: Any, how: str, **more: Any) -> Iterator[Row]:
    """One way for each pair that may be meant; where there are several none is sure."""
    several = [node for nodes in (outs, intos) if len(nodes) > 1 for node in nodes]
    doubt = NO_TIME.format(" or ".join(" ".join(filter(None, (node[1], node[2]))) for node in several))
    for out in outs:
        for into in intos:
            if out != into:
                yield _way(out, into, row, at, latest, how, **{**more, **({"doubt": doubt} if several else {})})


def _drawn(components: pd.DataFrame, holders: Holders) -> Iterator[Row]:
    for row in rows_of(components):
        if row["kind"] in ("water", "heel"):
            continue
        at, latest = row["drawn_at"], end_of(row["drawn_at"], row["drawn_at_timed"])
        batch: Node = ("batch", row["batch"], "")
        if row["kind"] == "cask":
            outs = [holders.filling(row["component"], row["filled_on"], at)]
        elif row["kind"] == "addition":
            outs = [("addition", row["component"], "")]
        else:
            outs = holders.during(row["component"], at, latest, leaves=True)
            before = holders.before(row["batch"])
            outs = list(dict.fromkeys(before if node == batch and before else node for node in outs))
        doubt: str | None = "no sheet says when it was drawn" if pd.isna(at) else None
        yield from _ways(outs, [batch], row, at, latest, "drawn", **_amounts(row), doubt=doubt)


def _heels(components: pd.DataFrame, briefs: pd.DataFrame, holders: Holders) -> Iterator[Row]:
    """What a batch took over from what lay in its vessel: by its lines, by its brief, or because no sheet says no."""
    listed = set()
    for row in rows_of(components[components["kind"] == "heel"]):
        listed.add(fold(row["batch"]))
        before = holders.before(row["batch"])
        at = holders.begun.get(fold(row["batch"]), row["drawn_at"])
        doubt = None if before else "no sheet says what was in the vessel before"
        node = before or ("elsewhere", "heel of no known batch", "")
        yield _way(node, ("batch", row["batch"], ""), row, at, end_of(at, False), "heel", **_amounts(row), doubt=doubt)
    for row in rows_of(briefs):
        key, empty, before = fold(row["batch"]), row["vessel_empty"], holders.before(row["batch"])
        if key in listed or before is None or (not _missing(empty) and empty):
            continue
        doubt = f"no sheet says that {row['vessel']} was empty before" if _missing(empty) else None
        at = holders.begun[key]
        yield _way(before, ("batch", row["batch"], ""), row, at, end_of(at, False), "heel not listed", doubt=doubt)


def _moved(movements: pd.DataFrame, holders: Holders) -> Iterator[Row]:
    litres, strength = moved(movements)
    pg, lpa, _ = official(litres, strength)
    for row, volume, gallons, pure in zip(rows_of(movements), litres, pg, lpa, strict=True):
        at, latest = row["moved_at"], end_of(row["moved_at"], row["moved_at_timed"])
        outs = holders.during(row["from"], at, latest, leaves=True)
        intos = (
            [("elsewhere", row["to"], "")] if row["reason"] in GONE else holders.during(row["to"], at, latest, False)
        )
        more = {"volume_20C_L": volume, "proof_gallons": gallons, "lpa": pure}
        yield from _ways(outs, intos, row, at, latest, str(row["reason"]), **more)


def _bottled(bottlings: pd.DataFrame, balances: pd.DataFrame, holders: Holders) -> Iterator[Row]:
    """Each run into its lot, and what it left into the vessel that it names."""
    per_litre = _per_litre(balances)
    for row in rows_of(bottlings):
        at, latest, batch = row["bottled_on"], end_of(row["bottled_on"], False), ("batch", row["batch"], "")
        litres = row["bottles"] * row["bottle_size_L"]
        more = {"bottles": row["bottles"], **_by_litres(litres, per_litre.get(fold(row["batch"])))}
        yield _way(batch, ("lot", lot_of(row), ""), row, at, latest, "bottled", **more)
        intos: list[Node] = [("elsewhere", "not stated", "")]
        if not _missing(row["remainder_to"]):
            intos = holders.during(row["remainder_to"], at, latest, leaves=False)
        elif not row["remainder_volume_L"] > 0:
            continue
        yield from _ways([batch], intos, row, at, latest, "remainder", **_remainder(row))


def _remainder(row: Row) -> Row:
    """A remainder's amounts; its alcohol only where its strength is stated."""
    strength = stated_proof(pd.Series([row["remainder_proof"]], dtype=float), pd.Series([row["remainder_proof_unit"]]))
    at = proof.T_60F if row["remainder_volume_unit"] in GALLONS else proof.T_20C
    litres = np.array([row["remainder_volume_L"]], dtype=float)
    if np.isnan(strength).any():
        return {"volume_20C_L": float(litres[0])}
    fraction = proof.mass_fraction_from_proof(strength)
    volume = np.asarray(proof.volume_L(proof.mass_from_volume(litres, fraction, at), fraction, proof.T_20C))
    pg, lpa, _ = official(volume, strength)
    return {"volume_20C_L": float(volume[0]), "proof_gallons": float(pg[0]), "lpa": float(lpa[0])}


def _removed(
    removals: pd.DataFrame, bottlings: pd.DataFrame, balances: pd.DataFrame, holders: Holders
) -> Iterator[Row]:
    runs = {fold(lot_of(run)): run for run in rows_of(bottlings)}
    per_litre = _per_litre(balances)
    for row in rows_of(removals):
        at, latest = row["removed_on"], end_of(row["removed_on"], False)
        run: Row = runs.get(fold(row["lot_code"]), {"batch": "", "bottle_size_L": float("nan")})
        bottles = removed_bottles(row)
        size = run["bottle_size_L"] if _missing(row["bottle_size_L"]) else row["bottle_size_L"]
        more = {"bottles": bottles, **_by_litres(bottles * size, per_litre.get(fold(run["batch"])))}
        lot: Node = ("lot", lot_of(run) if run["batch"] else row["lot_code"], "")
        other: list[Node] = [("elsewhere", next(name for name in (row["recipient"], row["reference"], "not stated")
                                                if not _missing(name)), "")]  # fmt: skip
        if row["cause"] == "rework" and not _missing(row["into"]):
            other = holders.during(row["into"], at, latest, leaves=False)
        outs, intos = (other, [lot]) if row["cause"] in BACK else ([lot], other)
        yield from _ways(outs, intos, row, at, latest, str(row["cause"]), **more)


def _sampled(samples: pd.DataFrame, holders: Holders) -> Iterator[Row]:
    for row in rows_of(samples):
        at, latest = row["drawn_on"], end_of(row["drawn_on"], False)
        outs = holders.during(row["source"], at, latest, leaves=True)
        yield from _ways(outs, [("sample", row["sample"], "")], row, at, latest, "sample", volume_20C_L=row["volume_L"])


def _amounts(row: Row) -> Row:
    return {name: row[name] for name in ("volume_20C_L", "proof_gallons", "lpa")}


def _per_litre(balances: pd.DataFrame) -> dict[str, tuple[float, float]]:
    """Proof gallons and litres of pure alcohol in a litre of each batch as bottled."""
    rows = balances[(balances["entry"] == "bottled") & (balances["volume_20C_L"] > 0)]
    return {
        fold(r["batch"]): (r["proof_gallons"] / r["volume_20C_L"], r["lpa"] / r["volume_20C_L"]) for r in rows_of(rows)
    }


def _by_litres(litres: float, each: tuple[float, float] | None) -> Row:
    pg, lpa = each or (float("nan"), float("nan"))
    return {"volume_20C_L": litres, "proof_gallons": litres * pg, "lpa": litres * lpa}


def rows_of(frame: pd.DataFrame) -> list[Row]:
    """The rows of a frame, each by column."""
    return [{str(name): value for name, value in row.items()} for row in frame.to_dict("records")]


def _missing(value: Any) -> bool:
    return value is None or value is pd.NA or value != value


def _order(row: Row) -> tuple[Any, ...]:
    at: Any = pd.Timestamp.max if pd.isna(row["at"]) else row["at"]
    return (
        at,
        *(str(row[name] or "") for name in ("from_kind", "from_name", "to_kind", "to_name", "how")),
        row["facts"],
    )
