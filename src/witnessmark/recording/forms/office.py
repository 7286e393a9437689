"""What is kept in the office: people, instruments, calibrations, authorisations, policy, concessions, designs."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from witnessmark.language import say
from witnessmark.methods.base import RoleSpec
from witnessmark.methods.registry import method as registered
from witnessmark.methods.registry import method_ids
from witnessmark.reading.files import Hashed, hash_file
from witnessmark.records.sets import LeafKind

from ..keep import Entered
from ..questions import Given, Question, one
from .base import Desk, Harmless, Plain, brought, free_path, id_of, note_question, person_question
from .statement import fact_question, facts_of_kind

__all__ = ["Authorisation", "Calibration", "Concession", "Design", "Instrument", "Person", "Policy", "Vehicle"]


def _all_roles() -> tuple[RoleSpec, ...]:
    found = (registered(ident) for ident in method_ids())
    return tuple(role for m in found if m is not None for role in m.roles)


@dataclass(frozen=True)
class Person(Harmless):
    """Somebody of the workshop, or from outside it."""

    desk: Desk
    title: str = "A person"

    def questions(self, given: Given) -> tuple[Question, ...]:
        names = [
            Question("name", "Name"),
            Question(
                "id", "Short id for files", "id", "Such as the initials: jm.", preset=_initials(one(given, "name"))
            ),
            Question("role", "What is the person here", why="Such as electrician, inspector of the technical service."),
            Question("outside", "From outside the workshop", "choice", choices={"no": "", "yes": ""}, preset="no"),
        ]
        if one(given, "outside") == "yes":
            names.append(Question("firm", "Of which firm or authority", required=False))
        names.append(Question("email", "E-mail address", required=False))
        return tuple(names)

    def entered(self, given: Given) -> Plain:
        outside = {"outside": "yes", "firm": one(given, "firm")} if one(given, "outside") == "yes" else {}
        tree = {k: one(given, k) for k in ("name", "role", "email")} | outside
        return Plain(f"evidence/people/{one(given, 'id')}.yaml", tree)

    def sentence(self, given: Given) -> str:
        return f"Add a person: {one(given, 'name')}"


def _initials(name: str) -> str:
    words = [w for w in id_of(name).split("-") if w]
    return "".join(w[0] for w in words) if len(words) > 1 else "".join(words)


@dataclass(frozen=True)
class Vehicle(Harmless):
    """Another vehicle."""

    desk: Desk
    title: str = "A vehicle"

    def questions(self, given: Given) -> tuple[Question, ...]:
        return (
            Question("id", "Short id for files", "id", "Such as van-08."),
            Question("title", "What kind of vehicle it is", why="Such as light van, electric conversion."),
            Question("file_number", "Number of its technical file", preset=f"TF-{one(given, 'id')}"),
            Question("owner", "Owner", required=False),
            Question("service", "Technical service or authority that the file goes to", required=False),
        )

    def entered(self, given: Given) -> Plain:
        tree = {k: one(given, k) for k in ("title", "file_number", "owner", "service")} | {"issue": "A"}
        return Plain(f"evidence/vehicles/{one(given, 'id')}/vehicle.yaml", tree)

    def sentence(self, given: Given) -> str:
        return f"Add a vehicle: {one(given, 'id')}"


@dataclass(frozen=True)
class Instrument(Harmless):
    """An instrument. How good it is stands on its calibration."""

    desk: Desk
    title: str = "An instrument"

    def questions(self, given: Given) -> tuple[Question, ...]:
        functions: dict[str, str] = {}
        for role in _all_roles():
            functions.setdefault(role.function, say(role.title))
        return (
            Question("title", "What is it", why="Such as Insulation tester."),
            Question("id", "Short id for files", "id", "Such as it-01.", preset=_initials(one(given, "title")) + "-01"),
            Question("serial", "Serial number"),
            Question(
                "functions", "What does it measure", "choice", choices=dict(sorted(functions.items())), several=True
            ),
            note_question(),
        )

    def entered(self, given: Given) -> Plain:
        tree = {"title": one(given, "title"), "serial": one(given, "serial"), "functions": given["functions"]}
        return Plain(f"evidence/instruments/{one(given, 'id')}/instrument.yaml", {**tree, "note": one(given, "note")})

    def sentence(self, given: Given) -> str:
        return f"Add an instrument: {one(given, 'title')}, {one(given, 'serial')}"


FOUND = {
    "in-tolerance": "within tolerance when it arrived",
    "out-of-tolerance": "out of tolerance when it arrived: what it read since the last good calibration lapses",
    "first": "its first calibration: nothing is known of before",
}


@dataclass(frozen=True)
class Calibration(Harmless):
    """One calibration certificate."""

    desk: Desk
    instrument: str = ""
    title: str = "A calibration"

    def questions(self, given: Given) -> tuple[Question, ...]:
        return tuple(self._questions(given))

    def _questions(self, given: Given) -> Iterator[Question]:
        instruments = {i: f"{f.title}, {f.serial}" for i, f in sorted(self.desk.workshop.instruments.items())}
        if not self.instrument:
            yield Question(
                "instrument",
                "Of which instrument",
                "choice",
                "" if instruments else "There is none yet: witnessmark record instrument",
                choices=instruments,
            )
        chosen = self.desk.workshop.instruments.get(self._of(given))
        if chosen is None:
            return
        yield Question("on", "On which day was it calibrated", "day")
        yield Question("due", "Until which day does it count", "day")
        yield Question("certificate", "Number of the certificate")
        yield Question("laboratory", "Which laboratory")
        yield Question("as_found", "How was it found", "choice", choices=FOUND)
        yield Question("found", "What was found, in words", required=one(given, "as_found") == "out-of-tolerance")
        yield Question("file", "The certificate as a file (blank: none)", "file", required=False)
        for function in chosen.functions:
            yield from self._rows(function, given)
        traits = {name for role in _all_roles() if role.function in chosen.functions for name, _ in role.traits}
        for trait in sorted(traits):
            yield Question(
                f"trait.{trait}",
                trait.replace("_", " ").capitalize(),
                required=False,
                why="With its unit; some methods ask it.",
            )
        yield person_question(self.desk, "by", "Who has read the certificate", preset=self.desk.by)
        yield note_question()

    def _of(self, given: Given) -> str:
        return self.instrument or one(given, "instrument")

    def _rows(self, function: str, given: Given) -> Iterator[Question]:
        number = 1
        words = function.replace("-", " ")
        while True:
            lead = f"{function}.{number}"
            yield Question(f"{lead}.low", f"{words}, range {number}: from", "quantity", "With its unit, such as 0 V.")
            yield Question(f"{lead}.high", f"{words}, range {number}: to", "quantity", "With its unit.")
            yield Question(f"{lead}.percent_of_reading", "± how many % of the reading", "number", required=False)
            yield Question(f"{lead}.digits", "± how many digits", "count", required=False)
            if one(given, f"{lead}.digits"):
                yield Question(f"{lead}.resolution", "One digit is", "quantity", "With its unit, such as 0.01 V.")
            yield Question(f"{lead}.fixed", "± a constant part", "quantity", "With its unit.", required=False)
            yield Question(
                f"{lead}.certificate_U",
                "U of the calibration itself",
                required=False,
                why="With its unit; blank for none.",
            )
            if one(given, f"{lead}.certificate_U"):
                yield Question(f"{lead}.certificate_k", "with k", "number", preset="2")
            yield Question(
                f"{lead}.more", f"Another range of {words}", "choice", choices={"no": "", "yes": ""}, preset="no"
            )
            if one(given, f"{lead}.more") != "yes":
                return
            number += 1

    def entered(self, given: Given) -> Entered:
        instrument = self._of(given)
        base = "evidence"
        files: dict[str, Path] = {}
        name = brought(given, "file", f"instruments/{instrument}/calibrations", files)
        rows = []
        for key in given:
            if key.endswith(".low"):
                function, number, _ = key.rsplit(".", 2)
                cells = {k.rpartition(".")[2]: one(given, k) for k in given if k.startswith(f"{function}.{number}.")}
                rows.append({"function": function, **{k: v for k, v in cells.items() if v and k != "more"}})
        tree: dict[str, Any] = {"calibration": instrument}
        tree |= {k: one(given, k) for k in ("on", "due", "certificate", "laboratory", "as_found", "found")}
        tree |= {
            "accuracy": rows,
            "traits": {k[6:]: one(given, k) for k in given if k.startswith("trait.") and given[k]},
        }
        tree |= {"by": one(given, "by"), "note": one(given, "note")}
        if name:
            tree["files"] = [_entry(name, files[name])]
        folder = f"evidence/instruments/{instrument}/calibrations"
        return Entered(free_path(self.desk, folder, one(given, "on")), tree, base, files)

    def sentence(self, given: Given) -> str:
        return f"Calibration of {self._of(given)}: {one(given, 'certificate')}"


def _entry(name: str, source: Path) -> dict[str, Any]:
    hashed = hash_file(source, source.name, keep=0)
    if not isinstance(hashed, Hashed):
        return {"name": name, "bytes": "0", "sha256": "0" * 64}  # Copying refuses it, with the reason.
    return {"name": name, "bytes": hashed.size, "sha256": hashed.sha256}


@dataclass(frozen=True)
class Authorisation(Harmless):
    """Somebody may do some work from one day to another."""

    desk: Desk
    person: str = ""
    title: str = "An authorisation"

    def questions(self, given: Given) -> tuple[Question, ...]:
        work = {"all": "everything"} | {kind.value: f"to {kind.value}" for kind in LeafKind}
        work |= {m.name: say(m.title) for m in map(registered, method_ids()) if m is not None}
        asked = [] if self.person else [person_question(self.desk, "person", "Who is authorised")]
        return (
            *asked,
            Question(
                "for",
                "For which work",
                "choice",
                "all, kinds of work, or single methods.",
                choices=work,
                several=True,
                preset=("all",),
            ),
            Question("from", "From which day", "day", preset="today"),
            Question("until", "Until which day", "day"),
            Question("basis", "On what ground", why="Training, examination or trade qualification, with its paper."),
            person_question(self.desk, "by", "Who authorises", preset=self.desk.by),
            note_question(),
        )

    def _who(self, given: Given) -> str:
        return self.person or one(given, "person")

    def entered(self, given: Given) -> Entered:
        tree = {"authorises": self._who(given), "for": given["for"]}
        tree |= {k: one(given, k) for k in ("from", "until", "basis", "by", "note")}
        path = free_path(self.desk, "evidence/people/authorisations", self._who(given), one(given, "from"))
        return Entered(path, tree, "evidence")

    def sentence(self, given: Given) -> str:
        return f"Authorise {self._who(given)} until {one(given, 'until')}"


@dataclass(frozen=True)
class Policy(Harmless):
    """An entry of the workshop's policy: how numbers decide, and whether a release needs two."""

    desk: Desk
    title: str = "An entry of the policy"

    def questions(self, given: Given) -> tuple[Question, ...]:
        rules = {
            "guarded": "a result passes only with all of its uncertainty on the good side (default)",
            "guarded-for": "the guard band is made for a conformance probability that you state",
            "simple": "a result passes as it lies; U is capped",
        }
        asked = [
            Question("rule", "How does a number decide against its limit", "choice", choices=rules, preset="guarded")
        ]
        if one(given, "rule") == "simple":
            asked.append(Question("cap", "Largest U relative to the limit, in %", "number"))
        if one(given, "rule") == "guarded-for":
            asked.append(Question("probability", "Conformance probability of a pass, in %: 95 or more", "number"))
        return (
            *asked,
            Question(
                "four_eyes_release",
                "Does a release need a second person",
                "choice",
                choices={"no": "", "yes": ""},
                preset="no",
            ),
            Question("in_force", "In force from which day", "day", preset="today"),
            person_question(self.desk, "by", "Who decides it", preset=self.desk.by),
            note_question(),
        )

    def entered(self, given: Given) -> Entered:
        rule = {"rule": one(given, "rule").removesuffix("-for")}
        rule |= {name: f"{one(given, name)} %" for name in ("cap", "probability") if one(given, name)}
        eyes = {"four_eyes_release": "yes"} if one(given, "four_eyes_release") == "yes" else {}
        tree: dict[str, Any] = {"policy": {"decision_rule": rule, **eyes}}
        tree |= {k: one(given, k) for k in ("in_force", "by", "note")}
        return Entered(free_path(self.desk, "evidence/policy", one(given, "in_force")), tree, "evidence")

    def sentence(self, given: Given) -> str:
        return f"Policy from {one(given, 'in_force')}: {one(given, 'rule')}"


@dataclass(frozen=True)
class Concession(Harmless):
    """A permission by the authority or technical service, with its letter."""

    desk: Desk
    title: str = "A concession"

    def questions(self, given: Given) -> tuple[Question, ...]:
        assert self.desk.assessment is not None
        requirements = {r.id: r.requirement.title for r in self.desk.assessment.requirements}
        return (
            Question("requirement", "For which requirement", "choice", choices=requirements),
            Question("part", "For which part only (blank: all)", "id", required=False),
            Question("issuer", "Who grants it", why="The authority or technical service; never the workshop."),
            Question("number", "Number of the letter"),
            Question("document", "The letter as a file", "file", "Without it the concession does not hold."),
            Question("issued", "Issued on which day", "day"),
            Question("last_day", "Its last day", "day"),
            Question("terms", "What it permits, in a sentence"),
            person_question(self.desk, "by", "Who has read it", preset=self.desk.by),
            note_question(),
        )

    def entered(self, given: Given) -> Entered:
        files: dict[str, Path] = {}
        document = brought(given, "document", "concessions", files)
        terms = {k: one(given, k) for k in ("requirement", "part", "issuer", "number", "issued", "last_day", "terms")}
        terms |= {"vehicle": self.desk.vehicle or "", "document": document}
        tree: dict[str, Any] = {"concession": terms, "by": one(given, "by"), "note": one(given, "note")}
        return Entered(free_path(self.desk, "evidence/concessions", one(given, "number")), tree, "evidence", files)

    def sentence(self, given: Given) -> str:
        return f"Concession {one(given, 'number')} by {one(given, 'issuer')}"


@dataclass(frozen=True)
class Design(Harmless):
    """A revision of what parts of several vehicles are built to."""

    desk: Desk
    title: str = "A revision of a design"

    def questions(self, given: Given) -> tuple[Question, ...]:
        return tuple(self._questions(given))

    def _questions(self, given: Given) -> Iterator[Question]:
        yield Question("design", "Short id of the design", "id", "Such as pack-p2.")
        yield Question("revision", "Revision", why="Such as B.")
        yield Question("kind", "Which kind of part is it", "id", "As the requirements name it.", preset="traction-pack")
        yield Question("title", "What is it called")
        yield Question("maker", "Who makes it", required=False)
        yield Question(
            "changes", "What differs from the revision before, and what is to be shown again", required=False
        )
        source = ""
        for key, (definition, titles) in facts_of_kind(self.desk, one(given, "kind"), forms=True).items():
            yield fact_question(key, definition, f"fact.{key}", titles=titles, required=False)
            if given.get(f"fact.{key}"):
                yield Question(
                    f"source.{key}",
                    "Where was it read",
                    preset=source,
                    suggested=True,
                    why="Data sheet or drawing with page.",
                )
                source = one(given, f"source.{key}") or source
        yield Question("issued", "Issued on which day", "day", preset="today")
        yield person_question(self.desk, "by", "Who issues it", preset=self.desk.by)
        yield note_question()

    def entered(self, given: Given) -> Entered:
        design, revision = one(given, "design"), one(given, "revision")
        tree: dict[str, Any] = {k: one(given, k) for k in ("design", "revision", "kind", "title", "maker", "changes")}
        facts = {
            k.removeprefix("fact."): {"value": v, "source": one(given, f"source.{k.removeprefix('fact.')}")}
            for k, v in given.items()
            if k.startswith("fact.") and v
        }
        tree |= {"facts": facts} if facts else {}
        tree |= {k: one(given, k) for k in ("issued", "by", "note")}
        return Entered(free_path(self.desk, f"evidence/designs/{design}", revision), tree, f"evidence/designs/{design}")

    def sentence(self, given: Given) -> str:
        return f"Design {one(given, 'design')}, revision {one(given, 'revision')}"
