"""`python -m tests`: lint, types, then every test. What the README's second command and CI run."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[1]

STEPS = (
    ("lint", ["-m", "ruff", "check", "src", "tests"]),
    ("format", ["-m", "ruff", "format", "--check", "src", "tests"]),
    ("types", ["-m", "mypy"]),
    ("tests", ["-m", "pytest", "-q", "-n", "2", "--dist", "loadfile", "--no-loadscope-reorder"]),
)


def main() -> int:
    failed = []
    for name, arguments in STEPS:
        print(f"== {name}", flush=True)  # noqa: T201 - this is a command
        if subprocess.run([sys.executable, *arguments], cwd=ROOT, check=False).returncode:
            failed.append(name)
    if failed:
        print(f"failed: {', '.join(failed)}", flush=True)  # noqa: T201 - as above
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
