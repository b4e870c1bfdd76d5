"""The stages of this plugin: ages, verdicts on label claims, and what the claims allow before pouring."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from pipeline import Finding, stage
from plugins.label_age.frames import AGES, COMPONENT_AGES, ELIGIBILITY, LABELS, LIMITS

if TYPE_CHECKING:
    import pandas as pd

    from plugins.label_age.cells import Strengths
    from plugins.label_age.judge import Court, Verdict

SEVERITIES = {"met": "note", "not met": "stop", "cannot tell": "review"}


@stage(gives=COMPONENT_AGES)
def age_of_components(components: pd.DataFrame) -> pd.DataFrame:
    """Whole years, months and days of each component at its earliest draw, never rounded up."""
    from plugins.label_age.ageing import age_components

    return age_components(components)


@stage(gives=AGES)
def age_of_batches(component_ages: pd.DataFrame) -> pd.DataFrame:
    """The age of a batch is that of its youngest component."""
    from plugins.label_age.ageing import age_batches

    return age_batches(component_ages)


@stage(gives=LABELS)
def judge_labels(
    components: pd.DataFrame,
    component_ages: pd.DataFrame,
    casks: pd.DataFrame,
    briefs: pd.DataFrame,
    bottlings: pd.DataFrame,
    site: Any,
    balances: pd.DataFrame | None = None,
    readings: pd.DataFrame | None = None,
    blends: pd.DataFrame | None = None,
) -> tuple[pd.DataFrame, list[Finding]]:
    """Each label claim against the rule it rests on, in each market of the brief: met, not met, cannot tell."""
    strengths = ((readings, "reading"), (blends, "drawn_proof"), (casks, "proof"))
    court, broken = _court(components, component_ages, casks, briefs, bottlings, balances, site, strengths=strengths)
    verdicts = list({(v.batch, v.market, v.claim): v for v in court.verdicts()}.values())
    frame = LABELS.build(
        {
            "batch": [v.batch for v in verdicts],
            "market": [v.market for v in verdicts],
            "claim": [v.claim for v in verdicts],
            "verdict": [v.word for v in verdicts],
            "reason": [v.reason for v in verdicts],
            "rule": [v.section or None for v in verdicts],
            "unverified": [v.unverified for v in verdicts],
            "rule_version": [v.version or None for v in verdicts],
            "facts_used": [v.used for v in verdicts],
        },
        [v.facts for v in verdicts],
    )
    findings = [*broken, *_without_market(court), *(_finding(v) for v in verdicts if v.word != "met")]
    return frame, findings


@stage(gives=ELIGIBILITY)
def find_eligible(
    components: pd.DataFrame,
    component_ages: pd.DataFrame,
    casks: pd.DataFrame,
    briefs: pd.DataFrame,
    bottlings: pd.DataFrame,
    site: Any,
) -> pd.DataFrame:
    """Which components each claim allows, of the batch or, with nothing drawn, of the stock."""
    from plugins.label_age.ahead import eligibility

    court = _planning_court(components, component_ages, casks, briefs, bottlings, site)
    return _build(ELIGIBILITY, list(eligibility(court)))


@stage(gives=LIMITS)
def find_limits(
    components: pd.DataFrame,
    component_ages: pd.DataFrame,
    casks: pd.DataFrame,
    briefs: pd.DataFrame,
    bottlings: pd.DataFrame,
    site: Any,
) -> pd.DataFrame:
    """The bounds on strength, age and entry proof that the claims of each brief set."""
    from plugins.label_age.ahead import limits

    court = _planning_court(components, component_ages, casks, briefs, bottlings, site)
    return _build(LIMITS, list(limits(court)))


def _build(frame: Any, rows: list[dict[str, Any]]) -> pd.DataFrame:
    columns = {name: [row[name] for row in rows] for name in frame.names}
    return frame.build(columns, [row["facts"] for row in rows])


def _court(
    components: pd.DataFrame,
    component_ages: pd.DataFrame,
    casks: pd.DataFrame,
    briefs: pd.DataFrame,
    bottlings: pd.DataFrame,
    balances: pd.DataFrame | None,
    site: Any,
    undrawn: bool = False,
    strengths: Strengths = (),
) -> tuple[Court, list[Finding]]:
    from plugins.label_age.facts import gather
    from plugins.label_age.judge import Court
    from plugins.label_age.rules import read_rules

    book, broken = read_rules(site.data.get("rules", ()))
    facts = gather(components, component_ages, casks, briefs, bottlings, balances, site.book_date, undrawn, strengths)
    return Court(facts, book), [_broken_file(fault) for fault in broken]


def _planning_court(
    components: pd.DataFrame,
    component_ages: pd.DataFrame,
    casks: pd.DataFrame,
    briefs: pd.DataFrame,
    bottlings: pd.DataFrame,
    site: Any,
) -> Court:
    """Drawn batches as they are, and undrawn briefs with all of the stock."""
    import pandas as pd

    from plugins.label_age.ageing import age_components
    from plugins.label_age.ahead import candidates

    possible = candidates(briefs, casks, components, site.book_date)
    if len(possible):
        components = pd.concat([components, possible], ignore_index=True)
        component_ages = pd.concat([component_ages, age_components(possible)], ignore_index=True)
    return _court(components, component_ages, casks, briefs, bottlings, None, site, undrawn=True)[0]


def _broken_file(fault: Any) -> Finding:
    return Finding(
        code="label.rule-file-broken",
        severity="stop",
        message=f"The rule file {fault.place} does not count: {fault.message}.",
        subject=fault.name,
        observed=fault.message,
        expected="a rule file as plugins/label_age/README.md describes it",
        remedy="Mend the file; until then its rules judge nothing.",
    )


def _without_market(court: Court) -> list[Finding]:
    facts = court.facts
    return [
        Finding(
            code="label.no-market",
            severity="note",
            message=f"No label claim of batch {batch} was judged: its brief names no market.",
            subject=batch,
            batch=batch,
            facts=facts.origins["brief"][number],
            column="market",
            observed="no market",
            expected="a market such as US, EU or UK",
            remedy="Name the market in the brief.",
        )
        for number, batch in enumerate(facts.batches)
        if not (facts.tables["batch"].text("market")[number] or "").strip(" ,;")
    ]


def _finding(verdict: Verdict) -> Finding:
    code = verdict.finding if verdict.word == "not met" else "label.cannot-tell"
    if verdict.finding in ("label.unknown-claim", "label.no-rules-for-market"):
        code = verdict.finding
    told = verdict.told
    first = told.facts[:1] if set(told.facts) <= set(verdict.facts) else ()
    others = tuple(fact for fact in verdict.facts if fact not in first)
    remedy = verdict.remedy
    if code == "label.cannot-tell" and told.column and told.observed == "not known":
        remedy = f"Bring what is missing: {told.text}."
    return Finding(
        code=code,
        severity="note" if verdict.not_due else SEVERITIES[verdict.word],
        message=f"Label claim {verdict.claim!r} ({verdict.market}) of batch {verdict.batch}. {verdict.reason}",
        subject=f"{verdict.batch} · {verdict.market} · {verdict.claim}",
        batch=verdict.batch,
        facts=first + others,
        column=told.column if first else "",
        observed=f"{told.subject}: {told.observed}" if told.subject else told.observed,
        expected=told.expected,
        rule=verdict.section,
        remedy=remedy,
    )
