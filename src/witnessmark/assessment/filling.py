"""The authority's forms filled from facts, parts, designs and papers. What is not sound fills nothing: it is a gap.

A field is empty where anything that it asks is missing, in doubt or not sound; each reason is a gap with its question.
Whether a form or a field applies is three-valued, as everywhere: a form in doubt is filled as if it applied, a field in
doubt asks first what decides about it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping

from witnessmark.assessment.facts import VEHICLE, Fact, Truth, holds
from witnessmark.assessment.judging import World
from witnessmark.assessment.ledger import seconds
from witnessmark.assessment.model import (
    Applies,
    Cause,
    Field,
    FieldGap,
    FieldState,
    FieldValue,
    FilledForm,
    RequirementState,
    State,
)
from witnessmark.assessment.words import capital, does_not_apply, key_words, no_such_part, stated_as
from witnessmark.assessment.writing import Unreadable, written
from witnessmark.language import Words, declared, say
from witnessmark.records.acts import DesignRevision
from witnessmark.records.conditions import Condition, in_words
from witnessmark.records.forms import FormFile, Item
from witnessmark.records.sets import FactDefinition

__all__ = ["filled_forms"]

LEFT_TO: Mapping[str, str] = Words(
    {
        "applicant": declared("for the applicant, by hand"),
        "authority": declared("for the authority"),
        "service": declared("for the technical service"),
    }
)


def filled_forms(world: World, states: Iterable[RequirementState]) -> tuple[FilledForm, ...]:
    """Every form of every chosen set, in the order of the sets. `states` are those of all requirements."""
    by_id = {(state.set_id, state.id): state for state in states}
    return tuple(
        _Filler(world, set_id, form.file, by_id).form()
        for set_id in world.references.sets
        if (found := world.references.folder[set_id]) is not None
        for form in found.forms
    )


class _Filler:
    """Fills one form."""

    def __init__(
        self, world: World, set_id: str, file: FormFile, states: Mapping[tuple[str, str], RequirementState]
    ) -> None:
        self.world, self.set_id, self.file, self.states = world, set_id, file, states
        self.vehicle = world.vehicle

    # ------------------------------------------------------------ the form

    def form(self) -> FilledForm:
        truth, why, doubts = self._applies()
        if truth is Truth.NO:
            return FilledForm(self.set_id, self.file, Applies.NO, why=why)
        fields = tuple(self.field(item) for item in self.file.items)
        applies = Applies.YES if truth is Truth.YES else Applies.NOT_STATED
        return FilledForm(self.set_id, self.file, applies, fields, doubts)

    def _applies(self) -> tuple[Truth, str, tuple[FieldGap, ...]]:
        """Whether the form is to be filled: by the vehicle's facts, and by there being such a part."""
        doubts: tuple[FieldGap, ...] = ()
        if self.file.applies is not None:
            truth, facts = holds(self.file.applies, self.world.facts.fact)
            if truth is Truth.NO:
                return truth, self._not_applicable(self.file.applies, facts), ()
            if truth is Truth.NOT_STATED:
                doubts = tuple(g for fact in facts for g in self.gaps_of_fact(fact))
        if self.file.each is not None:
            truth, why, more = self._some_part()
            if truth is Truth.NO:
                return truth, why, ()
            doubts += more
        return (Truth.NOT_STATED if doubts else Truth.YES), "", doubts

    def _some_part(self) -> tuple[Truth, str, tuple[FieldGap, ...]]:
        assert self.file.each is not None
        kind, where = self.file.each.part, self.file.each.where
        listed = self.world.parts.of_kind(kind)
        sources = "; ".join(listed.sources)
        if not listed.stated:
            return Truth.NOT_STATED, "", tuple(self.gap_of_cause(c, kind=kind) for c in listed.causes)
        if not listed.parts:
            return Truth.NO, no_such_part(key_words(kind), sources), ()
        if where is None:
            return Truth.YES, "", ()
        found = [(part, *holds(where, self._facts_of(part))) for part in listed.parts]
        if any(truth is Truth.YES for _, truth, _ in found):
            return Truth.YES, "", ()
        unsure = [fact for _, truth, facts in found if truth is Truth.NOT_STATED for fact in facts]
        if unsure:
            return Truth.NOT_STATED, "", tuple(g for fact in unsure for g in self.gaps_of_fact(fact))
        said = "; ".join(
            say(
                "{fact} of {part} is stated as {value}",
                fact=self.world.facts.named(fact.key),
                part=self.world.parts.title(part),
                value=fact.said,
            )
            for part, _, facts in found
            for fact in facts
        )
        return Truth.NO, does_not_apply(said, in_words(where, self.world.facts.named)), ()

    def _facts_of(self, part: str | None) -> Callable[[str], Fact]:
        return lambda key: self.world.facts.fact(key, part)

    def _not_applicable(self, condition: Condition, facts: Iterable[Fact]) -> str:
        said = "; ".join(stated_as(self.world.facts.named(f.key), f.said) for f in facts)
        return does_not_apply(said, in_words(condition, self.world.facts.named))

    # ------------------------------------------------------------ one field

    def field(self, item: Item) -> Field:
        if item.heading is not None:
            return Field(item, FieldState.HEADING)
        values: list[FieldValue] = []
        gaps: list[FieldGap] = []
        none: list[str] = []
        kind = item.of or next((d.of for key in item.facts if (d := self.definition(key)) and d.of), None)
        for part in self._places(kind, gaps, none):
            truth, facts = holds(item.applies, self._facts_of(part)) if item.applies is not None else (Truth.YES, ())
            if truth is Truth.NO:
                assert item.applies is not None
                none.append(self._not_applicable(item.applies, facts))
                continue
            if truth is Truth.NOT_STATED:
                # What the field asks is asked once it is known that it applies.
                gaps += [g for fact in facts for g in self.gaps_of_fact(fact)]
                continue
            if item.left is not None:
                continue
            more, missing, why = self._filled(item, part)
            values += more
            gaps += missing
            none += why
        if gaps:
            # One cause asks once, though several parts or facts of the field hang on it.
            once = {(g.key or g.question, g.part): g for g in reversed(gaps)}
            return Field(item, FieldState.EMPTY, tuple(values), tuple(reversed(once.values())))
        if values:
            return Field(item, FieldState.FILLED, tuple(values))
        if none:
            return Field(item, FieldState.NOT_APPLICABLE, why=" ".join(dict.fromkeys(none)))
        assert item.left is not None
        return Field(item, FieldState.LEFT, why=LEFT_TO[item.left])

    def definition(self, key: str) -> FactDefinition | None:
        return self.world.ledger.workshop.facts.get(key)

    def _places(self, kind: str | None, gaps: list[FieldGap], none: list[str]) -> Iterator[str | None]:
        """What the field is filled for: the vehicle, or each part of the kind; why there is nothing goes into
        `gaps` or `none`."""
        if kind is None:
            yield None
            return
        listed = self.world.parts.of_kind(kind)
        if not listed.stated:
            gaps += [self.gap_of_cause(cause, kind=kind) for cause in listed.causes]
            return
        if not listed.parts:
            none.append(no_such_part(key_words(kind), "; ".join(listed.sources)))
        yield from listed.parts

    def _filled(self, item: Item, part: str | None) -> tuple[list[FieldValue], list[FieldGap], list[str]]:
        """Values, gaps, and reasons for which there is nothing to fill in."""
        if item.facts:
            return (*self._by_facts(item, part), [])
        if item.leaves:
            return self._by_papers(item)
        if item.part is not None:
            return (*self._by_list(item, part or ""), [])
        if item.design is not None:
            return (*self._by_design(item, part or ""), [])
        if item.index is not None:
            return [FieldValue(say("the index of the package, at the end of this chapter"))], [], []
        return (*self._by_description(item), [])

    # ------------------------------------------------------------ where it comes from

    def _by_facts(self, item: Item, part: str | None) -> tuple[list[FieldValue], list[FieldGap]]:
        values: list[FieldValue] = []
        gaps: list[FieldGap] = []
        for key in item.facts:
            fact = self.world.facts.fact(key, part)
            definition = self.definition(key)
            if fact.value is None or definition is None:
                gaps += self.gaps_of_fact(fact)
                continue
            try:
                words = written(item, definition, fact.value)
            except Unreadable as fault:
                gaps.append(
                    FieldGap(
                        "field.unreadable",
                        definition.ask,
                        say(
                            "{fact} is stated as {value}: {fault}",
                            fact=capital(self.world.facts.named(key)),
                            value=fact.said,
                            fault=fault.message,
                        ),
                        say("correct the statement with a second person; {remedy}", remedy=fault.remedy),
                        f"witnessmark record --correct {fact.code}",
                        fact.part,
                        f"value:{fact.part or VEHICLE}:{key}",
                    )
                )
                continue
            if len(item.facts) > 1:
                words = f"{self.world.facts.named(key)}: {words}"
            values.append(FieldValue(words, part, fact.source, fact.code))
        return values, [] if values and item.enough == "one" else gaps

    def gaps_of_fact(self, fact: Fact) -> list[FieldGap]:
        """What to ask for a fact that is not stated, or whose statement does not count."""
        return [self.gap_of_cause(cause, fact=fact) for cause in fact.causes]

    def gap_of_cause(self, cause: Cause, *, fact: Fact | None = None, kind: str = "") -> FieldGap:
        definition = self.definition(fact.key) if fact is not None else None
        question, why, command = cause.message, cause.message, ""
        part = fact.part if fact is not None else None
        if fact is not None:
            question = (
                definition.ask
                if definition is not None
                else say("What is {fact}?", fact=self.world.facts.named(fact.key))
            )
            if cause.code == "fact.not-stated":
                why = definition.why if definition is not None else cause.message
                subject = f"{fact.part}/{fact.key}" if fact.part else fact.key
                command = f"witnessmark record {self.vehicle} facts {subject}"
        elif cause.code == "parts.not-stated":
            question = say("Which parts of the kind {kind} are there?", kind=kind)
            command = f"witnessmark record {self.vehicle} parts {kind}"
        return FieldGap(cause.code, question, why, cause.remedy, command, part, cause.key)

    def _by_papers(self, item: Item) -> tuple[list[FieldValue], list[FieldGap], list[str]]:
        values: list[FieldValue] = []
        gaps: list[FieldGap] = []
        none: list[str] = []
        for ref in item.leaves:
            ident, _, name = ref.partition("/")
            state = self.states.get((self.set_id, ident))
            if state is None:
                continue
            if state.state is State.NOT_APPLICABLE:
                none.append(f"{state.requirement.title}: {state.why}")
                continue
            for part in state.parts:
                found, gap = self._paper(state, part.part, name)
                values += found
                gaps += gap
            if not state.parts:
                gaps.append(self._no_paper(state, None, name))
        return values, [] if values and item.enough == "one" else gaps, [] if values else none

    def _paper(self, state: RequirementState, part: str | None, name: str) -> tuple[list[FieldValue], list[FieldGap]]:
        """The paper of the record that governs the leaf; it counts only where that leaf is shown by it."""
        place = next(p for p in state.parts if p.part == part)
        leaf = next((one for one in place.leaves if one.name == name), None)
        result = leaf.result if leaf is not None else None
        claim = result.claim if result is not None else None
        if leaf is None or result is None or claim is None or leaf.state is not State.CONFORMS or not result.valid:
            return [], [self._no_paper(state, part, name)]
        digests = {f.name: f.sha256 for f in result.act.files if f.intact}
        if claim.file is not None and claim.file not in digests:
            return [], [self._no_paper(state, part, name)]
        words = claim.number or (claim.file or "").rpartition("/")[2]
        if not words:
            return [], [self._no_paper(state, part, name)]
        digest = digests.get(claim.file or "", "").removeprefix("sha256:")
        source = "; ".join(
            w for w in (claim.seen or "", say("pages {pages}", pages=claim.pages) if claim.pages else "") if w
        )
        return [FieldValue(words, part, source, result.act.code, claim.file or "", digest, claim.pages or "")], []

    def _no_paper(self, state: RequirementState, part: str | None, name: str) -> FieldGap:
        leaf = state.requirement.leaves.get(name)
        said = [g.message for g in state.gaps if g.leaf in (name, None) and g.part in (part, None)]
        target = f"{state.id}/{name}" + (f" --part {part}" if part else "")
        return FieldGap(
            "field.no-paper",
            say("Which paper is it: {name}?", name=leaf.words if leaf else name),
            " ".join(dict.fromkeys(said)) or say("No record that counts names such a paper."),
            say("record the paper with its number, revision and file"),
            f"witnessmark record {self.vehicle} {target}",
            part,
            f"paper:{state.set_id}:{state.id}/{name}:{part or ''}",
        )

    def _by_list(self, item: Item, part: str) -> tuple[list[FieldValue], list[FieldGap]]:
        parts, now = self.world.parts, seconds(self.world.ledger.as_of)
        sound, any_ = parts.built(part, now, sound_only=True), parts.built(part, now, sound_only=False)
        told = {"title": parts.title(part), "serial": sound.serial, "design": sound.design}[item.part or "title"]
        if told and (item.part == "title" or sound == any_):
            return [FieldValue(told, part, say("list of parts"))], []
        why = say("The list of parts does not say it.")
        if sound != any_:
            why = say("An event that does not count says otherwise.")
        return [], [
            FieldGap(
                "field.part",
                say(_OF_PART[item.part or "title"], part=parts.title(part)),
                why,
                say("state the list again with it, or write the event that changed it"),
                f"witnessmark change {self.vehicle} {part}",
                part,
                f"part:{part}:{item.part}",
            )
        ]

    def _by_design(self, item: Item, part: str) -> tuple[list[FieldValue], list[FieldGap]]:
        title = self.world.parts.title(part)
        design = self.world.parts.settled_design(part)
        name, _, revision = (design or "").partition("/")
        ledger = self.world.ledger
        found = [
            (act, body)
            for act, body in ledger.of(DesignRevision)
            if (body.design, body.revision) == (name, revision) and not ledger.gone(act)
        ]
        spoiled = [cause for act, _ in found for cause in ledger.causes(act)]
        if spoiled:
            return [], [self.gap_of_cause(cause) for cause in spoiled]
        if found:
            act, body = found[0]
            told = {"title": body.title, "maker": body.maker, "revision": body.revision}[item.design or "title"]
            if told:
                return [FieldValue(told, part, say("design {design}", design=design), act.code)], []
        why = say("To which design {part} is built is not stated.", part=title)
        if found:
            why = say("The design {design} does not say it.", design=design)
        return [], [
            FieldGap(
                "field.design",
                say(_OF_DESIGN[item.design or "title"], part=title),
                why,
                say("record the revision of the design, and name it in the list of parts"),
                "witnessmark record design",
                part,
                f"design:{design or part}:{item.design}",
            )
        ]

    def _by_description(self, item: Item) -> tuple[list[FieldValue], list[FieldGap]]:
        """What vehicle.yaml or workshop.yaml says: it describes and claims nothing."""
        workshop = self.world.ledger.workshop
        key: str = item.vehicle or item.workshop or "name"
        described = workshop.vehicles.get(self.vehicle) if item.vehicle is not None else workshop.file
        path = f"vehicles/{self.vehicle}/vehicle.yaml" if item.vehicle is not None else "workshop.yaml"
        told = workshop.file.where if item.workshop == "address" else getattr(described, key, None)
        if told:
            return [FieldValue(told, None, path.rpartition("/")[2])], []
        return [], [
            FieldGap(
                "field.not-written",
                say("What is the {key}: {title}?", key=key_words(key), title=item.title),
                say("{path} does not say it.", path=f"evidence/{path}"),
                say("write {line} into {path}", line=f"{key}: …", path=f"evidence/{path}"),
                "",
                None,
                f"file:{path}:{key}",
            )
        ]


_OF_PART = {
    "design": declared("What is the design of {part}?"),
    "serial": declared("What is the serial of {part}?"),
    "title": declared("What is the title of {part}?"),
}
_OF_DESIGN = {
    "maker": declared("What is the maker of the design of {part}?"),
    "revision": declared("What is the revision of the design of {part}?"),
    "title": declared("What is the title of the design of {part}?"),
}
