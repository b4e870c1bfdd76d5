"""Which claims are judged, under which version, and what the verdicts and findings say."""

from __future__ import annotations

import json
from typing import Any

import pytest

from tests.label_age.kit import Room, brief, cask, data_file, line, malt, shipped


def findings(room: Room) -> dict[str, Any]:
    return {finding.code: finding for finding in room.judged()[1]}


def test_only_the_markets_of_the_brief_are_judged() -> None:
    """A market is judged when the brief names it, several when it names several, in its own claims."""
    room = Room([malt()], briefs=[brief(market="EU; uk", claims="single malt", bottle_size_L=0.7, bottling_abv=50.0)])
    assert {market for market, _ in room.verdicts()} == {"EU", "UK"}


def test_no_market_no_verdict_and_a_note() -> None:
    """Without a market nothing is judged, and a note says so."""
    room = Room(briefs=[brief(market=None, claims="straight")])
    assert room.verdicts() == {}
    note = findings(room)["label.no-market"]
    assert (note.severity, note.batch, note.column) == ("note", "B-1", "market")


def test_a_market_without_a_rule_file() -> None:
    """A market that no file holds: every claim cannot be told, and the nearest is named."""
    room = Room(briefs=[brief(market="UKK", claims="single malt")])
    assert room.verdict("single malt", "UKK") == "cannot tell"
    finding = findings(room)["label.no-rules-for-market"]
    assert "no rule file holds the market 'UKK'; the nearest is 'uk'" in finding.message


def test_a_brief_without_components_has_no_verdict() -> None:
    """A batch of which nothing is drawn is not judged yet."""
    assert Room(lines=[]).verdicts() == {}


def test_claims_are_kept_as_written_in_lower_case() -> None:
    """The claim in the record is the brief's, in lower case, each once."""
    room = Room(briefs=[brief(claims="Straight Bourbon-Whiskey; BOTTLED IN BOND, straight bourbon-whiskey")])
    claims = [claim for _, claim in room.verdicts()]
    assert claims[:2] == ["straight bourbon-whiskey", "bottled in bond"]
    assert len(claims) == len(set(claims))


def test_a_claim_that_nobody_knows() -> None:
    """An unknown claim cannot be told, and the finding names the nearest."""
    room = Room(briefs=[brief(claims="botled in bond")])
    assert room.verdict("botled in bond") == "cannot tell"
    finding = findings(room)["label.unknown-claim"]
    assert finding.severity == "review"
    assert "no rule for US is called 'botled in bond'; the nearest is 'bottled in bond'" in finding.message


def test_a_claim_of_another_market() -> None:
    """A claim that only another market knows says which."""
    room = Room(briefs=[brief(market="EU", claims="bottled in bond")])
    assert "it is a claim of US" in room.row("bottled in bond", "EU")["reason"]


def test_an_age_among_the_claims() -> None:
    """An age written as a claim is told where it belongs."""
    room = Room(briefs=[brief(claims="6 years old")])
    assert "age_statement" in findings(room)["label.unknown-claim"].remedy


def test_the_day_of_the_law() -> None:
    """The earliest bottling chooses the version, else the brief's due, else the book date."""
    early = {"batch": "B-1", "bottled_on": "2024-12-30", "bottle_size_L": 0.7, "bottles": 10}
    late = early | {"bottled_on": "2025-02-01", "run": "2"}
    claim = "standard of fill"
    assert Room(bottlings=[late, early]).row(claim)["rule_version"] == "2022-03-11"
    assert Room(bottlings=[late], briefs=[brief(due="2024-01-01")]).row(claim)["rule_version"] == "2025-01-10"
    assert Room(briefs=[brief(due="2024-01-01")]).row(claim)["rule_version"] == "2022-03-11"
    assert Room().row(claim)["rule_version"] == "2025-01-10"


def test_no_day_no_law() -> None:
    """With no bottling, due or book date at all no version can be chosen, and that is said."""
    row = Room(book_date=None).row("minimum strength")
    assert row["verdict"] == "cannot tell"
    assert "the law of no day can be chosen" in row["reason"]


def test_a_bottling_before_the_first_version() -> None:
    """A bottling older than the versions held is not judged by later law."""
    run = {"batch": "B-1", "bottled_on": "2021-05-05", "bottle_size_L": 0.75, "bottles": 10}
    row = Room(bottlings=[run], briefs=[brief(claims="straight")]).row("straight")
    assert row["verdict"] == "cannot tell"
    assert "the first is of 2022-03-11" in row["reason"]


def test_every_run_must_keep_its_label() -> None:
    """Two runs with two labels: the one that is off fails the batch and is named."""
    run = {"batch": "B-1", "bottled_on": "2026-02-20", "bottle_size_L": 0.75, "bottles": 10, "label_abv": 50.0}
    off = run | {"run": "2", "label_abv": 45.0}
    row = Room(bottlings=[run, off]).row("bottling strength")
    assert row["verdict"] == "not met"
    assert "within 0.3 of the label of 45 % vol" in row["reason"]
    assert "the bottling of 2026-02-20, run 2" in row["reason"]


def test_reasons_name_cask_dates_and_limit() -> None:
    """An overstated age names the cask, its two days, its age and the statement, and is a stop at the cask's cell."""
    room = Room(
        [cask("C-1"), cask("C-2", filled_on="2022-02-11")],
        briefs=[brief(claims="straight", age_statement="4 years")],
    )
    row = room.row("age statement")
    assert "cask C-2 is 3 years, 11 months and 30 days old (filled 2022-02-11, drawn 2026-02-10)" in row["reason"]
    assert "the stated age of 4 years is required" in row["reason"]
    finding = findings(room)["label.age-overstated"]
    assert (finding.severity, finding.batch, finding.rule) == ("stop", "B-1", "27 CFR 5.74")
    assert (finding.facts[0], finding.column) == (1001, "filled_on")
    assert "3 years, 11 months and 30 days" in finding.observed
    assert "youngest" in finding.remedy


def test_what_is_missing_names_its_sheet() -> None:
    """An unknown fact is named with the cask and the sheet's column, in the reason and the remedy."""
    room = Room([cask("C-1"), cask("C-2", entry_proof=None)], briefs=[brief(claims="straight")])
    reason = room.row("straight")["reason"]
    assert "the proof at entry into the wood of cask C-2 is not known (column entry_proof of the inventory)" in reason
    finding = findings(room)["label.cannot-tell"]
    assert (finding.severity, finding.facts[0], finding.column) == ("review", 1001, "entry_proof")
    assert "entry_proof" in finding.remedy


def test_met_names_the_youngest_and_the_strength() -> None:
    """A met claim says on what it rests: the youngest cask with its days, and the strength and whence it is."""
    room = Room([cask("C-1"), cask("C-2", filled_on="2022-02-10")], briefs=[brief(claims="bottled in bond")])
    reason = room.row("bottled in bond")["reason"]
    assert "youngest is cask C-2, 4 years (filled 2022-02-10, drawn 2026-02-10)" in reason
    assert "the vat as gauged: 100 proof at 60 °F" in reason


def test_an_expected_strength_is_called_so() -> None:
    """Where the vat is not gauged the expected strength is judged and called expected."""
    reason = Room(entry="expected").row("minimum strength")["reason"]
    assert "the blend as expected, not gauged: 100 proof" in reason


def test_an_apparent_strength_is_called_so() -> None:
    """A gauge without solids is apparent: the true strength can only be higher, and the reason says so."""
    reason = Room(proof=79.0, strength_basis="apparent").row("minimum strength")["reason"]
    assert "apparent strength" in reason and "can only be higher" in reason


def test_what_is_taken_as_given_is_marked() -> None:
    """Bonded storage is taken as given; the facts say assumed and so does the reason."""
    row = Room(briefs=[brief(claims="bottled in bond")]).row("bottled in bond")
    assert json.loads(row["facts_used"])["bonded_storage"] == "assumed"
    assert "stored in bond throughout" in row["reason"].partition("Assumed: ")[2]


def test_what_is_taken_as_given_beside_known_facts_is_marked() -> None:
    """One distiller, where one distillery is named, and nothing unlisted added are assumed beside what is known."""
    row = Room(briefs=[brief(claims="bottled in bond")]).row("bottled in bond")
    facts, said = json.loads(row["facts_used"]), row["reason"].partition("Assumed: ")[2]
    assert facts["distillery"] == {"known": "Alder Hollow", "assumed": "one distiller, as the distillery is one"}
    assert facts["substance"] == {"known": "spirit", "assumed": "nothing was added but the listed water"}
    assert facts["distillery"]["assumed"] in said and facts["substance"]["assumed"] in said


@pytest.mark.parametrize(
    ("market", "claim", "stock"),
    [("US", "straight", cask()), ("EU", "single malt", malt()), ("UK", "single malt", malt())],
)
def test_nothing_unlisted_is_assumed_by_every_rule_that_needs_it(market: str, claim: str, stock: Any) -> None:
    """Rules that forbid additions say in facts and reason that what is not listed is taken as not added."""
    row = Room([stock], briefs=[brief(market=market, claims=claim)]).row(claim, market)
    assert json.loads(row["facts_used"])["substance"]["assumed"] in row["reason"].partition("Assumed: ")[2]


def test_a_known_fact_that_fails_has_nothing_assumed_beside_it() -> None:
    """Two distilleries or a listed addition: what would be taken as given beside them is not."""
    stock = [cask("C-1"), cask("C-2", distillery="Stony Ford")]
    lines = [line("C-1"), line("C-2"), line("caramel", kind="addition")]
    row = Room(stock, lines, [brief(claims="bottled in bond")]).row("bottled in bond")
    assert row["verdict"] == "not met"
    assert json.loads(row["facts_used"])["distillery"] == ["Alder Hollow", "Stony Ford"]
    assert "one distiller," not in row["reason"] and "nothing was added but the listed water" not in row["reason"]


def test_what_cannot_be_told_before_bottling_is_a_note() -> None:
    """No bottle size and no label strength: a note while nothing is bottled; a label missing at bottling: a review."""
    bare = brief(bottling_proof=None, bottle_size_L=None, age_statement="4 years")
    run = {"batch": "B-1", "bottled_on": "2026-02-20", "bottle_size_L": 0.75, "bottles": 10}
    before = {f.subject.split(" · ")[2]: f.severity for f in Room(briefs=[bare]).judged()[1]}
    after = {f.subject.split(" · ")[2]: f.severity for f in Room(briefs=[bare], bottlings=[run]).judged()[1]}
    assert before == {"standard of fill": "note", "bottling strength": "note"}
    assert after == {"bottling strength": "review"}


def test_supervision_is_taken_as_given() -> None:
    """A European age statement takes revenue supervision of one's own casks as given."""
    row = Room([malt()], briefs=[brief(market="EU", age_statement="4")]).row("age statement", "EU")
    assert json.loads(row["facts_used"])["under_supervision"] == "assumed"
    assert "Assumed: one's own casks aged under revenue supervision" in row["reason"]


def test_facts_used_are_json_with_values() -> None:
    """The facts come with their values, differing ones as bounds or lists, unknown ones named."""
    room = Room(
        [cask("C-1"), cask("C-2", entry_proof=110.0), cask("C-3", charred=None)], briefs=[brief(claims="straight")]
    )
    facts = json.loads(room.row("straight")["facts_used"])
    assert facts["entry_proof"] == {"from": 110.0, "to": 120.0}
    assert facts["charred"] == {"known": True, "not known of": ["cask C-3"]}
    assert facts["distillery"] == "Alder Hollow"


@pytest.mark.parametrize("market", ["US", "EU", "UK"])
def test_unverified_rules_say_so(market: str) -> None:
    """No verdict of a rule that was not read in the law in force goes without the word unverified."""
    room = Room(
        [malt()], briefs=[brief(market=market, claims="single malt; whisky", age_statement="4", bottle_size_L=0.7)]
    )
    labels, _ = room.judged()
    marked = labels[labels["unverified"]]
    assert len(marked)
    assert marked["reason"].str.contains("Unverified:").all()
    assert not labels[~labels["unverified"].astype(bool)]["reason"].str.contains("Unverified:").any()


def test_a_rule_that_rests_on_an_unverified_one_is_unverified() -> None:
    """What was not verified carries through references."""
    row = Room([malt(country="England")], briefs=[brief(market="UK", claims="whisky")]).row("whisky", "UK")
    assert row["unverified"]


def test_under_four_years_the_age_must_be_stated() -> None:
    """A missing statement is a finding of its own, unverified and a stop."""
    room = Room([cask(filled_on="2022-02-11")])
    finding = findings(room)["label.age-statement-missing"]
    assert finding.severity == "stop"
    assert finding.message.endswith(" The rule is unverified.")


def test_a_broken_rule_file_is_a_finding() -> None:
    """A broken file of a site stops, names file and line, and the shipped rules still judge."""
    broken = data_file("house.toml", 'market = "US"\n[[rule]]\nid = 3\n', "house")
    room = Room(rules=(*shipped(), broken))
    finding = findings(room)["label.rule-file-broken"]
    assert finding.severity == "stop"
    assert "house: house.toml, line 2" in finding.message
    assert room.verdict("minimum strength") == "met"


@pytest.mark.long
def test_a_site_overrules_with_a_later_version() -> None:
    """A version that a site adds judges from its day on."""
    text = """
market = "US"
[[rule]]
id = "us.minimum-strength"
claim = "minimum strength"
judged = "always"
section = "House rule 1"
in_force_from = 2026-01-01
source = "seen"
text = "house rule of 2026"
read = 2026-01-01
plain = "The house bottles at 90 proof at least."
[rule.demands]
strength = "the strength is at least 90 proof"
[[rule.need]]
tests = "strength"
fact = "proof"
at_least = 90
"""
    room = Room(rules=(*shipped(), data_file("house.toml", text, "house")), proof=85.0)
    row = room.row("minimum strength")
    assert (row["verdict"], row["rule"], row["rule_version"]) == ("not met", "House rule 1", "2026-01-01")


def test_each_verdict_rests_on_the_facts_it_used() -> None:
    """A strength rests on brief and gauge, an age on brief, casks and lines; nothing rests on another batch."""
    other = [line("C-1", batch="B-2", drawn_at="2026-01-05")]
    room = Room([cask()], [line(), *other], [brief(), brief(batch="B-2")])
    assert set(room.row("minimum strength")["facts"]) == {3000, 5000}
    assert set(room.row("age statement")["facts"]) == {1000, 2000, 3000}


def test_findings_of_one_batch_have_subjects_of_their_own() -> None:
    """Two claims that fail for one cell are two findings: their subjects differ."""
    room = Room([cask(entry_proof=126.0)], briefs=[brief(claims="straight; straight bourbon; bourbon")])
    subjects = [finding.subject for finding in room.judged()[1]]
    assert len(subjects) == len(set(subjects)) == 3


def test_water_alone_shows_nothing() -> None:
    """A batch without spirit cannot meet anything: no age is shown by no cask."""
    room = Room([cask()], [line("water", kind="water")], [brief(claims="straight")])
    assert room.verdict("straight") == "cannot tell"


def test_water_to_come_is_said_and_holds_nothing() -> None:
    """A vat of 1,000 kg at 60 % of mass, to be bottled at 100 proof: mass × (w/w′ − 1) of water, then a gauge."""
    from plugins.proof import mass_fraction_from_proof

    target = float(mass_fraction_from_proof(100.0))
    asked = brief(bottling_proof=100.0, claims="bottled in bond")
    room = Room(briefs=[asked], proof=134.0, abv=67.0, mass_kg=1000.0, ethanol_kg=600.0)
    litres = 1000.0 * (0.6 / target - 1) / 0.9982
    labels, findings = room.judged()
    said = labels.set_index("claim").loc[["bottling strength", "bottled in bond"]]
    assert (said["verdict"] == "cannot tell").all()
    assert said["reason"].str.contains(f"to come: {litres:,.0f} L of water, then gauge").all()
    told = [f for f in findings if f.code == "label.cannot-tell"]
    assert len(told) == 2 and {f.severity for f in told} == {"note"}
