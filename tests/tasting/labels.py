"""Notes labelled by hand, and how well the matcher does on them. Run: python -m tests.tasting.labels.

``labelled_notes.csv`` was written before the matcher was tuned on it; ``kept_notes.csv`` after, by the same hand: at
first sight precision was 0.931 and recall 0.982, and what was added since (words of degree and denial) moved neither.
A label is the words as they stand in the
note, the family, and marks: ``-`` said not to be there or to be less, ``?`` doubtful, ``!`` striking, ``w`` weak,
``s`` strong, ``c`` set against another sample. A hit is right when it overlaps a label of its family.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass, field
from pathlib import Path

from plugins.tasting.words.matching import Hit, find_terms
from tests.tasting.test_words import LEXICON

FOLDER = Path(__file__).parent
SETS = ("labelled_notes.csv", "kept_notes.csv")


@dataclass
class Label:
    """One label: its place in the note, its family and its marks."""

    start: int
    end: int
    family: str
    marks: str
    found: bool = False


@dataclass
class Measured:
    """Counts over a set, and what was missed or wrong, in words."""

    notes: int = 0
    right: int = 0
    wrong: list[str] = field(default_factory=list)
    missed: list[str] = field(default_factory=list)
    unlike: list[str] = field(default_factory=list)  # denied where it was not, or the reverse
    doubt: list[str] = field(default_factory=list)

    @property
    def precision(self) -> float:
        return self.right / (self.right + len(self.wrong))

    @property
    def recall(self) -> float:
        return self.right / (self.right + len(self.missed))


def labels_of(text: str, written: str) -> list[Label]:
    """The labels of one note, each found after the one before."""
    made, at = [], 0
    for label in filter(None, (part.strip() for part in written.split(" ; "))):
        words, _, rest = label.partition(">")
        family, *marks = rest.split()
        start = text.index(words, at)
        at = start + len(words)
        made.append(Label(start, at, family, "".join(marks)))
    return made


def measure(name: str) -> Measured:
    """The matcher on one set."""
    made = Measured()
    with (FOLDER / name).open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            made.notes += 1
            labels = labels_of(row["text"], row["labels"])
            for hit in find_terms(row["text"], LEXICON):
                _judge(hit, row, labels, made)
            made.missed += [f"{row['id']} {row['text'][w.start : w.end]!r}" for w in labels if not w.found]
    return made


def _judge(hit: Hit, row: dict[str, str], labels: list[Label], made: Measured) -> None:
    said = f"{row['id']} {row['text'][hit.start : hit.end]!r}"
    for label in labels:
        if not label.found and label.family == hit.term.family and label.start < hit.end and hit.start < label.end:
            label.found = True
            made.right += 1
            if hit.negated != ("-" in label.marks):
                made.unlike.append(said)
            if hit.doubtful != ("?" in label.marks):
                made.doubt.append(said)
            return
    made.wrong.append(f"{said} ({hit.term.family})")


if __name__ == "__main__":
    for name in SETS:
        found = measure(name)
        print(f"{name}: {found.notes} notes, {found.right + len(found.missed)} labels")
        print(f"  precision {found.precision:.3f}, recall {found.recall:.3f}")
        print(f"  denied or not, wrong: {len(found.unlike)}; doubtful or not, wrong: {len(found.doubt)}")
        print("  not there:", "; ".join(found.wrong) or "none")
        print("  missed:", "; ".join(found.missed) or "none")
