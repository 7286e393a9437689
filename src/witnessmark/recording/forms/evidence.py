"""Evidence for one requirement: what was read off a meter, tried, seen, photographed or received."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from pathlib import Path
from typing import Any

from witnessmark.assessment.instruments import calibration_in_force
from witnessmark.assessment.ledger import Ledger
from witnessmark.assessment.model import LeafState, PartState, RequirementState, Verdict
from witnessmark.language import say
from witnessmark.methods.base import InputSpec, Method
from witnessmark.methods.registry import method as registered
from witnessmark.methods.registry import newest_ids
from witnessmark.quantities import parse_quantity, parse_unit
from witnessmark.records.acts import Record
from witnessmark.records.sets import Leaf, LeafKind

from ..keep import Entered
from ..questions import Given, Question, one
from .base import Desk, brought, free_path, instant_question, note_question, person_question

__all__ = ["UNPRINTED", "Evidence", "Printed", "fitting_methods", "standing_fails"]

FINDINGS = {"meets": "it is as required", "does-not-meet": "it is not", "undecided": "it cannot be told"}
ASKED_OF = {
    LeafKind.INSPECT: "Inspected",
    LeafKind.PHOTOGRAPH: "Photograph",
    LeafKind.TRIAL: "Tried out",
    LeafKind.REPORT: "Report",
    LeafKind.DOCUMENT: "Document",
}
FOLDERS = {LeafKind.PHOTOGRAPH: "photos", LeafKind.INSPECT: "photos", LeafKind.TRIAL: "photos"}
PAPERS = (LeafKind.REPORT, LeafKind.DOCUMENT)


def fitting_methods(leaf: Leaf) -> tuple[Method, ...]:
    """Methods that yield what the leaf asks: only those that a clause prescribes, where it does."""
    if leaf.measure is None:
        return ()
    found = (registered(ident) for ident in (leaf.methods or newest_ids()))
    return tuple(m for m in found if m is not None and m.measurand(leaf.measure) is not None)


def standing_fails(leaves: Iterator[LeafState] | tuple[LeafState, ...]) -> tuple[str, ...]:
    """Codes of the fails of these leaves that nothing has ended, oldest first."""
    found = {
        result.act.code: result.record.performed
        for leaf in leaves
        for result in leaf.records
        if result.verdict is Verdict.FAIL and not result.ended and not result.withdrawn
    }
    return tuple(sorted(found, key=lambda code: (found[code], code)))


@dataclass(frozen=True, slots=True)
class Printed:
    """What the test sheet that is typed in says: its method, and the unit at the blanks of each input."""

    method: str = ""
    units: Mapping[str, str] = field(default_factory=dict)


UNPRINTED = Printed()


@dataclass(frozen=True)
class Evidence:
    """One record for some leaves of one requirement, for one part (or the vehicle, a design, the workshop).

    `wanted`: the leaves that were named; empty: it is asked which.
    `retest`: it ends the fails that stand. `prefix`: the set before the reference, where two sets share the id.
    `printed`: the test sheet it is typed in from.
    """

    desk: Desk
    requirement: RequirementState
    place: PartState
    design: str | None = None
    wanted: tuple[str, ...] = ()
    retest: bool = False
    prefix: str = ""
    printed: Printed = UNPRINTED

    @property
    def title(self) -> str:
        where = self.place.title if self.place.part or self.design else ""
        return f"{self.requirement.requirement.title}{f': {where}' if where else ''}"

    @property
    def base(self) -> str:
        """The folder that paths in the record are relative to."""
        if self.design:
            return f"evidence/designs/{self.design.partition('/')[0]}"
        if self.requirement.requirement.about == "workshop":
            return "evidence"
        return f"evidence/vehicles/{self.desk.vehicle}"

    @property
    def about_part(self) -> str | None:
        return None if self.design or self.requirement.requirement.about == "workshop" else self.place.part

    @cached_property
    def leaves(self) -> Mapping[str, Leaf]:
        return self.requirement.requirement.leaves

    @cached_property
    def ledger(self) -> Ledger:
        return Ledger(self.desk.workshop)

    def chosen(self, given: Given) -> tuple[str, ...]:
        """The leaves that this record shows."""
        value = given.get("leaves", self.wanted or tuple(self.leaves))
        return (value,) if isinstance(value, str) else value

    def questions(self, given: Given) -> tuple[Question, ...]:
        return tuple(self._questions(given))

    def _questions(self, given: Given) -> Iterator[Question]:
        if len(self.leaves) > 1 and not self.wanted:
            yield self._which()
            if "leaves" not in given:
                return
        names = self.chosen(given)
        yield instant_question(self.desk, "performed", "When was it done", each=True)
        if "performed" not in given:
            return
        yield person_question(self.desk, "tester", "Who did it", preset=self.desk.by)
        if any(self.leaves[n].second_person == "yes" for n in names):
            yield person_question(
                self.desk, "witness", "Second person who was there", why="Two persons are asked here."
            )
        yield Question("place", "Where", required=False, preset=self._last_place())
        measured = [n for n in names if self.leaves[n].kind is LeafKind.MEASURE]
        if measured:
            method = self.method(given)
            if method is None:
                yield self._which_method(measured)
                return
            if len(self._methods(measured)) > 1:
                yield self._which_method(measured)
            yield from self._instruments(method, given)
            yield from self._conditions(names, method)
            yield from self._log(method) if method.channels else ()
            yield from self._readings(method, given)
        else:
            yield from self._conditions(names, None)
        for name in names:
            if self.leaves[name].kind is not LeafKind.MEASURE:
                yield from self._finding(name, self.leaves[name])
        if self.retest:
            codes = ", ".join(self.ends(names))
            yield Question("cause", f"Why had it failed ({codes})", each=True)
            yield Question("correction", "What was mended", each=True)
        yield Question("deviations", "Anything done otherwise than the method says", required=False, each=True)
        yield note_question()

    def ends(self, names: tuple[str, ...]) -> tuple[str, ...]:
        """The fails that a retest of these leaves names."""
        return standing_fails(tuple(leaf for leaf in self.place.leaves if leaf.name in names))

    # ---- which leaves, which method

    def _which(self) -> Question:
        standing = {leaf.name: leaf for leaf in self.place.leaves}
        missing = [n for n in self.leaves if n not in standing or standing[n].state.is_gap] or list(self.leaves)
        first = self._bus(missing[0])
        together = tuple(n for n in missing if self._bus(n) == first)
        return Question(
            "leaves",
            "What do you show now",
            "choice",
            "Several, with a comma between them: all that one trip to the part gives.",
            choices={n: f"{leaf.kind.value}: {leaf.words.replace('-', ' ')}" for n, leaf in self.leaves.items()},
            several=True,
            preset=together,
        )

    def _bus(self, name: str) -> str:
        job = self.leaves[name].job
        return job.bus if job else ""

    def _methods(self, measured: list[str]) -> dict[str, Method]:
        """Methods that yield everything that is measured here; those used last come first."""
        each = [{m.id: m for m in fitting_methods(self.leaves[n])} for n in measured]
        shared = {i: m for i, m in each[0].items() if all(i in other for other in each[1:])}
        if self.printed.method in shared:
            return {self.printed.method: shared[self.printed.method]}
        used = [
            record.method
            for record in self._records()
            if any(ref.endswith(f"{self.requirement.id}/{n}") for n in measured for ref in record.shows)
        ]
        return {i: shared[i] for i in dict.fromkeys([*(m for m in used if m in shared), *shared]) if i is not None}

    def _records(self) -> list[Record]:
        """All records of the workshop, the newest first."""
        ordered = sorted(self.desk.workshop.acts, key=lambda a: a.appeared if a.appeared is not None else -1)
        return [act.body for act in reversed(ordered) if isinstance(act.body, Record)]

    def _which_method(self, measured: list[str]) -> Question:
        found = self._methods(measured)
        return Question(
            "method",
            "Which method",
            "choice",
            "" if found else "No one method measures all of this: record the leaves one at a time.",
            choices={i: m.title for i, m in found.items()},
            preset=next(iter(found), ""),
        )

    def method(self, given: Given) -> Method | None:
        """The method of this record; None while it is not chosen."""
        measured = [n for n in self.chosen(given) if self.leaves[n].kind is LeafKind.MEASURE]
        if not measured:
            return None
        found = self._methods(measured)
        if len(found) == 1:
            return next(iter(found.values()))
        return found.get(one(given, "method"))

    # ---- instruments, conditions, readings

    def _instruments(self, method: Method, given: Given) -> Iterator[Question]:
        day = self._day(given)
        for role in method.roles:
            able = {i: f for i, f in sorted(self.desk.workshop.instruments.items()) if role.function in f.functions}
            if not able and not role.required:
                continue
            choices = {i: f"{f.title}, {f.serial}; {self._calibrated(i, day)}" for i, f in able.items()}
            last = [r.instruments.get(role.name) for r in self._records() if r.method == method.id]
            good = [i for i in able if self._calibrated(i, day).startswith("calibrated")]
            yield Question(
                f"instrument.{role.name}",
                f"Which instrument was the {say(role.title)}",
                "choice",
                say(role.demands)
                if choices
                else f"No instrument here measures {role.function}: witnessmark record instrument",
                choices=choices,
                required=role.required,
                preset=good[0] if len(good) == 1 else next((i for i in last if i in good), ""),
            )

    def _day(self, given: Given) -> date:
        performed = one(given, "performed")
        return date.fromisoformat(performed[:10]) if performed else self.desk.now.date()

    def _calibrated(self, instrument: str, day: date) -> str:
        found = calibration_in_force(self.ledger, instrument, day)
        if found is None:
            return "no calibration"
        due = found[1].due
        return f"calibrated until {due}" if day <= due else f"calibration ended {due}"

    def _conditions(self, names: tuple[str, ...], method: Method | None) -> Iterator[Question]:
        asked: dict[str, tuple[str, str, bool]] = {}
        # What the method reads as a word is asked once, as its reading.
        words = {spec.name for spec in method.inputs if spec.choices} if method else set()
        for name in names:
            for condition, must in self.leaves[name].conditions.items():
                if condition not in words:
                    asked[condition] = (condition.replace("_", " "), must, True)
        for spec in method.conditions if method else ():
            asked.setdefault(spec.name, (say(spec.title), spec.must, spec.required))
        for condition, (title, must, required) in asked.items():
            ask = f"{title[:1].upper()}{title[1:]}" + (f": it has to be “{must}”; was it" if must else "")
            why = "yes, or what it was instead. It is part of what is sealed." if must else ""
            yield Question(f"condition.{condition}", ask, why=why, required=required, must=must)

    def _log(self, method: Method) -> Iterator[Question]:
        yield Question("log.file", "Which file was logged", "file", "Give its path; it is copied here.", each=True)
        for channel in method.channels:
            yield Question(
                f"log.channel.{channel.name}",
                f"Which column is {say(channel.title)}" + (f", in {channel.unit}" if channel.unit else ""),
                why="Several columns by a pattern such as cell_*." if channel.many else "",
                several=channel.many,
                required=channel.required,
            )
        yield Question("log.start", "At which time of the log does the counted time begin", required=False, each=True)
        for option in method.options:
            if not option.bench_only:
                default = "" if option.default is None else f" (else {option.default:g} {option.unit})"
                yield Question(f"log.option.{option.name}", f"{say(option.title)}{default}", required=False, quiet=True)
        for key, choices in (
            ("delimiter", (",", ";", "tab")),
            ("decimal", (".", ",")),
            ("encoding", ("utf-8", "cp1252")),
        ):
            yield Question(f"log.{key}", key, "choice", choices=dict.fromkeys(choices, ""), required=False, quiet=True)

    def _readings(self, method: Method, given: Given) -> Iterator[Question]:
        unused = {r.name for r in method.roles if not r.required and not one(given, f"instrument.{r.name}")}
        for spec in sorted((s for s in method.inputs if not s.preset), key=lambda s: s.order):
            if spec.role in unused and not spec.required:
                continue
            if spec.choices:
                yield Question(
                    f"reading.{spec.name}",
                    say(spec.title),
                    "choice",
                    choices=dict.fromkeys(spec.choices, ""),
                    required=spec.required,
                    each=True,
                )
                continue
            title = say(spec.title)
            unit, ratio = self._unit(spec)
            yield Question(
                f"reading.{spec.name}",
                f"{title[:1].upper()}{title[1:]} ({spec.name})",
                "quantity",
                unit=unit,
                several=spec.repeats,
                required=spec.required,
                low=None if spec.low is None else spec.low * ratio,
                high=None if spec.high is None else spec.high * ratio,
                each=True,
                bound=spec.bound_allowed,
                over=self._end_of_range(method, spec, given) if spec.bound_allowed else "",
            )

    def _unit(self, spec: InputSpec) -> tuple[str, float]:
        """The unit that a bare number gets: what is printed at the blank, else the method's own; and own over it."""
        own, printed = spec.unit or "1", self.printed.units.get(spec.name, "")
        if not printed or not parse_unit(printed).compatible(parse_unit(own)):
            return own, 1.0
        return printed, float(parse_unit(own).scale / parse_unit(printed).scale)

    def _end_of_range(self, method: Method, spec: InputSpec, given: Given) -> str:
        """What an OL means: more than the highest value for which the instrument's accuracy is stated."""
        role = next((r for r in method.roles if r.name == spec.role), None)
        instrument = one(given, f"instrument.{spec.role}")
        if role is None or not instrument:
            return ""
        day = self._day(given)
        found = calibration_in_force(self.ledger, instrument, day)
        rows = [r for r in found[1].accuracy if r.function == role.function] if found else []
        return max((r.high for r in rows), key=lambda high: parse_quantity(high).si, default="")

    # ---- findings

    def _finding(self, name: str, leaf: Leaf) -> Iterator[Question]:
        paper = leaf.kind in PAPERS
        lead = f"{ASKED_OF[leaf.kind]}, {leaf.words}"
        if paper:
            yield Question(
                f"{name}.file", f"{lead}: which file", "file", "Give its path; it is copied here.", each=True
            )
            yield Question(
                f"{name}.number", "Number and revision printed on it", each=True, required=leaf.kind is LeafKind.REPORT
            )
            yield Question(f"{name}.dated", "Date printed on it", "day", required=False, each=True)
            yield Question(f"{name}.pages", "On which pages", required=False, each=True)
        else:
            yield Question(
                f"{name}.photo",
                f"{lead}: which picture",
                "file",
                "Give its path; it is copied here."
                + ("" if leaf.kind is LeafKind.PHOTOGRAPH else " Blank: no picture."),
                required=leaf.kind is LeafKind.PHOTOGRAPH,
                each=True,
            )
        yield Question(f"{name}.seen", "What is seen, in a few words", required=not paper, each=True)
        if leaf.exemptions:
            yield Question(
                f"{name}.exemption",
                "Which exemption is claimed",
                "choice",
                choices=dict(leaf.exemptions),
                required=False,
                each=True,
            )
        yield Question(f"{name}.finding", f"{leaf.words}: finding", "choice", choices=FINDINGS, each=True)
        yield person_question(self.desk, f"{name}.judge", "Who says so, if not who did it", required=False, quiet=True)
        yield Question(
            f"{name}.shared", "Why the same picture or readings serve more than one part", required=False, quiet=True
        )

    def _last_place(self) -> str:
        return next((record.place for record in self._records() if record.place), "")

    # ---- the act

    def entered(self, given: Given) -> Entered:
        names = self.chosen(given)
        files: dict[str, Path] = {}
        tree: dict[str, Any] = {
            "shows": {f"{self.prefix}{self.requirement.id}/{n}": self._claim(n, given, files) for n in names}
        }
        if self.design:
            tree["design"] = self.design
        elif self.about_part:
            tree["part"] = self.about_part
        tree["performed"] = one(given, "performed")
        tree["place"] = one(given, "place")
        tree["by"] = {role: one(given, role) for role in ("tester", "witness") if one(given, role)}
        method = self.method(given)
        if method is not None:
            tree["method"] = method.id
        for group in ("instrument", "condition", "reading"):
            values = {k.partition(".")[2]: v for k, v in given.items() if k.startswith(f"{group}.") and v}
            if values:
                tree[f"{group}s"] = values
        if one(given, "log.file"):
            tree["log"] = self._log_tree(given, files)
        tree["deviations"] = one(given, "deviations")
        if self.retest:
            tree["retest_of"] = self.ends(names)
            tree["cause"], tree["correction"] = one(given, "cause"), one(given, "correction")
        tree["note"] = one(given, "note")
        where = self.about_part or (self.design or "").replace("/", "-")
        folder = "evidence/duties" if self.base == "evidence" else f"{self.base}/records"
        path = free_path(self.desk, folder, self.requirement.id, where, one(given, "performed")[:10])
        return Entered(path, tree, self.base, files)

    def _claim(self, name: str, given: Given, files: dict[str, Path]) -> dict[str, str]:
        leaf = self.leaves[name]
        if leaf.kind is LeafKind.MEASURE:
            return {}
        claim: dict[str, str] = {}
        folder = "duties" if self.base == "evidence" else "reports" if leaf.kind in PAPERS else FOLDERS[leaf.kind]
        for key in ("photo", "file"):
            path = brought(given, f"{name}.{key}", folder, files)
            if path:
                claim[key] = path
        for key in ("number", "dated", "pages", "seen", "exemption", "finding", "shared"):
            claim[key] = one(given, f"{name}.{key}")
        judge = one(given, f"{name}.judge")
        claim["by"] = judge if judge != one(given, "tester") else ""
        return claim

    def _log_tree(self, given: Given, files: dict[str, Path]) -> dict[str, Any]:
        tree: dict[str, Any] = {"file": brought(given, "log.file", "logs", files)}
        lead = "log.channel."
        channels = {k.removeprefix(lead): v for k, v in given.items() if k.startswith(lead) and v}
        tree["channels"] = {n: v[0] if isinstance(v, tuple) and len(v) == 1 else v for n, v in channels.items()}
        for key in ("delimiter", "decimal", "encoding", "start"):
            tree[key] = one(given, f"log.{key}")
        lead = "log.option."
        options = {k.removeprefix(lead): v for k, v in given.items() if k.startswith(lead) and v}
        if options:
            tree["options"] = options
        return tree

    @property
    def says(self) -> tuple[str, ...]:
        return ()

    def cautions(self, given: Given) -> tuple[str, ...]:
        method = self.method(given)
        of_method = tuple(say(caution.text) for caution in method.cautions) if method is not None else ()
        return tuple(dict.fromkeys((*self.requirement.requirement.cautions, *of_method)))

    def sentence(self, given: Given) -> str:
        kinds = {self.leaves[n].kind for n in self.chosen(given)}
        verb = "Measured" if LeafKind.MEASURE in kinds else ASKED_OF[sorted(kinds, key=str)[0]]
        again = ", retest" if self.retest else ""
        return f"{verb}: {self.title}{again}"
