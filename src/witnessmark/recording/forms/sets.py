"""What is recorded of a requirement set: a sealed edition, a comparison with the official text, figures adopted."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import Any, ClassVar

from witnessmark.assessment.ledger import Ledger
from witnessmark.assessment.model import Review, Reviewed
from witnessmark.assessment.reviews import review_of
from witnessmark.document.views.words import CONFIDENCE, leaf_asks, plain_name
from witnessmark.problems import Misuse, Problem
from witnessmark.reading.set_differences import changed_between, differences_of, unexplained
from witnessmark.reading.sets import FACTS
from witnessmark.records.acts import SetEdition
from witnessmark.records.conditions import Condition, in_words
from witnessmark.records.sets import Requirement, RequirementSet

from ..editions import edition_tree
from ..keep import Entered
from ..questions import Given, Question, one
from .base import Desk, Harmless, free_path, note_question, person_question

__all__ = ["Adoption", "Comparison", "Edition", "waiting"]

STOP = "stop"
LATER = "later"


@dataclass(frozen=True)
class _OfSet(Harmless):
    """What these have: the set, named or asked for."""

    desk: Desk
    set_id: str = ""

    def set_question(self) -> tuple[Question, ...]:
        if self.set_id:
            return ()
        sets = {ident: found.file.title for ident, found in sorted(self.desk.workshop.sets.items())}
        return (Question("set", "Which requirement set", "choice", choices=sets),)

    def name(self, given: Given) -> str:
        return self.set_id or one(given, "set")

    def chosen(self, given: Given) -> RequirementSet | None:
        return self.desk.workshop.sets.get(self.name(given))

    def closing(self, ask: str) -> Iterator[Question]:
        yield Question("on", "On which day", "day", preset="today")
        yield person_question(self.desk, "by", ask, preset=self.desk.by)
        yield note_question()

    @cached_property
    def ledger(self) -> Ledger:
        return Ledger(self.desk.workshop)


def waiting(ledger: Ledger, found: RequirementSet, *, official: bool) -> tuple[tuple[Requirement, Review], ...]:
    """Requirements of the set that nobody has compared with the official text (or, where there is none, adopted), and
    those that were found to differ."""
    rows = ((r, review_of(ledger, found.id, r, found.digests.get(r.id))) for r in found.requirements)
    return tuple(
        (r, review)
        for r, review in rows
        if r.source.without_official_text is not official and review.what in (Reviewed.NOBODY, Reviewed.DIFFERS)
    )


@dataclass(frozen=True)
class Edition(_OfSet):
    """A new edition: what the set asks from now on, with the reason for every change."""

    title: str = "An edition of a requirement set"

    @property
    def says(self) -> tuple[str, ...]:
        return (
            "An edition seals the text of every requirement as it lies in the folder. A record that was judged by an "
            "older edition lapses until it is carried over with a second person, or made again.",
        )

    def questions(self, given: Given) -> tuple[Question, ...]:
        return tuple(self._questions(given))

    def _questions(self, given: Given) -> Iterator[Question]:
        yield from self.set_question()
        found = self.chosen(given)
        if found is None:
            return
        yield Question("edition", "What is the new edition called", "words", preset=self._free_name(found.id))
        last = ""
        for ident, words in self._to_explain(found):
            yield Question(f"why.{ident}", f"Why is it so ({ident})", shown=words, preset=last, suggested=True)
            last = one(given, f"why.{ident}") or last
        yield from self.closing("Who issues it")

    def _editions(self, set_id: str) -> list[SetEdition]:
        acts = [(a, e) for a, e in self.ledger.of(SetEdition) if e.set == set_id and not self.ledger.gone(a)]
        acts.sort(key=lambda pair: (pair[1].issued, pair[0].appeared if pair[0].appeared is not None else 10**9))
        return [edition for _, edition in acts]

    def _free_name(self, set_id: str) -> str:
        taken = {e.edition for e in self._editions(set_id)}
        year = self.desk.now.year
        return next(name for n in range(1, 1000) if (name := f"{year}-{n}") not in taken)

    def _to_explain(self, found: RequirementSet) -> Iterator[tuple[str, tuple[str, ...]]]:
        editions = self._editions(found.id)
        if not editions:
            return
        changed = changed_between(editions[-1].requirements, found.digests)
        open_ = [ident for _, ident in unexplained(editions)]
        difference = differences_of(found)
        if not changed and not open_ and found.file.decision_rule == editions[-1].decision_rule:
            raise Misuse(
                Problem(
                    "set.edition-same",
                    f"nothing in '{found.id}' differs from its edition {editions[-1].edition}",
                    "change the set's files first; an edition is for what they say then",
                )
            )
        for ident in dict.fromkeys([*changed, *open_]):
            requirement = found.requirement(ident)
            was = ident in editions[-1].requirements
            word = "is taken out" if requirement is None else "is changed" if was else "is new"
            title = f"“{requirement.title}”" if requirement is not None else f"“{ident}”"
            less = (difference.loosened or {}).get(ident, ())
            yield ident, (f"{title} {word}.", *(f"LOOSENED beside what came with the tool: {words}" for words in less))

    def entered(self, given: Given) -> Entered:
        changes = {k.removeprefix("why."): one(given, k) for k in given if k.startswith("why.")}
        name = self.name(given)
        path, tree = edition_tree(
            self.desk.reading,
            name,
            edition=one(given, "edition"),
            issued=date.fromisoformat(one(given, "on")),
            by=one(given, "by"),
            changes=changes,
        )
        texts = tuple(
            p
            for p in sorted(self.desk.reading.folder.data)
            if p == FACTS or (p.startswith(f"requirements/{name}/") and (p.count("/") == 2 or "/forms/" in p))
        )
        return Entered(path, {**tree, "note": one(given, "note")}, "evidence", beside=texts)

    def sentence(self, given: Given) -> str:
        return f"Edition {one(given, 'edition')} of {self.name(given)}"


@dataclass(frozen=True)
class _OneByOne(_OfSet):
    """A list of requirements gone through one after another, until the person has enough."""

    official: ClassVar[bool]
    """Whether it is about requirements that stand in an official text, or about those that stand in none."""

    def questions(self, given: Given) -> tuple[Question, ...]:
        found = self.chosen(given)
        if found is None:
            return self.set_question()
        if not self.rows(given):
            raise Misuse(
                Problem(
                    "set.nothing-waits",
                    f"no requirement of '{found.id}' waits for this",
                    "see: witnessmark list unconfirmed",
                )
            )
        return (*self.set_question(), *self.asked(given))

    def asked(self, given: Given) -> Iterator[Question]:
        """What follows once the set is known."""
        yield from ()

    def rows(self, given: Given) -> tuple[tuple[Requirement, Review], ...]:
        found = self.chosen(given)
        return waiting(self.ledger, found, official=self.official) if found else ()

    def beside_the_set(self, given: Given, kind: str, tree: dict[str, Any]) -> Entered:
        """The act, with who, when and a note, in the set's own folder."""
        tree |= {k: one(given, k) for k in ("on", "by", "note")}
        path = free_path(self.desk, f"requirements/{self.name(given)}/reviews", kind, one(given, "on"))
        return Entered(path, tree, "evidence")

    def one_by_one(self, given: Given, key: str, ask: str, choices: dict[str, str]) -> Iterator[Question]:
        """`key.ID` for each requirement; nothing after `stop`."""
        rows = self.rows(given)
        for number, (requirement, review) in enumerate(rows, start=1):
            lines = self.lines(requirement)
            if review.what is Reviewed.DIFFERS:
                lines = (*lines, f"Found to differ on {review.on} by {review.by}: {review.words}")
            yield Question(
                f"{key}.{requirement.id}",
                ask,
                "choice",
                choices={**choices, LATER: "leave it for another day", STOP: "that is all for today"},
                preset=LATER,
                shown=(f"{number} of {len(rows)}", *lines),
            )
            answer = one(given, f"{key}.{requirement.id}")
            if answer == STOP:
                return
            if answer == "no":
                yield Question(f"differs.{requirement.id}", "What does the official text say otherwise")

    def lines(self, requirement: Requirement) -> tuple[str, ...]:
        """Everything in it that a text can be held against."""
        found = [f"Clause {requirement.clause}: {requirement.title}", requirement.statement]
        each = requirement.each
        if each is not None:
            found.append(f"For each {plain_name(each.part)}{self._where(' where ', each.where)}.")
        if requirement.applies is not None:
            found.append(f"Applies{self._where(' where ', requirement.applies)}.")
        for name, leaf in requirement.leaves.items():
            more = [f"{k.replace('_', ' ')} {v}" for k, v in leaf.conditions.items()]
            more += [f"at least {leaf.after.wait} after {plain_name(leaf.after.leaf)}"] if leaf.after else []
            more += [f"exempt: {words}" for words in leaf.exemptions.values()]
            found.append(f"- {plain_name(name)} ({leaf.kind}): {'; '.join([leaf_asks(leaf), *more])}")
        found.append(f"Shown by: {requirement.shown}")
        source = CONFIDENCE[requirement.source.confidence]
        return (*found, f"Source: {source}{f'; {requirement.source.note}' if requirement.source.note else ''}")

    def _where(self, lead: str, condition: Condition | None) -> str:
        if condition is None:
            return ""
        facts = self.desk.workshop.facts

        def named(key: str) -> str:
            return (facts[key].title if key in facts else "") or plain_name(key)

        return lead + in_words(condition, named)

    def answered(self, given: Given, key: str, *answers: str) -> dict[str, str]:
        found = {
            k.removeprefix(f"{key}."): one(given, k)
            for k in given
            if k.startswith(f"{key}.") and one(given, k) in answers
        }
        if not found:
            raise Misuse(Problem("set.nothing-said", "nothing was said of any requirement", "answer one of them"))
        return found


@dataclass(frozen=True)
class Comparison(_OneByOne):
    """Requirement after requirement held beside the official text."""

    official = True
    title: str = "A comparison with the official text"

    @property
    def says(self) -> tuple[str, ...]:
        return (
            "Have the official text at hand. Compare the clause, when it applies, every figure and every condition; "
            "the words are our own and need not be alike.",
        )

    def asked(self, given: Given) -> Iterator[Question]:
        yield Question(
            "official", "Which text lies before you", why="Document, edition or supplement, page, as printed on it."
        )
        yield from self.one_by_one(
            given, "agrees", "Does it ask the same", {"yes": "clause, conditions and figures agree", "no": "it differs"}
        )
        yield from self.closing("Who has compared it")

    def entered(self, given: Given) -> Entered:
        name, found = self.name(given), self.chosen(given)
        assert found is not None
        said: dict[str, Any] = {}
        for ident, answer in self.answered(given, "agrees", "yes", "no").items():
            said[ident] = {"digest": found.digests[ident], "agrees": answer, "differs": one(given, f"differs.{ident}")}
        tree: dict[str, Any] = {"compares": name, "official": one(given, "official"), "requirements": said}
        return self.beside_the_set(given, "comparison", tree)

    def sentence(self, given: Given) -> str:
        number = len(self.answered(given, "agrees", "yes", "no"))
        return f"Compare {number} of {self.name(given)} with the official text"


@dataclass(frozen=True)
class Adoption(_OneByOne):
    """Figures of common practice that the workshop takes as its own, one after another."""

    official = False
    title: str = "Figures of common practice adopted by this workshop"

    @property
    def says(self) -> tuple[str, ...]:
        return (
            "No law and no standard stands behind these figures. Who adopts one answers for it in the name of the "
            "workshop. Whoever wants another figure changes it in the set's file and seals an edition: witnessmark "
            "record edition.",
        )

    def asked(self, given: Given) -> Iterator[Question]:
        yield from self.one_by_one(
            given, "adopts", "Does the workshop adopt it", {"yes": "as it stands, with its figures"}
        )
        yield from self.closing("Who adopts it")

    def entered(self, given: Given) -> Entered:
        name, found = self.name(given), self.chosen(given)
        assert found is not None
        outside = self.desk.workshop.people.get(one(given, "by"))
        if outside is not None and outside.outside == "yes":
            raise Misuse(
                Problem(
                    "person.outside",
                    f"{outside.name} is from outside the workshop",
                    "somebody of the workshop adopts its figures",
                )
            )
        taken = {ident: found.digests[ident] for ident in self.answered(given, "adopts", "yes")}
        tree: dict[str, Any] = {"adopts": name, "requirements": taken}
        return self.beside_the_set(given, "adoption", tree)

    def sentence(self, given: Given) -> str:
        return f"Adopt {len(self.answered(given, 'adopts', 'yes'))} figures of {self.name(given)}"
