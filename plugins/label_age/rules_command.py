"""The command ``vatting rules``: the rules of law in force, and what other rule files would change."""

from __future__ import annotations

from collections import Counter
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from pipeline.commands.options import DEBUG, JSON, OUT, WITHOUT, in_words
from pipeline.commands.printing import console, dump, plain_table

if TYPE_CHECKING:
    from plugins.label_age.other_rules import Compared
    from plugins.label_age.rules.versions import Rule


@click.command()
@OUT
@click.option("--against", type=click.Path(exists=True, file_okay=False, path_type=Path),
              help="Judge every batch on record by the rule files of this folder too.")  # fmt: skip
@click.option("--market", help="Only this market, as a rule file names it.")
@click.option("--on", "day", type=click.DateTime(["%Y-%m-%d"]), help="The rules in force on this day; else today.")
@WITHOUT
@JSON
@DEBUG
def rules(
    out: Path, against: Path | None, market: str | None, day: datetime | None, as_json: bool, debug: bool
) -> None:
    """Show the rules of law in force: what was read of each, what it tests, and what it does not.

    With --against a file of that folder takes the place of the house's of the same name; others come beside them.
    Nothing is recorded.
    """
    if against is not None:
        compared = in_words(debug, lambda: _compared(out, against))
        dump(compared.as_data()) if as_json else _tell_compared(compared)
        raise SystemExit(1 if compared.broken else 0)
    found, broken = in_words(debug, lambda: _in_force(out, day.date() if day else date.today(), market))
    listed = {"rules": [_row(rule) for rule in found], "counts": _counts(found), "broken": broken}
    dump(listed) if as_json else _tell(listed)
    raise SystemExit(1 if broken else 0)


def _in_force(out: Path, day: date, market: str | None) -> tuple[list[Rule], list[str]]:
    """The rules in force on a day, by market in the files' order, and what of the rule files does not count."""
    from pipeline.book.journal import Originals
    from pipeline.common.errors import NotKnown
    from pipeline.runs.last_house import last_house
    from pipeline.site.house import open_house
    from pipeline.site.source import find_source
    from plugins.label_age.rules.files import read_rules

    originals = Originals(out / "originals")
    house = last_house(originals) if originals.lines() else open_house(find_source(None, out), whole=False)
    book, broken = read_rules(house.site.data["rules"])
    code = book.market(market) if market else None
    if market and code is None:
        raise NotKnown(f"no rule file is of the market {market}; there are {', '.join(book.markets)}")
    found = [rule for name in book.markets if name == (code or name) for rule in book.of_market(name, day)]
    return found, [f"{fault.place}: {fault.message}" for fault in broken]


def _row(rule: Rule) -> dict[str, Any]:
    """One rule as data: which text was read, what is tested, given and untested."""
    demands = {state: [d.says for d in rule.demands if d.state == state] for state in ("tested", "given", "untested")}
    return {
        "market": rule.market, "rule": rule.id, "claim": rule.claim, "section": rule.section,
        "in_force_from": rule.version, "edition": rule.edition, "hash": rule.hash, "status": _status(rule),
        "source": rule.source, "text": rule.text, "read": rule.read, **demands,
        "confirmed": f"{rule.confirmed.by}, {rule.confirmed.on}: {rule.confirmed.read}" if rule.confirmed else None,
    }  # fmt: skip


def _status(rule: Rule) -> str:
    """Confirmed by the house; else verified, or how far the reading went."""
    return "confirmed" if rule.confirmed else f"{rule.source}, unverified" if rule.unverified else rule.source


def _counts(found: list[Rule]) -> dict[str, int]:
    """So many rules of each status, all of them, and those that can never be met for an untested demand."""
    by_status = Counter(_status(rule) for rule in found)
    untested = sum(bool(rule.untested) for rule in found)
    return {**dict(sorted(by_status.items())), "rules": len(found), "with an untested demand, never met": untested}


def _tell(listed: dict[str, Any]) -> None:
    screen = console()
    table = plain_table("market", "rule", "section", "in force from", "edition", "hash", "status", "untested")
    for row in listed["rules"]:
        untested = "; ".join(row["untested"])
        table.add_row(*(str(row[name]) for name in ("market", "rule", "section", "in_force_from", "edition", "hash",
                                                    "status")), untested)  # fmt: skip
    screen.print(table)
    screen.print("; ".join(f"{name}: {count}" for name, count in listed["counts"].items()))
    for fault in listed["broken"]:
        click.echo(f"vatting: does not count: {fault}", err=True)


def _compared(out: Path, folder: Path) -> Compared:
    from pipeline.common.errors import VattingError
    from pipeline.runs.last_worked import worked_last
    from plugins.label_age.other_rules import compare, files_with

    if not list(folder.glob("*.toml")):
        raise VattingError(f"{folder} holds no rule file: a rule file is called NAME.toml.")
    with worked_last(out) as (_, worked, _):
        try:
            files = files_with(worked.site, folder)
        except UnicodeDecodeError as error:
            raise VattingError(
                f"A rule file in {folder} is not UTF-8 text (byte {error.start}); save it as UTF-8."
            ) from error
        return compare(worked.site, worked.frames, files)


def _tell_compared(compared: Compared) -> None:
    screen = console()
    screen.print(
        f"{len(compared.changed)} of {compared.verdicts} verdicts on {compared.batches} batches would change. "
        "Nothing was recorded."
    )
    for (before, after), count in sorted(Counter((c.before, c.after) for c in compared.changed).items()):
        screen.print(f"  {before or 'not judged'} → {after or 'not judged'}: {count}")
    for one in compared.changed:
        screen.print(f"{one.batch}, {one.market}, {one.claim}: {one.before or 'not judged'} → "
                     f"{one.after or 'not judged'} ({one.rule}). {one.reason}", markup=False)  # fmt: skip
    for fault in compared.broken:
        click.echo(f"vatting: does not count: {fault}", err=True)
