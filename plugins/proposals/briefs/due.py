"""Which briefs are to be proposed, and what is wrong with those that cannot be."""

from __future__ import annotations

import difflib
import json
import re
from typing import Any

import pandas as pd

from pipeline import Finding, stage
from plugins.proposals.briefs.remarks import left_out, trial_faults
from plugins.proposals.briefs.share_claims import counting, stated_claims, stated_share
from plugins.proposals.briefs.wishes import known_families, meant_batch, nearest, target_rows
from plugins.proposals.declared.frames import DUE
from plugins.proposals.declared.settings import TABLE
from plugins.proposals.stock.stock import folded

BRIEF = (
    "market", "volume_L", "bottling_proof", "bottling_abv", "bottle_size_L", "bottles_wanted", "age_statement",
    "claims", "target", "max_casks", "whole_casks", "due", "keep", "depart_on", "untasted",
)  # fmt: skip
AIM = ("family", "intensity", "low", "high", "weight")


@stage(gives=DUE)
def find_due(
    briefs: pd.DataFrame,
    targets: pd.DataFrame,
    stock: pd.DataFrame,
    site: Any,
    components: pd.DataFrame | None = None,
    profiles: pd.DataFrame | None = None,
    eligibility: pd.DataFrame | None = None,
    claim_shares: pd.DataFrame | None = None,
    limits: pd.DataFrame | None = None,
    casks: pd.DataFrame | None = None,
    trials: pd.DataFrame | None = None,
) -> tuple[pd.DataFrame, list[Finding]]:
    """Briefs that name a target: complete and not drawn yet they are open; what keeps others shut is a finding."""
    mine = briefs[briefs["target"].notna()].drop_duplicates("batch", keep="last")
    judged = [] if eligibility is None else [f for f in (eligibility, claim_shares, limits) if f is not None]
    drawn = set() if components is None else set(components["batch"].dropna())
    known = known_families(site, profiles)
    findings: list[Finding] = list(strange_families(targets, known))
    rows: dict[str, list[Any]] = {"batch": [], "basis": [], "open": []}
    facts = []
    briefed: list[dict[str, Any]] = mine.to_dict("records")  # type: ignore[assignment]
    for brief in briefed:
        aim = target_rows(str(brief["target"]), targets)
        own = tuple(sorted({*brief["facts"], *(fact for ids in aim["facts"] for fact in ids)}))
        done = brief["batch"] in drawn
        asked = brief["untasted"] if pd.notna(brief["untasted"]) else site[f"{TABLE}.untasted"]
        arguments = (brief, aim, targets, stock, profiles, judged, known, casks, asked == "average")
        wrong = [] if done else list(faults(*arguments))
        findings.extend(wrong)
        if trials is not None and not done:
            findings.extend(trial_faults(brief, trials, stock))
        rows["batch"].append(brief["batch"])
        rows["basis"].append(basis(brief, aim))
        rows["open"].append(not done and profiles is not None and not any(f.severity == "stop" for f in wrong))
        facts.append(own)
    return DUE.build(rows, facts), findings


def basis(brief: dict[str, Any], aim: pd.DataFrame) -> str:
    """What a brief asks, as one text that is equal when the content is."""
    asked = {name: _plain(brief.get(name)) for name in BRIEF if _plain(brief.get(name)) is not None}
    wanted = sorted([_plain(row[name]) for name in AIM] for row in aim.to_dict("records"))
    return json.dumps([asked, wanted], sort_keys=True, ensure_ascii=False, separators=(",", ":"), default=str)


def _plain(value: Any) -> Any:
    if value is None or pd.isna(value):
        return None
    if isinstance(value, pd.Timestamp):
        return value.strftime("%Y-%m-%d")
    if isinstance(value, float):
        return float(f"{value:.12g}")
    return bool(value) if type(value).__name__ == "bool" else value


def strange_families(targets: pd.DataFrame, known: set[str]) -> Any:
    """Families of house profiles that nobody knows; they are left out of the target."""
    for row in targets[~targets["family"].isin(known)].to_dict("records"):
        near = difflib.get_close_matches(str(row["family"]), sorted(known), 1, 0.4)
        yield Finding(
            "targets.unknown-family",
            "review",
            f"House profile {row['target']} names the family {row['family']!r}, which the lexicon does not have; it is "
            f"left out of the target{f'. Did you mean {near[0]}?' if near else '.'}",
            subject=str(row["target"]),
            facts=row["facts"],
            column="family",
            observed=str(row["family"]),
            expected="a family of the lexicon",
            remedy="Correct the family and drop the profile again.",
        )


def faults(
    brief: dict[str, Any],
    aim: pd.DataFrame,
    targets: pd.DataFrame,
    stock: pd.DataFrame,
    profiles: pd.DataFrame | None,
    judged: list[pd.DataFrame],
    known: set[str],
    casks: pd.DataFrame | None = None,
    average: bool = False,
) -> Any:
    """Findings on a brief that cannot be proposed as it stands (stop), or in part (review)."""
    batch = str(brief["batch"])

    def said(code: str, message: str, column: str, remedy: str, severity: str = "stop") -> Finding:
        return Finding(
            code, severity, f"{batch} cannot be proposed: {message}" if severity == "stop" else f"{batch}: {message}",
            subject=batch, batch=batch, facts=brief["facts"], column=column, remedy=remedy,
        )  # fmt: skip

    by_bottles = brief.get("bottles_wanted", 0) > 0 and brief["bottle_size_L"] > 0
    if not (brief["volume_L"] > 0) and not by_bottles:
        yield said("proposals.no-volume", "the brief states neither a volume nor bottles.", "volume", "State one.")
    stated = brief["bottling_proof"] if pd.notna(brief["bottling_proof"]) else brief["bottling_abv"]
    if not stated > 0:
        yield said("proposals.no-strength", "the brief states no bottling strength.", "bottling_proof", "State it.")
    if not len(aim) and not meant_batch(str(brief["target"]), profiles):
        near = nearest(str(brief["target"]), targets)
        yield said(
            "proposals.unknown-target",
            f"its target {brief['target']!r} is no house profile, and no batch or sample of that name was tasted"
            f"{f'; did you mean {near}?' if near else '.'}",
            "target",
            "Drop a sheet of targets for it, or name a tasted batch.",
        )
    elif (
        len(aim)
        and not (aim["family"].isin(known) & aim["intensity"].notna() & aim["weight"].fillna(1.0).gt(0.0)).any()
    ):
        yield said(
            "proposals.target-without-numbers",
            f"its target {brief['target']!r} gives no intensity that counts for any known family.",
            "target",
            "Give intensities from 0 to 10, and a weight above 0 to one at least.",
        )
    if not judged:
        yield said("proposals.no-label-check", "what its claims allow could not be worked out.", "claims", "See above.")
    else:
        yield from _unknown_claims(brief, judged, stock, casks, said)
    kept = str(brief.get("keep")) if pd.notna(brief.get("keep")) else ""
    names = set(folded(stock["cask"])) if len(stock) else set()
    lost = [n.strip() for n in re.split(r"[,;]", kept) if n.strip() and n.strip().casefold() not in names]
    if lost:
        yield said(
            "proposals.unknown-cask", f"casks to keep for later are not in stock: {', '.join(lost)}.", "keep",
            "Correct the names.", "review",
        )  # fmt: skip
    away = brief.get("depart_on")
    if pd.notna(away) and str(away) not in _wanted(aim, brief, profiles, known):
        like = difflib.get_close_matches(str(away), sorted(known), 1, 0.4)
        yield said(
            "proposals.unknown-departure",
            f"it wants a proposal that departs on {away!r}, which its target does not have; another family is taken"
            f"{f'. Did you mean {like[0]}?' if like else '.'}",
            "depart_on", "Name a family of the target.", "review",
        )  # fmt: skip
    yield from left_out(stock, said, average)
    if not len(stock):
        yield said("proposals.no-stock", "there is no inventory of casks yet.", "batch", "Drop one.")


def _wanted(aim: pd.DataFrame, brief: dict[str, Any], profiles: pd.DataFrame | None, known: set[str]) -> set[str]:
    """The families that the target speaks of."""
    if len(aim):
        return set(aim.loc[aim["intensity"].notna(), "family"]) & known
    like = meant_batch(str(brief["target"]), profiles)
    return set(profiles.loc[folded(profiles["sample"]) == like, "family"]) if profiles is not None and like else set()


def _unknown_claims(
    brief: dict[str, Any], judged: list[pd.DataFrame], stock: pd.DataFrame, casks: pd.DataFrame | None, said: Any
) -> Any:
    """A claim that no rule of the brief's markets knows cannot be a constraint, so nothing is proposed on it."""
    claims = re.split(r"[,;]", str(brief["claims"])) if pd.notna(brief["claims"]) else []
    mine = [frame[frame["batch"] == brief["batch"]] for frame in judged]
    known = {str(claim).casefold() for frame in mine for claim in frame["claim"]}
    stated = stated_claims(brief)
    for claim in stated:
        share = stated_share(claim)
        if share and casks is not None and len(stock) and not counting(share[2], stock, casks).any():
            yield said(
                "proposals.unknown-claim",
                f"it asks for {claim!r}, and no cask's spirit, distillery, wood or earlier content says {share[2]!r}.",
                "claims",
                "Use the inventory's words.",
            )
    if not known:
        return
    for claim in (claim.strip() for claim in claims):
        if claim and claim.casefold() not in known and claim not in stated:
            yield said(
                "proposals.unknown-claim",
                f"no rule says which casks may be called {claim!r} in its markets.",
                "claims",
                "Use a claim that the rules know, state a share as in 'at least 40 % rye', or add a rule file.",
            )
