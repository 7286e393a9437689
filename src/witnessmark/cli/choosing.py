"""From what the person names (or picks from the next jobs) to the forms that are filled in, one after another."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from witnessmark.assessment.facts import VEHICLE
from witnessmark.assessment.gaps import GROUPS
from witnessmark.assessment.judging import World
from witnessmark.assessment.ledger import Ledger
from witnessmark.assessment.model import PartState, RequirementState, Verdict
from witnessmark.methods.registry import method
from witnessmark.problems import Misuse, Problem
from witnessmark.recording.forms import back
from witnessmark.recording.forms import office as at_the_office
from witnessmark.recording.forms import sets as of_sets
from witnessmark.recording.forms.authority import Answer
from witnessmark.recording.forms.base import Desk, Form
from witnessmark.recording.forms.evidence import UNPRINTED, Evidence, Printed, standing_fails
from witnessmark.recording.forms.risks import Analysis
from witnessmark.recording.forms.statement import SETS, Facts, Parts, facts_wanted, kinds_wanted
from witnessmark.recording.forms.workshop import Workshop
from witnessmark.recording.questions import Given, Question
from witnessmark.records.printed import groups_of_facts

from .asking import ask_one, choose
from .show import counted, harmless, progress
from .sitting import MakeForm, Sitting

__all__ = ["about_act", "evidence", "facts", "from_menu", "from_sheet", "office", "parts"]


def office(sitting: Sitting, kind: str, ident: str) -> bool:
    """People, instruments and papers; editions of sets, and what people say of them."""

    def make(desk: Desk) -> Form:
        match kind:
            case "workshop":
                return Workshop(desk)
            case "person":
                return at_the_office.Person(desk)
            case "vehicle":
                return at_the_office.Vehicle(desk)
            case "instrument":
                return at_the_office.Instrument(desk)
            case "calibration":
                return at_the_office.Calibration(desk, _among(ident, desk.workshop.instruments, "instrument"))
            case "authorisation":
                return at_the_office.Authorisation(desk, _among(ident, desk.workshop.people, "person"))
            case "policy":
                return at_the_office.Policy(desk)
            case "concession":
                return at_the_office.Concession(desk)
            case "answer":
                return Answer(desk)
            case "risks":
                return Analysis(desk)
            case "edition":
                return of_sets.Edition(desk, _among(ident, desk.workshop.sets, "set"))
            case "comparison":
                return of_sets.Comparison(desk, _among(ident, desk.workshop.sets, "set"))
            case "adoption":
                return of_sets.Adoption(desk, _among(ident, desk.workshop.sets, "set"))
            case _:
                return at_the_office.Design(desk)

    return sitting.run(make) is not None


def _among(ident: str, known: Iterable[str], what: str) -> str:
    names = sorted(known)
    if ident and ident not in names:
        raise Misuse(_unknown(what, ident, names))
    return ident


def _unknown(what: str, word: str, known: list[str]) -> Problem:
    near = difflib.get_close_matches(word, known, n=1)
    remedy = f"did you mean {near[0]}?" if near else f"known are {', '.join(known) or 'none yet'}"
    return Problem(f"{what}.unknown", f"there is no {what} '{word}'", remedy)


def from_menu(sitting: Sitting) -> bool:
    """The next jobs of the vehicle, to choose from, until the person has enough."""
    if sitting.answers is not None:
        raise Misuse(
            Problem("answers.what", "the answers do not say what they are for", "write what: REQUIREMENT, or name it")
        )
    some = False
    while True:
        chosen = _job(sitting)
        if chosen == "nothing":
            return some
        if chosen == "facts":
            done = facts(sitting, ())
        elif chosen == "form":
            done = facts(sitting, (), forms_only=True)
        elif chosen == "parts":
            done = parts(sitting, ())
        else:
            done = evidence(sitting, chosen, ())
        some = some or done


def _job(sitting: Sitting) -> str:
    assessment = sitting.assessment
    assert assessment is not None
    choices: dict[str, str] = {}
    kinds, missing = kinds_wanted(assessment), facts_wanted(sitting.reading.workshop, assessment)
    of_forms = facts_wanted(sitting.reading.workshop, assessment, forms_only=True)
    if kinds:
        choices["parts"] = f"{counted(len(kinds), 'list')} of parts not stated"
    if missing:
        choices["facts"] = f"{counted(sum(len(keys) for keys in missing.values()), 'fact')} not stated"
    if of_forms:
        number = sum(len(keys) for keys in of_forms.values())
        choices["form"] = f"{counted(number, 'fact')} for the information document"
    for group, title in GROUPS.items():
        for state in assessment.requirements:
            when = next((gap.group for gap in state.gaps if gap.leaf is not None), None)
            if when == group and state.state.is_gap:
                choices.setdefault(state.id, f"{title}: {state.requirement.title}, {state.state.words}")
    choices["nothing"] = "that is all for now"
    progress("")
    question = Question("job", "What do you record", "choice", choices=choices, preset="nothing")
    return str(ask_one(question, sitting.clock, listed=True))


def facts(sitting: Sitting, subjects: tuple[str, ...], *, forms_only: bool = False) -> bool:
    """Facts that are not stated, of the vehicle and of each part in turn.

    `subjects` are parts, or single facts: KEY, or PART/KEY. `forms_only`: those alone that a form asks.
    """
    assert sitting.assessment is not None
    wanted = facts_wanted(sitting.reading.workshop, sitting.assessment, forms_only=forms_only)
    groups = groups_of_facts(sitting.reading.workshop.facts)
    if subjects and subjects[0] in groups and not forms_only:
        return _facts_for_a_sheet(sitting, subjects[0], groups[subjects[0]])
    keys = {subject: tuple(wanted[subject]) for subject in wanted}
    if subjects:
        keys = _named_facts(wanted, subjects, tuple(groups))
    chosen = tuple(keys)
    if not chosen:
        progress("No fact is missing. What was stated wrongly is corrected: witnessmark record --correct CODE.")
        return False
    if sitting.answers is not None:
        return _facts_from_file(sitting, keys)
    some = False
    for subject in chosen:
        kept = sitting.run(_facts_of(subject, keys[subject])) is not None
        some = some or kept
        if kept and not subjects and SETS in wanted[subject]:
            # The sets are known now, and with them what else is needed.
            return facts(sitting, (), forms_only=forms_only) or some
    return some


def _facts_for_a_sheet(sitting: Sitting, name: str, keys: tuple[str, ...]) -> bool:
    """Facts that no requirement asks, but a chapter prints: those that nobody has stated."""
    assert sitting.vehicle is not None
    workshop = sitting.reading.workshop
    world = World(Ledger(workshop), sitting.vehicle, None, method)
    left = tuple(k for k in keys if k in workshop.facts and world.facts.fact(k, None).value is None)
    if not left:
        progress(f"No fact for {name} is missing. What was stated wrongly is corrected: --correct CODE.")
        return False
    return sitting.run(lambda desk: Facts(desk, VEHICLE, left)) is not None


def _named_facts(
    wanted: Mapping[str, Mapping[str, tuple[str, ...]]], named: tuple[str, ...], groups: tuple[str, ...]
) -> dict[str, tuple[str, ...]]:
    """By subject the facts that are meant: all that are missing, or single ones. Misuse for what is not missing."""
    found: dict[str, tuple[str, ...]] = {}
    for name in named:
        part, slash, key = name.partition("/")
        subject = part if slash or name in wanted else VEHICLE
        key = key if slash else "" if name in wanted else name
        there = wanted.get(subject, {})
        if not there or (key and key not in there):
            single = [k if s == VEHICLE else f"{s}/{k}" for s, ks in wanted.items() for k in ks]
            near = difflib.get_close_matches(name, [*wanted, *single, *groups], n=1)
            known = f"missing are facts of {', '.join(wanted) or 'nothing'}; for what the file prints besides: "
            known += ", ".join(groups)
            raise Misuse(
                Problem("facts.none", f"no fact of '{name}' is missing", f"did you mean {near[0]}?" if near else known)
            )
        found[subject] = (*found.get(subject, ()), *((key,) if key else tuple(there)))
    return found


def _facts_of(subject: str, keys: tuple[str, ...]) -> MakeForm:
    return lambda desk: Facts(desk, subject, keys)


def _list_of(kind: str, titles: tuple[str, ...]) -> MakeForm:
    return lambda desk: Parts(desk, kind, titles)


def _facts_from_file(sitting: Sitting, subjects: Mapping[str, tuple[str, ...]]) -> bool:
    """The vehicle's own facts stand at the top of the file, those of a part under `each`."""
    answers = sitting.answers
    assert answers is not None
    strange = [subject for subject in answers.each if subject not in subjects]
    if strange:
        raise Misuse(*(_unknown("part", subject, sorted(subjects)) for subject in strange))
    of_vehicle = tuple(k for k in answers.common if k.startswith(("fact.", "source.")))
    chosen = [s for s in subjects if s in answers.each or (s == "vehicle" and of_vehicle)]
    forms = [(_facts_of(s, subjects[s]), s, () if s == "vehicle" else of_vehicle) for s in chosen]
    sitting.must_all_be_kept(forms)
    some = False
    for form, subject, elsewhere in forms:
        some = sitting.run(form, part=subject, elsewhere=elsewhere) is not None or some
    if not chosen:
        raise Misuse(
            Problem(
                "answers.empty", "the answers hold no fact that is wanted", f"wanted are facts of {', '.join(subjects)}"
            )
        )
    return some


def parts(sitting: Sitting, kinds: tuple[str, ...]) -> bool:
    """Lists of parts that are not stated, kind by kind."""
    assert sitting.assessment is not None
    wanted = kinds_wanted(sitting.assessment)
    for kind in kinds:
        if kind not in wanted:
            raise Misuse(
                Problem(
                    "parts.none", f"the list of {kind} is not missing", f"missing are {', '.join(wanted) or 'none'}"
                )
            )
    chosen = kinds or tuple(wanted)
    if not chosen:
        progress("No list is missing. What is fitted or taken out later is an event: witnessmark change.")
        return False
    if sitting.answers is not None and len(chosen) > 1:
        raise Misuse(
            Problem("answers.kind", "one file of answers states one list", f"name the kind: {', '.join(chosen)}")
        )
    some = False
    for kind in chosen:
        some = sitting.run(_list_of(kind, wanted[kind])) is not None or some
    return some


# ---- evidence


def from_sheet(sitting: Sitting, code: str, only: tuple[str, ...]) -> bool:
    """A test sheet that was filled in: the rows in which something is missing, by the method it was printed for."""
    from witnessmark.document.sheets.asked import last_units, sheet_of_code

    assert sitting.assessment is not None
    sheet = sheet_of_code(sitting.reading.workshop, sitting.assessment, code)
    if isinstance(sheet, Problem):
        raise Misuse(sheet)
    rows = only or tuple(row.part for row in sheet.to_do if row.part is not None)
    what = f"{sheet.set_id}:{sheet.requirement}/{','.join(sheet.leaves)}"
    printed = UNPRINTED
    if sheet.method is not None:
        units = last_units(sitting.reading.workshop, sheet.method, sheet.requirement)
        printed = Printed(sheet.method.id, units)
    return evidence(sitting, what, rows, printed=printed)


def evidence(
    sitting: Sitting, what: str, only: tuple[str, ...], *, retest: bool = False, printed: Printed = UNPRINTED
) -> bool:
    """Records for one requirement (or some of its leaves), for one part after another."""
    state, leaves = _requirement(sitting, what)
    places = _places(sitting, state, only, retest)

    def form_of(place: PartState) -> _Maker:
        fails = standing_fails(tuple(leaf for leaf in place.leaves if not leaves or leaf.name in leaves))
        again = retest or _is_retest(sitting, place, fails)
        return _Maker(state.set_id, state.id, place, leaves, again, printed)

    if sitting.answers is not None:
        sitting.must_all_be_kept((form_of(place), place.part or "", ()) for place in places)
    carried: Given = {}
    some = False
    for number, place in enumerate(places):
        if number:
            progress("")
        form = form_of(place)
        given = sitting.run(form, carried=carried, part=place.part or "")
        if given is None:
            break
        some = True
        each = {q.key for q in form(sitting.desk()).questions(given) if q.each}
        carried = {k: v for k, v in given.items() if k not in each}
    return some


@dataclass(frozen=True, slots=True)
class _Maker:
    """Makes the form anew from the folder as it is then: a record that was just kept is among what it sees."""

    set_id: str
    requirement: str
    place: PartState
    leaves: tuple[str, ...]
    retest: bool
    printed: Printed

    def __call__(self, desk: Desk) -> Form:
        assert desk.assessment is not None
        state = next(r for r in desk.assessment.requirements if (r.set_id, r.id) == (self.set_id, self.requirement))
        place = next((p for p in state.parts if (p.part, p.title) == (self.place.part, self.place.title)), self.place)
        twice = sum(1 for r in desk.assessment.requirements if r.id == self.requirement) > 1
        design = None
        if state.requirement.about == "design" and place.part is not None:
            design = _design(desk, place)
        prefix = f"{self.set_id}:" if twice else ""
        return Evidence(desk, state, place, design, self.leaves, self.retest, prefix, self.printed)


def _design(desk: Desk, place: PartState) -> str:
    designs = World(Ledger(desk.workshop), desk.vehicle or "", (), method).parts.designs(place.part or "")
    named = [d for d in designs if place.title.endswith(d)] or list(designs)
    if not named:
        raise Misuse(
            Problem(
                "part.design",
                f"the design of {place.title} is not stated",
                "state it in its list of parts, or by witnessmark change",
            )
        )
    return named[0]


def _requirement(sitting: Sitting, what: str) -> tuple[RequirementState, tuple[str, ...]]:
    assert sitting.assessment is not None
    name, _, leaf_names = what.partition("/")
    set_id, colon, bare = name.partition(":")
    ident = bare if colon else name
    found = [r for r in sitting.assessment.requirements if r.id == ident and (not colon or r.set_id == set_id)]
    if not found:
        raise Misuse(_unknown("requirement", ident, sorted({r.id for r in sitting.assessment.requirements})))
    if len(found) > 1:
        sets = ", ".join(f"{r.set_id}:{r.id}" for r in found)
        raise Misuse(
            Problem("requirement.twice", f"'{ident}' stands in several chosen sets", f"write the set before it: {sets}")
        )
    leaves = tuple(n for n in leaf_names.split(",") if n)
    for leaf in leaves:
        if leaf not in found[0].requirement.leaves:
            raise Misuse(_unknown("leaf", leaf, sorted(found[0].requirement.leaves)))
    return found[0], leaves


def _places(sitting: Sitting, state: RequirementState, only: tuple[str, ...], retest: bool) -> tuple[PartState, ...]:
    """The parts in whose row something is recorded: those named, else those that are asked for."""
    if state.requirement.each is None:
        return state.parts or (PartState(None, "the vehicle", state.state, ()),)
    by_part = {p.part or "": p for p in state.parts}
    if not by_part:
        raise Misuse(
            Problem(
                "parts.none",
                f"“{state.requirement.title}” is shown part by part; no {state.requirement.each.part} comes under it",
                f"state the list first: witnessmark record {sitting.vehicle} parts {state.requirement.each.part}",
            )
        )
    for part in only:
        if part not in by_part:
            raise Misuse(_unknown("part", part, sorted(by_part)))
    if not only and sitting.answers is not None:
        only = tuple(p for p in sitting.answers.each if p in by_part)
        strange = [p for p in sitting.answers.each if p not in by_part]
        if strange:
            raise Misuse(*(_unknown("part", p, sorted(by_part)) for p in strange))
        if not only and len(by_part) > 1:
            raise Misuse(
                Problem(
                    "answers.part",
                    "which part are the answers for?",
                    f"give --part, or each: with {', '.join(by_part)}",
                )
            )
    if not only and len(by_part) > 1:
        missing = tuple(p for p, s in by_part.items() if s.state.is_gap)
        question = Question(
            "parts", "Which parts, in this order", "choice", "all, or several with a comma between.",
            choices={p: f"{s.title}: {s.state.words}" for p, s in by_part.items()}, several=True, preset=missing,
        )  # fmt: skip
        only = tuple(ask_one(question, sitting.clock))
    return tuple(by_part[p] for p in only or by_part)


def _is_retest(sitting: Sitting, place: PartState, fails: tuple[str, ...]) -> bool:
    """Where a fail stands, a pass that does not name it ends nothing."""
    if not fails:
        return False
    if sitting.answers is not None:
        return "cause" in sitting.answers.of(place.part or "")
    progress("")
    progress(
        f"{harmless(place.title)}: {counted(len(fails), 'fail')} stands until a retest names it ({', '.join(fails)})."
    )
    return choose("Is this the retest", {"yes": "", "no": ""}, preset="yes") == "yes"


# ---- acts about acts


def about_act(sitting: Sitting, how: str, code: str, only: tuple[str, ...]) -> bool:
    """Correct, withdraw, retest, carry over, check."""
    match how:
        case "correct":
            return sitting.run(lambda desk: back.Correction(desk, code)) is not None
        case "withdraw":
            return sitting.run(lambda desk: back.Withdrawal(desk, code)) is not None
        case "carry_over":
            return sitting.run(lambda desk: back.CarryOver(desk, code)) is not None
        case "check":
            return sitting.run(lambda desk: back.Check(desk, code)) is not None
        case _:
            return _retest(sitting, code)


def _retest(sitting: Sitting, code: str) -> bool:
    """The same leaves of the same part again; the record names every fail that still stands there."""
    assert sitting.assessment is not None
    failed: dict[tuple[str, str], list[str]] = {}
    for state in sitting.assessment.requirements:
        for place in state.parts:
            for leaf in place.leaves:
                for result in leaf.records:
                    if result.act.code == code:
                        names = failed.setdefault((f"{state.set_id}:{state.id}", place.part or ""), [])
                        if result.verdict is Verdict.FAIL and not result.ended and not result.withdrawn:
                            names.append(leaf.name)
    if not failed:
        raise Misuse(
            Problem(
                "act.unknown", f"no record {code} answers a requirement of {sitting.vehicle}", "see witnessmark audit"
            )
        )
    standing = {target: names for target, names in failed.items() if names}
    if not standing:
        raise Misuse(Problem("retest.none", f"{code} is no fail that still stands", "record it as usual"))
    (target, part), names = next(iter(standing.items()))
    return evidence(sitting, f"{target}/{','.join(names)}", (part,) if part else (), retest=True)
