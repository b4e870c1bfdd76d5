"""The command ``vatting swap``: what can stand in for a cask that leaks or disappoints."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any, NoReturn

import click

from pipeline.commands.options import WITHOUT

Row = dict[str, Any]


@click.command()
@click.argument("batch")
@click.argument("cask")
@click.option("--out", default="outputs", type=click.Path(path_type=Path), help="The outputs.", show_default=True)
@WITHOUT
@click.option("--json", "as_json", is_flag=True, help="Answer as JSON.")
@click.option("--debug", is_flag=True, help="Show what goes wrong in full.")
def swap(batch: str, cask: str, out: Path, as_json: bool, debug: bool) -> None:
    """What can stand in for CASK in the proposals of BATCH, as issued: nearest in taste first.

    Each answers every claim of the brief. Changes are of the whole batch; nothing is proposed or recorded.
    """
    from plugins.proposals.sets.issued_sets import read_set

    path = out / "proposals" / batch / "proposals.json"
    try:
        document = read_set(path.read_text("utf-8"))
    except (OSError, ValueError):
        if debug:
            raise
        _end(f"vatting: no proposals of {batch} were found in {out}: drop a brief that names a target, and run.")
    found = {item["id"]: (item, name) for item in document["proposals"] for name in item["swaps"] if _same(name, cask)}
    if not found:
        used = sorted({part["component"] for item in document["proposals"] for part in item["components"]})
        _end(f"vatting: no proposal of {batch} draws from {cask}; they draw from {', '.join(used) or 'no cask'}.")
    if as_json:
        swaps = {name: item["swaps"][cask_name] for name, (item, cask_name) in found.items()}
        made = {"batch": batch, "cask": cask, "issue": document["issue"], "swaps": swaps}
        click.echo(json.dumps(made, ensure_ascii=False, indent=2))
        return
    click.echo(f"{batch}, issue {document['issue']}: instead of {cask}. Stock is as it was when this was issued.")
    for name, (item, cask_name) in found.items():
        click.echo(f"{name}  {item['aim']}")
        for row in item["swaps"][cask_name] or [None]:
            click.echo(f"  {_said(row, item['profile']) if row else 'none that the demands allow'}")


def _same(one: str, other: str) -> bool:
    return one.strip().casefold() == other.strip().casefold()


def _end(words: str) -> NoReturn:
    click.echo(words, err=True)
    sys.exit(1)


def _said(row: Row, profile: dict[str, Row]) -> str:
    """One replacement in words: taste, amount, strength, alcohol, age, label and cost."""
    from plugins.proposals.sets.page import moves

    parts = [moves(row, profile)]
    if row["volume_20C_L"] is not None:
        parts.append(f"{row['volume_20C_L']:.1f} L at 20 °C")
    if row["before_proof_60F"] is not None:
        parts.append(f"before water {row['before_proof_60F']:.1f} -> {row['vatted_proof_60F']:.1f} proof")
    parts.append(f"alcohol {row['alcohol_change_percent']:+.1f} %")
    if row["age_years"] is not None:
        parts.append(f"{row['age_years']:.0f} years old{', the youngest' if row['younger'] else ''}")
    parts.append(f"every claim answers{', not before ' + row['draw_from'] if row['draw_from'] else ''}")
    cost = f"{row['relative_cost_change']:+.2f} of the stock's mean" if row["cost_known"] else "not stated"
    parts.append(f"cost {cost}")
    return f"{row['with']}: {'; '.join(parts)}"
