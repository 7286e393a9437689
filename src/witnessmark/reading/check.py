"""Every fault in every file, in one go: what reading found, and what shows when files are held beside each other."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

from witnessmark.problems import Place, Problem, Severity, in_order
from witnessmark.records.acts import Event, Record, Seal, SetEdition
from witnessmark.records.world import Act, Held

from .acts import ActText, as_far_as_legible, folder_of_files, place_in
from .folder import Folder, named_files
from .readings import readings_of
from .references import names_in_acts
from .set_differences import unexplained
from .set_linter import findings_in
from .workshop import Clock, Reading, now, read_everything

__all__ = ["check", "problems_of"]


def check(
    root: Path,
    files: Iterable[Path] = (),
    *,
    as_of: date | None = None,
    clock: Clock = now,
    use_cache: bool = True,
) -> tuple[Problem, ...]:
    """Every problem and note in the folder, by place; with `files`, those in these files only. Writes nothing.

    Raises Misuse when there is no workshop's folder at `root`.
    """
    reading = read_everything(root, as_of=as_of, clock=clock, use_cache=use_cache)
    found = in_order(reading.problems) if isinstance(reading, Folder) else problems_of(reading)
    chosen = tuple(files)
    if not chosen:
        return found
    wanted = {_shown(root, path) for path in chosen}
    missing = [
        Problem("file.missing", f"there is no file '{path}'", "name a file of this folder", Place(_shown(root, path)))
        for path in chosen
        if not path.is_file()
    ]
    return in_order([*missing, *(p for p in found if p.place is not None and p.place.file in wanted)])


def problems_of(reading: Reading) -> tuple[Problem, ...]:
    """As `check`, for a folder that has been read."""
    problems = list(reading.workshop.problems)
    legible = tuple(map(as_far_as_legible, reading.folder.texts))
    problems += names_in_acts(replace(reading, folder=replace(reading.folder, texts=legible)))
    for text in legible:
        problems += readings_of(text)
    problems += _files(reading)
    problems += _held(reading)
    problems += _doubled(reading)
    problems += _sets(reading)
    # What is too large to read is too large in history as well.
    large = {p.place.file for p in problems if p.code == "yaml.size" and p.place}
    problems = [p for p in problems if not (p.code == "git.text" and p.place and p.place.file in large)]
    # That the digest of a file differs when its line ends do is the same cause.
    ends = {p.place for p in problems if p.code == "git.line-ends"}
    problems = [p for p in problems if not (p.code == "file.changed" and ends & {*p.related})]
    # A link is a fault of its own; that the file behind it is therefore not there is the same cause.
    links = {p.place.file for p in problems if p.code in ("files.link", "files.name", "files.special") and p.place}
    return in_order(
        p for p in problems if not (p.code == "file.missing" and links & {place.file for place in p.related})
    )


def _shown(root: Path, path: Path) -> str:
    resolved = path.resolve()
    base = root.resolve()
    return resolved.relative_to(base).as_posix() if resolved.is_relative_to(base) else path.as_posix()


# ---- files that acts name -----------------------------------------------------------------------------------


def _files(reading: Reading) -> Iterator[Problem]:
    """Files that are missing, changed, or named without having been hashed."""
    for text in reading.folder.texts:
        body = text.body
        if body is None:
            continue
        base = folder_of_files(body, text.path)
        hashed = {entry.name: entry for entry in body.files}
        seen: set[str] = set()
        for name, steps in sorted(named_files(body), key=lambda pair: (pair[1][0] == "files", str(pair[1]))):
            if name in seen:
                continue
            seen.add(name)
            path = f"{base}/{name}"
            found = reading.folder.sha256(path)
            place = place_in(text, *steps)
            if found is None:
                yield Problem(
                    "file.missing",
                    f"the file '{name}' is not in {base}/",
                    "put it back as it was" if text.sealed else "put it there, or correct the path",
                    place,
                    related=(Place(path),),
                )
            elif name not in hashed:
                if text.sealed:
                    yield Problem(
                        "file.not-sealed",
                        f"the file '{name}' is named, but its digest is not among the sealed files",
                        "withdraw the act and record it anew; the tool writes the digests",
                        place,
                    )
            elif found != hashed[name].sha256.removeprefix("sha256:"):
                yield Problem(
                    "file.changed",
                    f"the file '{name}' is not the one that was sealed",
                    "put the first one back; a better one belongs into a new record",
                    place,
                    related=(Place(path),),
                )


# ---- how sealed acts are held -------------------------------------------------------------------------------


def _held(reading: Reading) -> Iterator[Problem]:
    workshop = reading.workshop
    texts = {text.path: text for text in reading.folder.texts}
    reported: set[str] = set()
    for act in workshop.acts:
        text = texts.get(act.path)
        if act.held is Held.MISSING and act.appeared is None:
            continue  # The history was rewritten: reading has said so.
        if act.clash and act.code not in reported:
            reported.add(act.code)
            yield Problem(
                "act.clash",
                f"the history holds two texts under the code {act.code} and does not say which was first",
                f"withdraw {act.code}, and record both again",
                act.place,
            )
            continue
        if act.clash:
            continue
        yield from _one_held(reading, act, text)
        if workshop.history.consulted and workshop.history.commit and act.appeared is None:
            yield Problem(
                "act.not-committed",
                f"{act.code} is sealed but not committed: until then it can only hurt",
                f"commit {act.path}",
                act.place,
                Severity.NOTE,
            )


def _one_held(reading: Reading, act: Act, text: ActText | None) -> Iterator[Problem]:
    known = reading.known.get(act.code)
    back = f"put the sealed text back: witnessmark record --restore {act.path}" if known and act.by_commit else ""
    if act.held is Held.EDITED and text is not None and text.body is not None and known is not None:
        for steps, was, now_is in differences(known.tree, text.tree)[:8]:
            what = "/".join(map(str, steps)) or "it"
            yield Problem(
                "act.edited",
                f"{act.code} was changed after it was sealed: {what} was {_said(was)}, now {_said(now_is)}",
                f"{back}; {_meant_by(act, steps)}",
                place_in(text, *steps),
            )
    elif act.held is Held.UNSEALED:
        yield Problem("act.unsealed", f"{act.code} has lost its seal", back or "put the sealed text back", act.place)
    elif act.held is Held.MISSING:
        yield Problem(
            "act.missing", f"{act.code} was sealed and committed, and is gone", back or "put it back", Place(act.path)
        )
    elif act.held is Held.MISPLACED:
        seal: Seal | None = act.body.seal
        whose = seal.vehicle.id if seal is not None and seal.vehicle is not None else "no vehicle"
        yield Problem(
            "act.misplaced",
            f"{act.code} is sealed for {whose}, but does not lie in its folder",
            "move it back",
            act.place,
        )
    if not act.seal_holds and act.held is not Held.EDITED:
        yield Problem(
            "act.seal",
            f"the seal of {act.code} does not fit its text: it was changed or written by hand",
            "put the sealed text back; what is not sealed yet loses its seal: and is sealed by the tool",
            place_in(text, "seal", "content") if text is not None else act.place,
        )


def _meant_by(act: Act, steps: tuple[str | int, ...]) -> str:
    """The command that does what somebody wanted who edited this line of a sealed act."""
    code, line = act.code, str(steps[0]) if steps else ""
    if line in ("note", "files", "seal", "code", "format"):
        return "a sealed act is never edited: what is to be added is a new record"
    if isinstance(act.body, Event) or line in ("part", "parts", "design"):
        return f"if it never was so, take it back: witnessmark record --withdraw {code}; then record what is right"
    typed = f"a typing error is put right by witnessmark record --correct {code}"
    if isinstance(act.body, Record) and line in ("readings", "log", "performed", "instruments"):
        return f"{typed}; what was measured again is recorded again, after a fail with --retest {code}"
    return typed


def _said(value: Any) -> str:
    if value is None:
        return "not there"
    if isinstance(value, str):
        return f"'{value[:60]}'"
    return "a list" if isinstance(value, tuple | list) else "keys and values"


def differences(
    was: Any, now_is: Any, steps: tuple[str | int, ...] = ()
) -> list[tuple[tuple[str | int, ...], Any, Any]]:
    """Where two text trees differ: the steps to the place, what stood there and what stands there (None: nothing)."""
    if isinstance(was, Mapping) and isinstance(now_is, Mapping):
        keys = [*was, *(key for key in now_is if key not in was)]
        return [d for key in keys for d in differences(was.get(key), now_is.get(key), (*steps, key))]
    if isinstance(was, tuple) and isinstance(now_is, tuple) and len(was) == len(now_is):
        return [d for n, (a, b) in enumerate(zip(was, now_is, strict=True)) for d in differences(a, b, (*steps, n))]
    return [] if was == now_is else [(steps, was, now_is)]


def _doubled(reading: Reading) -> Iterator[Problem]:
    """Two files with one code, sealed or not: the code is the only identity that an act has."""
    by_code: dict[str, list[ActText]] = defaultdict(list)
    for text in reading.folder.texts:
        if text.code is not None:
            by_code[text.code].append(text)
    for code, texts in sorted(by_code.items()):
        first, *others = sorted(texts, key=lambda t: (not t.sealed, t.path))
        for other in others:
            remedy = (
                "delete the copy"
                if other.tree == first.tree
                else "take the line with the code out of the newer; the tool writes one"
            )
            yield Problem(
                "act.doubled-code",
                f"the code {code} is also in {first.path}",
                remedy,
                place_in(other, "code"),
                related=(place_in(first, "code"),),
            )


# ---- requirement sets ---------------------------------------------------------------------------------------


def _sets(reading: Reading) -> Iterator[Problem]:
    workshop = reading.workshop
    yield from findings_in(workshop, reading.folder.data)
    for one in workshop.sets.values():
        editions = [
            (act, act.body) for act in workshop.acts if isinstance(act.body, SetEdition) and act.body.set == one.id
        ]
        if not editions:
            yield Problem(
                "set.no-edition",
                f"the set '{one.id}' has no sealed edition, so nothing can be shown against it",
                f"seal one: witnessmark record edition {one.id}",
                Place(f"requirements/{one.id}/set.yaml", 1, 1),
                Severity.NOTE,
            )
            continue
        editions.sort(key=lambda pair: (pair[1].issued, pair[0].appeared or 0, pair[0].code))
        act, edition = editions[-1]
        for changed, ident in unexplained([body for _, body in editions]):
            yield Problem(
                "set.no-reason",
                f"the edition {changed.edition} of '{one.id}' changes '{ident}', and no edition says why",
                f"say why in a new one: witnessmark record edition {one.id}",
                one.places.get(ident, act.place),
                related=(act.place,),
            )
        if one.file.decision_rule != edition.decision_rule:
            yield Problem(
                "set.rule",
                f"the decision rule of '{one.id}' is not the one in its edition {edition.edition}",
                f"put it back, or seal a new edition (witnessmark record edition {one.id}); what was judged by the "
                "old rule then has to be looked at",
                Place(f"requirements/{one.id}/set.yaml", 1, 1),
                related=(act.place,),
            )
        for name, digest in edition.requirements.items():
            found = one.digests.get(name)
            if found is None:
                yield Problem(
                    "set.taken-out",
                    f"the edition {edition.edition} names the requirement '{name}', which the folder does not have",
                    f"put it back, or seal a new edition without it: witnessmark record edition {one.id}",
                    Place(f"requirements/{one.id}/set.yaml", 1, 1),
                )
            elif found.removeprefix("sha256:") != digest.removeprefix("sha256:"):
                yield Problem(
                    "set.changed",
                    f"'{name}' is not as the edition {edition.edition} says",
                    f"put it back, or seal a new edition (witnessmark record edition {one.id}); what was judged by "
                    "the old text then has to be looked at",
                    one.places[name],
                    related=(act.place,),
                )
        for name in one.digests:
            if name not in edition.requirements:
                yield Problem(
                    "set.not-in-edition",
                    f"'{name}' is not in the edition {edition.edition}",
                    f"seal a new edition: witnessmark record edition {one.id}",
                    one.places[name],
                    related=(act.place,),
                )
