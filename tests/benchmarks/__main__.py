"""`python -m tests.benchmarks`: each step as a ratio to the floor of its raw work, measured together. Never gated.

Floors: the interpreter that does nothing for start and audit; reading and hashing the same files for cold records; the
bytes of the output written and hashed for the build, and that build for what `build --watch` does after a change.
"""

# This is a command: it prints.
# ruff: noqa: T201

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median

from .records import write_workshop

ROOT = Path(__file__).parents[2]
REPEATS = 5


def timed(action: Callable[[], object], repeats: int = REPEATS) -> float:
    """Median seconds of several runs after one that does not count."""
    action()
    taken = []
    for _ in range(repeats):
        begun = time.perf_counter()
        action()
        taken.append(time.perf_counter() - begun)
    return median(taken)


def command(*arguments: str, cwd: Path = ROOT, home: str, expect: tuple[int, ...] = (0, 1)) -> Callable[[], object]:
    environment = {"HOME": home, "PATH": os.environ["PATH"]}

    def run() -> None:
        done = subprocess.run([sys.executable, *arguments], cwd=cwd, env=environment, capture_output=True, check=False)
        if done.returncode not in expect:
            raise SystemExit(done.stderr.decode())

    return run


def read_and_hash(folder: Path) -> Callable[[], object]:
    files = sorted(p for p in folder.rglob("*.yaml"))

    def run() -> None:
        for path in files:
            hashlib.sha256(path.read_bytes()).digest()

    return run


def row(name: str, taken: float, floor: float, floor_name: str) -> None:
    print(f"{name:<44} {taken:8.3f} s   {taken / floor:8.1f} × {floor_name} ({floor:.4f} s)")


def main() -> None:
    with tempfile.TemporaryDirectory() as scratch, tempfile.TemporaryDirectory() as home:
        nothing = timed(command("-c", "pass", home=home))
        row(
            "start: witnessmark --help",
            timed(command("-m", "witnessmark", "--help", home=home)),
            nothing,
            "python -c pass",
        )
        audit = command("-m", "witnessmark", "audit", "van-07", home=home)
        row("audit of the demonstration, second time", timed(audit), nothing, "python -c pass")
        for count in (1_250, 5_000):
            folder = Path(scratch) / f"generated-{count}"
            write_workshop(folder, count)
            floor = timed(read_and_hash(folder))

            def cold(folder: Path = folder) -> None:
                with tempfile.TemporaryDirectory() as empty:
                    command("-m", "witnessmark", "audit", "car-01", cwd=folder, home=empty)()

            taken = timed(cold, 3)
            row(f"audit of {count} generated records, cold", taken - nothing, floor, "read and SHA-256 of them")
        out = Path(scratch) / "built"
        build = command("-m", "witnessmark", "build", "van-07", "--output", str(out), home=home, expect=(0,))
        taken = timed(build, 3)
        written = b"".join(p.read_bytes() for p in sorted(out.rglob("*")) if p.is_file())

        def write() -> None:
            (Path(scratch) / "floor").write_bytes(written)
            hashlib.sha256(written).digest()

        row("build of the demonstration van", taken, timed(write), "its bytes written and hashed")
        row("build of the demonstration van", taken, nothing, "python -c pass")
        watched(Path(scratch) / "watched", taken)


def watched(folder: Path, built: float) -> None:
    """What `build --watch` takes from a change to the page, beside the whole build of the same van."""
    from witnessmark.document.watch import Watch

    for name in ("evidence", "requirements", "templates"):
        shutil.copytree(ROOT / name, folder / name)
    template = folder / "templates" / "people.rst.j2"
    words = next((folder / "requirements" / "un-r100-03").glob("bonding.yaml"))
    with Watch(folder, "van-07", folder / "out") as watch:
        watch.once()
        for what, path in (("words of a template", template), ("the words of a requirement", words)):

            def change(path: Path = path) -> None:
                text = path.read_text(encoding="utf-8")
                at = " statement: " if path is words else "{{ heading(title) }}"
                more = f"{at}Once more, " if path is words else f"{at}\n\nOnce more."
                path.write_text(text.replace(at, more, 1), encoding="utf-8")
                if not watch.once({str(path.resolve())}).written:
                    raise SystemExit("the pages were refused")

            row(f"watch: {what}, to the page", timed(change), built, "the whole build")


if __name__ == "__main__":
    main()
