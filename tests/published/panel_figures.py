"""Published examples of agreement and discrimination, beside what we compute: python -m tests.published.panel_figures.

Each example names where its figures were seen. ``seen`` values stand in the source; a value that was worked out
here is never among them.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from plugins.tasting.panel.agreement import chi_square_p, correlations, kendall, mean_squares
from plugins.tasting.panel.discrimination import PAIR, TRIANGLE, least_right, share_right
from plugins.tasting.profiles.additive import fit

DATA = Path(__file__).parent / "data"


@dataclass(frozen=True)
class Example:
    """One published table (samples, tasters) with the figures printed for it, by name."""

    name: str
    source: str
    table: np.ndarray
    seen: dict[str, float]


def _table(rows: str) -> np.ndarray:
    return np.array([[float(value) for value in row.split()] for row in rows.split("/")])


def _jury(ranks: str) -> np.ndarray:
    """Rows of digits, one a judge, as ranks: (wines, judges)."""
    return np.array([[float(digit) for digit in row] for row in ranks.split("/")]).T


CORRELATIONS = (
    Example(
        "six targets, four judges",
        "Shrout and Fleiss (1979), Psychological Bulletin 86:420, table 2 and 4 (seen quoted in public test suites)",
        _table("9 2 5 8/6 1 3 2/8 4 6 8/7 1 2 6/10 5 6 9/6 2 4 7"),
        {"ICC(1,1)": 0.17, "ICC(2,1)": 0.29, "ICC(3,1)": 0.71, "ICC(1,k)": 0.44, "ICC(2,k)": 0.62, "ICC(3,k)": 0.91},
    ),
    Example(
        "eight wines, four judges",
        "documentation of a statistics library (seen); three decimals",
        _table("1 2 0 1/1 3 3 2/3 8 1 4/6 4 3 3/6 5 5 6/7 5 6 2/8 7 7 9/9 9 9 8"),
        {"ICC(1,1)": 0.728, "ICC(2,1)": 0.728, "ICC(3,1)": 0.729, "ICC(1,k)": 0.914, "ICC(2,k)": 0.914,
         "ICC(3,k)": 0.915},
    ),
)  # fmt: skip
INTERVALS = {"ICC(2,1)": (0.019, 0.761), "ICC(2,k)": (0.071, 0.927)}  # of the first example, seen
MEAN_SQUARE_ERROR = 1.0194  # of the first example, seen

JURIES = (
    Example("jury of 8, 8 wines", "published wine jury report 13",
            _jury("71843265/81546732/87416532/68573412/31268457/56728431/64253178/51463782"),
            {"W": 0.0982, "p": 0.5992}),
    Example("jury of 5, 6 wines", "published wine jury report 226",
            _jury("354126/423165/153624/531246/621453"), {"W": 0.2046, "p": 0.4021}),
    Example("jury of 5, 7 wines", "published wine jury report 14",
            _jury("4327165/4315627/3457162/1253467/7325416"), {"W": 0.2371, "p": 0.3104}),
)  # fmt: skip
PROJECTS = Example(
    "4 judges, 10 projects",
    "public worksheet (data and S seen)",
    _table("1 2 3 4/3 1 2 2/4 4 1 3/5 5 5 1/2 6 7 6/8 3 4 7/6 8 6 5/7 7 8 9/10 10 9 8/9 9 10 10"),
    {"S": 1048.0},
)
BEERS = Example(
    "10 tasters, 3 beers, with ties",
    "Nonparametric methods in statistics with SAS, chapter 14 (data, limits 6.2 and 9.6 and the conclusion seen)",
    _table("4 5 5/3 7 6/2 8 8/5 7 9/1 3 6/4 4 6/3 6 8/2 5 5/2 7 9/6 4 5").T,
    {"limit at 5 %": 6.2, "limit at 1 %": 9.6},
)

SHARES = {"pair": 0.760, "three": 0.634, "triangle": 0.418, "duo-trio": 0.582}  # at d' = 1, same note (seen)

# Davies and Goldsmith (1972), zone diameters of six samples on 24 plates; restricted maximum likelihood as printed in
# the test suite of a mixed-model library (seen): level, its standard error, variances of plates, samples, error
ZONES = {"level": 22.9722, "error of level": 0.808573, "plates": 0.716908, "samples": 3.73092, "error": 0.302415}


def discrimination() -> list[dict[str, str]]:
    """Rows of the published tables: test, n, risk in per cent, count (empty: impossible), source."""
    with (DATA / "discrimination.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def counted(row: dict[str, str]) -> str:
    """Our count for a row of those tables."""
    n, risk = int(row["n"]), float(row["percent"]) / 100.0
    found = least_right(n, TRIANGLE if row["test"] == "triangle" else PAIR, risk + 1e-12)
    if row["test"] == "sign" and found is not None:
        found = n - found  # the table counts the fewer sign
    return "" if found is None else str(found)


def zones() -> np.ndarray:
    """The open data set ``zone_diameters.csv``: (plates, samples) in millimetres."""
    with (DATA / "zone_diameters.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))[1:]
    return np.array([[float(value) for value in row[1:]] for row in rows])


def zone_figures() -> dict[str, float]:
    """What the additive model makes of them, under the names of ``ZONES``."""
    fitted = fit(zones()[None], within=1e-6)
    figures = (fitted.level, fitted.level_error, fitted.sample_variance, fitted.taster_variance, fitted.error_variance)
    return dict(zip(ZONES, (float(figure[0]) for figure in figures), strict=True))


def main() -> None:
    for example in CORRELATIONS:
        print(f"{example.name} ({example.source})")
        for form, found in correlations(example.table).items():
            print(
                f"  {form}: {found.value:.4f}  published {example.seen[form]}  95 % {found.low:.3f} to {found.high:.3f}"
            )
    print(f"  mean square of error: {mean_squares(CORRELATIONS[0].table).error:.4f}  published {MEAN_SQUARE_ERROR}")
    for example in (*JURIES, PROJECTS, BEERS):
        found = kendall(example.table, example.name)
        told = ", ".join(f"{name} {value:g}" for name, value in example.seen.items())
        print(
            f"{example.name} ({example.source}): W {found.w:.4f}, S {found.sum_of_squares:g}, chi-square "
            f"{found.chi_square:.4f}, p {chi_square_p(found):.4f}, by permutation {found.p:.4f}; published {told}"
        )
    rows = discrimination()
    unlike = [row for row in rows if counted(row) != row["count"]]
    print(f"discrimination tables: {len(rows)} cells, {len(unlike)} differ {unlike or ''}")
    print("share right at d' = 1:", {m: round(share_right(m, 1.0), 4) for m in SHARES}, "published", SHARES)
    print("zone diameters:", {n: round(v, 6) for n, v in zone_figures().items()}, "published", ZONES)


if __name__ == "__main__":
    main()
