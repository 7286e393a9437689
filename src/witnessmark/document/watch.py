"""Watches a workshop's folder and keeps the pages of one vehicle up to date while somebody writes.

Screen only: the PDF takes most of a build, and is made by `build`. One confined child stays warm and makes only the
pages that differ. Nothing is shown that `build` would refuse: then the pages stay as they were, and watching goes on.
"""

from __future__ import annotations

import os
import shutil
import tempfile
import time
from collections.abc import Iterator, Mapping
from contextlib import ExitStack
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from witnessmark.document.build import attached, job_of, own_templates
from witnessmark.document.content import sources
from witnessmark.language import speaking
from witnessmark.problems import Misuse, Place, Problem, Severity, in_order
from witnessmark.shipped import shipped

__all__ = ["Round", "Watch", "stamps"]

PAUSE = 0.25
"""Seconds between two looks at the folder."""
SECONDS = 120.0


@dataclass(frozen=True, slots=True)
class Round:
    """What one change led to: whether the pages were brought up to date, which of them differ, and what was found."""

    written: bool
    changed: tuple[str, ...]
    problems: tuple[Problem, ...]
    seconds: float


class Watch:
    """`with Watch(root, vehicle, out) as watch: for one in watch.rounds(): …`. It ends its child and private folder."""

    def __init__(self, root: Path, vehicle: str, out: Path, as_of: date | None = None) -> None:
        self.root, self.vehicle, self.out, self.as_of = root, vehicle, out, as_of
        self._stack = ExitStack()
        self._session: Any = None
        self._epoch: int | None = None
        self._job: dict[str, Any] | None = None
        self._own: tuple[str, ...] = ()
        self._noted: tuple[Problem, ...] = ()

    def __enter__(self) -> Self:
        self.work = Path(self._stack.enter_context(tempfile.TemporaryDirectory(prefix="witnessmark-watch-"))).resolve()
        self.out.mkdir(parents=True, exist_ok=True)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._end()
        self._stack.close()

    def rounds(self) -> Iterator[Round]:
        """One round at once, then one after each change, for ever."""
        before = stamps(self.root)
        yield self.once()
        while True:
            time.sleep(PAUSE)
            now = stamps(self.root)
            if now == before:
                continue
            changed = {path for path in before.keys() | now.keys() if before.get(path) != now.get(path)}
            before = now
            yield self.once(changed)

    def once(self, changed: set[str] | None = None) -> Round:
        """Bring the pages up to date. `changed`: the files that differ since the last round; None: anything may."""
        begun = time.perf_counter()
        folders = [str(folder) for folder in self._templates()]
        words_only = changed is not None and all(any(c.startswith(f + os.sep) for f in folders) for c in changed)
        words_only = words_only and self._own == own_templates(self.root)
        try:
            if self._job is None or not words_only:
                self._job = None
                self._job = self._read()
            answer = self._call(self._job)
        except Misuse as stopped:
            return Round(False, (), stopped.problems, time.perf_counter() - begun)
        problems = in_order([*self._noted, *answer["problems"]])
        return Round(answer["written"], tuple(answer["changed"]), problems, time.perf_counter() - begun)

    def _templates(self) -> tuple[Path, ...]:
        own = self.root / "templates"
        return tuple(dict.fromkeys([*([own.resolve()] if own.is_dir() else []), shipped("templates").resolve()]))

    def _read(self) -> dict[str, Any]:
        """Everything that the child needs. Raises Misuse with the problems for which `build` would write nothing."""
        from witnessmark.assessment.assess import assess
        from witnessmark.reading.workshop import read_workshop

        workshop = read_workshop(self.root, as_of=self.as_of)
        if self.vehicle not in workshop.vehicles:
            gone = Problem(
                "vehicle.gone", f"the vehicle {self.vehicle!r} is no longer there", "put its file back or mend it"
            )
            raise Misuse(*workshop.problems, gone)
        assessment = assess(workshop, self.vehicle)
        self._noted = (*workshop.problems, *assessment.problems)
        if any(problem.severity is Severity.PROBLEM for problem in self._noted):
            raise Misuse(*self._noted)
        folder = self.work / "attached"
        shutil.rmtree(folder, ignore_errors=True)
        own = self._own = own_templates(self.root)
        made = sources(workshop, assessment, own=own)
        with speaking(made.language):
            files, left_out, problems = attached(self.root, made, folder)
        if left_out:
            made = sources(workshop, assessment, left_out=dict(left_out), own=own)
        if problems:
            raise Misuse(*in_order(problems))
        return job_of(self.root, made, assessment, files, self.work, self.out)

    def _call(self, job: Mapping[str, Any]) -> dict[str, Any]:
        from witnessmark.confined import ConfinedFault, Session
        from witnessmark.document.produce import problem_from_json

        epoch = int(job["settings"]["epoch"])
        if self._session is None or epoch != self._epoch:
            self._end()
            readable = [self.root, self.work, self.out, *(Path(folder) for folder in job["template_dirs"])]
            self._session = Session(readable=readable, writable=(self.work, self.out), epoch=epoch)
            self._epoch = epoch
        try:
            answer = self._session.call("witnessmark.document.again:run", dict(job), seconds=SECONDS)
        except ConfinedFault as fault:
            self._end()
            remedy = "take the newest change in templates or pictures back"
            raise Misuse(
                Problem(f"build.{fault.code}", f"the pages stopped: {fault.detail}", remedy, Place("templates"))
            ) from None
        return {**answer, "problems": [problem_from_json(row) for row in answer["problems"]]}

    def _end(self) -> None:
        session, self._session = self._session, None
        if session is not None:
            session.close()


def stamps(root: Path) -> dict[str, tuple[int, int]]:
    """Time and size of every file that a build of this folder reads, and of what tells a new commit."""
    found: dict[str, tuple[int, int]] = {}
    for folder in (root / "evidence", root / "requirements", root / "templates", shipped("templates")):
        for where, _, files in os.walk(folder.resolve()):
            for name in files:
                _stamp(Path(where) / name, found)
    for name in ("HEAD", "logs/HEAD", "packed-refs"):
        _stamp(root / ".git" / name, found)
    return found


def _stamp(path: Path, found: dict[str, tuple[int, int]]) -> None:
    try:
        known = path.lstat()
    except OSError:  # gone between the list and the look, or never there
        return
    found[str(path)] = (known.st_mtime_ns, known.st_size)
