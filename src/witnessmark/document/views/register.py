"""The gap register: one entry for each cause, grouped by what can be done now."""

from __future__ import annotations

from witnessmark.assessment.model import Gap, JobGroup, RequirementState
from witnessmark.document import blocks
from witnessmark.document.blocks import Block, Entry, Figure, Group, Link, Note, Pair, Register, Text
from witnessmark.document.drawings import IssueBar, Issues
from witnessmark.records.acts import Release

from .book import CONCESSIONS, REGISTER, Book, Chapter, Page, View
from .cover import summary
from .information import field_gap_tables
from .requirement import gap_words
from .words import capital, duration, joined, plural, short_day, state_word, worst_first

__all__ = ["VIEW"]

_TITLES = {
    "dead": "Now, bus dead and covers off",
    "desk": "Now, at the desk",
    "live": "Next, with the bus live",
    "away": "Waits for somebody else",
}


def chapters(book: Book) -> tuple[Chapter, ...]:
    return (Chapter(REGISTER, "Gap register", "Gap register", gaps=len(book.gaps)),)


def page(book: Book, chapter: Chapter) -> Page:
    made: dict[str, Block] = {"lead": Note(_lead(book), style="lead")}
    groups = tuple(_group(book, job) for job in book.assessment.jobs if job.entries)
    missing = _forgotten(book)
    if missing:
        groups = (*groups, Group("Not sorted", plural(len(missing), "requirement"), missing))
    permissions = tuple(_permission(book, state) for state in book.conceded)
    if groups or permissions:
        made["register"] = Register(groups, permissions)
    at_issues = _issues(book, chapter)
    if at_issues is not None:
        made["issues"] = at_issues
    fields = field_gap_tables(book, chapter.number)
    made |= {f"fields.{key}": table for key, table in fields.items()}
    context = {
        "title": chapter.heading,
        "has_register": "register" in made,
        "has_issues": "issues" in made,
        "fields": [f"fields.{k}" for k in fields],
    }
    return Page(context, made)


def _lead(book: Book) -> str:
    if not book.gaps:
        return summary(book)
    n = len(book.gaps)
    verb, them = ("stands", "It is") if n == 1 else ("stand", "They are")
    return (
        f"{capital(plural(n, 'requirement'))} {verb} between this vehicle and its submission. {them} sorted by what can"
        " be done now: first what needs no voltage on the bus."
    )


def _issues(book: Book, chapter: Chapter) -> Figure | None:
    """The gaps left at each issue; None before there was a first one."""
    found = [act.body for act in book.acts_of_vehicle() if isinstance(act.body, Release) and act.seal_holds]
    if not found:
        return None
    bars = [
        IssueBar(f"{one.release}, {short_day(one.as_of)}", one.gaps, plural(one.gaps, "gap"))
        for one in sorted(found, key=lambda r: (r.at, r.release))
    ]
    now, day_ = len(book.gaps), short_day(book.assessment.as_of)
    bars.append(IssueBar(f"{book.issue}{', draft' if book.draft else ''}, {day_}", now, plural(now, "gap"), True))
    said = "; ".join(f"issue {bar.label}: {bar.shown}" for bar in bars)
    return Figure(
        Issues(tuple(bars)),
        "Gaps left at each issue: requirements that stood in the way on its day",
        f"Gaps left at each issue. {capital(said)}.",
        f"{chapter.number}-1",
        "Hatched: the issue of this file.",
        id="b.issues",
    )


def _group(book: Book, job: JobGroup) -> Group:
    summary = plural(len(job.entries), "job" if job.group != "away" else "matter")
    if job.minutes:
        summary += f", about {duration(job.minutes)}"
    entries = tuple(_entry(book, gap, hits, f"{job.group}-{n}") for n, (gap, hits) in enumerate(job.entries, 1))
    return Group(_TITLES.get(job.group, job.title), summary, entries)


def _entry(book: Book, gap: Gap, hits: tuple[str, ...], ident: str) -> Entry:
    named = {(s.set_id, s.id): s for hit in hits for s in book.requirements_called(hit)}
    states = [s for s in named.values() if s.state.is_gap] or list(named.values())
    why, do = gap_words(gap)
    first = states[0] if states else None
    title = first.requirement.title if first else why
    if first and gap.part is not None:
        title += f", {book.part_title(gap.part)}"
    if len(states) > 1:
        title += f", and {plural(len(states) - 1, 'more requirement')}"
    worst = worst_first(states)[0].state if states and not gap.state.is_gap else gap.state
    return Entry(
        state=worst.value,
        word=state_word(worst),
        title=title,
        clause=book.clause(first) if first else "",
        why=why,
        do=do,
        facts=_facts(book, gap, states),
        id=f"b.gap-{ident}",
        link=book.link(first, f"requirement {book.number(first)}", page=True) if first else None,
    )


def _facts(book: Book, gap: Gap, states: list[RequirementState]) -> tuple[Pair, ...]:
    pairs = [Pair("With", gap.take)] if gap.take else []
    if gap.minutes is not None:
        pairs.append(Pair("Time", duration(gap.minutes)))
    if gap.persons:
        pairs.append(Pair("Who", plural(gap.persons, "person")))
    if gap.records:
        links: list[str | Link] = []
        for code in gap.records[:3]:
            links += ([", "] if links else []) + [p for p in book.record_link(code) if isinstance(p, str | Link)]
        pairs.append(
            Pair("Record", tuple(links) + ((f" and {len(gap.records) - 3} more",) if len(gap.records) > 3 else ()))
        )
    if len(states) > 1:
        hits: list[str | Link] = []
        for state in states:  # Every one: a gap that the register does not name would be a hidden one.
            hits += ([", "] if hits else []) + [book.link(state)]
        pairs.append(Pair("Hits", tuple(hits)))
    return tuple(pairs)


def _forgotten(book: Book) -> tuple[Entry, ...]:
    """Gaps that no job names: they are listed all the same, for a gap that is not in the register is a hidden one."""
    named = {
        id(s)
        for job in book.assessment.jobs
        for _, hits in job.entries
        for h in hits
        for s in book.requirements_called(h)
    }
    entries = []
    for n, state in enumerate((s for s in book.gaps if id(s) not in named), 1):
        why, do = gap_words(state.gaps[0]) if state.gaps else ("No reason was recorded.", "Look into the requirement.")
        entries.append(
            Entry(
                state.state.value,
                state.requirement.title,
                why,
                do,
                book.clause(state),
                (),
                book.link(state, f"requirement {book.number(state)}", page=True),
                f"b.gap-unsorted-{n}",
                state_word(state.state),
            )
        )
    return tuple(entries)


def _permission(book: Book, state: RequirementState) -> blocks.Concession:
    notes = [f"{c.issuer}, {c.number}, to {c.last_day}" for c in state.concessions if not c.idle]
    words: Text = f"{state.requirement.title} ({state_word(state.beneath)} beneath). {joined(notes)}"
    return blocks.Concession(words, Link(CONCESSIONS, "concessions", True))


VIEW = View("gap-register.rst.j2", chapters, page)
