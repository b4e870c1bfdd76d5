"""The verdicts on what a label says, by the same court: its words take the place of the brief's."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

import pandas as pd

from plugins.label_age.comparing.labels import Label
from plugins.label_age.facts.ages import StatedAge, in_words
from plugins.label_age.facts.all_facts import gather
from plugins.label_age.judging.judge import Court
from plugins.label_age.judging.statements import statements
from plugins.label_age.judging.verdict import Verdict
from plugins.label_age.rules.versions import RuleBook, claim_words

MOST_ROUNDS = 4
"""Different ages, strengths or sizes of one label that are judged; more than two are a mistake anyhow."""


@dataclass
class Judged:
    """What the court says of one label. Of several strengths, ages or sizes each has a round of its own.

    ``position``: of the batch among the court's facts. ``demands`` are the statements of the rules for the label sheet.
    """

    court: Court
    position: int
    rounds: list[dict[str, Verdict]] = field(default_factory=list)
    demands: list[dict[str, Any]] = field(default_factory=list)

    def on(self, claim: str, number: int = 0) -> Verdict | None:
        """The verdict on a claim or test in a round; beyond the last round none."""
        return self.rounds[number].get(claim_words(claim)) if number < len(self.rounds) else None


def words_of(age: StatedAge) -> str:
    """A stated age as the brief's column would have it."""
    return in_words(age.key) if age.key else f"{age.days:g} days"


def strengths_of(label: Label) -> list[float]:
    """The different strengths of a label in % vol; those in proof count half."""
    said = [s.reading.value / (2 if s.reading.kind == "proof" else 1) for s in label.of("strength", "proof")]
    return list(dict.fromkeys(said))


def ages_of(label: Label) -> list[str]:
    """The different ages of a label in words."""
    return list(dict.fromkeys(words_of(s.reading.value) for s in label.of("age")))


def sizes_of(label: Label) -> list[float]:
    """The different net contents of a label in litres."""
    return list(dict.fromkeys(s.reading.value for s in label.of("net contents")))


def judge_labels(
    labels: Sequence[Label], frames: dict[str, Any], book: RuleBook, book_date: Any
) -> Iterator[Judged | None]:
    """For each label what the court says of it; None where its batch has no brief."""
    found: dict[tuple[str, str], Judged] = {}
    for market in dict.fromkeys(label.market for label in labels):
        mine = [label for label in labels if label.market == market]
        for number in range(min(MOST_ROUNDS, max(_rounds(label) for label in mine))):
            court = _court([label for label in mine if number < _rounds(label)], number, frames, book, book_date)
            _enter(found, court, market, number)
    for label in labels:
        yield found.get((label.batch, label.market))


def _enter(found: dict[tuple[str, str], Judged], court: Court, market: str, number: int) -> None:
    for position, batch in enumerate(court.facts.batches):
        judged = found.setdefault((batch, market), Judged(court, position))
        judged.rounds.append({})
    for verdict in court.verdicts():
        found[verdict.batch, market].rounds[number][claim_words(verdict.claim)] = verdict
    for row in statements(court) if number == 0 else ():
        found[row["batch"], market].demands.append(row)


def _rounds(label: Label) -> int:
    return max(1, len(strengths_of(label)), len(ages_of(label)), len(sizes_of(label)))


def _court(labels: list[Label], number: int, frames: dict[str, Any], book: RuleBook, book_date: Any) -> Court:
    """The court over the batches of these labels, with what each label says in place of what brief and runs say."""
    said = {label.batch: label for label in labels}
    briefs, runs = (frames[name][frames[name]["batch"].isin(list(said))].copy() for name in ("briefs", "bottlings"))
    briefs["market"] = labels[0].market
    briefs["claims"] = [_claims(said[batch]) for batch in briefs["batch"]]
    briefs["age_statement"] = [_one(ages_of(said[batch]), number) for batch in briefs["batch"]]
    for frame, strength, size in ((briefs, "bottling_abv", "bottle_size_L"), (runs, "label_abv", "bottle_size_L")):
        for column, values in ((strength, strengths_of), (size, sizes_of)):
            stated = pd.Series(
                [_one(values(said[batch]), number) for batch in frame["batch"]], frame.index, dtype=float
            )
            frame[column] = stated.fillna(frame[column])
    components = frames["components"][frames["components"]["batch"].isin(list(said))]
    facts = gather(components, frames["stays"], frames["casks"], briefs, runs, frames["balances"], None, book_date,
                   undrawn=True)  # fmt: skip
    return Court(facts, book)


def _one(values: Sequence[Any], number: int) -> Any:
    """The value of a round; where there are fewer, the last; None where there is none."""
    return values[min(number, len(values) - 1)] if values else None


def _claims(label: Label) -> str | None:
    said = [s.reading.value for s in label.of("claim")]
    said += [f"distilled in {s.reading.value}" for s in label.of("distilled year")]
    return "; ".join(dict.fromkeys(said)) or None
