"""Sealing a draft: the tool writes its code, the digests of its files, and what the act was judged against.

Nothing is written here: a draft and the world it is sealed in give bytes, which are read again and compared.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from witnessmark.problems import Misuse, Place, Problem, in_order
from witnessmark.reading.acts import ActText, folder_of_files, place_in, read_act, vehicle_of
from witnessmark.reading.files import hash_file
from witnessmark.reading.folder import named_files
from witnessmark.reading.workshop import Reading
from witnessmark.records.acts import AnyAct, Record
from witnessmark.records.base import CODE_ALPHABET, text_of_instant

from .roundtrip import with_keys, without_keys

__all__ = ["SHIPPED", "Sealed", "new_code", "seal", "unsealed"]

SHIPPED = "shipped"
"""Who seals the editions that come with the tool."""

TOOLS_KEYS = ("files", "seal")


@dataclass(frozen=True, slots=True)
class Sealed:
    """A sealed act, not written yet: its bytes, and the files (from the root) that belong into the same commit."""

    path: str
    code: str
    data: bytes
    files: tuple[str, ...]


def new_code(taken: Iterable[str], choose: Callable[[str], str] = secrets.choice) -> str:
    """Six characters that no act has. The only thing in a workshop that is random."""
    used = set(taken)
    while True:
        code = "".join(choose(CODE_ALPHABET) for _ in range(6))
        if code not in used:
            return code


def codes_of(reading: Reading) -> frozenset[str]:
    """Every code that history or the folder knows, sealed or not."""
    here = {text.code for text in reading.folder.texts if text.code is not None}
    return frozenset(here | set(reading.known) | {act.code for act in reading.workshop.acts})


def seal(
    reading: Reading,
    path: str,
    *,
    on: datetime,
    by: str,
    now: datetime,
    code: str | None = None,
    choose: Callable[[str], str] = secrets.choice,
) -> Sealed:
    """The draft at `path` (from the root), sealed `on` an instant `by` a person; a code that it has is kept.

    Raises Misuse, with every reason, when it cannot be sealed: it does not fit its model, a file that it names is not
    there, its code is known to history, its time lies ahead of `now`, the person is unknown.
    """
    text = next((t for t in reading.folder.texts if t.path == path), None)
    if text is None:
        raise Misuse(
            Problem("seal.none", f"there is no act '{path}' in the folder", "name a file under evidence/", Place(path))
        )
    if text.problems or text.body is None:
        raise Misuse(*text.problems)
    body = text.body
    refused = [*_refusals(reading, text, on, by, now, code), *_file_refusals(reading, text)]
    if refused:
        raise Misuse(*in_order(refused))
    chosen = code or body.code or new_code(codes_of(reading), choose)
    files, rows = _files(reading, body, path)
    draft = reading.folder.data[path]
    added: dict[str, Any] = {"code": chosen}
    if rows:
        added["files"] = rows
    whole = with_keys(draft, path, added, after={"code": "format"}) if body.code != chosen or rows else draft
    filled = read_act(whole, path)
    assert filled.body is not None, filled.problems
    said: dict[str, Any] = {"on": text_of_instant(on), "by": by}
    said |= _judged(reading, filled.body, path, chosen)
    # The digest leaves `content` itself out, so a first pass with any text there gives the one that belongs there.
    first = read_act(with_keys(whole, path, {"seal": {**said, "content": "sha256:" + "0" * 64}}), path)
    data = with_keys(whole, path, {"seal": {**said, "content": first.digest}})
    done = read_act(data, path)
    assert done.holds and done.body is not None and done.code == chosen, done.problems
    return Sealed(path, chosen, data, files)


def unsealed(data: bytes, path: str) -> bytes:
    """The draft that a sealed file was: without what the tool wrote, but with its code."""
    return without_keys(data, path, TOOLS_KEYS)


def _refusals(
    reading: Reading, text: ActText, on: datetime, by: str, now: datetime, code: str | None
) -> Iterable[Problem]:
    assert text.body is not None
    body, path = text.body, text.path
    if text.sealed:
        yield Problem(
            "seal.twice",
            "the file is sealed already",
            "write a correction as a new file",
            place_in(text, "seal", key=True),
        )
        return
    if on.tzinfo is None:
        raise ValueError("an instant needs its difference to UTC")
    if on > now:
        yield Problem(
            "seal.ahead",
            f"the seal's time {text_of_instant(on)} lies ahead of the clock",
            "set the clock, or wait",
            Place(path),
        )
    if body.at is not None and body.at > on:
        yield Problem(
            "seal.order",
            f"it speaks of {text_of_instant(body.at)}, after the time of sealing, {text_of_instant(on)}",
            "correct the time; nothing is sealed before it was done",
            Place(path),
        )
    if by not in reading.workshop.people and by != SHIPPED:
        known = ", ".join(sorted(reading.workshop.people))
        yield Problem("person.unknown", f"'{by}' is nobody from people/", f"seal as one of {known}", Place(path))
    wanted = code or body.code
    if wanted is not None:
        history = {act.code for act in reading.workshop.acts} | set(reading.known)
        others = [t.path for t in reading.folder.texts if t.code == wanted and t.path != path]
        if wanted in history or others:
            yield Problem(
                "seal.known-code",
                f"the code {wanted} belongs to another act" + (f": {others[0]}" if others else ""),
                "take the line with the code out; the tool writes a new one",
                place_in(text, "code"),
            )


def _file_refusals(reading: Reading, text: ActText) -> Iterable[Problem]:
    assert text.body is not None
    base = folder_of_files(text.body, text.path)
    for name, steps in named_files(text.body):
        path = f"{base}/{name}"
        if path not in reading.folder.entries and steps[0] != "files":
            yield Problem(
                "file.missing",
                f"the file '{name}' is not in {base}/",
                "put it there, or correct the path",
                place_in(text, *steps),
            )


def _files(reading: Reading, body: AnyAct, path: str) -> tuple[tuple[str, ...], list[Mapping[str, Any]]]:
    """Files from the root, and the rows of `files`: each hashed now, from its bytes on disk."""
    base = folder_of_files(body, path)
    names = sorted({name for name, _ in named_files(body)})
    rows: list[Mapping[str, Any]] = []
    problems: list[Problem] = []
    for name in names:
        entry = reading.folder.entries.get(f"{base}/{name}")
        if entry is None:
            problems.append(
                Problem("file.missing", f"the file '{name}' is not there", "put it there", Place(f"{base}/{name}"))
            )
            continue
        hashed = hash_file(entry.file, entry.path, keep=0)
        if isinstance(hashed, Problem):
            problems.append(hashed)
            continue
        rows.append({"name": name, "bytes": hashed.size, "sha256": hashed.sha256})
    if problems:
        raise Misuse(*in_order(problems))
    return tuple(f"{base}/{name}" for name in names), rows


def _judged(reading: Reading, body: AnyAct, path: str, code: str) -> dict[str, Any]:
    """What the world says of the act at its sealing: vehicle, members, what it is judged against, what is found."""
    from witnessmark.assessment.seals import against, found, members, vin, with_figures

    workshop = reading.workshop
    said: dict[str, Any] = {}
    vehicle = None if isinstance(body, Record) and body.design is not None else vehicle_of(path)
    if vehicle is not None:
        number = vin(workshop, vehicle)
        said["vehicle"] = {"id": vehicle, "vin": number} if number else {"id": vehicle}
    if not isinstance(body, Record):
        return said
    if body.log is not None:
        workshop = with_figures(workshop, code, _figures(reading, body, path, code))
    serials = members(workshop, vehicle, body)
    if serials:
        said["members"] = serials
    said["against"] = against(workshop, vehicle, body)
    verdicts = found(workshop, vehicle, body, code=code)
    if verdicts:
        said["found"] = verdicts
    return said


def _figures(reading: Reading, body: Record, path: str, code: str) -> dict[str, object]:
    from witnessmark.reading.figures import Wanted, figures_of

    assert body.log is not None
    log = f"{folder_of_files(body, path)}/{body.log.file}"
    return dict(figures_of(reading.folder, [Wanted(code, body, log, Place(path))])[code])
