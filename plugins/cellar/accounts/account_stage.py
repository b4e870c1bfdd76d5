"""The stages ``account_lines`` and ``month_accounts``."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from pipeline import Finding, stage
from plugins.cellar.accounts import ledger
from plugins.cellar.accounts.postings import in_wood
from plugins.cellar.accounts.postings_goods import GOODS, in_goods, uncounted
from plugins.cellar.accounts.postings_vats import in_vats
from plugins.cellar.casks.histories import keyed
from plugins.cellar.declared.frames_stock import ACCOUNTS, LINES

TOUCH = 5  # tenths of a proof gallon by which a holder may stand below nothing before a person looks
MOST = 20


@stage(gives=LINES)
def post_accounts(
    fillings_of_casks: pd.DataFrame,
    cask_histories: pd.DataFrame,
    cask_changes: pd.DataFrame,
    components: pd.DataFrame,
    balances: pd.DataFrame,
    bottlings: pd.DataFrame,
    briefs: pd.DataFrame,
    movements: pd.DataFrame,
    proofs: pd.DataFrame,
    removals: pd.DataFrame,
) -> tuple[pd.DataFrame, list[Finding]]:
    """Fillings, gauges, draws, movements and bottlings → lines of the accounts, rounded as the law rounds them."""
    wood = in_wood(fillings_of_casks, cask_histories, cask_changes, components, movements)
    vats = in_vats(components, balances, bottlings, briefs, movements, proofs, keyed(fillings_of_casks))
    goods = in_goods(bottlings, balances, removals, briefs)
    rows = pd.concat([part for part in (wood, vats, goods) if len(part)] or [wood], ignore_index=True)
    rows = rows[rows["at"].notna()]
    if not len(rows):
        return LINES.empty(), uncounted(removals)
    made = ledger.lines(rows)
    gauged = np.where(made["gauge"].astype(bool), np.round(made["found"].to_numpy(float), 1), np.nan)
    columns: dict[str, Any] = {
        "line": np.arange(1, len(made) + 1),
        "month": made["at"].dt.strftime("%Y-%m"),
        "proof_gallons_official": made["pg_tenths"] / 10.0,
        "proof_gallons": made["pg"],
        "lpa_rounded": made["lpa_tenths"] / 10.0,
        "lpa": made["lpa"],
        "watered_L": made["watered_L"].where(made["entry"] == "watered"),
        "gauged_official": gauged,
        "bottles": made["bottles"].where(made["account"] == GOODS).to_numpy(float),
        "at": _shown(made["at"]),
    }
    for name in ("account", "spirit", "owner", "entry", "told", "basis", "cask", "batch", "vessel"):
        columns[name] = made[name].to_numpy(object)
    return LINES.build(columns, made["facts"]), _short(made) + _unsaid(made) + uncounted(removals)


def _shown(at: pd.Series) -> pd.Series:
    """Moments that were put at the end of a day only to be ordered are that day again."""
    at = at.astype("datetime64[us]")
    end = at.dt.normalize() + pd.Timedelta(1, "D") - pd.Timedelta(1, "us")
    return at.where(at != end, at.dt.normalize())


@stage(gives=ACCOUNTS)
def close_months(account_lines: pd.DataFrame) -> pd.DataFrame:
    """Lines of the accounts → month totals by account, spirit and entry, with opening and on hand."""
    if not len(account_lines):
        return ACCOUNTS.empty()
    rows = account_lines.assign(
        pg_tenths=np.rint(account_lines["proof_gallons_official"] * 10.0).astype(np.int64),
        lpa_tenths=np.rint(account_lines["lpa_rounded"] * 10.0).astype(np.int64),
        pg=account_lines["proof_gallons"],
        gauged=account_lines["gauged_official"],
        bottles=account_lines["bottles"].fillna(0.0),
    )
    made = ledger.months(rows)
    own = account_lines["facts"].to_numpy(object)
    facts = [tuple(sorted({fact for row in places for fact in own[row]})) for places in made["rows"]]
    columns: dict[str, Any] = {name: made[name].to_numpy(object) for name in ("month", "account", "spirit", "entry")}
    columns |= {
        "lines": made["lines"].astype(int),
        "proof_gallons_official": made["pg_tenths"].astype(float) / 10.0,
        "proof_gallons": made["pg"].astype(float),
        "lpa_rounded": made["lpa_tenths"].astype(float) / 10.0,
        "lpa": made["lpa"].astype(float),
        "watered_L": made["watered_L"].astype(float),
        "gauged_official": made["gauged"].astype(float),
        "bottles": made["bottles"].astype(float).where(made["account"] == GOODS).to_numpy(float),
    }
    return ACCOUNTS.build(columns, facts)


def _short(made: pd.DataFrame) -> list[Finding]:
    """Casks, vessels and batches out of which more was taken than was ever in them."""
    low = made[(made["held_tenths"] < -TOUCH) & ~made["finds"].astype(bool)]
    worst = low.sort_values("held_tenths").drop_duplicates(["account", "holder"]).head(MOST)
    found = []
    for row in worst.sort_values("at").to_dict("records"):
        name = next(str(row[key]) for key in ("cask", "vessel", "batch") if isinstance(row[key], str))
        short = -row["held_tenths"] / 10.0
        found.append(
            Finding(
                code="account.more-out-than-in",
                severity="review",
                message=f"By {row['at']:%Y-%m-%d} {short:.1f} proof gallons more were taken out of {name} than the "
                f"book had in it ({row['told']}).",
                subject=name,
                facts=tuple(row["facts"]),
                observed=f"{short:.1f} proof gallons below nothing",
                expected="no more out than in",
                rule="the account's own arithmetic",
                remedy="Send the gauge, receipt or movement that is missing, or correct the quantity taken out.",
            )
        )
    return found


def _unsaid(made: pd.DataFrame) -> list[Finding]:
    """Batches that were bottled and whose remainder nobody stated: the rest still stands on hand."""
    vats = made[made["holder"].astype(str).str.startswith("batch ")]
    bottled = set(vats.loc[vats["entry"] == "bottled", "holder"])
    stated = set(vats.loc[vats["told"].astype(str).str.startswith("remainder"), "holder"])
    last = vats.sort_values(["holder", "at", "order"], kind="stable").drop_duplicates("holder", keep="last")
    found = []
    for row in last[last["holder"].isin(bottled - stated) & (last["held_tenths"] > TOUCH)].to_dict("records"):
        left = row["held_tenths"] / 10.0
        found.append(
            Finding(
                code="account.remainder-not-stated",
                severity="note",
                message=f"{row['batch']} was bottled and no sheet says what remained; {left:.1f} proof gallons still "
                "stand on hand in vats.",
                subject=str(row["batch"]),
                facts=tuple(row["facts"]),
                column="remainder_volume",
                observed=f"{left:.1f} proof gallons on hand",
                expected="a remainder, 0 if nothing was left",
                remedy="Put the remainder of the last run into the bottling sheet; what is missing then is a loss.",
            )
        )
    return found
