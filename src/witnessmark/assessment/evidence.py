"""The records of one vehicle, found by requirement, leaf and part, each judged and put into its chain."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from witnessmark.assessment.chain import Blank, Entry, Standing, stand
from witnessmark.assessment.facts import VEHICLE
from witnessmark.assessment.judging import Asked, Judged, World
from witnessmark.assessment.ledger import seconds, vehicle_of
from witnessmark.assessment.model import Cause, CriterionResult, LeafState, RecordResult, State, Verdict
from witnessmark.assessment.references import Target, split
from witnessmark.assessment.requirement import STATE_OF
from witnessmark.assessment.soundness import Case, carried_against, current_causes, sound_causes
from witnessmark.assessment.truth import Point, combinations, leaf_verdict, worse_verdict
from witnessmark.language import Words, declared, say
from witnessmark.problems import Problem, Severity
from witnessmark.records.acts import Claim, Record
from witnessmark.records.sets import Leaf, Requirement
from witnessmark.records.world import Act

__all__ = ["Evidence", "LeafChain", "Shown"]

_VERDICTS = Words(
    {Verdict.PASS: declared("pass"), Verdict.UNDECIDED: declared("undecided"), Verdict.FAIL: declared("fail")}
)
_AS_SEALED = Words(
    {
        Verdict.PASS: declared("pass when it was sealed"),
        Verdict.UNDECIDED: declared("undecided when it was sealed"),
        Verdict.FAIL: declared("fail when it was sealed"),
    }
)
TAKEN_BACK = frozenset({"act.withdrawn", "act.corrected"})


@dataclass(frozen=True, slots=True)
class Shown:
    """One record naming one leaf."""

    act: Act
    record: Record
    ref: str
    leaf: str
    claim: Claim


@dataclass(frozen=True, slots=True)
class LeafChain:
    """One leaf, one part: the standing of its chain, and what is shown of it."""

    standing: Standing
    state: LeafState
    sealed: tuple[int, ...]
    """Per record, as in `state.records`: when it was sealed, in seconds."""

    @property
    def open_fails(self) -> tuple[RecordResult, ...]:
        return tuple(self.state.records[i] for i in self.standing.open_fails)


class Evidence:
    """All sealed records that concern one vehicle."""

    def __init__(self, world: World) -> None:
        self.world = world
        self.problems: list[Problem] = []
        self.judged_by_leaf: set[tuple[int, str]] = set()
        """(id of act, reference) of every claim that some leaf took up."""
        self._by_requirement: dict[tuple[str, str], list[Shown]] = {}
        self._by_part: dict[tuple[str, str], dict[str | None, tuple[Shown, ...]]] = {}
        self._busy: set[int] = set()
        self._further: dict[int, tuple[Cause, ...]] = {}
        for act, record in world.ledger.of(Record):
            if vehicle_of(act) not in (None, world.vehicle) and record.design is None:
                continue
            for ref, claim in record.shows.items():
                _, _, leaf = split(ref)
                for target in world.references.meant(ref):
                    self._by_requirement.setdefault((target.set_id, target.id), []).append(
                        Shown(act, record, ref, leaf, claim)
                    )
        world.ledger.judge_further(self.further_causes)

    def of(self, target: Target) -> tuple[Shown, ...]:
        """Every record that names the requirement, whatever part it is about."""
        return tuple(self._by_requirement.get((target.set_id, target.id), ()))

    def of_part(self, target: Target, part: str | None) -> tuple[Shown, ...]:
        """Those of them whose record names this part (None: no part)."""
        if (target.set_id, target.id) not in self._by_part:
            sorted_in: dict[str | None, list[Shown]] = {}
            for shown in self.of(target):
                sorted_in.setdefault(shown.record.part, []).append(shown)
            self._by_part[target.set_id, target.id] = {name: tuple(found) for name, found in sorted_in.items()}
        return self._by_part[target.set_id, target.id].get(part, ())

    def asked(self, target: Target, requirement: Requirement, shown: Shown, leaf: Leaf) -> Asked:
        return Asked(
            self.world.ledger.workshop.sets.get(target.set_id), requirement, shown.leaf, leaf, shown.ref, shown.claim
        )

    def further_causes(self, act: Act) -> tuple[Cause, ...]:
        """What speaks against a record that corrects another, in any of its leaves; in question, it does not hold."""
        if id(act) in self._further:
            return self._further[id(act)]
        if id(act) in self._busy or not isinstance(act.body, Record):
            return (
                Cause(
                    "act.circle", say("Corrections name each other in a circle."), say("withdraw them"), State.NOT_SHOWN
                ),
            )
        self._busy.add(id(act))
        found: list[Cause] = []
        for ref, claim in act.body.shows.items():
            _, _, name = split(ref)
            for target in self.world.scope(act.body, vehicle_of(act) is not None).meant(ref):
                leaf = target.requirement.leaves.get(name) if target.requirement else None
                if target.requirement is not None and leaf is not None:
                    shown = Shown(act, act.body, ref, name, claim)
                    asked = self.asked(target, target.requirement, shown, leaf)
                    found += self.world.judge(act.body, act.code, asked).causes
                    found += sound_causes(Case(self.world, act, act.body, asked))
        self._busy.discard(id(act))
        self._further[id(act)] = tuple(found)
        return tuple(found)

    def chain(
        self, target: Target, requirement: Requirement, name: str, leaf: Leaf, part: str | None, shown: Iterable[Shown]
    ) -> LeafChain:
        """The chain of one leaf and part."""
        found = sorted(
            ((s, self._result(target, requirement, leaf, s)) for s in shown if s.leaf == name),
            key=lambda pair: (seconds(pair[0].record.performed), pair[0].act.code, pair[0].act.path),
        )
        for one, _ in found:
            self.judged_by_leaf.add((id(one.act), one.ref))
        entries = [self._entry(s, r) for s, r in found]
        standing = stand(entries, tuple(b for code in {e.code for e in entries} for b in self._blanks(code)))
        ledger = self.world.ledger
        records = tuple(
            RecordResult(
                r.act, r.record, r.claim, r.criteria, r.verdict, r.sound, r.current, r.causes, r.result, r.output,
                withdrawn=ledger.is_taken_back(r.act), ended=i in standing.ended,
            )
            for i, (_, r) in enumerate(found)
        )  # fmt: skip
        state = State.NONCONFORMING if standing.failing else STATE_OF[standing.point]
        governs = tuple(dict.fromkeys(records[i].act.code for i in standing.governs))
        causes = tuple(dict.fromkeys(c for i in standing.governs for c in records[i].causes))
        sealed = tuple(e.sealed for e in entries)
        return LeafChain(standing, LeafState(name, leaf, part, state, records, governs, causes), sealed)

    def _blanks(self, code: str) -> Iterable[Blank]:
        ledger = self.world.ledger
        for act in ledger.withdrawals.get(code, ()):
            yield Blank(code, _sealed(act), act.appeared, ledger.sound(act))
        for act in ledger.corrections.get(code, ()):
            yield Blank(code, _sealed(act), act.appeared, ledger.correction_holds(act), act.code)

    def _entry(self, shown: Shown, result: RecordResult) -> Entry:
        own = [c for c in result.causes if c.code not in TAKEN_BACK]
        return Entry(
            code=shown.act.code,
            performed=seconds(shown.record.performed),
            sealed=_sealed(shown.act),
            appeared=shown.act.appeared,
            verdict=result.verdict,
            criteria={c.criterion: c.verdict for c in result.criteria},
            sound=not _unsound(own),
            current=result.current,
            cause=Point.LAPSED if any(c.state is State.LAPSED for c in own) else Point.NOT_SHOWN,
            retest_of=frozenset(shown.record.retest_of),
            corrects=shown.record.corrects,
        )

    def _result(self, target: Target, requirement: Requirement, leaf: Leaf, shown: Shown) -> RecordResult:
        asked = self.asked(target, requirement, shown, leaf)
        known = shown.leaf in (target.requirement.leaves if target.requirement else ())
        judged = self.world.judge(shown.record, shown.act.code, asked) if known else Judged()
        case = Case(self.world, shown.act, shown.record, asked)
        a = self.world.ledger.causes(shown.act) + judged.causes + sound_causes(case)
        b = current_causes(case)
        criteria = self._with_found(case, judged, leaf)
        verdict = self._verdict(requirement, shown.leaf, leaf, criteria)
        if verdict is None and not a:
            a = (Cause("record.nothing", say("Nothing can be computed from it."), say("do it again"), State.NOT_SHOWN),)
        return RecordResult(
            shown.act, shown.record, shown.claim, criteria, verdict, not a, not b,
            tuple(dict.fromkeys(a + b)), judged.result, judged.output,
        )  # fmt: skip

    def _with_found(self, case: Case, judged: Judged, leaf: Leaf) -> tuple[CriterionResult, ...]:
        """The computed verdicts, each made worse by what was found when sealing; never better."""
        seal = case.act.body.seal
        ref = case.asked.ref
        found = {
            key[len(ref) + 1 :]: Verdict(value)
            for key, value in (seal.found.items() if seal else ())
            if key.startswith(f"{ref}/")
        }
        made: list[CriterionResult] = []
        renewed = carried_against(case) if found else False
        for one in judged.criteria:
            sealed = found.pop(one.criterion, None)
            if sealed is None or sealed is one.verdict:
                made.append(one)
                continue
            self.problems.append(_differs(case, one, sealed))
            worse = worse_verdict(one.verdict, sealed)
            if worse is one.verdict or (renewed and sealed is not Verdict.FAIL):
                made.append(one)
            else:
                made.append(
                    CriterionResult(
                        one.leaf,
                        one.criterion,
                        one.asked,
                        worse,
                        _AS_SEALED[worse],
                        one.decision,
                        one.spec,
                    )
                )
        for name, sealed in sorted(found.items()):
            # A fail outlives its log; a pass that cannot be computed any more is no pass.
            verdict = Verdict.FAIL if sealed is Verdict.FAIL else Verdict.UNDECIDED
            made.append(
                CriterionResult(
                    case.asked.name,
                    name,
                    say("as sealed"),
                    verdict,
                    _AS_SEALED[sealed],
                    None,
                    leaf.criteria.get(name),
                )
            )
        return tuple(made)

    def _verdict(
        self, requirement: Requirement, name: str, leaf: Leaf, criteria: tuple[CriterionResult, ...]
    ) -> Verdict | None:
        if not criteria:
            return None
        verdicts = {c.criterion: c.verdict for c in criteria}
        if name not in requirement.leaves:
            return Verdict.FAIL if Verdict.FAIL in verdicts.values() else Verdict.UNDECIDED
        return leaf_verdict(combinations(requirement.shown), name, verdicts, leaf.criterion_names[0])

    def parts_named(self, target: Target) -> frozenset[str]:
        """Parts that records of the requirement name."""
        return frozenset(
            s.record.part for s in self.of(target) if s.record.part not in (None, VEHICLE) if s.record.part
        )


def _unsound(own: Iterable[Cause]) -> bool:
    """Whether any cause but a withdrawal or correction speaks against the record as evidence."""
    return any(c.code not in NOT_CURRENT for c in own)


NOT_CURRENT = frozenset(
    {"against.changed", *(f"event.{e}" for e in ("fitted", "removed", "replaced", "opened", "changed", "software"))}
)
"""Causes of B: the evidence is good, but the world has moved on."""


def _sealed(act: Act) -> int:
    return seconds(act.body.seal.on) if act.body.seal else 0


def _differs(case: Case, one: CriterionResult, sealed: Verdict) -> Problem:
    act, seal = case.act, case.act.body.seal
    # Where what it is judged against has changed since, another verdict is no wonder.
    explained = seal is None or seal.against != case.world.against_now(act, case.record)
    return Problem(
        "record.found-differs",
        say(
            "{code}: {ref}/{criterion} was {sealed} when it was sealed, and {now} is computed now; the worse counts",
            code=act.code,
            ref=case.asked.ref,
            criterion=one.criterion,
            sealed=_VERDICTS[sealed],
            now=_VERDICTS[one.verdict],
        ),
        say("find out what changed: files, method or limits; do it again if need be"),
        act.place,
        Severity.NOTE if explained else Severity.PROBLEM,
    )
