"""proposals.html: what each proposal would taste like and cost, to be read in ten seconds."""

from __future__ import annotations

import math
from functools import cache
from typing import Any

from markupsafe import Markup

from pipeline.writing.pages import Pages
from pipeline.writing.spoken import makeup, number, spoken
from plugins.proposals.declared.cautions import PROPOSAL, TASTE
from plugins.proposals.taste.learn import LEAST

Row = dict[str, Any]


def taste(row: Row, top: float) -> Markup:
    """A family on the scale 0 to ``top``: dashed box the wanted band, bar the interval, tick its middle.

    Without evidence of the house's own trials the bar is hollow and has no tick.
    """

    def at(value: float) -> float:
        return round(1000.0 * min(max(value, 0.0), top) / top, 1)

    low, high, left, right = at(row["low"]), at(row["high"]), at(row["band_low"]), at(row["band_high"])
    wanted = f"wanted {row['band_low']:.1f} to {row['band_high']:.1f}"
    tick = Markup('<line class="tick" x1="{0}" x2="{0}" y1="2" y2="22"/>').format(at(row["mean"]))
    return Markup(
        '<svg class="taste" viewBox="0 0 1000 24" preserveAspectRatio="none" role="img" aria-label="{}">'
        '<line class="axis" x1="0" x2="1000" y1="12" y2="12"/><rect class="band" x="{}" width="{}" y="2" height="20"/>'
        '<rect class="interval{}" x="{}" width="{}" y="8" height="8"/>{}</svg>'
    ).format(
        f"{row['mean']:.1f}, between {row['low']:.1f} and {row['high']:.1f}; {wanted}"
        if row["evidence"]
        else f"untried; the law alone has it between {row['low']:.1f} and {row['high']:.1f}; {wanted}",
        left, round(right - left, 1), "" if row["evidence"] else " untried", low, round(high - low, 1),
        tick if row["evidence"] else "",
    )  # fmt: skip


def predicted(row: Row) -> str:
    """The prediction with the error of trials left out; where trials bear nothing out no number."""
    return f"{row['mean']:.1f} ±{row['error_left_out']:.1f}" if row["evidence"] else "untried"


def glass(parts: list[Row]) -> str:
    """Millilitres of samples at cask strength that make 100 ml of a proposal."""
    total = sum(part["volume_20C_L"] for part in parts)
    return ", ".join(f"{part['component']} {100.0 * part['volume_20C_L'] / total:.1f} ml" for part in parts)


def moves(swap: Row, profile: dict[str, Row]) -> str:
    """What a replacement moves most, in points only where there is evidence."""
    said = []
    for family, by in swap["moves"].items():
        known = profile.get(family, {}).get("evidence")
        word = f"{by:+.1f}" if known else ("a little " if abs(by) < 0.5 else "") + ("more" if by > 0 else "less")
        said.append(f"{spoken(family)} {word}")
    return ", ".join(said)


def top_of(document: Row) -> float:
    """Upper end of the scale of all pictures: a whole number above what is shown, 4 to 10."""
    shown = [max(row["high"], row["band_high"]) for item in document["proposals"] for row in item["profile"].values()]
    return float(min(max(math.ceil(max(shown, default=4.0)), 4), 10))


def outside(profile: dict[str, Row]) -> list[str]:
    """Families whose prediction lies outside the wanted band, with by how much where there is evidence."""
    found = []
    for family, row in profile.items():
        by = max(row["mean"] - row["band_high"], 0.0) - max(row["band_low"] - row["mean"], 0.0)
        if abs(by) >= 0.05:
            word = f"{by:+.1f}" if row["evidence"] else "(above, untried)" if by > 0 else "(below, untried)"
            found.append(f"{spoken(family)} {word}")
    return found


def page(
    document: Row, house: str, findings: list[Any], lineage: Any = None, since: dict[str, str] | None = None
) -> bytes:
    """The page's bytes; equal values give equal bytes. ``since``: casks that changed since the issue, and how."""
    rated = [] if lineage is None else lineage.drop(columns="facts").to_dict("records")
    values = {
        "d": document, "house": house or "", "findings": findings, "outside": outside, "rated": rated,
        "since": since or {}, "least": LEAST, "top": top_of(document),
        "cautions": [*PROPOSAL, *TASTE], "law": {row["family"]: row for row in document["law"]},
    }  # fmt: skip
    return _pages().page("proposals.html", values)


@cache
def _pages() -> Pages:
    functions = {"taste": taste, "makeup": makeup, "predicted": predicted, "glass": glass, "moves": moves}
    return Pages("plugins.proposals.sets", functions, number=number, spoken=spoken)
