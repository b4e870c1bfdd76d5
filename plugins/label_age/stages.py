"""The stages of this plugin: stays and ages, verdicts on label claims, and what the claims allow before pouring."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from pipeline import Finding, stage
from plugins.label_age.declared.frames import (
    AGES,
    CLAIM_SHARES,
    COMPONENT_AGES,
    DESIGNATIONS,
    ELIGIBILITY,
    GROUNDS,
    LABEL_WORDS,
    LABELS,
    LIMITS,
    RULE_DOUBTS,
    STATEMENTS,
    STAYS,
)

if TYPE_CHECKING:
    import pandas as pd

    from plugins.label_age.facts.cells import Strengths
    from plugins.label_age.facts.tables import Table
    from plugins.label_age.judging.judge import Court


OF_STAYS = "casks.cask = stays.cask or components.component"
OF_BATCHES = f"{OF_STAYS}, readings.vessel = briefs.vessel or components.component"


@stage(gives=STAYS)
def follow_stays(
    components: pd.DataFrame,
    casks: pd.DataFrame,
    movements: pd.DataFrame,
    briefs: pd.DataFrame,
    bottlings: pd.DataFrame,
) -> tuple[pd.DataFrame, list[Finding]]:
    """Each cask that each line's spirit lay in, back through movements, vats, heels and earlier batches."""
    from plugins.label_age.facts.stays import find_stays

    return find_stays(components, casks, movements, briefs, bottlings)


@stage(gives=COMPONENT_AGES, per="batch")
def age_of_components(stays: pd.DataFrame) -> pd.DataFrame:
    """Whole years, months and days of each component in wood up to its earliest draw, never rounded up."""
    from plugins.label_age.facts.ageing import age_components

    return age_components(stays)


@stage(gives=AGES, per="batch")
def age_of_batches(component_ages: pd.DataFrame) -> pd.DataFrame:
    """The age of a batch is that of its youngest component."""
    from plugins.label_age.facts.ageing import age_batches

    return age_batches(component_ages)


@stage(gives=LABELS, per="batch", links=OF_BATCHES)
def judge_labels(
    components: pd.DataFrame,
    stays: pd.DataFrame,
    casks: pd.DataFrame,
    briefs: pd.DataFrame,
    bottlings: pd.DataFrame,
    site: Any,
    balances: pd.DataFrame | None = None,
    fill_checks: pd.DataFrame | None = None,
    readings: pd.DataFrame | None = None,
    blends: pd.DataFrame | None = None,
) -> tuple[pd.DataFrame, list[Finding]]:
    """Each label claim against the rule it rests on, in each market of the brief: met, not met, cannot tell."""
    from plugins.label_age.judging.label_rows import Labels
    from plugins.label_age.parts import in_parts

    frames: dict[str, Any] = {
        **{"components": components, "stays": stays, "casks": casks, "briefs": briefs, "bottlings": bottlings},
        **{"balances": balances, "fill_checks": fill_checks, "readings": readings, "blends": blends},
    }
    made = Labels()
    for part in in_parts(frames):
        strengths = ((part.pop("readings"), "reading"), (part.pop("blends"), "drawn_proof"), (part["casks"], "proof"))
        made.add(_court(**part, site=site, strengths=strengths)[0])
    return LABELS.build(made.columns, made.facts), [*made.without_market, *made.findings]


@stage(gives=RULE_DOUBTS, links="casks.cask = stays.cask")
def doubt_rules(casks: pd.DataFrame, stays: pd.DataFrame, site: Any) -> tuple[pd.DataFrame, list[Finding]]:
    """Rule files that do not count, rules that decide nothing, casks of batches that the inventory contradicts."""
    from plugins.label_age.judging.label_rows import broken_file, of_house

    book, broken = _rules(site)
    return RULE_DOUBTS.empty(), [*map(broken_file, broken), *of_house(book, casks, stays)]


@stage(gives=ELIGIBILITY)
def find_eligible(
    components: pd.DataFrame,
    stays: pd.DataFrame,
    casks: pd.DataFrame,
    movements: pd.DataFrame,
    briefs: pd.DataFrame,
    bottlings: pd.DataFrame,
    site: Any,
) -> pd.DataFrame:
    """Which components each claim allows, of the batch or, with nothing drawn, of the stock."""
    from plugins.label_age.judging.before_pouring import eligibility

    court = _planning_court(components, stays, casks, movements, briefs, bottlings, site)
    return _build(ELIGIBILITY, list(eligibility(court)))


@stage(gives=CLAIM_SHARES)
def find_shares(
    components: pd.DataFrame,
    stays: pd.DataFrame,
    casks: pd.DataFrame,
    movements: pd.DataFrame,
    briefs: pd.DataFrame,
    bottlings: pd.DataFrame,
    site: Any,
) -> pd.DataFrame:
    """The shares that each claim asks for, of the batch or, with nothing drawn, of the stock."""
    from plugins.label_age.judging.shares_before_pouring import claim_shares

    court = _planning_court(components, stays, casks, movements, briefs, bottlings, site)
    return _build(CLAIM_SHARES, list(claim_shares(court)))


@stage(gives=LIMITS)
def find_limits(
    components: pd.DataFrame,
    stays: pd.DataFrame,
    casks: pd.DataFrame,
    briefs: pd.DataFrame,
    bottlings: pd.DataFrame,
    site: Any,
) -> pd.DataFrame:
    """The bounds on strength, age and entry proof that the claims of each brief set."""
    from plugins.label_age.judging.before_pouring import limits

    court, _ = _court(components, stays, casks, briefs, bottlings, site, undrawn=True)
    return _build(LIMITS, list(limits(court)))


@stage(gives=DESIGNATIONS, wait=True)
def find_designations(
    components: pd.DataFrame,
    stays: pd.DataFrame,
    casks: pd.DataFrame,
    movements: pd.DataFrame,
    briefs: pd.DataFrame,
    bottlings: pd.DataFrame,
    site: Any,
    balances: pd.DataFrame | None = None,
) -> pd.DataFrame:
    """What each batch may be called, what it nearly may, and which components stop it."""
    from plugins.label_age.judging.designations import designations

    court = _planning_court(components, stays, casks, movements, briefs, bottlings, site, balances)
    return _build(DESIGNATIONS, list(designations(court, set(components["batch"].dropna()))))


@stage(gives=STATEMENTS, per="batch", links=OF_STAYS, wait=True)
def find_statements(
    components: pd.DataFrame,
    stays: pd.DataFrame,
    casks: pd.DataFrame,
    briefs: pd.DataFrame,
    bottlings: pd.DataFrame,
    site: Any,
    balances: pd.DataFrame | None = None,
) -> pd.DataFrame:
    """What the label of each drawn batch states by the rules, in their words."""
    from plugins.label_age.judging.statements import statements

    court, _ = _court(components, stays, casks, briefs, bottlings, site, balances)
    return _build(STATEMENTS, list(statements(court)))


@stage(gives=GROUNDS, per="batch", links=OF_BATCHES, wait=True)
def find_grounds(
    components: pd.DataFrame,
    stays: pd.DataFrame,
    casks: pd.DataFrame,
    briefs: pd.DataFrame,
    bottlings: pd.DataFrame,
    site: Any,
    balances: pd.DataFrame | None = None,
    fill_checks: pd.DataFrame | None = None,
    readings: pd.DataFrame | None = None,
    blends: pd.DataFrame | None = None,
) -> pd.DataFrame:
    """Each demand of a claim with its section, the cask that it hangs on, and the cell."""
    from plugins.label_age.judging.grounds import grounds

    strengths = ((readings, "reading"), (blends, "drawn_proof"), (casks, "proof"))
    court, _ = _court(components, stays, casks, briefs, bottlings, site, balances, fill_checks, strengths=strengths)
    return _build(GROUNDS, list(grounds(court)))


@stage(gives=LABEL_WORDS, per="batch", links=OF_STAYS)
def proof_labels(
    label_text: pd.DataFrame,
    components: pd.DataFrame,
    stays: pd.DataFrame,
    casks: pd.DataFrame,
    briefs: pd.DataFrame,
    bottlings: pd.DataFrame,
    site: Any,
    balances: pd.DataFrame | None = None,
) -> tuple[pd.DataFrame, list[Finding]]:
    """The words on each label against sheets and rules: missing, contradicting, not allowed, not judged."""
    from plugins.label_age.comparing.told import proof_of_labels

    if label_text.empty:
        return LABEL_WORDS.empty(), []
    frames = {
        **{"components": components, "stays": stays, "casks": casks, "briefs": briefs},
        **{"bottlings": bottlings, "balances": balances},
    }
    rows, findings = proof_of_labels(label_text, frames, _rules(site)[0], site.book_date)
    return _build(LABEL_WORDS, rows), findings


def _build(frame: Any, rows: list[dict[str, Any]]) -> pd.DataFrame:
    columns = {name: [row.get(name) for row in rows] for name in frame.names}
    return frame.build(columns, [row["facts"] for row in rows])


def _court(
    components: pd.DataFrame,
    stays: pd.DataFrame,
    casks: pd.DataFrame,
    briefs: pd.DataFrame,
    bottlings: pd.DataFrame,
    site: Any,
    balances: pd.DataFrame | None = None,
    fill_checks: pd.DataFrame | None = None,
    undrawn: bool = False,
    strengths: Strengths = (),
    fillings: Table | None = None,
) -> tuple[Court, list[Finding]]:
    from plugins.label_age.facts.all_facts import gather
    from plugins.label_age.judging.judge import Court
    from plugins.label_age.judging.label_rows import broken_file

    book, broken = _rules(site)
    facts = gather(
        components, stays, casks, briefs, bottlings, balances, fill_checks, site.book_date, undrawn, strengths, fillings
    )
    return Court(facts, book), [broken_file(fault) for fault in broken]


def _rules(site: Any) -> Any:
    """The book of rules in force, and what is wrong with files of it."""
    from plugins.label_age.rules.files import read_rules

    return read_rules(site.data.get("rules", ()))


def _planning_court(
    components: pd.DataFrame,
    stays: pd.DataFrame,
    casks: pd.DataFrame,
    movements: pd.DataFrame,
    briefs: pd.DataFrame,
    bottlings: pd.DataFrame,
    site: Any,
    balances: pd.DataFrame | None = None,
) -> Court:
    """Drawn batches as they are, and undrawn briefs with all of the stock."""
    import pandas as pd

    from plugins.label_age.facts.stays import find_stays
    from plugins.label_age.judging.before_pouring import candidates

    possible = candidates(briefs, casks, components, site.book_date)
    if len(possible):
        more, _ = find_stays(possible, casks, movements, briefs, bottlings, beside=components)
        stays = pd.concat([stays, more], ignore_index=True)
        components = pd.concat([components, possible], ignore_index=True)
    return _court(components, stays, casks, briefs, bottlings, site, balances, undrawn=True)[0]
