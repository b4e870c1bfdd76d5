"""The command ``vatting trace``."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click
from rich.text import Text

from pipeline.commands.options import DEBUG, JSON, OUT, in_words
from pipeline.commands.printing import console, dump, plain_table

Row = dict[str, Any]


@click.command()
@click.argument("name")
@OUT
@JSON
@DEBUG
def trace(name: str, out: Path, as_json: bool, debug: bool) -> None:
    """Follow a lot, cask, batch or vessel: back to its casks, and forwards to every lot that shares them.

    Says how much went which way and where each lot went, as far as sheets state it. Nothing is recorded.
    """
    answer = in_words(debug, lambda: traced(out, name))
    dump(answer) if as_json else tell(answer)


def traced(out: Path, name: str) -> Row:
    """The answer from the book of some outputs. Raises NotKnown for a name that no sheet knows."""
    from pipeline.common.errors import NotKnown
    from pipeline.runs.last_worked import worked_last
    from plugins.cellar.lots.traced import Trace

    with worked_last(out) as (_, worked, _):
        answer = Trace(worked.frames["passages"]).answer(name)
    if answer is None:
        raise NotKnown(f"no sheet knows a lot, batch, cask or vessel {name}")
    return answer


def tell(answer: Row) -> None:
    """What shares spirit, surest first, then each passage on the way."""
    screen = console()
    screen.print(Text(f"{answer['kind'].capitalize()} {answer['asked']} shares spirit with {len(answer['lots'])} "
                      f"lots in {len(answer['batches'])} batches, from {len(answer['sources'])} sources."))  # fmt: skip
    for title, rows in (("came from", answer["sources"]), ("lots", answer["lots"])):
        table = plain_table(title, "filled", "batches", "bottles", "removed to", "by passages", "doubt")
        for row in rows:
            went = ", ".join(f"{one['to_name']} {_count(one['bottles'])}" for one in row.get("went", ()))
            table.add_row(*(Text(cell) for cell in (
                f"{row['kind']} {row['name']}", row.get("filled_on") or "", ", ".join(row.get("batches", ())),
                _count(row.get("bottles")) if title == "lots" else "",
                went or ("not stated" if title == "lots" else ""), " ".join(map(str, row["way"])), _doubt(row),
            )))  # fmt: skip
        screen.print(table)
    table = plain_table("no.", "day", "from", "to", "how", "litres 20 °C", "proof gallons", "LPA", "bottles", "doubt")
    for one in answer["passages"]:
        ends = (" ".join(filter(None, (one[f"{side}_kind"], one[f"{side}_name"]))) for side in ("from", "to"))
        amounts = (_amount(one[name]) for name in ("volume_20C_L", "proof_gallons", "lpa"))
        row = (str(one["number"]), (one["at"] or "not stated")[:10], *ends, one["how"], *amounts,
               _count(one["bottles"], ""), one["doubt"] or "")  # fmt: skip
        table.add_row(*map(Text, row))
    screen.print(table)
    if answer["passages_left_out"]:
        screen.print(Text(f"And {answer['passages_left_out']} passages more; accounts/passages.csv has all."))


def _doubt(row: Row) -> str:
    return "" if row["sure"] else "cannot be ruled out: " + "; ".join(row["doubts"])


def _count(value: float | None, missing: str = "not stated") -> str:
    return missing if value is None else f"{value:.0f}"


def _amount(value: float | None) -> str:
    return "not stated" if value is None else f"{value:.1f}"
