"""Approval numbers beside what else is stated: the series of the chosen set, and whether there is one at all."""

from __future__ import annotations

from collections.abc import Iterator

from witnessmark.assessment.facts import Fact
from witnessmark.assessment.judging import World
from witnessmark.language import say
from witnessmark.problems import Place, Problem, Severity
from witnessmark.records.approvals import Approval, ApprovalError, parse_approval
from witnessmark.records.sets import RequirementSet

__all__ = ["approval_problems", "stated_approval"]

PACK = "traction-pack"
NUMBER, HOLDS, EXTENDED = "pack_approval_number", "pack_approval", "approval_to_extend"
REGULATION = 100


def stated_approval(fact: Fact) -> Approval | None:
    """The approval that a fact states; None where none is stated, or the text is no number."""
    if not isinstance(fact.value, str):
        return None
    try:
        return parse_approval(fact.value)
    except ApprovalError:
        return None


def approval_problems(world: World) -> Iterator[Problem]:
    """A number although there is no approval, an approval without its number, another regulation, an older series."""
    for part in world.parts.of_kind(PACK).parts:
        number, holds = world.facts.stated(NUMBER, part), world.facts.stated(HOLDS, part)
        title = world.parts.title(part)
        if holds.value == "none" and number.value is not None:
            yield Problem(
                "approval.contradicted",
                say(
                    "{part} has the approval number {said}, but its approval is stated as none ({code})",
                    part=title,
                    said=number.said,
                    code=holds.code,
                ),
                say("correct the one that is wrong with a second person"),
                _place(world, number),
            )
        elif holds.value == "separate" and number.value is None:
            yield Problem(
                "approval.no-number",
                say(
                    "{part} is stated to be approved on its own ({code}), and its approval number is not stated",
                    part=title,
                    code=holds.code,
                ),
                say(
                    "copy it from the certificate: {command}",
                    command=f"witnessmark record {world.vehicle} facts {part}/{NUMBER}",
                ),
                _place(world, holds),
                Severity.NOTE,
            )
        if holds.value != "none":
            yield from _beside_sets(world, number, say("the approval of {part}", part=title))
    yield from _beside_sets(world, world.facts.stated(EXTENDED, None), say("the approval to be extended"))


def _beside_sets(world: World, fact: Fact, what: str) -> Iterator[Problem]:
    """The number against the editions that the vehicle is judged by."""
    found = stated_approval(fact)
    if found is None:
        return
    if found.regulation != REGULATION:
        yield Problem(
            "approval.regulation",
            say(
                "{what}, {found}, is one to UN Regulation No. {regulation}, and No. {ours} is meant",
                what=what,
                found=found,
                regulation=found.regulation,
                ours=REGULATION,
            ),
            say("copy the number of the other certificate"),
            _place(world, fact),
        )
        return
    told: set[str] = set()
    for set_id in world.references.sets:
        chosen = world.references.folder[set_id]
        series = _series(chosen)
        if chosen is None or series is None or series in told or not found.series < series:
            continue
        told.add(series)
        yield Problem(
            "approval.older-series",
            say(
                "{what}, {found}, is to the {series} series, and {vehicle} is judged by the {asked} series",
                what=what,
                found=found,
                series=found.series,
                vehicle=world.vehicle,
                asked=series,
            ),
            say("ask the authority whether it still accepts it, and file its answer; figures of the tests differ"),
            _place(world, fact),
            Severity.NOTE,
        )


def _series(chosen: RequirementSet | None) -> str | None:
    """The series of amendments of a set that is one of the Regulation, such as `03`."""
    if chosen is None or f"R{REGULATION}" not in chosen.file.short.replace(" ", ""):
        return None
    series = chosen.file.series or ""
    return series if len(series) == 2 and series.isdigit() else None


def _place(world: World, fact: Fact) -> Place | None:
    acts = world.ledger.by_code.get(fact.code, [])
    return acts[0].place if acts else None
