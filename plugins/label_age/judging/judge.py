"""Which claims are judged for which market, and the verdict on each with its reason."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from typing import Any

import numpy as np

from plugins.label_age.facts.ages import read_stated_age
from plugins.label_age.facts.catalogue import BY_NAME, Fact
from plugins.label_age.facts.logic import FALSE, TRUE, UNKNOWN
from plugins.label_age.facts.tables import Facts
from plugins.label_age.judging.earliest import Calendar
from plugins.label_age.judging.verdict import UNVERIFIED, Cited, Verdict, day_of, law_of, markets_of
from plugins.label_age.rules.conditions import Both, Check, OtherRule, Quantified, Same, nearest
from plugins.label_age.rules.demands import Demand
from plugins.label_age.rules.evaluate import Judge
from plugins.label_age.rules.versions import Rule, RuleBook, claim_words, referred
from plugins.label_age.telling.missing import led_by, missing_of
from plugins.label_age.telling.plainly import Why, opening, why_failed, why_missing, why_open
from plugins.label_age.telling.sentences import NOTHING, Told, not_tested, tell
from plugins.label_age.telling.summary import Summaries, origins_of


class Court:
    """Judges the claims of all batches of one set of facts."""

    def __init__(self, facts: Facts, book: RuleBook) -> None:
        self.facts = replace(facts, days=[book.epoch(day) for day in facts.days])
        self.book = book
        self.judge = Judge(self.facts, book)
        self.summaries = Summaries(self.judge)
        self.calendar = Calendar(self.judge)
        self.each: dict[int, Any] = {}
        self._law: dict[tuple[str, date | None], list[Rule]] = {}
        self._doubts: dict[tuple[int, date | None], list[str]] = {}
        self._laid: dict[tuple[str, date | None], tuple[dict[str, list[Rule]], dict[str, list[Rule]]]] = {}
        self._applies: dict[int, list[int]] = {}
        self._holds: dict[int, list[int]] = {}
        self._told: dict[tuple[int, int], Told] = {}
        self._assumed: dict[int, list[tuple[Check | Same, list[bool]]]] = {}
        self._by_words: dict[tuple[str, ...], list[tuple[str, str]]] = {}
        self._unknown: dict[tuple[str, str], tuple[str, str]] = {}
        self._first_days: dict[int, list[int]] = {}
        self._cited: dict[tuple[Any, ...], Cited] = {}

    def verdicts(self) -> Iterator[Verdict]:
        """All verdicts, by batch, market as the brief has it, and claim."""
        table = self.facts.tables["batch"]
        known: dict[str, str | None] = {}
        for batch in range(len(self.facts.batches)):
            for written in markets_of(table.text("market")[batch]):
                if written not in known:
                    known[written] = self.book.market(written)
                market = known[written]
                if market is None:
                    yield from self._without_rules(batch, written)
                else:
                    yield from self._in_market(batch, market)

    def law(self, market: str, day: date | None) -> list[Rule]:
        """The rules of a market in force on a day."""
        key = (market, day)
        if key not in self._law:
            self._law[key] = self.book.of_market(market, day)
        return self._law[key]

    def claims(self, batch: int) -> tuple[str, ...]:
        return self.facts.tables["batch"].text("claims")[batch] or ()

    def _without_rules(self, batch: int, written: str) -> Iterator[Verdict]:
        known = {name: code for code, names in self.book.markets.items() for name in names}
        said = f"no rule file holds the market {written!r}{nearest(written.casefold(), known)}"
        for claim in self.claims(batch) or ("age statement",):
            yield self._plain(batch, written, claim, said, "label.no-rules-for-market",
                              "Add a rule file for the market, or correct the brief's column market.")  # fmt: skip

    def _in_market(self, batch: int, market: str) -> Iterator[Verdict]:
        day = self.facts.days[batch]
        by_name, always = self._laid_out(market, day)
        for words, claim in self._claimed(self.claims(batch)):
            rules = by_name.get(words)
            if rules is None:
                yield self._unanswered(batch, market, claim)
            elif not any(rule.judged == "always" for rule in rules):
                yield self._on(batch, market, claim, rules)
        for claim, rules in always.items():
            if len(rules) == 1 and rules[0].applies is None:
                yield self._by(batch, market, claim, rules)
            elif not rules:
                yield self._no_version(batch, market, claim)
            elif any([self.applies(rule, batch) != FALSE for rule in rules]):
                yield self._on(batch, market, claim, rules)

    def _claimed(self, claims: tuple[str, ...]) -> list[tuple[str, str]]:
        """The claims of a brief by their words, each once."""
        if claims not in self._by_words:
            self._by_words[claims] = list({claim_words(claim): claim for claim in claims}.items())
        return self._by_words[claims]

    def applies(self, rule: Rule, batch: int) -> int:
        if id(rule) not in self._applies:
            self._applies[id(rule)] = self.judge.applies(rule).tolist()
        return self._applies[id(rule)][batch]

    def holds(self, rule: Rule, batch: int) -> int:
        if id(rule) not in self._holds:
            self._holds[id(rule)] = self.judge.rule(rule).tolist()
        return self._holds[id(rule)][batch]

    def _laid_out(self, market: str, day: date | None) -> tuple[dict[str, list[Rule]], dict[str, list[Rule]]]:
        """The rules of a market on a day by claimed name, and those always judged by claim (empty: no version yet)."""
        if (market, day) not in self._laid:
            by_name: dict[str, list[Rule]] = {}
            always: dict[str, list[Rule]] = {
                rule.claim: [] for rule in self.book.rules if rule.market == market and rule.judged == "always"
            }
            for rule in self.law(market, day):
                for name in rule.names:
                    by_name.setdefault(name, []).append(rule)
                if rule.judged == "always":
                    always[rule.claim].append(rule)
            self._laid[market, day] = (by_name, always)
        return self._laid[market, day]

    def _unanswered(self, batch: int, market: str, claim: str) -> Verdict:
        if claim_words(claim) in self.book.known_claims(market):
            return self._no_version(batch, market, claim)
        if (market, claim) not in self._unknown:
            self._unknown[market, claim] = self._says_of_unknown(market, claim)
        said, remedy = self._unknown[market, claim]
        return self._plain(batch, market, claim, said, "label.unknown-claim", remedy)

    def _says_of_unknown(self, market: str, claim: str) -> tuple[str, str]:
        """That nobody knows the claim, what comes nearest or whose it is, and what to do."""
        near = nearest(claim_words(claim), self.book.known_claims(market))
        others = [m for m in self.book.markets if claim_words(claim) in self.book.known_claims(m)]
        near = f"; it is a claim of {', '.join(others)}" if others else near
        remedy = "Write the claim as the rule file names it, or add a rule for it."
        if read_stated_age(claim) is not None and any(c.isdigit() for c in claim):
            remedy = "Put a stated age into the brief's column age_statement."
        return f"no rule for {market} is called {claim!r}{near}", remedy

    def _no_version(self, batch: int, market: str, claim: str) -> Verdict:
        words, day = claim_words(claim), self.facts.days[batch]
        versions = [r for r in self.book.rules if r.market == market and words in (*r.names, claim_words(r.claim))]
        first = min(versions, key=lambda rule: rule.since)
        if day is None:
            said = "there is no bottling date, no due date and no book date, so the law of no day can be chosen"
        else:
            said = f"no version held here was in force on the day that counts ({self.facts.day_is[batch]}); "
            said += f"the first is of {first.version}"
        return self._plain(batch, market, claim, said, "label.cannot-tell",
                           "Give the bottling date or the brief's due date, or add the rule's earlier version.",
                           first.section)  # fmt: skip

    def _plain(
        self, batch: int, market: str, claim: str, said: str, finding: str, remedy: str, section: str = ""
    ) -> Verdict:
        """A verdict that no rule came to: cannot tell, resting on the brief alone."""
        brief = self.facts.origins["brief"][batch]
        told = Told(said, brief, "market" if finding.endswith("market") else "claims", observed=claim)
        first = opening(UNKNOWN, said, said.partition("; ")[0], said.partition(" (")[0])
        rest = "" if said in first else f" In full: {said}."
        return Verdict(self.facts.batches[batch], market, claim, UNKNOWN, first, rest, section,
                       facts=brief, told=told, finding=finding, remedy=remedy)  # fmt: skip

    def _on(self, batch: int, market: str, claim: str, rules: list[Rule]) -> Verdict:
        """The verdict of the rule that applies, or what all agree on where several may (they divide the cases)."""
        states = [self.applies(rule, batch) for rule in rules]
        sure = [rule for rule, state in zip(rules, states, strict=True) if state == TRUE]
        open_ = [rule for rule, state in zip(rules, states, strict=True) if state == UNKNOWN]
        if sure:
            return self._by(batch, market, claim, sure[:1])
        if not open_:
            causes = [cause for rule in rules for cause in self.judge.causes(rule.applies, batch)]
            told, more = tell(self.judge, causes), max(self.judge.left_out(rule.applies, batch) for rule in rules)
            also = f"; and {more} more" if more else ""
            said = f"no rule for {market} held here covers this {claim!r}: {told.text}{also}"
            return self._plain(batch, market, claim, said, "label.cannot-tell",
                               "Add a rule that covers it, or drop the claim.", rules[0].section)  # fmt: skip
        if len(open_) > 1 and len({self.holds(rule, batch) for rule in open_}) == 1:
            return self._by(batch, market, claim, open_)
        return self._which_rule(batch, market, claim, open_)

    def _which_rule(self, batch: int, market: str, claim: str, rules: list[Rule]) -> Verdict:
        """Cannot tell, since the rules that may apply would decide differently, or the only one may not apply."""
        told = self.told(rules[0].applies, batch)
        why = self._open([rules[0].applies], batch, told)
        why.rest += f" Which rule applies depends on what is not known: {told.text}."
        cited = self._cite(rules, self.facts.days[batch])
        verdict = self._verdict(batch, market, claim, UNKNOWN, rules, cited, why, {})
        verdict.rule = None
        return verdict

    def _by(self, batch: int, market: str, claim: str, rules: list[Rule]) -> Verdict:
        rule, cited = rules[0], self._cite(rules, self.facts.days[batch])
        truth, near = cited.holds[batch], cited.near[batch]
        assumed, said = cited.taken(batch, truth == TRUE)
        since = None
        if truth == TRUE:
            stated = self.summaries.stated(batch) if cited.states_age else ""
            why = Why(*cited.met(bool(assumed or cited.given), stated))
            if found := self.summaries.found(cited.shown, batch):
                why.rest += f" Found: {found}."
        else:
            why = self.why_not(rule, batch, truth)
            since = self.met_from(rule, batch)
            why.rest += f" Drawn on or after {since}, it would be met." if since else ""
        if near:
            why.rest += " It lies within the measuring uncertainty of the limit."
        why.rest += said
        given = cited.given if truth == TRUE else ()
        verdict = self._verdict(batch, market, claim, truth, rules, cited, why, assumed, given)
        verdict.near_limit, verdict.met_from = near, since
        return verdict

    def _near(self, rule: Rule) -> list[bool]:
        """In which batches a strength lies within its measuring uncertainty of a limit of the rule."""
        found = [self.judge.near_limit(need.condition, rule.of) for need in rule.needs] or [self.judge.rule(rule) < 0]
        return list(np.logical_or.reduce(found).tolist())

    def _shown_facts(self, rule: Rule, day: date | None) -> tuple[Fact, ...]:
        """The facts that no alternative can stand in for, and ages."""
        decisive = self.summaries.facts_of(rule, day, True)
        ages = [f for f in self.summaries.facts_of(rule, day) if f.kind == "age" and f.group == "spirit"]
        first = [BY_NAME["age"]] if ages and BY_NAME["age"] not in decisive else []
        return self.summaries.one([*first, *decisive])

    def grounded(self) -> Iterator[tuple[Verdict, Cited, int]]:
        """Verdicts that rules came to, each once, with what these say and the position of their batch."""
        position = {name: number for number, name in enumerate(self.facts.batches)}
        found = {(verdict.batch, verdict.market, verdict.claim): verdict for verdict in self.verdicts()}
        for verdict in found.values():
            if verdict.cited is not None:
                yield verdict, verdict.cited, position[verdict.batch]

    def met_from(self, rule: Rule, batch: int) -> date | None:
        if id(rule) not in self._first_days:
            self._first_days[id(rule)] = self.calendar.rule(rule).tolist()
        return day_of(self._first_days[id(rule)][batch])

    def conjuncts(self, rule: Rule, day: date | None) -> Iterator[Any]:
        """The conditions that a rule demands one by one, through references and conjunctions."""
        todo = [need.condition for need in rule.needs]
        while todo:
            node = todo.pop(0)
            if isinstance(node, OtherRule):
                version = self.judge.version(node.rule, day)
                todo.extend(need.condition for need in version.needs) if version else None
            elif isinstance(node, Both):
                todo.extend(node.parts)
            else:
                yield node

    def unverified(self, rule: Rule, day: date | None) -> bool:
        return bool(self._doubts_of(rule, day))

    def _assumptions(self, rule: Rule) -> list[tuple[Check | Same, list[bool]]]:
        """The checks of a rule that take something as given, and in which batches they do."""
        if id(rule) not in self._assumed:
            found = [pair for need in rule.needs for pair in self.judge.assumptions(need.condition)]
            self._assumed[id(rule)] = [(check, where.tolist()) for check, where in found if where.any()]
        return self._assumed[id(rule)]

    def told(self, condition: Any, batch: int) -> Told:
        """Why a condition does not hold in a batch; conditions that rules share are told once."""
        key = (id(condition), batch)
        if key not in self._told:
            causes = list(self.judge.causes(condition, batch))
            told, more = tell(self.judge, causes), self.judge.left_out(condition, batch)
            plain = (why_failed if self.judge.truth(condition)[batch] == FALSE else why_open)(self.judge, causes, told)
            self._told[key] = replace(told, text=f"{told.text}; and {more} more" if more else told.text, plain=plain)
        return self._told[key]

    def why_not(self, rule: Rule, batch: int, truth: int) -> Why:
        failing = [need for need in rule.needs if self.judge.truth(need.condition)[batch] == truth]
        left = f"nothing here tests {not_tested(rule)}" if rule.untested and truth == UNKNOWN else ""
        if not failing:
            judged = self._judged(rule, self.facts.days[batch])
            only = f"only {judged} {'were' if ' and ' in judged else 'was'} judged" if judged else "nothing was judged"
            start = opening(UNKNOWN, f"{only}; {left}", only, "only a part of what the section asks was judged")
            more = [said for said in (only, left) if said not in start]
            return Why(start, "".join(f" {said[:1].upper()}{said[1:]}." for said in more), Told(left))
        parts: dict[str, str] = {}
        for need in failing:
            text = self.told(need.condition, batch).text
            section = f" ({need.section})" if need.section != rule.section else ""
            parts.setdefault(text, f"that {need.plain}{section}: {text or 'nothing on the sheets speaks of it'}")
        first = next((t for need in failing if (t := self.told(need.condition, batch)).text), NOTHING)
        if truth == FALSE:
            why = Why(opening(FALSE, *first.plain, failing[0].plain), " It is required ", first)
        else:
            why = self._open([need.condition for need in failing], batch, first)
            why.rest += " It is to be shown "
        why.rest += ". Further, ".join(parts.values()) + (f". Besides, {left}." if left else ".")
        return why

    def _open(self, conditions: list[Any], batch: int, told: Told) -> Why:
        """The first sentence of what cannot be told, and what is missing of how many casks."""
        missing = missing_of(self.judge, conditions, batch)
        first, told = opening(UNKNOWN, *why_missing(missing), *told.plain), led_by(self.judge, missing, told)
        said = not missing or (len(missing) == 1 and missing[0].words in first and missing[0].where in first)
        return Why(first, "" if said else f" Missing: {'; '.join(told.missing)}.", told, tuple(conditions))

    def _judged(self, rule: Rule, day: date | None) -> str:
        """What was judged of a section and of those that it rests on, in few words: age, strength and country."""
        behind = self._behind(rule, day)
        keys = list(dict.fromkeys(d.key for part in behind for d in part.demands if d.state == "tested"))
        return " and ".join(part for part in (", ".join(keys[:-1]), *keys[-1:]) if part)

    def _not_due(self, rules: list[Rule], batch: int, truth: int) -> bool:
        """Whether all that is not known is of bottlings or of water to come, and nothing is bottled yet."""
        if truth != UNKNOWN or self.facts.origins["bottlings"][batch]:
            return False
        asked = [node for rule in rules for node in self.conjuncts(rule, self.facts.days[batch])]
        open_ = [node for node in asked if self.judge.truth(node)[batch] == UNKNOWN]
        return bool(open_) and all(self._of_bottling(node) for node in open_)

    @staticmethod
    def _of_bottling(need: Any) -> bool:
        if isinstance(need, Quantified):
            return need.group == "run"
        return isinstance(need, Check) and need.open_above_while is not None

    def _verdict(
        self, batch: int, market: str, claim: str, truth: int, rules: list[Rule], cited: Cited, why: Why,
        assumed: dict[str, Check | Same], given: tuple[Demand, ...] = (),
    ) -> Verdict:  # fmt: skip
        return Verdict(
            batch=self.facts.batches[batch], market=market, claim=claim, truth=truth,
            opening=why.opening, rest=why.rest + cited.tail,
            section=cited.section, unverified=bool(cited.doubts), version=cited.version,
            used=self.summaries.used(cited.facts, batch, assumed, given),
            facts=self.facts.rests_on(batch, cited.origins),
            told=why.told, finding=rules[0].finding, remedy=rules[0].remedy,
            not_due=truth == UNKNOWN and self._not_due(rules, batch, truth),
            rule_id=cited.rule_id, edition=cited.edition, cited=cited, rule=rules[0], asks=why.asks,
        )  # fmt: skip

    def _cite(self, rules: list[Rule], day: date | None) -> Cited:
        """What every verdict by these rules on that day says alike."""
        key = (day, id(rules[0])) if len(rules) == 1 else (day, *map(id, rules))
        if key not in self._cited:
            facts = self.summaries.one([f for rule in rules for f in self.summaries.facts_of(rule, day)])
            behind = [part for rule in rules for part in self._behind(rule, day)]
            of_first = list(self._behind(rules[0], day))
            self._cited[key] = Cited(
                facts=facts, origins=origins_of(facts), section=" or ".join(dict.fromkeys(r.section for r in rules)),
                version=max(r.version for r in rules),
                rule_id=" or ".join(dict.fromkeys(r.id for r in rules)), edition=max(r.edition for r in rules),
                holds=self.judge.rule(rules[0]).tolist(), near=self._near(rules[0]),
                assumed=self._assumptions(rules[0]), shown=self._shown_facts(rules[0], day),
                demands=list(dict.fromkeys(need.plain for need in rules[0].needs)), keys=self._judged(rules[0], day),
                law=law_of(behind), doubts=tuple(dict.fromkeys(d for r in rules for d in self._doubts_of(r, day))),
                given=tuple(dict.fromkeys(d for part in of_first for d in part.given)),
                untested=tuple(dict.fromkeys(d for part in of_first for d in part.untested)),
                confirmed=tuple(dict.fromkeys(part.confirmed for part in behind if part.confirmed)),
            )  # fmt: skip
        return self._cited[key]

    def _doubts_of(self, rule: Rule, day: date | None) -> list[str]:
        """What was not verified of the rule and of those it rests on."""
        key = (id(rule), day)
        if key not in self._doubts:
            self._doubts[key] = [UNVERIFIED[behind.source] for behind in self._behind(rule, day) if behind.unverified]
        return self._doubts[key]

    def _behind(self, rule: Rule, day: Any) -> Iterator[Rule]:
        """The rule and, through references, those that it rests on."""
        yield rule
        for rule_id in sorted(referred(rule)):
            version = self.judge.version(rule_id, day)
            if version:
                yield from self._behind(version, day)
