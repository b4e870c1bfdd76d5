"""Every stay of every origin of every line: plain casks at once, moved ones and vessels by their lineage."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from pipeline import Finding, unite
from plugins.label_age.facts.additions import holds_spirit, what_is_added
from plugins.label_age.facts.catalogue import BY_NAME
from plugins.label_age.facts.lineage import LEAVES_NOTHING, Lineage, Origin, deep_recursion, end_of
from plugins.label_age.facts.wood import folded

LINE = ["batch", "component", "drawn_at", "line"]
GROUP = ["batch", "component", "filled_on"]
NO_DRAW = "the sheet blends does not say when every draw of it was (column drawn_at)"
NO_FILLING = BY_NAME["age"].whence
ADDED = "the age of an addition that holds spirit stands on no sheet"


def blank_lines(components: pd.DataFrame, count: int, **values: Any) -> pd.DataFrame:
    """So many lines of a blend sheet, blank but for ``values``, in the dtypes of ``components``."""
    made = components.iloc[:0].drop(columns="facts").reindex(range(count)).assign(**values)
    return made.astype({column: dtype for column, dtype in components.dtypes.items() if column in made})


def heels_unlisted(components: pd.DataFrame, briefs: pd.DataFrame) -> list[pd.DataFrame]:
    """A heel for each vat that was not empty and of whose heel the blend sheet says nothing."""
    listed = set(components.loc[components["kind"] == "heel", "batch"])
    held = briefs[(briefs["vessel_empty"] == False).fillna(False).astype(bool)]  # noqa: E712
    held = held[held["batch"].isin(components["batch"]) & ~held["batch"].isin(listed)]
    if held.empty:
        return []
    names = ("heel of " + held["vessel"]).fillna("heel").to_numpy()
    made = blank_lines(components, len(held), batch=held["batch"].to_numpy(), component=names, kind="heel")
    return [made.assign(facts=pd.Series(list(held["facts"]), dtype=object))]


def all_lines(components: pd.DataFrame, briefs: pd.DataFrame) -> pd.DataFrame:
    """The lines of the blend sheets and the heels they leave out."""
    return pd.concat([components, *heels_unlisted(components, briefs)], ignore_index=True)


def find_stays(
    components: pd.DataFrame,
    casks: pd.DataFrame,
    movements: pd.DataFrame,
    briefs: pd.DataFrame,
    bottlings: pd.DataFrame,
    beside: pd.DataFrame | None = None,
) -> tuple[pd.DataFrame, list[Finding]]:
    """Columns of STAYS with ``facts``, and what contradicts itself.

    ``beside`` are lines of other batches that a vessel's content may come from, where ``components``
    are lines that are only thought of. A line counts to the earliest day on which any of its
    filling was drawn for the batch; that day is unknown while one of those draws has no date.
    """
    lines = all_lines(components, briefs)
    lines = lines[holds_spirit(what_is_added(lines))].reset_index(drop=True)
    lines["_until"] = _earliest_draw(lines)
    walked = _must_be_walked(lines, movements)
    plain = _plain(lines[~walked])
    if not walked.any():
        return plain, []
    known = components if beside is None else pd.concat([beside, components], ignore_index=True)
    known = known.sort_values(LINE, kind="stable", ignore_index=True)
    known = known.assign(_substance=pd.Series(what_is_added(known), dtype=object))
    asked = lines[walked].sort_values(LINE, kind="stable")  # a circle is told where the walk first comes round
    lineage = Lineage(known, casks, movements, briefs.sort_values("batch", kind="stable"), bottlings)
    with deep_recursion():
        moved = _walked(asked, lineage, plain)
    return pd.concat([plain, moved], ignore_index=True), _contradictions(asked, lineage)


def _earliest_draw(lines: pd.DataFrame) -> pd.Series:
    groups = [lines[column] for column in GROUP]
    day = lines["drawn_at"].dt.normalize()
    first = day.groupby(groups, dropna=False).transform("min")
    return first.where(day.notna().groupby(groups, dropna=False).transform("all"))


def _must_be_walked(lines: pd.DataFrame, movements: pd.DataFrame) -> pd.Series:
    """Lines of vessels and heels, and of casks that a movement filled or left nothing in."""
    walked = lines["kind"].isin(["vessel", "heel"])
    if len(movements):
        ends = movements["reason"].isin(LEAVES_NOTHING)
        names = set(folded(movements["to"])) | set(folded(movements.loc[ends, "from"]))
        walked |= (lines["kind"] == "cask") & np.isin(folded(lines["component"]).astype(str), sorted(names - {None}))
    return walked.fillna(False).astype(bool)


def _plain(lines: pd.DataFrame) -> pd.DataFrame:
    """One origin with one stay for each line of a cask, from its filling to its draw."""
    lines = lines.reset_index(drop=True)
    filled, until = lines["filled_on"].dt.normalize(), lines["_until"]
    early = until < filled
    doubt: pd.Series = pd.Series([None] * len(lines), index=lines.index, dtype="str")
    doubt = doubt.mask(until.isna(), NO_DRAW).mask(filled.isna(), NO_FILLING)
    doubt = doubt.mask(lines["kind"] == "addition", ADDED)
    if early.any():
        said = [f"it was filled on {a.date()}, after it was drawn on {b.date()}" if wrong else None
                for a, b, wrong in zip(filled, until, early, strict=True)]  # fmt: skip
        doubt = doubt.mask(early, pd.Series(said, dtype="str"))
    made = lines[LINE].assign(
        origin=0, stay=0, kind=lines["kind"], cask=lines["component"], filled_on=filled, since=filled, until=until,
        through=None, reason=None, substance=None, doubt=doubt, facts=lines["facts"],
    )  # fmt: skip
    several = lines.groupby(GROUP, dropna=False)["batch"].transform("size") > 1
    if several.any():
        made["facts"] = _united_draws(lines, several)
    return _typed(made)


def _united_draws(lines: pd.DataFrame, several: pd.Series) -> pd.Series:
    """Facts of each line, and of all draws of its filling where there are several."""
    facts = lines["facts"].copy()
    drawn = lines[several]
    number = drawn.groupby(GROUP, dropna=False, sort=False).ngroup()
    united = unite(drawn["facts"], by=number)
    facts.loc[drawn.index] = [united[group] for group in number]
    return facts


def _typed(made: pd.DataFrame) -> pd.DataFrame:
    texts = {name: "str" for name in ("kind", "cask", "through", "reason", "substance", "doubt")}
    moments = {name: "datetime64[us]" for name in ("filled_on", "since", "until")}
    return made.astype({**texts, **moments, "origin": "Int64", "stay": "Int64"})


def _walked(lines: pd.DataFrame, lineage: Lineage, like: pd.DataFrame) -> pd.DataFrame:
    others = lineage.components
    first = others["drawn_at"].where(others["kind"] != "heel").groupby(others["batch"]).min()
    rows: list[dict[str, Any]] = []
    for row in lines.to_dict("records"):
        line = {str(name): value for name, value in row.items()}
        at = end_of(line["_until"], False) if not pd.isna(line["_until"]) else pd.NaT
        asked = {**line, "at": at, "first": first.get(line["batch"], pd.NaT)}
        for number, origin in enumerate(sorted(lineage.of_line(asked), key=_order)):
            rows += _rows_of(line, number, origin)
    made = pd.DataFrame(rows, columns=[*like.columns])
    for column in LINE:
        made[column] = made[column].astype(like[column].dtype)
    return _typed(made)


def _order(origin: Origin) -> tuple[Any, ...]:
    return (
        origin.doubt,
        origin.substance,
        [(s.cask, str(s.since), str(s.until)) for s in origin.stays],
        origin.through,
    )


def _rows_of(line: dict[str, Any], number: int, origin: Origin) -> list[dict[str, Any]]:
    given = {name: line[name] for name in LINE} | {
        "origin": number,
        "kind": line["kind"],
        "through": ", ".join(origin.through) or None,
        "substance": origin.substance or None,
        "facts": tuple(sorted({*line["facts"], *origin.facts})),
    }
    if not origin.stays:
        return [given | {"stay": 0, "doubt": origin.doubt or None}]
    return [
        given
        | {"stay": position, "cask": stay.cask, "filled_on": stay.filled_on, "since": stay.since, "until": stay.until}
        | {"reason": stay.reason or None}
        | {
            "doubt": None
            if stay.since <= stay.until
            else f"it went into {stay.cask} on {stay.since.date()}, after the draw"
        }
        for position, stay in enumerate(origin.stays)
    ]


def _contradictions(lines: pd.DataFrame, lineage: Lineage) -> list[Finding]:
    """Casks that the movements emptied before the blend sheet drew them."""
    found = []
    for line in lines.to_dict("records"):
        if pd.isna(line["_until"]) or line["kind"] != "cask":
            continue
        early = lineage.early.get((str(folded([line["component"]])[0]), end_of(line["_until"], False)))
        if early is None:
            continue
        moved, drawn = early.moved_on.date(), line["_until"].date()
        found.append(
            Finding(
                code="label.moved-before-drawn",
                severity="review",
                message=f"{early.cask} was moved to {early.moved_to} on {moved} by the movements, but drawn from the "
                f"cask for {line['batch']} on {drawn} by the blend sheet; its age counts to the earlier day.",
                subject=f"{line['batch']} · {early.cask}",
                batch=line["batch"],
                facts=(line["facts"][0], *sorted(early.facts)),
                column="drawn_at",
                observed=f"drawn {drawn}, moved {moved}",
                expected="a draw before the spirit left the cask, or the vessel it went to on the blend sheet",
                remedy="Name the vessel on the blend sheet, or correct the movement.",
            )
        )
    return list({finding.subject: finding for finding in found}.values())
