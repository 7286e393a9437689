"""Which program made a release: its version, the digest of its source, and the packages beneath it."""

from __future__ import annotations

import hashlib
import platform
import re
from importlib import metadata
from pathlib import Path

from witnessmark import __version__
from witnessmark.shipped import shipped

__all__ = ["lock_file", "tool", "tool_digest"]

_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]*")


def tool_digest() -> str:
    """`sha256:…` over every source file of the installed package, by path; line ends folded, so that a checkout says
    the same as a wheel. What is shipped with it as data has digests of its own."""
    package = Path(__file__).resolve().parents[1]
    return _digest(package, skip=("_shipped", "__pycache__"))


def _digest(folder: Path, skip: tuple[str, ...] = ("__pycache__",)) -> str:
    digest = hashlib.sha256()
    for path in sorted(folder.rglob("*"), key=lambda p: p.relative_to(folder).as_posix()):
        name = path.relative_to(folder)
        if path.is_file() and not set(name.parts) & set(skip):
            data = path.read_bytes()
            if path.suffix in (".py", ".json", ".j2", ".yaml", ".css", ".js", ".typ", ".md", ".txt"):
                data = data.replace(b"\r\n", b"\n")
            digest.update(name.as_posix().encode() + b"\0" + hashlib.sha256(data).digest())
    return "sha256:" + digest.hexdigest()


def tool() -> dict[str, str]:
    """Name, version and digests of the installed tool and of its templates, and the interpreter."""
    return {
        "name": "witnessmark",
        "version": __version__,
        "digest": tool_digest(),
        "templates": _digest(shipped("templates")),
        "python": platform.python_version(),
        "system": f"{platform.system()} {platform.machine()}",
    }


def lock_file() -> str:
    """Every installed distribution that the tool needs, pinned, with the digest of its own list of files beside it.

    A name that is needed and not installed (an extra of another system) is left out.
    """
    waiting, seen = ["witnessmark"], set()
    lines: dict[str, str] = {}
    while waiting:
        name = re.sub(r"[-_.]+", "-", waiting.pop()).lower()
        if name in seen:
            continue
        seen.add(name)
        try:
            found = metadata.distribution(name)
        except metadata.PackageNotFoundError:
            continue
        if name != "witnessmark":
            files = found.read_text("RECORD") or ""
            digest = hashlib.sha256(files.encode()).hexdigest() if files else "unknown"
            lines[name] = f"{name}=={found.version}  # RECORD sha256:{digest}\n"
        for needed in found.requires or ():
            # What reads further formats of logs takes part in results where it is installed.
            wanted = "extra ==" not in needed or (
                name == "witnessmark" and re.search(r"extra == ['\"]logs['\"]", needed)
            )
            if wanted and (named := _NAME.match(needed)):
                waiting.append(named[0])
    return "".join(lines[name] for name in sorted(lines))
