"""A team's language file (`templates/TAG.po`): read, held against the texts of ours, every fault with its line.

A word for a state that is also the word for another would hide a gap: such a file is refused. What it does not
translate stands in English and is counted.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterator, Mapping, Sequence
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from witnessmark.assessment.model import State
from witnessmark.language import ENGLISH, Language, compiled, fields, language_of
from witnessmark.problems import Place, Problem, Severity

if TYPE_CHECKING:
    from babel.messages.catalog import Catalog, Message

__all__ = ["LIMIT", "language_file", "read_language", "translators_file"]

LIMIT = 4_000_000
"""Bytes that are read of a language file."""
_LONGEST = 4_000
_LINE = re.compile(r'\s*(#.*|((msgctxt|msgid|msgid_plural|msgstr|msgstr\[\d\])\s+)?"([^"\\]|\\.)*"\s*)?')
_LINE_LIKE = 'write msgstr "…": one quote before, one behind, and \\" for a quote inside'
_APART: Sequence[Sequence[str]] = (
    tuple(state.value.replace("-", " ") for state in State),
    ("pass", "conditional pass", "undecided", "conditional fail", "fail"),
    ("pass when it was sealed", "undecided when it was sealed", "fail when it was sealed"),
    ("meets", "does not meet", "undecided"),
    ("at least", "more than", "at most", "less than"),
    ("Yes.", "Not yet."),
)
"""Words that must not be confused with one another, by what they are said of."""


def language_file(tag: str) -> str:
    """Where a team's texts of a language lie, from the workshop's folder."""
    return f"templates/{tag}.po"


def read_language(tag: str, data: bytes | None, place: Place) -> tuple[Language, list[Problem]]:
    """The language with the texts of its file, `data` (None: there is none), and what is wrong with it.

    `place` is where the tag is written. A file with a problem is not used at all: everything is then said in English.
    """
    if language_of(tag) is None:
        return Language(), [
            Problem(
                "language.unknown", f"'{tag}' is no language", "write its short name, such as de, fr or pt-BR", place
            )
        ]
    path = language_file(tag)
    if data is None:
        if tag == ENGLISH:
            return Language(), []
        return Language(), [
            Problem(
                "language.none",
                f"the language is '{tag}', and there is no {path}",
                f"write it: witnessmark list texts {tag} --output {path}, translate, build; or take the line out",
                place,
            )
        ]
    try:
        text = data.decode("utf-8")
        crooked = [number for number, line in enumerate(text.splitlines(), 1) if not _LINE.fullmatch(line)]
        if crooked:
            return Language(), [
                Problem("language.line", "this is no line of a PO file", _LINE_LIKE, Place(path, number, 1))
                for number in crooked[:20]
            ]
        catalogue = _parsed(text)
        made = compiled(text)
        Language(tag, made).texts.ngettext("", "", 2)
    except UnicodeDecodeError as fault:
        line = data.count(b"\n", 0, fault.start) + 1
        return Language(), [
            Problem("language.encoding", "this is not UTF-8", "save the file as UTF-8", Place(path, line, 1))
        ]
    except Exception as fault:  # the parser raises many kinds for what is no PO file
        line = int(getattr(fault, "lineno", 0) or 0)
        return Language(), [
            Problem(
                "language.syntax",
                f"this is no PO file: {str(fault)[:160]}",
                "mend this line, or begin again with: witnessmark list texts",
                Place(path, line + 1, 1) if line else Place(path),
            )
        ]
    problems = [*_faults(catalogue, path)]
    if any(problem.severity is Severity.PROBLEM for problem in problems):
        return Language(), problems
    return Language(tag, made), problems


def _parsed(text: str) -> Catalog:
    from babel.messages.pofile import read_po

    return read_po(io.StringIO(text), abort_invalid=True)


def _ours() -> Catalog:
    return _parsed(files("witnessmark").joinpath("languages/witnessmark.pot").read_text("utf-8"))


def _forms(value: Any) -> tuple[str, ...]:
    return tuple(value) if isinstance(value, (tuple, list)) else (value,)


def _faults(catalogue: Catalog, path: str) -> Iterator[Problem]:
    ours = {(message.context, _forms(message.id)[0]): message for message in _ours() if message.id}
    said: dict[str, tuple[str, int]] = {}
    strange: list[int] = []
    translated = 0
    for message in catalogue:
        if not message.id:
            continue
        line = message.lineno or 0
        known = ours.get((message.context, _forms(message.id)[0]))
        if known is None:
            strange.append(line)
            continue
        if message.fuzzy or not all(_forms(message.string)):
            continue
        translated += 1
        said[_forms(message.id)[0]] = (_forms(message.string)[0], line)
        yield from _wrong(known, message, Place(path, line, 1))
    yield from _confused(said, path)
    if strange:
        lines = ", ".join(map(str, strange[:8])) + (" …" if len(strange) > 8 else "")
        yield Problem(
            "language.strange",
            f"{len(strange)} of its texts are none of ours (lines {lines})",
            "take them out, or write the file anew over itself: witnessmark list texts",
            Place(path),
            Severity.NOTE,
        )
    if translated < len(ours):
        yield Problem(
            "language.left",
            f"{len(ours) - translated} of {len(ours)} texts are not translated and stand in English",
            "fill the empty msgstr and take the mark fuzzy away where it stands",
            Place(path),
            Severity.NOTE,
        )


def _wrong(ours: Message, theirs: Message, place: Place) -> Iterator[Problem]:
    """What cannot be printed: another number of forms, a value that is not given, one that is left out."""
    wanted = frozenset[str]().union(*(fields(form) for form in _forms(ours.id)))
    if len(_forms(ours.id)) != len(_forms(theirs.id)):
        yield Problem("language.forms", "this text has no plural here, or lacks it", "begin it anew", place)
        return
    plural = len(_forms(ours.id)) > 1
    for form in _forms(theirs.string):
        if len(form) > _LONGEST:
            yield Problem(
                "language.long", f"a text of {len(form)} characters", f"at most {_LONGEST} are printed", place
            )
            continue
        try:
            named = fields(form)
        except ValueError as fault:
            yield Problem("language.braces", f"{fault} in braces", "name values as the English text does", place)
            continue
        strange, lacking = sorted(named - wanted), sorted(wanted - named - ({"n", "count"} if plural else set()))
        if strange or lacking:
            words = [f"{{{name}}} is no value of this text" for name in strange]
            words += [f"{{{name}}} is left out" for name in lacking]
            remedy = f"use {', '.join(f'{{{name}}}' for name in sorted(wanted))}" if wanted else "leave braces out"
            yield Problem("language.values", "; ".join(words), remedy, place)


def _confused(said: Mapping[str, tuple[str, int]], path: str) -> Iterator[Problem]:
    """Words for different states or statements that are the same."""
    for group in _APART:
        taken: dict[str, str] = {}
        for english in group:
            word, line = said.get(english, (english, 0))
            other = taken.setdefault(word.strip().casefold(), english)
            if other != english:
                yield Problem(
                    "language.confused",
                    f"'{word}' is said for '{other}' and for '{english}': a gap would look like none",
                    "give each its own word",
                    Place(path, line or said[other][1], 1),
                )


def translators_file(tag: str, data: bytes | None) -> str:
    """The language file of `tag` with every text of ours: what `data` translated stays, the rest is empty.

    Raises ValueError for a tag that is none, or for `data` that is no PO file.
    """
    from babel import Locale
    from babel.messages.catalog import Catalog
    from babel.messages.pofile import write_po

    if language_of(tag) is None:
        raise ValueError(f"'{tag}' is no language")
    locale = Locale.parse(Language(tag).locale)
    old = _parsed(data.decode("utf-8")) if data else Catalog(locale=locale)
    known = {(message.context, _forms(message.id)[0]): message for message in old if message.id}
    made = Catalog(locale=locale)
    for message in _ours():
        if not message.id:
            continue
        before = known.get((message.context, _forms(message.id)[0]))
        fits = before is not None and len(_forms(before.id)) == len(_forms(message.id))
        made.add(
            message.id,
            before.string if fits and before is not None else None,
            locations=message.locations,
            flags=before.flags & {"fuzzy"} if fits and before is not None else (),
            user_comments=before.user_comments if fits and before is not None else (),
            context=message.context,
        )
    out = io.BytesIO()
    write_po(out, made, omit_header=True, width=100, include_lineno=False)
    head = (
        f"# Texts of Witnessmark in {locale.english_name}. {{name}} stands for a value; with a plural {{n}} is\n"
        "# the number in digits, {count} in words. What is left empty is said in English.\n"
        'msgid ""\nmsgstr ""\n'
        f'"Language: {locale}\\n"\n'
        f'"Plural-Forms: {made.plural_forms}\\n"\n'
        '"Content-Type: text/plain; charset=utf-8\\n"\n"Content-Transfer-Encoding: 8bit\\n"\n\n'
    )
    return head + out.getvalue().decode("utf-8")
