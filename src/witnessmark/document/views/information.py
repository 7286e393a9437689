"""The information document: title block, the authority's forms filled as far as they can be, the index of the package.

Item numbers are the authority's. An empty field is a gap: it stands here, and with its question in the gap register.
"""

from __future__ import annotations

from witnessmark.assessment.model import Applies, Field, FieldGap, FieldState, FieldValue, FilledForm
from witnessmark.document.blocks import Block, Cell, Column, Link, Note, Pair, Pairs, Strong, Table, Text
from witnessmark.language import say, say_in, say_n
from witnessmark.reading.set_differences import differences_of
from witnessmark.records.acts import DesignRevision, Event, Record, Statement
from witnessmark.records.approvals import ApprovalError, parse_approval

from .book import FILES, INFORMATION, REGISTER, Book, Chapter, Page, View
from .papers import Paper, papers
from .words import CONFIDENCE, capital, day, joined, sentence, short_day, woven

__all__ = ["VIEW", "empty_words", "field_gap_tables", "form_block"]

_EXTENDED = "approval_to_extend"


def chapters(book: Book) -> tuple[Chapter, ...]:
    if not book.assessment.forms and not _taken_out(book):
        return ()
    empty = len(book.assessment.empty_fields)
    return (Chapter(INFORMATION, say("Information document"), say("Information"), fields=empty, flows=True),)


def page(book: Book, chapter: Chapter) -> Page:
    made: dict[str, Block] = {"lead": Note(_lead(book), style="lead"), "title-block": _title_block(book)}
    sections: list[dict[str, object]] = []
    for n, form in enumerate(book.assessment.forms, 1):
        key = f"{form.set_id}.{form.file.id}"
        sections.append(
            {"title": f"{chapter.number}.{n} {_form_title(book, form)}", "keys": _form(made, form, book, key)}
        )
        table = made.get(f"{key}.table")
        if isinstance(table, Table):
            made[f"{key}.table"] = _numbered(table, f"{chapter.number}-{n}")
    made["index"] = _index(book, f"{chapter.number}-{len(sections) + 1}")
    title = f"{chapter.number}.{len(sections) + 1} {say('Index of the package')}"
    return Page({"title": chapter.heading, "sections": sections, "index_title": title}, made)


def _numbered(table: Table, number: str) -> Table:
    return Table(table.columns, table.rows, table.caption, number, table.note, table.gaps, table.wide, table.id)


def empty_words(book: Book) -> str:
    """How far the forms are filled, in a sentence: "28 of 35 fields are filled"."""
    forms = [form for form in book.assessment.forms if form.applies is not Applies.NO]
    asked, filled = sum(form.asked for form in forms), sum(form.filled for form in forms)
    return _filled(filled, asked)


def _filled(filled: int, asked: int) -> str:
    return say_n("{n} of {total} fields filled", "{n} of {total} fields filled", filled, total=asked)


def _lead(book: Book) -> Text:
    forms = [form for form in book.assessment.forms if form.applies is not Applies.NO]
    gone = _taken_out(book)
    taken = [say("Taken out by this workshop: {forms}.", forms=joined(gone))] if gone else []
    if not forms:
        return " ".join([say("None of the authority's forms is to be filled for this vehicle."), *taken])
    empty = len(book.assessment.empty_fields)
    words = [f"{empty_words(book)}.", *taken]
    doubtful = sum(1 for form in forms if form.doubts)
    if doubtful:
        words.append(
            say_n(
                "Of {count} form it is not known whether it is to be filled.",
                "Of {count} forms it is not known whether they are to be filled.",
                doubtful,
            )
        )
    if not empty and not doubtful:
        return " ".join(words)
    if empty:
        words.append(capital(say_n("{count} is empty.", "{count} are empty.", empty)))
    link = Link(REGISTER, say("gap register"), True)
    return (f"{' '.join(words)} ", *woven("Each stands with its question in the {register}.", register=link))


# ---------------------------------------------------------------- title block


def _title_block(book: Book) -> Pairs:
    vehicle, facts = book.vehicle, book.fact_words
    rules = [
        ", ".join(
            w
            for w in (
                found.file.short,
                found.file.series and say("{number} series", number=found.file.series),
                say("supplement {number}", number=found.file.supplement)
                if found.file.supplement
                else say("supplement not stated"),
            )
            if w
        )
        for set_id in dict.fromkeys(form.set_id for form in book.assessment.forms)
        if (found := book.set_of(set_id)) is not None
    ]
    number, extension = _approval(facts(_EXTENDED))
    listed = papers(book)
    filed = say_n("{count} paper", "{count} papers", sum(1 for paper in listed if not paper.standing))
    pictures = say_n("{count} photograph", "{count} photographs", len(book.photos))
    pairs = (
        Pair(say("File number"), vehicle.file_number),
        Pair(
            say("Issue"),
            say("{issue}, draft", issue=book.issue) if book.draft else say("{issue}, released", issue=book.issue),
        ),
        Pair(say("Date"), day(book.assessment.as_of)),
        Pair(say("Rule"), joined(dict.fromkeys(rules)) or say("none chosen")),
        Pair(say("Approval number"), number),
        Pair(say("Extension"), extension),
        Pair(say("Applicant"), facts("vehicle_maker") or say("not stated")),
        Pair(say("Type"), facts("vehicle_type") or say("not stated")),
        Pair(say("VIN"), facts("vin") or say("not stated")),
        Pair(say("Goes to"), vehicle.service or say("not named")),
        Pair(say("Files"), say("{papers} in the index, {photographs}", papers=filed, photographs=pictures)),
        Pair(say("Digest of all"), say("comes with a release, in its bag")),
    )
    return Pairs(pairs, columns=2, id="b.title-block")


def _approval(stated: str) -> tuple[str, str]:
    """Number and extension for the title block; an extension is counted by the authority."""
    try:
        found = parse_approval(stated) if stated else None
    except ApprovalError:
        return stated, say("not known")
    if found is None:
        return say("none yet: the authority gives it"), say("none")
    return str(found), say("the authority counts it: {number} so far", number=found.extension)


# ---------------------------------------------------------------- one form


def form_block(form: FilledForm) -> str:
    """The id of the table of one form."""
    return f"b.form.{form.set_id}.{form.file.id}"


def _form_title(book: Book, form: FilledForm) -> str:
    """With its set where two chosen sets have a form of this title."""
    same = [one for one in book.assessment.forms if one.file.title == form.file.title]
    return form.file.title + (f" ({form.set_id})" if len(same) > 1 else "")


def _differences(book: Book, set_id: str) -> tuple[tuple[str, str], ...]:
    """What the workshop changed in the forms of a set, beside those that came with the tool."""
    one = book.set_of(set_id)
    return differences_of(one).forms if one is not None else ()


def _taken_out(book: Book) -> tuple[str, ...]:
    """Forms that came with the tool and that the workshop took out of a set whose forms are printed here."""
    sets = dict.fromkeys(set_id for set_id, _ in book.areas())
    found = ((set_id, book.set_of(set_id)) for set_id in sets)
    return tuple(f"{s}:{form}" for s, one in found if one is not None for form in differences_of(one).forms_out)


def _source(form: FilledForm) -> str:
    """How sure the layout of the form is. Nobody can say yet in an act that he has compared a form."""
    source = form.file.source
    return CONFIDENCE[source.confidence] + (
        "" if source.without_official_text else f"; {say('not compared with the official text')}"
    )


def _form(made: dict[str, Block], form: FilledForm, book: Book, key: str) -> list[str]:
    keys = [f"{key}.source"]
    place = f"{capital(form.file.place)}: {_source(form)}."
    note = f" {form.file.source.note}" if form.file.source.note else ""
    made[keys[0]] = Note(f"{place}{note}", style="quiet", id=f"b.source.{key}")
    changed = [words for ident, words in _differences(book, form.set_id) if ident == form.file.id]
    if changed:
        keys.append(f"{key}.changed")
        words = f"{capital(joined(changed))}."
        made[keys[-1]] = Note(words, label=say("Changed by us"), style="strong", id=f"b.changed.{key}")
    if form.applies is Applies.NO:
        keys.append(f"{key}.none")
        made[keys[-1]] = Note(form.why, label=say("Not applicable"), id=form_block(form))
        return keys
    if form.file.note:
        keys.append(f"{key}.note")
        made[keys[-1]] = Note(form.file.note, id=f"b.note.{key}")
    if form.doubts:
        keys.append(f"{key}.doubt")
        asked = " ".join(sentence(gap.question) for gap in form.doubts)
        words = say(
            "Whether this form is to be filled is not known, so it is filled as if it were. {asked}", asked=asked
        )
        made[keys[-1]] = Note(words, label=say("In doubt"), style="strong", gap=True, id=f"b.doubt.{key}")
    keys.append(f"{key}.table")
    made[keys[-1]] = Table(
        (
            Column(say("Item"), width=0),
            Column(say("Field"), width=1.7),
            Column(say("Filled in"), width=2.3),
            Column(say_in("source of a value", "From"), width=2),
        ),
        tuple(_row(book, field, _said_before(form, field)) for field in form.fields),
        _filled(form.filled, form.asked),
        gaps=tuple(n for n, field in enumerate(form.fields) if field.state is FieldState.EMPTY),
        id=form_block(form),
    )
    return keys


def _said_before(form: FilledForm, field: Field) -> str:
    """The item above that does not apply for the same reason; "" where there is none."""
    same = [one.item.number for one in form.fields if one.why == field.why and one.state is field.state]
    return same[0] if same and same[0] != field.item.number else ""


def _row(book: Book, field: Field, as_for: str) -> tuple[Text | Cell, ...]:
    item = field.item
    match field.state:
        case FieldState.HEADING:
            return (Cell(item.number, strong=True), Cell(capital(item.title), strong=True), "", "")
        case FieldState.LEFT:
            return (
                item.number,
                capital(item.title),
                Cell(field.why, quiet=True),
                Cell(say("left empty here"), quiet=True),
            )
        case FieldState.NOT_APPLICABLE:
            words = item.otherwise or say("not applicable")
            why = say("as for {number}", number=as_for) if as_for else field.why
            return (item.number, capital(item.title), Cell(words, quiet=True), Cell(why, quiet=True))
        case FieldState.FILLED:
            return (item.number, capital(item.title), _values(book, field.values), _sources(book, field.values))
        case FieldState.EMPTY:
            asked = " ".join(dict.fromkeys(_question(book, gap) for gap in field.gaps))
            said = f"{_values(book, field.values)}. " if field.values else ""
            link = Link(f"{REGISTER}#{_register_block(book, field)}", say("gap register"), True)
            return (
                item.number,
                capital(item.title),
                (said, Strong(say("Empty: {asked}", asked=asked))),
                (*_pieces(_sources(book, field.values)), *(("; " if field.values else ""),), link),
            )


def _register_block(book: Book, field: Field) -> str:
    form = next(form for form in book.assessment.forms if any(one is field for one in form.fields))
    return f"b.fields.{form.set_id}.{form.file.id}"


def _question(book: Book, gap: FieldGap) -> str:
    """The question, with the part where one is meant."""
    return f"{capital(book.part_title(gap.part))}: {gap.question}" if gap.part else gap.question


def _values(book: Book, values: tuple[FieldValue, ...]) -> str:
    """What is filled in; with the part where there is more than one."""
    several = len({value.part for value in values}) > 1
    return "; ".join(
        f"{capital(book.part_title(value.part))}: {value.words}" if several and value.part else value.words
        for value in values
    )


def _sources(book: Book, values: tuple[FieldValue, ...]) -> Text:
    """Where each value was read, by whom it was stated and when; what all have in common is said once."""
    out: list[str | Link] = []
    for code in dict.fromkeys(value.code for value in values):
        pieces = [*_pieces(book.record_link(code))] if code else []
        sources = "; ".join(dict.fromkeys(v.source for v in values if v.code == code and v.source))
        words = ": ".join(w for w in (_stated(book, code), sources) if w)
        out += [*(["; "] if out else []), *pieces, *([f", {words}" if pieces else words] if words else [])]
    return tuple(out)


def _stated(book: Book, code: str) -> str:
    """Who stated it, and when."""
    body = book.acts[code].body if code in book.acts else None
    match body:
        case Statement() | Event():
            return f"{book.person(body.by)}, {short_day(body.at)}" if body.at is not None else book.person(body.by)
        case DesignRevision():
            return f"{book.person(body.by)}, {short_day(body.issued)}"
        case Record():
            return f"{book.person(body.by.get('tester'))}, {short_day(body.performed)}"
        case _:
            return ""


def _pieces(text: Text) -> tuple[str | Link, ...]:
    return (text,) if isinstance(text, str) else tuple(p for p in text if isinstance(p, str | Link))


# ---------------------------------------------------------------- the register


def field_gap_tables(book: Book, number: str) -> dict[str, Table]:
    """The empty fields of each form with question, reason and what to do, for the gap register."""
    made: dict[str, Table] = {}
    for form in book.assessment.forms:
        rows: list[tuple[Text | Cell, ...]] = [(say("whether it is filled"), *_asked(book, gap)) for gap in form.doubts]
        for field in form.empty:
            link = Link(f"{INFORMATION}#{form_block(form)}", field.item.number)
            for n, gap in enumerate(field.gaps):
                first: Text = (link, f" {field.item.title}") if n == 0 else Cell("", quiet=True).text
                rows.append((first, *_asked(book, gap)))
        if rows:
            made[f"{form.set_id}.{form.file.id}"] = Table(
                (
                    Column(say("Item"), width=1.3),
                    Column(say("What is asked"), width=1.9),
                    Column(say("Why"), width=1.6),
                    Column(say("What to do"), width=1.9),
                ),
                tuple(rows),
                say_n(
                    "{form}: {count} empty field",
                    "{form}: {count} empty fields",
                    len(form.empty),
                    form=_form_title(book, form),
                ),
                f"{number}-{len(made) + 1}",
                gaps=tuple(range(len(rows))),
                wide=True,
                id=f"b.fields.{form.set_id}.{form.file.id}",
            )
    return made


def _asked(book: Book, gap: FieldGap) -> tuple[Text, Text, Text]:
    return _question(book, gap), gap.why, gap.command or sentence(gap.remedy)


# ---------------------------------------------------------------- the index


def _index(book: Book, number: str) -> Block:
    listed = papers(book)
    if not listed:
        return Note(say("No record rests on a paper yet, so nothing is filed."), gap=True, id="b.package")
    return Table(
        (
            Column(say("No."), "right", width=0),
            Column(say("Item"), width=0.6),
            Column(say("Title, kind"), width=1.9),
            Column(say("Number, revision"), width=1.6),
            Column(say("Pages, format"), width=1),
            Column(say("Origin"), width=1.1),
            Column(say("Level"), width=0.7),
            Column(say("Shows"), width=0.9),
            Column(say("SHA-256, first 12"), width=1.2),
            Column(say("Standing"), width=0.9),
        ),
        tuple(_paper(book, paper) for paper in listed),
        capital(
            say_n(
                "{count} paper, in the order in which they were sealed",
                "{count} papers, in the order in which they were sealed",
                len(listed),
            )
        ),
        number,
        woven(
            "The item is that of the form which the paper fills. Photographs, logs and full digests: {files}",
            files=Link(FILES, say("files"), True),
        ),
        wide=True,
        id="b.package",
    )


def _paper(book: Book, paper: Paper) -> tuple[Text | Cell, ...]:
    shows: list[str | Link] = []
    for use in {(u.requirement.set_id, u.requirement.id): u for u in paper.uses}.values():
        shows += ([", "] if shows else []) + [book.link(use.requirement)]
    pages = f"{paper.pages}, {paper.format}" if paper.pages else paper.format
    return (
        str(paper.row),
        ", ".join(paper.items) or Cell(say("none"), quiet=True),
        f"{paper.title}, {paper.kind}",
        paper.number or Cell(say("none said"), quiet=True),
        pages,
        paper.origin,
        paper.level,
        tuple(shows),
        paper.sha256[:12] if paper.sha256 else Cell(say("missing or changed"), strong=True),
        Cell(paper.standing, quiet=True) if paper.standing else say("counts"),
    )


VIEW = View("information-document.rst.j2", chapters, page)
