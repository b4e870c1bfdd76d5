"""What was changed in the house between two files, and what that did to the findings: journaled, and told.

A line with outcome ``settings`` names the description of the house from then on and what is new in it; one with
outcome ``effect`` names the findings that opened and closed before any other file was taken.
"""

from __future__ import annotations

import json
from typing import Any

from pipeline.contract.findings import Finding

SHOWN = 3
MOST = 12
Row = dict[str, Any]


def last_described(lines: list[Row]) -> Row | None:
    """The last line that describes the house; None in a journal of before descriptions."""
    return next((line for line in reversed(lines) if line.get("outcome") == "settings" and line.get("house")), None)


def awaits_effect(lines: list[Row]) -> Row | None:
    """The last line with changes whose effect was not told yet."""
    last = last_described(lines)
    told = {line.get("of") for line in lines if line.get("outcome") == "effect"}
    return last if last and last.get("changed") and last["number"] not in told else None


def findings_of_line(line: Row) -> list[Finding]:
    """What a line of changes or of their effect has people know."""
    if line["outcome"] == "settings" and line.get("changed"):
        return [_changed(line)]
    if line["outcome"] == "effect":
        return _effect(line)
    return []


def _changed(line: Row) -> Finding:
    changed = line["changed"]
    message = f"Changed since the file before: {_few([_in_words(*one) for one in changed], SHOWN)}."
    signed = f" {line['signed']} had signed these settings." if line.get("signed") else ""
    return Finding(
        "site.changed",
        "note",
        f"{message} Seen {line['taken_at']}, run by the account {line['account']}.{signed}",
        subject=f"change {line['number']}",
        expected=_few([f"{name}: {old}" for name, old, _ in changed], MOST),
        observed=_few([f"{name}: {new}" for name, _, new in changed], MOST),
        remedy="If nobody meant this, put back what was there before; vatting rebuild --dry-run shows the difference.",
    )


def _effect(line: Row) -> list[Finding]:
    subject, told = f"change {line['of']}", []
    if line["closed"]:
        remedy = "If the change was not meant, put it back and they open again; else accept this with a reason."
        message = f"{line['because']} closed {_counted(line['closed'])}."
        told.append(Finding("site.closed-findings", "review", message, subject=subject, remedy=remedy))
    if line["opened"]:
        message = f"{line['because']} opened {_counted(line['opened'])}."
        remedy = "They stand among the open findings; settle them there."
        told.append(Finding("site.opened-findings", "note", message, subject=subject, remedy=remedy))
    return told


def because(line: Row) -> str:
    """The cause of an effect in a few words."""
    return f"The change of {line['taken_at'][:10]} ({_few([_in_words(*one) for one in line['changed']], SHOWN)})"


def _in_words(name: str, old: str, new: str) -> str:
    what, _, called = name.partition(" ")
    if what == "setting":
        return f"{called} {_plain(old)} → {_plain(new)}"
    return f"{name} {old[:12]} → {new[:12]}"


def _plain(text: str) -> str:
    try:
        value = json.loads(text)
    except ValueError:
        return text
    return str(value)[:60] if value not in ("", [], {}) else "empty"


def _counted(found: list[list[str]]) -> str:
    told = [f"{name} ({severity}, {code}, {subject})" for name, severity, code, subject in found]
    return f"{len(found)} {'finding' if len(found) == 1 else 'findings'}: {_few(told, MOST)}"


def _few(told: list[str], most: int) -> str:
    more = f" and {len(told) - most} more" if len(told) > most else ""
    return "; ".join(told[:most]) + more
