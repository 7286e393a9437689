"""Is a bag whole: exactly the files that its manifests name, each with its digest, and nothing beside them.

Source: RFC 8493, 3. (complete and valid). Stricter than it: tag manifest, bag-info and README are required, fetch.txt
and other manifests are refused, a path stands once, and the order is that of the paths.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass

from witnessmark.problems import Place, Problem, in_order

from .bag import BAG_INFO, BAGIT, DECLARATION, MANIFEST, PAYLOAD, TAG_MANIFEST, decoded
from .store import Store, safe

__all__ = ["README", "Intact", "look_through"]

README = "README.txt"
FETCH = "fetch.txt"
TAG_FILES = (BAG_INFO, BAGIT, MANIFEST, README)
_LINE = re.compile(r"([0-9a-f]{64})  (.+)")
_LIMIT = 64 * 1024 * 1024
_BLOCK = 1 << 16


@dataclass(frozen=True, slots=True)
class Intact:
    """What was found. `digest` is that of the tag manifest as it lies there, "" when there is none."""

    problems: tuple[Problem, ...]
    digest: str
    files: int
    bytes: int
    payload: Mapping[str, str]
    """Path to SHA-256, as the manifest says."""


def look_through(store: Store) -> Intact:
    """Every fault of the bag, each file read once."""
    found = list(store.problems)
    tags = _listed(store, TAG_MANIFEST, found)
    payload = _listed(store, MANIFEST, found)
    if FETCH in store.files:
        found.append(_fault("bag.fetch", FETCH, "the bag asks for files from elsewhere; nothing is fetched"))
    for name in TAG_FILES:
        if name not in tags and tags:
            found.append(_fault("bag.unlisted", name, f"{TAG_MANIFEST} does not name it"))
    for name in sorted(set(tags) - set(TAG_FILES)):
        found.append(_fault("bag.extra", name, f"{TAG_MANIFEST} names a file that a release does not have"))
    for name in sorted(payload):
        if not name.startswith(PAYLOAD):
            found.append(_fault("bag.path", name, f"{MANIFEST} names a file outside {PAYLOAD}"))
    expected = {**payload, **tags}
    for path in sorted(set(store.files) - set(expected) - {TAG_MANIFEST, FETCH}):
        found.append(_fault("bag.extra", path, "no manifest names this file"))
    size = 0
    for path, wanted in sorted(expected.items()):
        if path not in store.files:
            found.append(_fault("bag.missing", path, "the file is missing"))
            continue
        digest, length = _digest(store, path)
        size += length if path.startswith(PAYLOAD) else 0
        if digest != wanted:
            found.append(_fault("bag.changed", path, "the file is not the one that was released"))
    _declared(store, found)
    _oxum(store, f"{size}.{len(payload)}", found)
    digest = f"sha256:{_digest(store, TAG_MANIFEST)[0]}" if TAG_MANIFEST in store.files else ""
    return Intact(in_order(found), digest, len(store.files), sum(store.files.values()), payload)


def _fault(code: str, path: str, message: str) -> Problem:
    return Problem(code, message, "ask whoever gave you the release for it anew", Place(path))


def _listed(store: Store, name: str, found: list[Problem]) -> Mapping[str, str]:
    """Path to digest, as one manifest says; lines that say nothing are faults."""
    if name not in store.files:
        found.append(_fault("bag.missing", name, "the file is missing"))
        return {}
    data = _bytes(store, name, _LIMIT)
    listed: dict[str, str] = {}
    before = ""
    try:
        lines = data.decode("utf-8").split("\n")
    except UnicodeDecodeError:
        found.append(_fault("bag.manifest", name, "the file is not UTF-8"))
        return {}
    if lines.pop():
        found.append(_fault("bag.manifest", name, "the last line does not end"))
    for number, line in enumerate(lines, start=1):
        parts = _LINE.fullmatch(line)
        place = Place(name, number, 1)
        if parts is None:
            found.append(Problem("bag.manifest", "the line is no digest and path", "ask for the release anew", place))
            continue
        path = decoded(parts[2])
        if safe(path):
            found.append(Problem("bag.path", f"the path leads out: {safe(path)}", "ask for the release anew", place))
            continue
        if path in listed:
            found.append(Problem("bag.doubled", f"'{path}' is named twice", "ask for the release anew", place))
        elif path < before:
            found.append(Problem("bag.order", f"'{path}' stands out of order", "ask for the release anew", place))
        before = max(before, path)
        listed.setdefault(path, parts[1])
    return listed


def _bytes(store: Store, path: str, limit: int) -> bytes:
    """The beginning of a file; nothing where it cannot be read, which its digest says as well."""
    try:
        with store.open(path) as stream:
            return stream.read(limit)
    except Exception:  # see _digest
        return b""


def _digest(store: Store, path: str) -> tuple[str, int]:
    digest, size = hashlib.sha256(), 0
    try:
        with store.open(path) as stream:
            while block := stream.read(_BLOCK):
                digest.update(block)
                size += len(block)
    except Exception as fault:  # a damaged zip member raises one of many; none of them is the right digest
        return f"unreadable: {type(fault).__name__}", size
    return digest.hexdigest(), size


def _declared(store: Store, found: list[Problem]) -> None:
    if BAGIT in store.files and _bytes(store, BAGIT, 1000) != DECLARATION:
        found.append(_fault("bag.declaration", BAGIT, "it does not say BagIt 1.0 in UTF-8"))


def _oxum(store: Store, wanted: str, found: list[Problem]) -> None:
    if BAG_INFO not in store.files:
        return
    lines = _bytes(store, BAG_INFO, 100_000).decode("utf-8", "replace").splitlines()
    said = [line.partition(": ")[2] for line in lines if line.startswith("Payload-Oxum: ")]
    if said != [wanted]:
        found.append(_fault("bag.oxum", BAG_INFO, f"Payload-Oxum says {said or 'nothing'}, found {wanted}"))
