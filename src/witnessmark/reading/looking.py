"""A bounded look at the pictures that acts name: in the confined child, and remembered by the digest of their bytes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from witnessmark.confined import ConfinedFault, Session
from witnessmark.problems import Place, Problem
from witnessmark.records.world import Picture

from .cache import Cache, stamp_of_code
from .folder import Folder

__all__ = ["MEMORY_MB", "PASSING", "ask_child", "look_at"]

SECONDS = 30.0
MEMORY_MB = 2048
PASSING = ("picture.time", "picture.memory", "picture.decoder")
"""Codes of faults that another run may not have: they are not remembered."""
LOOK = "witnessmark.reading.pictures:look"


def look_at(folder: Folder, wanted: Mapping[str, Place], *, use_cache: bool = True) -> Mapping[str, Picture]:
    """Each picture by its path from the root; `wanted` says where it is named, and a fault is shown there."""
    cache = Cache("pictures", stamp_of_code("reading/pictures.py"), use=use_cache)
    found: dict[str, Picture] = {}
    with Session(memory_mb=MEMORY_MB, readable=[folder.root]) as session:
        for path, place in sorted(wanted.items()):
            sha256 = folder.sha256(path)
            if sha256 is None:
                continue
            answer = cache.get(sha256)
            if answer is None:
                answer = ask_child(session, folder, path)
                if "code" not in answer and answer["sha256"] != sha256:
                    answer = _fault("file.restless", "the file changed while it was read", "try again")
                elif answer.get("code") not in PASSING:
                    cache.put(sha256, answer)
            if "code" in answer:
                message = f"'{path.rpartition('/')[2]}': {answer['message']}"
                folder.problems.append(
                    Problem(answer["code"], message, answer["remedy"], place, related=(Place(path),))
                )
                continue
            found[path] = Picture(
                path=path,
                sha256=sha256,
                width=answer["width"],
                height=answer["height"],
                taken=answer["taken"] or None,
                has_position=answer["position"],
            )
    return found


def ask_child(session: Session, folder: Folder, path: str, look: str = LOOK, **limits: int) -> dict[str, Any]:
    """What `look`, run in the child, finds in the picture at `path`; a fault of the child as the child's own faults."""
    try:
        argument = {"path": str(folder.entries[path].file), **limits}
        answer: dict[str, Any] = session.call(look, argument, seconds=SECONDS)
        return answer
    except ConfinedFault as fault:
        code, what = {
            "time": ("picture.time", f"it was not decoded within {SECONDS:g} s"),
            "memory": ("picture.memory", f"decoding it needs more than {MEMORY_MB} MB"),
        }.get(fault.code, ("picture.decoder", f"it cannot be decoded: {fault.detail[:200]}"))
        return _fault(code, what, "export the picture anew, with fewer pixels")


def _fault(code: str, message: str, remedy: str) -> dict[str, Any]:
    return {"code": code, "message": message, "remedy": remedy}
