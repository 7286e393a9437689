"""`python -m tests.documents.golden`: seals the small workshop anew and renews what is kept. Look at the diff."""

from __future__ import annotations

import sys

from tests.demonstration.reseal import reseal, sealings

from .rendering import HERE, KEPT, WORKSHOP, edition, rendered


def main() -> int:
    edition()
    sealed = reseal(WORKSHOP, sealings(HERE / "seals.yaml"))
    wanted = rendered()
    for path in sorted(KEPT.rglob("*"), reverse=True):
        if path.is_file() and path.relative_to(KEPT).as_posix() not in wanted:
            path.unlink()
    changed = []
    for name, text in wanted.items():
        path = KEPT / name
        path.parent.mkdir(parents=True, exist_ok=True)
        if not path.is_file() or path.read_text(encoding="utf-8") != text:
            path.write_text(text, encoding="utf-8")
            changed.append(name)
    sys.stdout.write(
        f"{sealed} acts sealed anew, {len(changed)} of {len(wanted)} kept files renewed: look at the diff\n"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
