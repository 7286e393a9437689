"""From a folder to a `Workshop`: files, history and the clock meet here, and nowhere below assessment again."""

from __future__ import annotations

import gc
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from witnessmark.problems import Misuse, Place, Problem, in_order
from witnessmark.records.acts import Record
from witnessmark.records.workshop import WorkshopFile
from witnessmark.records.world import Act, Draft, FileState, Held, History, Picture, Workshop

from .acts import ActText, folder_of_files, place_in, read_act, vehicle_of
from .folder import WORKSHOP, Folder, find_root, is_act_path, named_files, read_folder, unused_files
from .known import Committed, acts_from_history, acts_of_demonstration
from .letterhead import read_mark
from .plugins import adopt_plugins

__all__ = ["Clock", "Reading", "find_root", "now", "read_everything", "read_workshop"]

Clock = Callable[[], datetime]


def now() -> datetime:
    """The clock: the only place below recording that asks it."""
    return datetime.now(UTC)


@dataclass(frozen=True, slots=True)
class Reading:
    """A workshop together with the texts that it was read from, for whoever has to point into them."""

    workshop: Workshop
    folder: Folder
    known: Mapping[str, ActText]
    """The first committed text of every code that history knows."""


def read_workshop(root: Path, *, as_of: date | None = None, clock: Clock = now, use_cache: bool = True) -> Workshop:
    """The whole workshop in the folder `root` as immutable values, with every problem of every file.

    `as_of`: states are given at the end of this day; default: the pinned day of a demonstration, else today in the
    workshop's zone. `use_cache=False`: neither reads nor writes what was found out before.
    Raises Misuse when there is no readable evidence/workshop.yaml: without it nothing can be said.
    """
    reading = read_everything(root, as_of=as_of, clock=clock, use_cache=use_cache)
    if isinstance(reading, Folder):
        raise Misuse(*in_order(p for p in reading.problems if p.place and p.place.file == WORKSHOP))
    return reading.workshop


def read_everything(
    root: Path, *, as_of: date | None = None, clock: Clock = now, use_cache: bool = True, look: bool = True
) -> Reading | Folder:
    """As `read_workshop`, with the texts; the folder alone, with its problems, when workshop.yaml cannot be read.

    `look=False`: pictures and logs are hashed but not opened.
    """
    collecting = gc.isenabled()
    gc.disable()  # Thousands of trees are kept: collecting while they grow costs a third of the time.
    try:
        folder = read_folder(root)
        if folder.file is None or any(p.code == "workshop.zone" for p in folder.problems):
            return folder
        return _assemble(folder, folder.file, as_of, clock, use_cache, look)
    finally:
        if collecting:
            gc.enable()


def _assemble(
    folder: Folder, file: WorkshopFile, as_of: date | None, clock: Clock, use_cache: bool, look: bool
) -> Reading:
    pinned = file.demonstration
    if pinned is not None and pinned.history == "not-consulted":
        acts, history, known = acts_of_demonstration(folder.texts), History(consulted=False), dict[str, ActText]()
    else:
        acts, history, known = _consult(folder, use_cache)
    acts = tuple(replace(act, files=_file_states(folder, act)) for act in acts)
    end = _end_of_day(as_of or (pinned.as_of if pinned else _today(file, clock)), file.zone)
    folder.plugins, faults = adopt_plugins(acts, folder.texts, end.date())
    folder.problems += faults
    pictures: Mapping[str, Picture] = {}
    figures: Mapping[str, Mapping[str, Any]] = {}
    mark: Picture | None = None
    if look:
        mark = read_mark(folder, use_cache=use_cache)
        pictures = _pictures(folder, use_cache)
        figures = _figures(folder, acts, use_cache)
    workshop = Workshop(
        file=file,
        as_of=end,
        people=folder.people,
        instruments=folder.instruments,
        vehicles=folder.vehicles,
        sets=folder.sets,
        facts=folder.facts,
        acts=acts,
        drafts=_drafts(folder.texts),
        figures=figures,
        pictures=pictures,
        unused_files=unused_files(folder),
        mark=mark,
        history=history,
        language=folder.language,
        problems=in_order(folder.problems),
    )
    return Reading(workshop, folder, known)


def _today(file: WorkshopFile, clock: Clock) -> date:
    return clock().astimezone(ZoneInfo(file.zone)).date()


def _end_of_day(day: date, zone: str) -> datetime:
    """The last second of the day in the workshop's zone: a day of 23 or 25 hours ends when the next one begins."""
    begins = datetime.combine(day + timedelta(days=1), time(), ZoneInfo(zone))
    return (begins.astimezone(UTC) - timedelta(seconds=1)).astimezone(ZoneInfo(zone))


def _drafts(texts: Sequence[ActText]) -> tuple[Draft, ...]:
    return tuple(
        Draft(text.path, text.place, vehicle_of(text.path), None if text.sealed else text.body)
        for text in texts
        if not text.sealed or text.body is None
    )


# ---- history ------------------------------------------------------------------------------------------------


def _consult(folder: Folder, use_cache: bool) -> tuple[tuple[Act, ...], History, dict[str, ActText]]:
    """All acts by history, which is opened only here: a heavy import."""
    from .githistory import open_history
    from .gitstate import git_state
    from .rewritten import lost_acts, with_clashes

    opened = open_history(folder.root, use_cache=use_cache)
    if isinstance(opened, Problem):
        folder.problems.append(opened)
        return acts_from_history((), folder.texts, lambda a, b: False), History(consulted=True), {}
    with opened:
        read: dict[bytes, ActText] = {folder.data[text.path]: text for text in folder.texts if text.path in folder.data}
        committed: list[Committed] = []
        order: dict[str, int] = {}
        firsts = opened.first_texts(("evidence", "requirements"))
        for first in firsts:
            if not is_act_path(first.path):
                continue
            text = read.get(first.data) or read_act(first.data, first.path)
            if text.path != first.path:
                text = replace(text, path=first.path)
            committed.append(Committed(text, first.commit, order.setdefault(first.commit, first.position)))
        lost, rewritten = lost_acts(opened.lost_texts(("evidence", "requirements"), firsts), committed, opened.precedes)
        acts = with_clashes(acts_from_history(committed, folder.texts, opened.precedes), lost)
        differing = opened.differing(folder.root, skip=("evidence/intake",), read=folder.data)
        folder.problems += [*rewritten, *git_state(opened, folder, differing)]
        history = History(
            consulted=True,
            commit=opened.head,
            uncommitted=len(differing),
            complete=not any(p.code in ("git.shallow", "git.broken", "git.text") for p in opened.problems),
        )
        folder.problems += opened.problems
    known: dict[str, ActText] = {}
    for one in sorted(committed, key=lambda c: c.order):
        if one.text.sealed and one.text.body is not None and one.text.code is not None:
            known.setdefault(one.text.code, one.text)
    return acts, history, known


# ---- files that acts name -----------------------------------------------------------------------------------


def _file_states(folder: Folder, act: Act) -> tuple[FileState, ...]:
    base = folder_of_files(act.body, act.path)
    return tuple(
        FileState(entry.name, _plain(entry.sha256), folder.sha256(f"{base}/{entry.name}")) for entry in act.body.files
    )


def _plain(digest: str) -> str:
    return digest.removeprefix("sha256:")


def _pictures(folder: Folder, use_cache: bool) -> Mapping[str, Picture]:
    """A bounded look at every picture that an act or draft names, by path from the root."""
    wanted: dict[str, Place] = {}
    for text in folder.texts:
        if text.body is None:
            continue
        base = folder_of_files(text.body, text.path)
        for name, steps in named_files(text.body):
            path = f"{base}/{name}"
            if path.lower().endswith((".jpg", ".jpeg", ".png")) and path in folder.entries:
                wanted.setdefault(path, place_in(text, *steps))
    if not wanted:
        return {}
    from .looking import look_at

    return look_at(folder, wanted, use_cache=use_cache)


def _figures(folder: Folder, acts: Sequence[Act], use_cache: bool) -> Mapping[str, Mapping[str, Any]]:
    """What the method of each sealed record makes of its log, by code."""
    logged = [act for act in acts if isinstance(act.body, Record) and act.body.log is not None]
    if not logged:
        return {}
    from .figures import Wanted, figures_of

    texts = {text.path: text for text in folder.texts}
    wanted = []
    for act in logged:
        assert isinstance(act.body, Record)
        path = f"{folder_of_files(act.body, act.path)}/{act.body.log.file if act.body.log else ''}"
        text = texts.get(act.path)
        place = place_in(text, "log", "file") if text is not None and act.held is Held.UNCHANGED else act.place
        wanted.append(Wanted(act.code, act.body, path, place))
    return figures_of(folder, wanted, use_cache=use_cache)
