"""What was once found out about some bytes, kept as JSON in the user's cache folder.

Never required, and never believed by a release.

A key says everything that the value depends on: the digest of the bytes and the version of whatever looked at them.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import tempfile
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from witnessmark import __version__

from .files import cache_folder

__all__ = ["Cache", "stamp_of_code"]


class Cache:
    """One kind of findings. `folder` None: nothing is kept."""

    def __init__(self, kind: str, stamp: str, *, folder: Path | None = None, use: bool = True) -> None:
        self._folder = (folder or cache_folder()) / kind if use else None
        self._stamp = stamp

    def _file(self, key: str) -> Path | None:
        if self._folder is None:
            return None
        name = hashlib.sha256(json.dumps([self._stamp, key]).encode()).hexdigest()[:40]
        return self._folder / name[:2] / f"{name[2:]}.json"

    def get(self, key: str) -> Any:
        """The value, or None when there is none or it is damaged."""
        file = self._file(key)
        try:
            if file is None or not file.is_file():
                return None
            kept = json.loads(file.read_bytes())
            return kept["value"] if kept["key"] == key else None
        except (OSError, ValueError, KeyError, TypeError):
            return None

    def put(self, key: str, value: Any) -> None:
        """Keep a JSON-able value; a cache that cannot be written is no fault."""
        file = self._file(key)
        if file is None:
            return
        with contextlib.suppress(OSError):
            file.parent.mkdir(parents=True, exist_ok=True)
            handle, name = tempfile.mkstemp(prefix=".value.", suffix=".tmp", dir=file.parent)
            with os.fdopen(handle, "w", encoding="utf-8") as stream:
                json.dump({"key": key, "value": value}, stream)
            Path(name).replace(file)


def stamp_of_code(*folders_or_modules: str) -> str:
    """Digest of this program's version and of the source of some of its parts: a change makes old values unknown."""
    package = Path(__file__).parents[1]
    digest = hashlib.sha256(__version__.encode())
    for name in sorted(folders_or_modules):
        at = package / name
        for path in _sources(at):
            digest.update(path.name.encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()


def _sources(at: Path) -> Iterable[Path]:
    return [at] if at.is_file() else sorted(at.rglob("*.py"))
