"""Published values of gauging, and how a computed value is held against one."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from pathlib import Path

DATA = Path(__file__).parent / "data"
# Half of the last printed digit, and a little for a value that lies exactly there.
HALF, DUST = 0.5, 1e-6


@dataclass(frozen=True)
class Published:
    """One published value, as the source prints it."""

    id: str
    topic: str
    source: str
    section: str
    inputs: str
    expected: str

    @property
    def given(self) -> dict[str, float]:
        """The inputs that are numbers."""
        pairs = (part.split("=") for part in self.inputs.split(";") if part.count("=") == 1)
        return {name.strip(): float(value) for name, value in pairs if value.replace(".", "", 1).lstrip("+-").isdigit()}

    @property
    def value(self) -> float:
        return float(self.expected)

    @property
    def last_digit(self) -> float:
        """One unit of the last printed decimal."""
        return 10.0 ** -len(self.expected.partition(".")[2])


@cache
def published() -> dict[str, Published]:
    """All rows by id."""
    with (DATA / "gauging.csv").open(encoding="utf-8", newline="") as file:
        rows = [Published(*(row[name] for name in Published.__dataclass_fields__)) for row in csv.DictReader(file)]
    return {row.id: row for row in rows}


@cache
def known_differences() -> dict[str, float]:
    """Measured differences, computed less printed, by id."""
    with (DATA / "gauging_known_differences.csv").open(encoding="utf-8", newline="") as file:
        return {row["id"]: float(row["measured"]) for row in csv.DictReader(file)}


def of_topic(*topics: str) -> list[Published]:
    """The rows of some topics, in the order of the file."""
    return [row for row in published().values() if row.topic in topics]


def hold(row: Published, computed: float, last_digit: float | None = None, digits: float = HALF) -> None:
    """Hold a computed value against a published one at the source's own precision.

    Within ``digits`` units of the last printed digit; a row in the list of known differences must
    differ by more than that, and by what was measured.
    """
    unit = row.last_digit if last_digit is None else last_digit
    difference = float(computed) - row.value
    measured = known_differences().get(row.id)
    if measured is None:
        assert abs(difference) <= (digits + DUST) * unit, f"{row.id}: {computed} against {row.expected}, {row.source}"
    else:
        assert abs(difference) > (digits + DUST) * unit, f"{row.id} agrees: take it off the list"
        assert abs(difference - measured) <= 0.02 * unit, f"{row.id}: differs by {difference}, measured {measured}"
