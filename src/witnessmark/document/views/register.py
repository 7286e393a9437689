"""The gap register: one entry for each cause, grouped by what can be done now."""

from __future__ import annotations

from witnessmark.assessment.model import Gap, JobGroup, RequirementState
from witnessmark.document import blocks
from witnessmark.document.blocks import Block, Entry, Figure, Group, Link, Note, Pair, Register
from witnessmark.document.drawings import IssueBar, Issues
from witnessmark.document.layout_words import HITS, REQUIREMENT
from witnessmark.language import Words, declared, say, say_n
from witnessmark.records.acts import Release

from .book import CONCESSIONS, REGISTER, Book, Chapter, Page, View
from .cover import summary
from .information import field_gap_tables
from .requirement import gap_words, permissions
from .words import capital, duration, short_day, state_word, worst_first

__all__ = ["VIEW"]

_TITLES = Words(
    {
        "dead": declared("Now, bus dead and covers off"),
        "desk": declared("Now, at the desk"),
        "live": declared("Next, with the bus live"),
        "away": declared("Waits for somebody else"),
    }
)


def chapters(book: Book) -> tuple[Chapter, ...]:
    return (Chapter(REGISTER, say("Gap register"), say("Gap register"), gaps=len(book.gaps)),)


def page(book: Book, chapter: Chapter) -> Page:
    made: dict[str, Block] = {"lead": Note(_lead(book), style="lead")}
    groups = tuple(_group(book, job) for job in book.assessment.jobs if job.entries)
    missing = _forgotten(book)
    if missing:
        groups = (
            *groups,
            Group(say("Not sorted"), say_n("{count} requirement", "{count} requirements", len(missing)), missing),
        )
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
    return capital(
        say_n(
            "{count} requirement stands between this vehicle and its submission. It is sorted by what can be done now: "
            "first what needs no voltage on the bus.",
            "{count} requirements stand between this vehicle and its submission. They are sorted by what can be done "
            "now: first what needs no voltage on the bus.",
            len(book.gaps),
        )
    )


def _issues(book: Book, chapter: Chapter) -> Figure | None:
    """The gaps left at each issue; None before there was a first one."""
    found = [act.body for act in book.acts_of_vehicle() if isinstance(act.body, Release) and act.seal_holds]
    if not found:
        return None
    bars = [
        IssueBar(f"{one.release}, {short_day(one.as_of)}", one.gaps, _gaps(one.gaps))
        for one in sorted(found, key=lambda r: (r.at, r.release))
    ]
    now, day_ = len(book.gaps), short_day(book.assessment.as_of)
    label = say("{issue}, draft, {day}", issue=book.issue, day=day_) if book.draft else f"{book.issue}, {day_}"
    bars.append(IssueBar(label, now, _gaps(now), True))
    said = "; ".join(say("issue {issue}: {gaps}", issue=bar.label, gaps=bar.shown) for bar in bars)
    return Figure(
        Issues(tuple(bars)),
        say("Gaps left at each issue: requirements that stood in the way on its day"),
        say("Gaps left at each issue. {issues}.", issues=capital(said)),
        f"{chapter.number}-1",
        say("Hatched: the issue of this file."),
        id="b.issues",
    )


def _gaps(n: int) -> str:
    return say_n("{count} gap", "{count} gaps", n)


def _group(book: Book, job: JobGroup) -> Group:
    if job.group == "away":
        summary = say_n("{count} matter", "{count} matters", len(job.entries))
    else:
        summary = say_n("{count} job", "{count} jobs", len(job.entries))
    if job.minutes:
        summary = say("{jobs}, about {time}", jobs=summary, time=duration(job.minutes))
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
        title = say_n(
            "{requirement}, and {count} more requirement",
            "{requirement}, and {count} more requirements",
            len(states) - 1,
            requirement=title,
        )
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
        link=_link(book, first) if first else None,
    )


def _link(book: Book, state: RequirementState) -> Link:
    return book.link(state, say(REQUIREMENT, number=book.number(state)), page=True)


def _facts(book: Book, gap: Gap, states: list[RequirementState]) -> tuple[Pair, ...]:
    pairs = [Pair(say("With"), gap.take)] if gap.take else []
    if gap.minutes is not None:
        pairs.append(Pair(say("Time"), duration(gap.minutes)))
    if gap.persons:
        pairs.append(Pair(say("Who"), say_n("{count} person", "{count} persons", gap.persons)))
    if gap.records:
        links: list[str | Link] = []
        for code in gap.records[:3]:
            links += ([", "] if links else []) + [p for p in book.record_link(code) if isinstance(p, str | Link)]
        if more := max(0, len(gap.records) - 3):
            links += [" ", say_n("and {n} more", "and {n} more", more)]
        pairs.append(Pair(say("Record"), tuple(links)))
    if len(states) > 1:
        hits: list[str | Link] = []
        for state in states:  # Every one: a gap that the register does not name would be a hidden one.
            hits += ([", "] if hits else []) + [book.link(state)]
        pairs.append(Pair(say(HITS), tuple(hits)))
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
        if state.gaps:
            why, do = gap_words(state.gaps[0])
        else:
            why, do = say("No reason was recorded."), say("Look into the requirement.")
        entries.append(
            Entry(
                state.state.value,
                state.requirement.title,
                why,
                do,
                book.clause(state),
                (),
                _link(book, state),
                f"b.gap-unsorted-{n}",
                state_word(state.state),
            )
        )
    return tuple(entries)


def _permission(book: Book, state: RequirementState) -> blocks.Concession:
    words = say(
        "{requirement} ({state} beneath). {permissions}",
        requirement=state.requirement.title,
        state=state_word(state.beneath),
        permissions=permissions(state),
    )
    return blocks.Concession(words, Link(CONCESSIONS, say("concessions"), True))


VIEW = View("gap-register.rst.j2", chapters, page)
