"""In any sequence of files, rulings and releases no batch with an open verdict of law is ever released."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from tests.audit.room import BRIEFS, READINGS, vat_gauge
from tests.audit.test_releases import COLUMNS, TWO, House, simple_batch

SEEDS, MORE_SEEDS, STEPS, MORE_STEPS = range(1), range(1, 9), 4, 12
PEOPLE = ("Ann Sorley", "ann  sorley", "Ben Orrick", "Nobody Listed")
RELEASES = ("release", "release", "release against the verdict")


class Life:
    """A house that lives by random steps, of which most try to get a batch out."""

    def __init__(self, folder: Path, seed: int) -> None:
        self.random = random.Random(seed)
        self.house = House(folder, TWO)
        self.files = 0
        self.codes: list[str] = []
        simple_batch(self.house, age_statement="7 years")
        self.step(())
        self.step(({"finding": "B1", "ruling": "release", "record": self.codes[0], "by": "Ben Orrick"},))
        assert self.house.status() == "released"

    def step(self, rows: tuple[dict[str, str], ...]) -> None:
        """Drop rulings with whatever else lies there, run, and look."""
        self.files += 1
        filled = [{"reason": "seen", "by": self.random.choice(PEOPLE)} | row for row in rows]
        if filled:
            cells = [[row.get(column, "") for column in COLUMNS.split(",")] for row in filled]
            self.house.table(f"rulings {self.files}.csv", COLUMNS, cells)
        result = self.house.run()
        record = self.house.record("B1")
        self.codes.append(record["signing"]["code"])
        law = [f for f in result.worked.findings if f.of_law and f.severity != "note" and f.batch == "B1"]
        in_force = {one["by"].split()[0].casefold() for one in record["releases"] if one["state"] == "in force"}
        assert all(finding.is_open for finding in law)
        assert record["status"] != "released" or (not law and in_force)
        assert record["status"] != "released against the verdict" or (law and in_force == {"ann", "ben"})

    def move(self) -> None:
        getattr(self, self.random.choice(["_rule", "_rule", "_release", "_release", "_gauge", "_brief", "_together"]))()

    def _ruling(self) -> dict[str, str]:
        found = self.random.choice([one for one in self.house.open() if one["batch"] or one["place"]])
        word = self.random.choice(["accept", "void", "correct"])
        value = self.random.choice(["2017-03-01", "120.1", "yes"])
        evidence = self.random.choice(["", "lab book p. 4"])
        return {"finding": found["id"], "ruling": word, "corrected_value": value, "evidence": evidence}

    def _signing(self) -> dict[str, str]:
        code = self.random.choice([self.codes[-1], self.codes[-1], *self.codes])
        word, evidence = self.random.choice(RELEASES), "f" * 64
        return {"finding": "B1", "ruling": word, "record": code, "section": "27 CFR 5.74", "evidence": evidence}

    def _rule(self) -> None:
        self.step((self._ruling(),))

    def _release(self) -> None:
        self.step(tuple({**self._signing(), "by": by} for by in self.random.sample(PEOPLE, 2)))

    def _gauge(self) -> None:
        self.house.table(f"gauge {self.files}.csv", READINGS, [vat_gauge(self.random.choice([120.1, 120.2, 70.0]))])
        self.step(())

    def _brief(self) -> None:
        claims = self.random.choice(["8 years", "7 years", ""])
        row = ("B1", "P", "US", "V1", self.random.choice(["yes", ""]), 120, "750 mL", claims)
        self.house.table(f"brief {self.files}.csv", BRIEFS + ",age_statement", [row])
        self.step(())

    def _together(self) -> None:
        """A file, a ruling and a release in one go."""
        self.house.table(f"gauge {self.files}.csv", READINGS, [vat_gauge(self.random.choice([120.1, 119.9]))])
        self.step((self._ruling(), self._signing()))


@pytest.mark.parametrize("seed", [*SEEDS, *(pytest.param(seed, marks=pytest.mark.long) for seed in MORE_SEEDS)])
def test_no_batch_with_an_open_verdict_of_law_is_ever_released(seed: int, tmp_path: Path) -> None:
    life = Life(tmp_path, seed)
    for _ in range(STEPS):
        life.move()
