"""One sitting with `record` or `change`: forms asked or answered from a file, told what they are worth, and kept."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from witnessmark.assessment.model import Assessment, State
from witnessmark.problems import Misuse, Problem, Severity
from witnessmark.reading.workshop import Reading
from witnessmark.recording.amend import amend_workshop, faults_of_workshop
from witnessmark.recording.answering import Answered, answer_all
from witnessmark.recording.forms.base import Amended, Desk, Form, Plain
from witnessmark.recording.forms.statement import Facts
from witnessmark.recording.keep import Kept, Prepared, keep, keep_draft, keep_plain, open_workshop, prepare
from witnessmark.recording.questions import Answer, Given
from witnessmark.recording.seal_file import recorders_clock
from witnessmark.recording.telling import Told, reasons_against, tell

from .answers import Answers
from .asking import ask_all, choose
from .exits import Exit
from .show import harmless, progress, put, show_problems, wrapped

__all__ = ["MakeForm", "Sitting", "gave_up", "refused"]

MakeForm = Callable[[Desk], Form]


@dataclass
class Sitting:
    """Who sits where, and how the answers come: typed at the terminal, or from a file."""

    root: Path
    by: str
    vehicle: str | None
    answers: Answers | None = None
    yes: bool = False
    draft: bool = False
    as_json: bool = False
    kept: list[dict[str, Any]] = field(default_factory=list)
    _reading: Reading | None = None
    _assessment: Assessment | None = None

    # ---- the folder as it is

    @property
    def reading(self) -> Reading:
        if self._reading is None:
            self._reading = open_workshop(self.root)
        return self._reading

    @property
    def assessment(self) -> Assessment | None:
        from witnessmark.assessment.assess import assess

        if self._assessment is None and self.vehicle is not None:
            self._assessment = assess(self.reading.workshop, self.vehicle)
        return self._assessment

    def clock(self) -> datetime:
        """The recorder's clock, in the workshop's zone."""
        from witnessmark.reading.workshop import now

        when = recorders_clock(self.reading, now)
        return when.astimezone(ZoneInfo(self.reading.workshop.file.zone)).replace(second=0, microsecond=0)

    def desk(self) -> Desk:
        return Desk(self.reading, self.assessment, self.vehicle, self.clock(), self.by)

    def _forget(self) -> None:
        self._reading = None
        self._assessment = None

    # ---- one form

    def run(
        self, make: MakeForm, *, carried: Given | None = None, part: str = "", elsewhere: Iterable[str] = ()
    ) -> Given | None:
        """Fill in one form and keep it; the answers, or None when nothing was kept."""
        form = make(self.desk())
        if self.answers is not None:
            return self._from_file(form, part, elsewhere)
        progress("")
        progress(harmless(form.title))
        for line in form.says:
            for text in wrapped(harmless(line), indent=4):
                progress(text)
        given: Given = dict(carried or {})
        while True:
            given = ask_all(form, given, self.clock)
            if isinstance(form, Facts) and not form.states_something(given):
                progress("Nothing was stated, so nothing is kept.")
                return None
            try:
                done = self._worth(form, given)
            except Misuse as misuse:
                show_problems(misuse.problems, self.root)
                done = None
            action = self._ask_what_now(done)
            if action == "again":
                given = self._without_readings(form, given)
                form = make(self.desk())
                continue
            if action == "leave":
                progress("Nothing was kept.")
                return None
            if action == "draft":
                self._leave_draft(form, given)
                return given
            try:
                self._keep(form, given, done)
            except Misuse as misuse:
                show_problems(misuse.problems, self.root)
                self._forget()
                form = make(self.desk())
                continue
            return given

    def must_all_be_kept(self, forms: Iterable[tuple[MakeForm, str, tuple[str, ...]]]) -> None:
        """Misuse with every fault of every form that a file answers, before the first of them is kept."""
        faults: list[Problem] = []
        for make, part, elsewhere in forms:
            form = make(self.desk())
            found = self._answered(form, part, elsewhere)
            faults += found.problems
            if found.problems or self.draft:
                continue
            try:
                entered = form.entered(found.given)
                if isinstance(entered, Amended):
                    faults += faults_of_workshop(self.reading, entered.changes, entered.files)
                elif not isinstance(entered, Plain):
                    prepared = prepare(self.reading, entered, self.by, self.clock())
                    faults += reasons_against(prepared, self.vehicle, self.assessment)
            except Misuse as misuse:
                faults += misuse.problems
        if faults:
            raise Misuse(*dict.fromkeys(faults))

    def _answered(self, form: Form, part: str, elsewhere: Iterable[str]) -> Answered:
        assert self.answers is not None
        return answer_all(
            form, self.answers.of(part), self.clock(), places=self.answers.places_of(part), elsewhere=("by", *elsewhere)
        )

    def _from_file(self, form: Form, part: str, elsewhere: Iterable[str]) -> Given | None:
        found = self._answered(form, part, elsewhere)
        for alarm in found.alarms:
            progress(f"LOOK AGAIN: {alarm}.")
        if found.problems:
            raise Misuse(*found.problems)
        if self.draft:
            self._leave_draft(form, found.given)
            return found.given
        done = self._worth(form, found.given)
        if done is not None and done[1].refused:
            raise Misuse(*done[1].refused)
        if not self.yes and choose("Keep it", {"yes": "", "no": ""}, preset="no") != "yes":
            progress("Nothing was kept.")
            return None
        self._keep(form, found.given, done)
        return found.given

    def _worth(self, form: Form, given: Given) -> tuple[Prepared, Told] | None:
        """Seal in memory, assess, and show what it is worth; None for what claims nothing."""
        entered = form.entered(given)
        if isinstance(entered, Plain | Amended):
            return None
        prepared = prepare(self.reading, entered, self.by, self.clock())
        told = tell(prepared, self.vehicle, self.assessment)
        if not self.as_json:
            _show(told)
        return prepared, told

    def _ask_what_now(self, done: tuple[Prepared, Told] | None) -> str:
        actions = {"keep": "", "again": "", "draft": "counts for nothing yet", "leave": "keep nothing"}
        if done is not None and done[1].refused:
            show_problems(done[1].refused, self.root)
            actions.pop("keep")
        in_doubt = done is not None and (done[1].doubts or done[1].alarms)
        return choose("What now", actions, preset="keep" if "keep" in actions and not in_doubt else "again")

    def _without_readings(self, form: Form, given: Given) -> dict[str, Answer]:
        """What is read again: the readings and files; where there are none, everything."""
        again = {k for k in given if k.startswith(("reading.", "log."))}
        if not again:
            again = {q.key for q in form.questions(given)}
        return {k: v for k, v in given.items() if k not in again}

    def _keep(self, form: Form, given: Given, done: tuple[Prepared, Told] | None) -> None:
        entered = form.entered(given)
        if isinstance(entered, Plain):
            kept = keep_plain(self.root, entered.path, entered.tree, self.by, form.sentence(given))
            self._told(kept, None)
            return
        if isinstance(entered, Amended):
            kept = amend_workshop(self.root, entered.changes, entered.files, self.by, form.sentence(given))
            self._told(kept, None)
            return
        before = self.assessment
        kept = keep(
            self.root,
            entered,
            self.by,
            lambda code: f"{form.sentence(given)} ({code})",
            code=done[0].sealed.code if done else None,
            refuse=lambda prepared: reasons_against(prepared, self.vehicle, before),
        )
        self._told(kept, done[1] if done else None)

    def _told(self, kept: Kept, told: Told | None) -> None:
        self._forget()
        if kept.told:
            progress(kept.told)
        self.kept.append({"code": kept.code or None, "path": kept.path, "commit": kept.commit, **_as_json(told)})
        if not self.as_json:
            name = f"as {kept.code} " if kept.code else ""
            put(f"Kept {name}and committed ({kept.commit[:10]}): {harmless(kept.path)}")

    def _leave_draft(self, form: Form, given: Given) -> None:
        entered = form.entered(given)
        if isinstance(entered, Plain | Amended):
            raise Misuse(
                Problem("draft.plain", "this claims nothing, so there is no draft of it", "keep it, or leave it")
            )
        path = keep_draft(self.root, entered)
        self._forget()
        self.kept.append({"code": None, "path": path, "commit": None, "draft": True})
        if not self.as_json:
            put(f"Left as a draft, which counts for nothing: {harmless(path)}")
            put(f"Edit it as you like; then: witnessmark record --seal {harmless(path)} --by {self.by}")

    def finish(self, command: str) -> None:
        """The JSON envelope, where it was asked for."""
        if self.as_json:
            document: dict[str, Any] = {"format": 1, "command": command, "as_of": None, "problems": []}
            document["as_of"] = self.reading.workshop.as_of.date().isoformat()
            document["recorded"] = self.kept
            put(json.dumps(document, ensure_ascii=False, indent=2))


def _show(told: Told) -> None:
    put()
    for line in told.lines:
        put(f"  {harmless(line.title)}: {harmless(line.words)}: {line.verdict.upper()}")
    for alarm in told.alarms:
        for text in wrapped(f"MEASURE AGAIN: {harmless(alarm)}", indent=2):
            put(text)
    for doubt in told.doubts:
        for text in wrapped(f"IT WILL NOT COUNT: {harmless(doubt)}", indent=2):
            put(text)
    for problem in told.problems:
        lead = "" if problem.severity is Severity.PROBLEM else "Note: "
        for text in wrapped(f"{lead}{harmless(problem.message)}. {harmless(problem.remedy)}", indent=2):
            put(text)
    for words in told.elsewhere:
        put(f"  {harmless(words)}")
    for one in told.moved:
        put(f"  {harmless(one.title)} ({one.clause}): {one.before.words} → {one.after.words}")
        if one.why and one.after.is_gap and one.after is not State.LAPSED:
            for text in wrapped(harmless(one.why), indent=6):
                put(text)
    put()


def _as_json(told: Told | None) -> Mapping[str, Any]:
    if told is None:
        return {}
    return {
        "results": [
            {"requirement": r.requirement, "leaf": r.leaf, "words": r.words, "verdict": r.verdict} for r in told.lines
        ],
        "alarms": list(told.alarms),
        "elsewhere": list(told.elsewhere),
        "doubts": list(told.doubts),
        "states": [
            {"title": m.title, "clause": m.clause, "before": m.before.value, "after": m.after.value} for m in told.moved
        ],
    }


def refused(misuse: Misuse, command: str, root: Path, as_json: bool) -> int:
    """What is said when nothing could be kept; the exit status."""
    if as_json:
        from witnessmark.exports.audit import problems_envelope

        put(problems_envelope(command, misuse.problems, as_of=None))
    show_problems(misuse.problems, root)
    return Exit.BAD_INPUT


def gave_up() -> int:
    """What is said when the person ended it; the exit status."""
    progress("Ended. What was kept stays; what was not kept is gone.")
    return Exit.BAD_INPUT
