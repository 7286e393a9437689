"""The risk analysis: each row with its controls, and with what shows them as it stands today."""

from __future__ import annotations

from witnessmark.assessment.model import RiskControl, RiskRow, RiskState, State
from witnessmark.document.blocks import Block, Cell, Column, Link, Note, Table, Text
from witnessmark.records.acts import RiskAnalysis

from .book import RISKS, Book, Chapter, Counter, Page, View
from .words import capital, count, day, joined, plain_name, plural, sentence, state_word

__all__ = ["VIEW"]

_SORTS = {"prevents": "Prevents it", "detects": "Finds it", "limits": "Limits it"}


def chapters(book: Book) -> tuple[Chapter, ...]:
    return (Chapter(RISKS, "Risk analysis", flows=True),) if book.assessment.risks is not None else ()


def page(book: Book, chapter: Chapter) -> Page:
    found = book.assessment.risks
    assert found is not None
    counter = Counter(chapter.number)
    body = found.analysis
    second = f", checked by {book.person(body.second)}" if body.second else ""
    made: dict[str, Block] = {
        "lead": Note(_lead(found), style="lead"),
        "how": Note(
            f"{sentence(capital(body.analyses))} {sentence(capital(body.way))} Stated by {book.person(body.by)} on "
            f"{day(body.stated)}{second}; act {found.code}.",
        ),
    }
    made["rows"] = Table(
        (
            Column("What can fail, and why", width=2.2),
            Column("What it does to people", width=1.8),
            Column("S", align="right", width=0.35),
            Column("O", align="right", width=0.35),
            Column("D", align="right", width=0.35),
            Column("Controls", width=3.1),
            Column("Today", width=2.2),
        ),
        tuple(_row(book, found, row) for row in _worst_first(found)),
        "Rows, the most severe first; S severity, O occurrence, D detection, each from 1 to 10",
        counter.table(),
        wide=True,
        gaps=tuple(n for n, row in enumerate(_worst_first(found)) if row in found.open_rows),
        id="b.risks",
    )
    older = [act for act in book.acts_of_vehicle() if isinstance(act.body, RiskAnalysis) and act.code != found.code]
    if older:
        links = joined(act.code for act in older)
        made["older"] = Note(f"It takes the place of {plural(len(older), 'earlier analysis')}: {links}.", style="quiet")
    return Page({"title": chapter.heading, "keys": [k for k in made if k not in ("lead", "how")]}, made)


def _lead(found: RiskState) -> str:
    if found.unsound:
        return f"This analysis does not count: {found.unsound}"
    held = len(found.rows) - len(found.open_rows)
    if not found.open_rows:
        return f"All {plural(len(found.rows), 'row')} hold: everything that shows their controls conforms."
    left = len(found.open_rows)
    return (
        f"{capital(count(held))} of {plural(len(found.rows), 'row')} hold. {capital(plural(left, 'row'))} "
        f"{'is' if left == 1 else 'are'} open, because what shows a control does not conform today."
    )


def _worst_first(found: RiskState) -> list[RiskRow]:
    return sorted(found.rows, key=lambda row: -row.risk.severity)


def _row(book: Book, found: RiskState, row: RiskRow) -> tuple[Text | Cell, ...]:
    risk = row.risk
    open_ = row in found.open_rows
    return (
        f"{capital(risk.item)}: {risk.failure}. Cause: {risk.cause}.",
        sentence(risk.effect),
        str(risk.severity),
        str(risk.occurrence),
        str(risk.detection),
        _controls(row.controls) if row.controls else f"None. {sentence(risk.left or '')}",
        Cell(_today(book, row), strong=open_) if row.controls else "borne",
    )


def _controls(controls: tuple[RiskControl, ...]) -> str:
    said = []
    for one in controls:
        driver = f" The driver: {sentence(one.control.driver)}" if one.control.driver else ""
        said.append(f"{_SORTS[one.control.sort]}: {sentence(one.control.does)}{driver}")
    return " ".join(said)


def _today(book: Book, row: RiskRow) -> Text:
    """What shows the controls, each name once, what does not conform first and with its state."""
    pieces: list[str | Link] = ["Open: " if row.is_open else "Holds: "]
    shown = dict(pair for control in row.controls for pair in control.shown_by)
    for conforms in (False, True):
        for ref, state in shown.items():
            if (state is State.CONFORMS) is not conforms:
                continue
            name, _, leaf = ref.partition("/")
            states = book.requirements_called(name)
            words = states[0].requirement.title if states else plain_name(name)
            leaf_words = f", {plain_name(leaf)}" if leaf else ""
            pieces += [", "] if len(pieces) > 1 else []
            pieces += [book.link(states[0], f"{words}{leaf_words}", page=True)] if states else [words]
            if state is not State.CONFORMS:
                pieces.append(f" ({state_word(state) if state is not None else 'not asked of this vehicle'})")
    return tuple(pieces)


VIEW = View("risk-analysis.rst.j2", chapters, page)
