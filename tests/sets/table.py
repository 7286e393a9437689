"""The list of all shipped requirements in the manual, written from the sets themselves.

`python -m tests.sets.table` writes docs/requirements.md anew; a test says when it is out of date.
"""

from __future__ import annotations

from tests.sets.loading import ROOT
from witnessmark.document.views.requirement_list import listed
from witnessmark.reading.set_differences import shipped_sets
from witnessmark.reading.sets import FACTS, read_facts

PAGE = ROOT / "docs" / "requirements.md"

HEAD = """\
# All requirements that come with the tool

{count} requirements in {sets} sets, written from the sets themselves by `python -m tests.sets.table`. A workshop's own
sets are listed by `witnessmark list requirements`, with what each leaf asks.

The clause is that of the regulation, standard or guide that the set follows. *Leaves* are what is to be shown, one by
one, with how. *Applies to* is decided by facts that somebody states with their source; a fact that nobody stated never
makes a requirement fall away.

**High voltage can kill.** This list says what is to be shown. It is no instruction for work: local codes and qualified
persons decide what may be done, how and by whom. Nothing in it takes the place of the official text.
"""

KIND = {
    "measure": "measured", "inspect": "inspected", "photograph": "photograph", "trial": "tried out", "report": "report",
    "document": "document",
}  # fmt: skip


def page() -> str:
    """The whole page."""
    sets = sorted(shipped_sets().values(), key=lambda one: one.id)
    facts = read_facts((ROOT / FACTS).read_bytes())[0]
    rows = {one.id: listed(one, facts) for one in sets}
    lines = [HEAD.format(count=sum(map(len, rows.values())), sets=len(sets))]
    for one in sets:
        lines += [f"## {one.file.title}", "", f"`{one.id}`, {len(rows[one.id])} requirements.", ""]
        lines += ["| Clause | Requirement | Leaves | Applies to |", "|---|---|---|---|"]
        for row in rows[one.id]:
            leaves = "; ".join(f"{name.replace('-', ' ')} ({KIND[kind]})" for name, kind, _ in row.leaves)
            cells = (row.clause, f"`{row.id}`: {row.title}", leaves, row.applies)
            lines.append("| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |")
        lines.append("")
    return "\n".join(lines).rstrip() + "\n"


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
