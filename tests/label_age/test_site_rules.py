"""A site's folder that holds only rule files: a market and a rule more, with no Python; and what is wrong with them."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.audit.room import Room

MARKET = """
market = "ZZ"
names = ["Zedland"]

[[rule]]
id = "zz.minimum-age"
claim = "minimum age"
judged = "always"
section = "Zedland Act s. 4"
in_force_from = 2020-01-01
source = "seen"
text = "as in force in 2020"
read = 2026-11-30
plain = "Spirit is at least 6 years old."
remedy = "Wait."

[rule.demands]
age = "every spirit is at least 6 years old"

[[rule.need]]
tests = "age"
every = "spirit"
fact = "age"
at_least = "6 years"
"""
MORE = """
market = "US"

[[rule]]
id = "house.double-aged"
claim = "double aged"
section = "house rule 7"
in_force_from = 2020-01-01
source = "seen"
text = "house rule of 2020"
read = 2026-11-30
plain = "Double aged spirit lay at least 4 years in wood."

[rule.demands]
age = "every spirit is at least 4 years old"

[[rule.need]]
tests = "age"
every = "spirit"
fact = "age"
at_least = "4 years"
"""


def room(folder: Path, files: dict[str, str | bytes], table: str = "rules", claims: str = "double aged") -> Room:
    made = Room(folder)
    place = made.site / "our_rules" / "law" / table
    place.mkdir(parents=True)
    for name, text in files.items():
        (place / name).write_bytes(text if isinstance(text, bytes) else text.encode())
    site = (made.site / "site.toml").read_text("utf-8") if (made.site / "site.toml").exists() else ""
    (made.site / "site.toml").write_text('plugin_folders = ["our_rules"]\n' + site, "utf-8")
    made.table("casks.csv", "cask,filled_on", [("K1", "2020-06-01")])
    header = "batch,market,vessel,vessel_empty,claims,bottling_proof,bottle_size"
    made.table("briefs.csv", header, [("B1", "US; Zedland", "V1", "yes", claims, "100", "750 mL")])
    made.table("blends.csv", "batch,component,drawn_weight,drawn_at", [("B1", "K1", "50 kg", "2026-01-10")])
    readings = [(v, "2026-01-11", 100, "proof", "at 60 °F", "60 °F", "H-1") for v in ("K1", "V1")]
    made.table("readings.csv", "vessel,taken_at,reading,scale,state,temperature,instrument", readings)
    made.run()
    return made


def labels(made: Room, batch: str = "B1") -> dict[tuple[str, str], tuple[str, str]]:
    return {(row["market"], row["claim"]): (row["verdict"], row["rule"]) for row in made.record(batch)["label"]}


@pytest.mark.long
def test_a_site_adds_a_market_and_a_rule_without_python(tmp_path: Path) -> None:
    """Two rule files in a folder of the site: their market and their claim are judged, and cite their sections."""
    found = labels(room(tmp_path, {"zedland.toml": MARKET, "us_house.toml": MORE}))
    assert found["ZZ", "minimum age"] == ("not met", "Zedland Act s. 4")
    assert found["US", "double aged"] == ("met", "house rule 7")


@pytest.mark.long
@pytest.mark.parametrize(
    ("files", "table", "says"),
    [
        ({"zedland.toml": MARKET.replace("at_least = ", "at_leest = ")}, "rules", "law: zedland.toml, line 20"),
        ({"zedland.toml": MARKET.replace('market = "ZZ"', 'market = "ZZ')}, "rules", "law: zedland.toml, line 2"),
        ({"zedland.toml": MARKET.replace("zz.minimum-age", "us.whisky")}, "rules", "belongs to market US"),
        (
            {"zedland.toml": MARKET.replace('"Zedland"]', '"USA"]')},
            "rules",
            "the name 'usa' means the market US already",
        ),
    ],
)
def test_a_broken_file_of_the_site_is_named(tmp_path: Path, files: dict[str, str], table: str, says: str) -> None:
    """A fault is a finding with file and line and what was expected; the shipped rules go on judging."""
    made = room(tmp_path, files, table)
    found = [f for f in made.open("label.") if f["code"] == "label.rule-file-broken"]
    assert len(found) == 1 and says in found[0]["message"]
    assert ("US", "minimum strength") in labels(made)


@pytest.mark.long
@pytest.mark.parametrize(
    ("files", "table", "says"),
    [
        ({"zedland.toml": MARKET}, "rulez", "Nobody reads the files in law/rulez; did you mean rules?"),
        ({"zedland.toml": b"\xff\xfe\x00"}, "rules", "law/rules/zedland.toml is not UTF-8 text"),
    ],
)
def test_a_folder_that_nobody_reads_is_named(
    tmp_path: Path, files: dict[str, str | bytes], table: str, says: str
) -> None:
    """A misspelt table or a file that is no text is a problem on every page, in words."""
    made = room(tmp_path, files, table)
    assert says in (made.out / "index.html").read_text("utf-8").replace("&#39;", "'")
