"""The decision rule in force: of the leaf, else the requirement, the set, the workshop's policy on that day."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from witnessmark.assessment.ledger import Ledger
from witnessmark.assessment.model import Cause
from witnessmark.language import say
from witnessmark.quantities import QuantityError, parse_quantity
from witnessmark.quantities.decision import DecisionRule as Rule
from witnessmark.records.acts import Policy
from witnessmark.records.sets import DecisionRule, Leaf, Requirement, RequirementSet

__all__ = ["InForce", "rule_in_force", "rule_words"]

DEFAULT = DecisionRule(rule="guarded")


@dataclass(frozen=True, slots=True)
class InForce:
    """The rules to judge by, all of which must be passed; more than one only where the newest policy is not sound."""

    rules: tuple[DecisionRule, ...]
    source: str
    causes: tuple[Cause, ...] = ()

    @property
    def words(self) -> str:
        return rule_words(self.rules[0])

    def decide_by(self) -> tuple[Rule, ...]:
        return tuple(as_rule(rule) for rule in self.rules)


def rule_words(rule: DecisionRule) -> str:
    words = rule.rule if rule.cap is None else f"{rule.rule} {rule.cap}"
    return words if rule.probability is None else f"{words} with a probability of {rule.probability}"


def as_rule(rule: DecisionRule) -> Rule:
    """As the calculation takes it. A cap that cannot be read allows nothing, so guarded it is."""
    if rule.rule == "simple" and rule.cap is not None:
        try:
            cap = parse_quantity(rule.cap, bare=True)
        except QuantityError:
            return Rule.guarded()
        ratio = cap.si_exact
        if ratio > 0 and cap.unit.dimension == parse_quantity("1 %").unit.dimension:
            return Rule.simple(Decimal(ratio.numerator) / Decimal(ratio.denominator))
    return Rule.guarded(rule.conformance)


def rule_in_force(
    ledger: Ledger, found: RequirementSet | None, requirement: Requirement, leaf: Leaf, day: date
) -> InForce:
    """The rule for a result obtained on `day`."""
    for rule, source in (
        (leaf.decision_rule, say("the leaf")),
        (requirement.decision_rule, say("the requirement")),
        (found.file.decision_rule if found else None, say("the set")),
    ):
        if rule is not None:
            return InForce((rule,), source)
    entries = sorted(
        ((a, p) for a, p in ledger.of(Policy) if p.in_force <= day and not ledger.gone(a)),
        key=lambda p: (p[1].in_force, p[0].appeared if p[0].appeared is not None else 10**9, p[0].code),
        reverse=True,
    )
    if not entries:
        return InForce((DEFAULT,), say("the default"))
    act, newest = entries[0]
    if ledger.sound(act):
        return InForce((newest.policy.decision_rule,), say("the policy {code}", code=act.code))
    sound = next((p.policy.decision_rule for a, p in entries if ledger.sound(a)), DEFAULT)
    why = ledger.causes(act)[0]
    cause = Cause(
        "policy.not-sound",
        say("The policy entry {code}, in force on that day, does not count: {why}", code=act.code, why=why.message),
        why.remedy,
        ledger.last_state(act),
        f"policy:{act.code}",
        "desk",
    )
    return InForce((newest.policy.decision_rule, sound), say("the policy {code}", code=act.code), (cause,))
