"""The findings of gauging: what each says, and the making of them for the rows concerned."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from pipeline import Finding
from plugins.proof.alcoholometry.strength import SCALES


@dataclass(frozen=True)
class Remark:
    """Wording of one code. Texts may hold ``{names}`` of what ``Remarks`` knows of a row."""

    severity: str
    column: str
    message: str
    observed: str = ""
    expected: str = ""
    rule: str = ""
    remedy: str = ""


TEXTS = ("vessel", "purpose", "method", "instrument")
FIGURES = {
    "reading": "reading",
    "solids": "solids_mg_100mL",
    "net": "net_weight_kg",
    "gross": "gross_weight_kg",
    "tare": "tare_weight_kg",
    "depth": "depth_cm",
    "ullage": "ullage_cm",
}
NEEDED = (
    *TEXTS, *FIGURES.values(), "taken_at", "taken_at_timed", "temperature_degC", "temperature_unit",
    "volume_temperature_degC", "volume_temperature_unit",
)  # fmt: skip

MEND = "Mend the cell and drop the file again; the reading is left out until then."
CONTENT_OUT = "Mend the row and drop the file again; the strength counts, the content does not."
FORMULA = "OIML R 22, -20 to +40 °C"

REMARKS = {
    "proof.unknown-word": Remark(
        "review",
        "scale",
        "{what}: scale, method or state is a word not known here, so the reading cannot be used.",
        remedy=f"Use {', '.join(SCALES)}; hydrometer, density meter, distilled; as read, in air, at 60 °F, at 20 °C.",
    ),
    "proof.no-reading": Remark(
        "review", "reading", "{vessel}, {when}: the reading holds no number, so it cannot be used.", remedy=MEND
    ),
    "proof.reading-outside-scale": Remark(
        "review",
        "reading",
        "{what}: the scale runs from {lowest} to {highest}, so the reading cannot be used.",
        observed="{reading}",
        expected="{lowest} to {highest} {scale}",
        remedy=f"Check the figure and the scale. {MEND}",
    ),
    "proof.no-temperature": Remark(
        "review",
        "temperature",
        "{what}: no temperature of the jar is stated, so the strength at 60 °F cannot be found.",
        observed="no temperature",
        expected="the temperature of the jar or cell, or the state at 60 °F or at 20 °C",
        remedy=MEND,
    ),
    "proof.temperature-outside-formula": Remark(
        "review",
        "temperature",
        "{what} at {temperature}: the density formula holds from -20 to 40 °C, so the reading cannot be used.",
        observed="{temperature}",
        expected="-20 to 40 °C (-4 to 104 °F)",
        rule=FORMULA,
        remedy=f"Check the figure and its unit. {MEND}",
    ),
    "proof.no-such-strength": Remark(
        "review",
        "reading",
        "{what} at {at}: a density of {density} kg/m3 fits no mixture of ethanol and water; these lie "
        "between {ethanol} and {water} kg/m3.",
        observed="{density} kg/m3",
        expected="{ethanol} to {water} kg/m3",
        rule=FORMULA,
        remedy=f"Check reading, scale, state and temperature. {MEND}",
    ),
    "proof.outside-instrument-range": Remark(
        "review",
        "reading",
        "{what}: {instrument} is made for {low} to {high} {graduated}; the strength counts all the same.",
        observed="{reading}",
        expected="{low} to {high}",
        remedy="Read again with an instrument of the right range, or correct the instrument's number.",
    ),
    "proof.scale-in-doubt": Remark(
        "review",
        "reading",
        "{what}: the row's scale says {scale}, the unit of the reading {unit}; {scale} was taken.",
        observed="{unit}",
        expected="{scale}",
        remedy="Make scale and unit agree.",
    ),
    "proof.scale-differs": Remark(
        "review",
        "scale",
        "{what}: {instrument} is graduated in {graduated}; the reading was taken as {scale}, without certificate "
        "corrections.",
        observed="{scale}",
        expected="{graduated}",
        remedy="Correct the scale of the reading or of the instrument.",
    ),
    "proof.method-in-doubt": Remark(
        "review",
        "method",
        "{what}: the row says {method}, the instrument list says {instrument} is a {kind}; the row was followed.",
        observed="{method}",
        expected="{kind}",
        remedy="Correct the method of the reading or the kind of the instrument.",
    ),
    "proof.state-in-doubt": Remark(
        "review",
        "state",
        "{what} is said to be at 20 °C, but {scale} holds at 60 °F; it was taken as at 60 °F, uncorrected.",
        observed="at 20 °C",
        expected="at 60 °F",
        remedy="State it as % vol at 20 °C, or as proof at 60 °F.",
    ),
    "proof.maybe-already-corrected": Remark(
        "review",
        "temperature",
        "{what} at {temperature}: a meter shows strength at its reference already, so that it was taken as "
        "{as_is} proof; if it was not yet corrected it would be {otherwise} proof.",
        observed="{temperature}",
        expected="20 °C or 60 °F",
        remedy="Set the state to at 60 °F or at 20 °C, or the scale to a density, and drop the file again.",
    ),
    "proof.solids-above-limit": Remark(
        "review",
        "solids",
        "{what}: {solids} mg/100 mL of dissolved solids is above 600, so that only distillation shows the true "
        "proof; {as_is} proof is the apparent one.",
        observed="{solids} mg/100 mL",
        expected="at most 600 mg/100 mL",
        rule="27 CFR 30.41, 30.31",
        remedy="Distil a sample and enter its reading with the method distilled.",
    ),
    "proof.apparent-only": Remark(
        "note",
        "solids",
        "{what}: taken for {purpose} without dissolved solids, so that the strength is the apparent one; the true "
        "one is higher by 0.4 proof for each 100 mg/100 mL.",
        expected="dissolved solids, or a distilled sample",
        rule="27 CFR 30.31, 30.32",
    ),
    "proof.apparent-not-measured": Remark(
        "note",
        "solids",
        "{what}: a distilled sample tells the true strength, and without dissolved solids of up to 600 mg/100 mL the "
        "apparent one is not known; the content goes by the density of the true strength, though solids make the "
        "liquid denser.",
        observed="{solids} mg/100 mL",
        expected="dissolved solids up to 600 mg/100 mL, or a reading of the spirit as it is",
        rule="27 CFR 30.41, 30.32",
        remedy="Read the spirit undistilled too where its volume must be known from its weight.",
    ),
    "proof.weight-and-volume-differ": Remark(
        "review",
        "volume",
        "{what}: the weight is {by_weight} kg of spirit, the volume {by_volume} kg, further apart than twice their "
        "uncertainty; the weight counts.",
        observed="{by_volume} kg by volume",
        expected="{by_weight} kg by weight",
        rule="[uncertainty] weighed_percent, metered_percent, dipped_tank_percent (common practice, no source)",
        remedy="Check both figures, their units and the tare; correct the wrong one or leave it out.",
    ),
    "proof.weights-disagree": Remark(
        "review",
        "net_weight",
        "{what}: the net weight of {net} kg is not gross less tare, "
        "{gross} - {tare} kg; no content was taken by weight.",
        observed="{net} kg",
        expected="{difference} kg",
        rule="27 CFR 30.43",
        remedy=CONTENT_OUT,
    ),
    "proof.weight-not-positive": Remark(
        "review",
        "net_weight",
        "{what}: net {net} kg, gross {gross} kg and tare {tare} kg give no content.",
        observed="{net} kg",
        expected="a weight above 0 kg",
        remedy=CONTENT_OUT,
    ),
    "proof.no-tare": Remark(
        "review",
        "tare_weight",
        "{what}: a gross weight of {gross} kg without a tare gives no content.",
        observed="no tare",
        expected="the weight of the empty cask",
        rule="27 CFR 30.43",
        remedy=CONTENT_OUT,
    ),
    "proof.no-dip-table": Remark(
        "review",
        "depth",
        "{what}: a depth of {depth} cm is stated, but {vessel} has no dip table with two points or more.",
        observed="{depth} cm",
        expected="a dip table",
        remedy="Drop a vessels sheet with the depths and volumes of this vessel.",
    ),
    "proof.no-height-for-ullage": Remark(
        "review",
        "ullage",
        "{what}: an ullage of {ullage} cm is stated, but {vessel} has no dip table with one height to take it from.",
        observed="{ullage} cm ullage",
        expected="a dip table with the height of the mark",
        remedy="Drop a vessels sheet with the vessel's dip table and its column height, or state the dip.",
    ),
    "proof.dip-and-ullage-differ": Remark(
        "review",
        "ullage",
        "{what}: its dip and its ullage of {ullage} cm do not add up to the height of {vessel}; no content was taken "
        "by dip.",
        observed="{ullage} cm ullage",
        expected="dip and ullage that add up to the height within 0.6 cm",
        rule="common practice, no source",
        remedy=CONTENT_OUT,
    ),
    "proof.dip-outside-table": Remark(
        "review",
        "depth",
        "{what}: the depth of {depth} cm lies outside the dip table of {vessel}; no content was taken by dip.",
        observed="{depth} cm",
        expected="a depth within the table",
        remedy=CONTENT_OUT,
    ),
    "proof.dip-table-expired": Remark(
        "review",
        "depth",
        "{what}: the dip table of {vessel} was no longer valid; it was used all the same.",
        observed="{when}",
        expected="a valid dip table",
        remedy="Have the vessel calibrated, or drop the new table.",
    ),
    "proof.volume-temperature-outside-formula": Remark(
        "review",
        "volume_temperature",
        "{what}: a volume at {volume_temperature} cannot be turned into mass; the density formula holds from -20 to "
        "40 °C.",
        observed="{volume_temperature}",
        expected="-20 to 40 °C",
        rule=FORMULA,
        remedy=CONTENT_OUT,
    ),
}


def number(value: float) -> str:
    """A figure as people write it: six digits, no trailing zeros."""
    return "none" if value != value else f"{value:.6g}"


def degrees(value_degC: float, unit: object) -> str:
    """A temperature in the unit that the sheet used."""
    if value_degC != value_degC:
        return "no temperature"
    return f"{value_degC * 1.8 + 32.0:.4g} °F" if unit == "degF" else f"{value_degC:.4g} °C"


@dataclass
class Remarks:
    """Collects findings about readings.

    ``readings`` is the sheet's frame, ``scale`` the settled scale of each row, ``more`` further
    figures by name: arrays of one value per row, put into the texts as ``number`` writes them.
    """

    readings: pd.DataFrame
    scale: NDArray[np.object_]
    more: dict[str, NDArray[Any]] = field(default_factory=dict)
    findings: list[Finding] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._facts: list[tuple[int, ...]] = self.readings["facts"].tolist()

    def say(self, code: str, rows: NDArray[np.bool_]) -> None:
        """One finding for each row that is marked, resting on its reading."""
        marked = np.flatnonzero(rows)
        if not marked.size:
            return
        remark = REMARKS[code]
        for row, words in zip(marked.tolist(), self._words(marked), strict=True):
            self.findings.append(
                Finding(
                    code,
                    remark.severity,
                    remark.message.format_map(words),
                    subject=words["vessel"],
                    facts=self._facts[row],
                    column=remark.column,
                    observed=remark.observed.format_map(words),
                    expected=remark.expected.format_map(words),
                    rule=remark.rule,
                    remedy=remark.remedy,
                )
            )

    def _words(self, marked: NDArray[np.intp]) -> Iterator[dict[str, str]]:
        """The words that texts may hold, for each marked row."""
        rows = self.readings.iloc[marked][list(NEEDED)]
        texts = rows[list(TEXTS)].fillna("")
        columns = {name: list(texts[name]) for name in TEXTS}
        timed = rows["taken_at_timed"].fillna(False).to_numpy(dtype=bool)
        days, moments = (rows["taken_at"].dt.strftime(form) for form in ("%Y-%m-%d", "%Y-%m-%d %H:%M"))
        columns["when"] = moments.where(timed, days).tolist()
        columns |= {name: _written(rows[source].to_numpy()) for name, source in FIGURES.items()}
        difference = rows["gross_weight_kg"].to_numpy() - rows["tare_weight_kg"].to_numpy()
        columns["difference"] = _written(difference)
        columns |= {name: _written(values[marked]) for name, values in self.more.items()}
        columns["scale"] = [str(word) for word in self.scale[marked]]
        for name in ("temperature", "volume_temperature"):
            stated = zip(rows[f"{name}_degC"], rows[f"{name}_unit"], strict=True)
            columns[name] = [degrees(value, unit) for value, unit in stated]
        names = list(columns)
        for values in zip(*columns.values(), strict=True):
            words = dict(zip(names, values, strict=True))
            words["instrument"] = words["instrument"] or "no named instrument"
            words["what"] = "{vessel}, {when}, {reading} {scale} by {instrument}".format_map(words)
            yield words


def _written(values: NDArray[Any]) -> list[str]:
    return [value if isinstance(value, str) else number(value) for value in values.tolist()]
