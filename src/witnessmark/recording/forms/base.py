"""What every form is, and the questions that several of them ask."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any, Protocol

from witnessmark.assessment.model import Assessment
from witnessmark.problems import Misuse, Problem
from witnessmark.reading.workshop import Reading
from witnessmark.records.base import text_of_instant
from witnessmark.records.world import Act, Workshop

from ..keep import Entered
from ..questions import Given, Question, one

__all__ = [
    "Amended",
    "Desk",
    "Form",
    "Harmless",
    "Plain",
    "act_of",
    "brought",
    "free_path",
    "id_of",
    "instant_question",
    "known_act",
    "note_question",
    "people",
    "person_question",
    "second_question",
    "title_of_part",
]


@dataclass(frozen=True, slots=True)
class Desk:
    """What a form may look at: the folder as read, the states of the vehicle, the clock, and who sits here."""

    reading: Reading
    assessment: Assessment | None
    vehicle: str | None
    now: datetime
    by: str

    @property
    def workshop(self) -> Workshop:
        return self.reading.workshop


@dataclass(frozen=True, slots=True)
class Plain:
    """A file that describes and claims nothing, such as a person: written and committed, not sealed."""

    path: str
    tree: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Amended:
    """A describing file that is there already, with these keys set and the others as they are. Not sealed.

    `files`: the path from the folder of each file that comes with it, to where it is copied from.
    """

    path: str
    changes: Mapping[str, Any]
    files: Mapping[str, Path] = field(default_factory=dict)


class Form(Protocol):
    """One kind of act."""

    @property
    def title(self) -> str:
        """What is recorded, in words."""
        ...

    def questions(self, given: Given) -> tuple[Question, ...]:
        """All questions that follow from the answers so far, in the order of work."""
        ...

    def entered(self, given: Given) -> Entered | Plain | Amended:
        """The act that the answers make; every question has its answer."""
        ...

    def sentence(self, given: Given) -> str:
        """What the commit says; the code comes behind it."""
        ...

    def cautions(self, given: Given) -> tuple[str, ...]:
        """What the work warns of, as far as it is known from the answers."""
        ...

    @property
    def says(self) -> tuple[str, ...]:
        """What an act says that this one is about, line by line."""
        ...


class Harmless:
    """A form whose work is done at the desk."""

    def cautions(self, given: Given) -> tuple[str, ...]:
        """None: nobody comes near live parts for it."""
        return ()

    @property
    def says(self) -> tuple[str, ...]:
        """Nothing: it is about no other act."""
        return ()


def people(workshop: Workshop) -> dict[str, str]:
    """Id of everybody, with name and role."""
    return {
        ident: f"{person.name}, {person.role}" + (" (from outside)" if person.outside == "yes" else "")
        for ident, person in sorted(workshop.people.items())
    }


def person_question(
    desk: Desk, key: str, ask: str, *, preset: str = "", required: bool = True, why: str = "", quiet: bool = False
) -> Question:
    """Which of the people."""
    return Question(
        key, ask, "choice", why, choices=people(desk.workshop), preset=preset, required=required, quiet=quiet
    )


def second_question(desk: Desk, maker: str) -> Question:
    """The second person; may be left blank, and then checks it later in an act of their own."""
    others = {ident: words for ident, words in people(desk.workshop).items() if ident != maker}
    return Question(
        "second",
        "Second person who has checked this",
        "choice",
        "It takes effect only with a second person, who may be from outside the workshop. "
        "Left blank, that person checks it later: witnessmark record --check CODE.",
        choices=others,
        required=False,
    )


def instant_question(desk: Desk, key: str, ask: str, *, each: bool = False) -> Question:
    """A time, now if nothing is typed."""
    return Question(key, ask, "instant", preset=text_of_instant(desk.now), each=each)


def note_question() -> Question:
    """Free words at the end."""
    return Question("note", "Anything to note", required=False, each=True)


def act_of(desk: Desk, code: str) -> Act:
    """The act with that code; Misuse when there is none."""
    found = next((act for act in desk.workshop.acts if act.code == code), None)
    if found is None:
        raise Misuse(
            Problem(
                "act.unknown",
                f"no sealed act has the code '{code}'",
                "the code stands in the record's file and on the page",
            )
        )
    return found


def known_act(desk: Desk, code: str) -> Act:
    """The act with that code, as its sealed text; Misuse when it is not in the history, or was edited."""
    act = act_of(desk, code)
    if act.appeared is None:
        raise Misuse(
            Problem(
                "act.draft",
                f"{code} is not committed",
                f"seal it first: witnessmark record --seal {act.path}",
                act.place,
            )
        )
    return act


def free_path(desk: Desk, folder: str, *words: str) -> str:
    """A file name in the folder that is not in use: the words, and a number where they are taken."""
    stem = id_of("-".join(w for w in words if w)) or "act"
    taken = {path.casefold() for path in desk.reading.folder.data} | {p.casefold() for p in desk.reading.folder.entries}
    number = 1
    while True:
        path = f"{folder}/{stem}.yaml" if number == 1 else f"{folder}/{stem}-{number}.yaml"
        if path.casefold() not in taken and not (desk.reading.folder.root / path).exists():
            return path
        number += 1


def id_of(words: str) -> str:
    """An id made of words: `DC/DC converter` gives `dc-dc-converter`."""
    return re.sub(r"[^a-z0-9]+", "-", words.casefold()).strip("-")[:60].strip("-")


def brought(given: Given, key: str, folder: str, files: dict[str, Path]) -> str:
    """The path in the evidence that a file typed by a person gets; '' where the blank was left. Fills `files`."""
    typed = one(given, key)
    if not typed:
        return ""
    source = Path(typed).expanduser()
    name = re.sub(r"[\\:*?\"<>|\x00-\x1f]+", "-", source.name).strip(" .") or "file"
    path = f"{folder}/{name}"
    if path in files and files[path].resolve() != source.resolve():
        stem, dot, ending = name.rpartition(".")
        path = f"{folder}/{stem}-{len(files) + 1}{dot}{ending}" if dot else f"{folder}/{name}-{len(files) + 1}"
    files[path] = source
    return path


def title_of_part(desk: Desk, part: str) -> str:
    """The title of a part as lists and events say it; its id where nothing does."""
    from witnessmark.assessment.judging import World
    from witnessmark.assessment.ledger import Ledger
    from witnessmark.methods.registry import method

    if part == "vehicle" or desk.vehicle is None:
        return "the vehicle"
    return World(Ledger(desk.workshop), desk.vehicle, (), method).parts.title(part)
