"""The label proof as rows of LABEL_WORDS and as findings."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pandas as pd

from pipeline import Finding
from plugins.label_age.comparing.allowed import statements_of, unread_of
from plugins.label_age.comparing.as_labelled import Judged, judge_labels
from plugins.label_age.comparing.demanded import lacking
from plugins.label_age.comparing.labels import Label, labels_of, places_of
from plugins.label_age.comparing.result import Result
from plugins.label_age.comparing.sheets import Sheets
from plugins.label_age.judging.verdict import markets_of
from plugins.label_age.rules.versions import RuleBook

Row = dict[str, Any]
OF_LAW = ("label.words-missing", "label.words-not-allowed", "label.words-contradict")


def proof_of_labels(
    label_text: pd.DataFrame, frames: dict[str, Any], book: RuleBook, book_date: Any
) -> tuple[list[Row], list[Finding]]:
    """Rows of LABEL_WORDS and findings, by batch and market. ``frames``: the sheets, as ``gather`` takes them."""
    frames = _of_batches(frames, set(label_text["batch"]))
    labels = labels_of(label_text, book, places_of(frames["casks"], frames["stays"]))
    found: list[Row] = []
    findings: list[Finding] = []
    for label, judged in zip(labels, judge_labels(labels, frames, book, book_date), strict=True):
        results = list(_results(label, judged, frames, book))
        found += [_row(label, number, result) for number, result in enumerate(results, start=1)]
        findings += _findings(label, results)
    return found, findings


def _of_batches(frames: dict[str, Any], batches: set[str]) -> dict[str, Any]:
    """The rows of these batches, and the casks that their spirit lay in."""
    mine = {name: rows[rows["batch"].isin(batches)] for name, rows in frames.items()
            if rows is not None and name != "casks"}  # fmt: skip
    casks = {*mine["stays"]["cask"].dropna(), *mine["components"]["component"].dropna()}
    return {**frames, **mine, "casks": frames["casks"][frames["casks"]["cask"].isin(casks)]}


def _results(label: Label, judged: Judged | None, frames: dict[str, Any], book: RuleBook) -> Iterator[Result]:
    if judged is None:
        yield _without_brief(label)
        yield from unread_of(label)
        return
    sheets = _sheets(label, judged, frames)
    asked = sheets.brief["market"]
    if label.market not in {book.market(m) or m for m in markets_of(asked if isinstance(asked, str) else None)}:
        yield _other_market(label, sheets)
    yield from statements_of(label, judged, sheets)
    yield from lacking(label, judged, sheets)
    yield from unread_of(label)


def _sheets(label: Label, judged: Judged, frames: dict[str, Any]) -> Sheets:
    briefs, runs, casks, stays = (frames[name] for name in ("briefs", "bottlings", "casks", "stays"))
    brief = briefs[briefs["batch"] == label.batch].iloc[-1].to_dict()
    lay = stays.loc[stays["batch"] == label.batch, "cask"].dropna()
    stock = casks[casks["cask"].isin(lay)].drop_duplicates("cask", keep="last")
    return Sheets(label.batch, brief, runs[runs["batch"] == label.batch], stock, judged)


def _without_brief(label: Label) -> Result:
    first = f"No brief is called {label.batch}: correct the batch of the label's words, or drop the brief."
    return Result("batch", "cannot tell", "Nothing of the label was compared.", label.facts, first=first,
                  code="label.words-no-brief", severity="review", expected="a batch with a brief")  # fmt: skip


def _other_market(label: Label, sheets: Sheets) -> Result:
    first = f"The brief of {label.batch} is not for {label.market}, the label is: correct one of them."
    asked = str(sheets.brief["market"])
    return Result("market", "contradicts", f"The brief has {asked}.", label.facts, label.market,
                  first=first, code="label.words-contradict", severity="review", expected=asked)  # fmt: skip


def _row(label: Label, number: int, result: Result) -> Row:
    return {
        "batch": label.batch, "market": label.market, "number": number, "panel": result.panel or None,
        "statement": result.statement, "words": result.words or None, "reads": result.reads or None,
        "result": result.result, "reason": result.reason, "rule": result.rule or None,
        "unverified": result.unverified, "facts": result.facts,
    }  # fmt: skip


def _findings(label: Label, results: list[Result]) -> Iterator[Finding]:
    """Each result that a person must look at, once; all that was not read as one note."""
    told: set[tuple[str, str]] = set()
    for result in results:
        subject = " · ".join(p for p in (label.batch, label.market, result.panel, result.statement, result.words) if p)
        if result.statement in ("claim", "age") and not result.words:
            subject += f" · {result.expected}"
        if result.code and (result.code, subject) not in told:
            told.add((result.code, subject))
            yield _finding(label, result, subject)
    unread = [result for result in results if result.result == "not judged"]
    if unread:
        yield _not_judged(label, unread)


def _finding(label: Label, result: Result, subject: str) -> Finding:
    return Finding(
        code=result.code,
        severity=result.severity,
        message=f"{result.first} {result.reason}",
        subject=subject,
        batch=label.batch,
        facts=result.facts,
        column="words",
        observed=result.words or "no such words",
        expected=result.expected,
        rule=result.rule,
        remedy=result.remedy or "Mend the label's words, or the sheet that is wrong, and drop it again.",
        of_law=bool(result.rule) and result.code in OF_LAW,
    )


def _not_judged(label: Label, unread: list[Result]) -> Finding:
    count = f"{len(unread)} piece{'s' if len(unread) > 1 else ''} of text and demand{'s' if len(unread) > 1 else ''}"
    quoted = "; ".join(f"“{result.words}”" if result.words else result.statement for result in unread[:8])
    more = f"; and {len(unread) - 8} more" if len(unread) > 8 else ""
    return Finding(
        code="label.words-not-judged",
        severity="note",
        message=f"On the {label.market} label {count} were not judged: read them yourself. They are: {quoted}{more}.",
        subject=f"{label.batch} · {label.market}",
        batch=label.batch,
        facts=unread[0].facts,
        column="words",
        observed=f"{len(unread)} not judged",
        expected="a person who reads them",
        remedy="Read them against the law of the day; nothing here says that they are right.",
    )
