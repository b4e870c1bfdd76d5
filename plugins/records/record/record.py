"""The batch record: one plain dict, keys and order as the contract states them.

Lists come in a stated order: components as they were drawn (then line, then name), label by market
and claim, findings most severe first, sources as their files were taken. What is not known is None.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Sequence
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from pipeline.book.releases import signed_out
from pipeline.common.names import fold, rows_named
from pipeline.contract.findings import Finding, Place
from plugins.records.record import concerns, papers, signing
from plugins.records.record.notices import gauged_vessels, rulings_of
from plugins.records.record.plain import facts_of, natural, plain, rows
from plugins.records.record.steps import standing

if TYPE_CHECKING:
    import pandas as pd

SCHEMA = "vatting.record/1"
ENTRIES = ("drawn", "water", "expected", "gauged", "bottled")
STEPS = ("dump", "process", "filter", "bottling", "samples", "unexplained")
QUANTITIES = (
    "mass_kg",
    "ethanol_kg",
    "volume_60F_gal",
    "volume_20C_L",
    "proof_60F",
    "abv_20C",
    "proof_gallons",
    "proof_gallons_official",
    "lpa",
)
COMPONENT_BEFORE_AGE = (
    "component",
    "kind",
    "filling",
    "strength_basis",
    "proof_60F",
    "proof_apparent_60F",
    "obscuration_proof",
    "abv_20C",
    "mass_kg",
    "ethanol_kg",
    "volume_60F_gal",
    "volume_20C_L",
    "proof_gallons",
    "lpa",
    "planned_volume_60F_gal",
    "filled_on",
)
FIGURE = (
    *("quantity", "unit", "as_read", "as_corrected", "slip", "z_before", "z_after"),
    *("mass_change_kg", "ethanol_change_kg"),
)
RECONCILED = (
    "component",
    "drawn_at",
    "line",
    "side",
    "quantity",
    "unit",
    "measured",
    "uncertainty",
    "reconciled",
    "reconciled_uncertainty",
    "score",
    "beyond_chance",
    "smallest_visible",
)
Row = dict[str, Any]


def build(
    batch: str,
    frames: dict[str, pd.DataFrame | None],
    findings: list[Finding],
    sources: Any,
    run: Any,
    published: Any,
    site: Any,
) -> Row:
    """The record of one batch.

    ``frames`` maps names to that batch's rows (``profiles``, ``scores``, ``notes`` and ``tastings``:
    all samples' rows), None where a failed stage left the frame out. ``sources``, ``run`` and
    ``published`` are what the engine gives to documents.
    """
    brief = last(rows(frames.get("briefs")))
    parts = poured(frames.get("components"))
    tasted = of_sample(frames.get("profiles"), batch)
    rests_on = (frame for name, frame in frames.items() if name not in (*OF_SAMPLES, *papers.BESIDE))
    facts = facts_of(*rests_on) | facts_of(tasted)
    entries = {row["entry"]: row for row in rows(frames.get("balances"))}
    imbalance = last(rows(frames.get("imbalances")))
    ages = ages_by_draw(frames.get("component_ages"))
    mine = concerns.Batch.of(batch, ((row["component"], row.get("kind")) for row in parts), facts)
    found = concerns.in_order(finding for finding in findings if concerns.concerns(finding, mine))
    missing = lost(batch, frames, imbalance.get("agrees"))
    record = {
        "schema": SCHEMA,
        "batch": batch,
        "product": brief.get("product"),
        "market": brief.get("market"),
        "status": None,
        "components": [component(row, ages, sources) for row in parts],
        "balance": balance(entries, frames.get("losses"), imbalance, frames.get("figures_to_check"), sources)
        | {"reconciled": reconciled(imbalance, frames.get("reconciled"))},
        "age": age(last(rows(frames.get("ages")))),
        "label": [claim(row, sources) for row in judged(frames.get("labels"))],
        "profile": profile(tasted),
        "findings": [finding_data(finding) for finding in found],
        "sources": plain(sources.files(sorted(facts))),
        "extra": extra(published),
        "made_by": made_by(run),
        "head": head(batch, facts, found, named(batch, parts), sources, run),
    }
    record["rulings"] = rulings_of(record, run.history, gauged_vessels(frames.get("balances")))
    told = {"expected": "expected" in entries, "gauged": "gauged" in entries, "agrees": imbalance.get("agrees")}
    more = papers.added(record, frames, parts, brief, facts, sources, site)
    made = signed_record(record, found, {**told, "lost": missing}, run, sources.last_day(facts), more)
    return made | standing(made, parts, brief, site)


def signed_record(record: Row, found: list[Finding], told: Row, run: Any, last_fact: str, more: Row) -> Row:
    """The record with its status, its releases and what the next one is held against, ``more`` behind them.

    ``told``: see ``status``. A signature is of ``more`` too.
    """
    digest = None if told["lost"] else signing.digest({**record, **more})
    signed = run.releases.get(record["batch"].casefold(), [])
    status = concerns.status(found, **told)
    but_for_law = concerns.status([finding for finding in found if not finding.of_law], **told)
    record["status"] = signed_out(digest or "", status, but_for_law, concerns.RECONCILED, signed)
    record["releases"] = signing.releases(signed, record["status"], digest)
    record["signing"] = {
        "code": digest,
        "last_fact": last_fact or None,
        "ruled_by": signing.ruled_by(record["rulings"]),
        "but_for_law": but_for_law,
        "of_law": sum(finding.of_law and finding.severity != "note" for finding in found),
    }
    return record | more


OF_SAMPLES = ("profiles", "scores", "notes", "tastings")
FOR_EVERY_BATCH = ("components", "balances", "losses", "imbalances", "component_ages", "ages", "labels")


def lost(batch: str, frames: dict[str, pd.DataFrame | None], agrees: bool | None) -> list[str]:
    """Frames that a failed stage left out and in which this batch would have had rows."""
    gone = [name for name in FOR_EVERY_BATCH if frames.get(name) is None]
    if frames.get("figures_to_check") is None and agrees is False:
        gone.append("figures_to_check")
    tastings = of_sample(frames.get("tastings"), batch)
    if tastings is not None and len(tastings):
        gone += [name for name in ("profiles", "scores", "notes") if frames.get(name) is None]
    return gone


def named(batch: str, parts: Iterable[Row]) -> set[str]:
    """The batch and its components, as rulings name them."""
    return {fold(batch), *(fold(str(part["component"])) for part in parts)}


def head(
    batch: str, facts: Iterable[int], found: Iterable[Finding], names: set[str], sources: Any, run: Any
) -> str | None:
    """The journal's head as of the last line that the record rests on: its rows, and rulings on it or on its parts."""
    ruled = [finding.ruling.number for finding in found if finding.ruling]
    ruled += [release.number for release in run.releases.get(batch.casefold(), ())]
    ruled += [line.ruling.number for line in run.history if fold(line.subject) in names]
    return sources.head(max([sources.newest(facts), *ruled], default=0)) or None


def of_sample(frame: pd.DataFrame | None, sample: str) -> pd.DataFrame | None:
    """The rows of one sample; None where the frame is missing."""
    return None if frame is None else rows_named(frame, "sample", {fold(sample)})


def last(found: Sequence[Row]) -> Row:
    return found[-1] if found else {}


def pick(row: Row, names: Iterable[str]) -> Row:
    return {name: row.get(name) for name in names}


def poured(components: pd.DataFrame | None) -> list[Row]:
    """The components in the order in which they were drawn, then by line and name; undated last."""
    return sorted(
        rows(components),
        key=lambda row: (row.get("drawn_at") or "9999", natural(row.get("line")), natural(row["component"])),
    )


def ages_by_draw(component_ages: pd.DataFrame | None) -> dict[tuple[Any, ...], Row]:
    return {draw(row): row for row in rows(component_ages)}


def draw(row: Row) -> tuple[Any, ...]:
    return row.get("component"), row.get("drawn_at"), row.get("line")


def component(row: Row, ages: dict[tuple[Any, ...], Row], sources: Any) -> Row:
    return {
        **pick(row, COMPONENT_BEFORE_AGE),
        "age_days": whole(ages.get(draw(row), {}).get("age_days")),
        "drawn_basis": row.get("drawn_basis"),
        "sources": plain(sources.files(row["facts"])),
        "corrected": signing.corrected(row["facts"], sources),
    }


def age(row: Row) -> Row:
    youngest = row.get("youngest_component")
    return {"youngest_component": youngest, **{name: whole(row.get(name)) for name in ("years", "months", "days")}}


def whole(value: float | None) -> float | None:
    """A count that a frame keeps as a float, as the whole number it is."""
    return int(value) if value is not None and value == int(value) else value


def balance(
    entries: dict[str, Row],
    losses: pd.DataFrame | None,
    imbalance: Row,
    figures: pd.DataFrame | None,
    sources: Any,
) -> Row:
    """The account of the batch; an entry without a row is None, gauged never comes from expected."""
    steps = {row["step"]: papers.loss(pick(row, ("mass_kg", "proof_gallons", "lpa"))) for row in rows(losses)}
    return {
        **{name: entry(entries[name], sources) if name in entries else None for name in ENTRIES},
        "loss": {name: steps.get(name) for name in STEPS},
        "contraction_60F_gal": imbalance.get("contraction_60F_gal"),
        "imbalance": {
            "mass_z": imbalance.get("mass_z"),
            "ethanol_z": imbalance.get("ethanol_z"),
            "smallest_visible": {
                "proof": imbalance.get("smallest_visible_proof"),
                "mass_kg": imbalance.get("smallest_visible_kg"),
            },
            "figures_to_check": [figure(row, sources) for row in ranked(figures)],
        },
    }


def reconciled(imbalance: Row, figures: pd.DataFrame | None) -> Row | None:
    """The test of all balances together, and every figure beside the nearest that closes them; None without a gauge."""
    if imbalance.get("chi_square") is None:
        return None
    tested = pick(imbalance, ("chi_square", "degrees", "p_value", "closes"))
    return {
        **tested,
        "degrees": whole(tested["degrees"]),
        "figures": [pick(row, RECONCILED) for row in rows(figures)],
    }


def entry(row: Row, sources: Any) -> Row:
    uncertainty = {
        "mass_kg": row.get("mass_uncertainty_kg"),
        "ethanol_kg": row.get("ethanol_uncertainty_kg"),
        "proof_60F": row.get("proof_uncertainty"),
        "proof_60F_up": row.get("proof_uncertainty_up"),
        "volume_60F_gal": row.get("volume_uncertainty_gal"),
        "proof_gallons": row.get("proof_gallons_uncertainty"),
    }
    made = {**pick(row, QUANTITIES), "uncertainty": uncertainty, "basis": row.get("basis")}
    # what was drawn, and what follows from it, says so beside each component
    own = signing.corrected(row["facts"], sources) if row["entry"] in ("gauged", "bottled") else []
    return {**made, "corrected": own}


def ranked(figures: pd.DataFrame | None) -> list[Row]:
    return sorted(rows(figures), key=lambda row: row["rank"])


def figure(row: Row, sources: Any) -> Row:
    made = pick(row, FIGURE)
    place = sources.place(row["fact"], row["quantity"] or "") if row.get("fact") is not None else None
    names = [name.strip() for name in (row.get("components") or "").split(",") if name.strip()]
    before, after = FIGURE[:4], FIGURE[4:]
    return {
        "components": names,
        **{name: made[name] for name in before},
        "place": place_data(place),
        **{name: made[name] for name in after},
    }


def place_data(place: Place | None) -> Row | None:
    """A place as data; None where nothing in a file is meant."""
    if place is None or not place.file:
        return None
    return {"file": place.file, "sheet": place.sheet, "cell": place.cell}


def judged(labels: pd.DataFrame | None) -> list[Row]:
    return sorted(rows(labels), key=lambda row: (row["market"] or "", row["claim"] or ""))


def claim(row: Row, sources: Any) -> Row:
    made = pick(row, ("claim", "market", "verdict", "reason", "rule", "unverified"))
    return {**made, "facts": used_facts(row.get("facts_used")), "corrected": signing.corrected(row["facts"], sources)}


def used_facts(text: str | None) -> Any:
    """The facts that a verdict rests on: a JSON object, or the text itself if it is none."""
    if text is None:
        return None
    try:
        return plain(json.loads(text))
    except ValueError:
        return text


def profile(tasted: pd.DataFrame | None) -> Row | None:
    """Flavour family → mean, low, high over all stages, from tastings of the batch itself."""
    means = {row["family"]: pick(row, ("mean", "low", "high")) for row in rows(tasted) if row["stage"] == "all"}
    return {name: means[name] for name in sorted(means)} or None


def finding_data(finding: Finding) -> Row:
    ruling = finding.ruling
    return {
        "id": finding.id,
        "code": finding.code,
        "severity": finding.severity,
        "message": finding.message,
        "observed": finding.observed or None,
        "expected": finding.expected or None,
        "subject": finding.subject or None,
        "place": place_data(finding.place),
        "rule": finding.rule or None,
        "remedy": finding.remedy or None,
        "ruling": None
        if ruling is None
        else {
            "ruling": ruling.ruling,
            "corrected_value": ruling.corrected_value or None,
            "reason": ruling.reason,
            "by": ruling.by,
            "ruled_on": ruling.ruled_on,
        },
    }


def extra(published: Any) -> Row:
    """Plugin → frame → this batch's rows, in the order in which the plugin's stage gave them."""
    return {
        plugin: {
            name: [{key: value for key, value in row.items() if key != "facts"} for row in rows(frame)]
            for name, frame in sorted(frames.items())
        }
        for plugin, frames in sorted((published or {}).items())
    }


@cache
def checker() -> bytes:
    """The program that checks a dossier, as it is published."""
    return (files("plugins.records.dossier") / "check_dossier.py").read_bytes()


def checker_digest() -> str:
    return hashlib.sha256(checker()).hexdigest()


def made_by(run: Any) -> Row:
    """Versions of the tool and its plugins, of the data files whose rules they applied, and the dossier's checker."""
    return {
        "vatting": run.versions.get("vatting"),
        "plugins": dict(sorted(run.versions.get("plugins", {}).items())),
        "rules": dict(sorted(run.versions.get("rules", {}).items())),
        "checker": checker_digest(),
    }
