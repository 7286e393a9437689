"""A team's language file: one file is enough, every fault is told with its line, and none of it can hide a gap."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from tests.language.texts import ROOT, catalogue, texts
from witnessmark import language
from witnessmark.assessment.model import State
from witnessmark.language import Language, compiled, say, say_in, say_n, speaking
from witnessmark.problems import Place, Problem, Severity
from witnessmark.reading.language import _APART, read_language, translators_file

PLACE = Place("evidence/workshop.yaml", 6, 11)
EMPTY = translators_file("de", None)


def _with(english: str, *forms: str, into: str = EMPTY) -> str:
    """The language file with one text translated, by its first English form."""
    at = into.index(f'msgid "{english}"\n')
    end = into.index("\n\n", at)
    block = into[at:end]
    for n, form in enumerate(forms):
        mark = f"msgstr[{n}]" if "msgid_plural" in block else "msgstr"
        assert f'{mark} ""' in block, block
        block = block.replace(f'{mark} ""', f'{mark} "{form}"')
    return into[:at] + block + into[end:]


def _read(text: str | bytes) -> tuple[Language, list[Problem]]:
    return read_language("de", text if isinstance(text, bytes) else text.encode("utf-8"), PLACE)


def _problems(text: str | bytes) -> list[tuple[str, int]]:
    one, found = _read(text)
    told = [(p.code, p.place.line if p.place else 0) for p in found if p.severity is Severity.PROBLEM]
    assert not told or one == Language(), "a file with a problem is not used at all"
    return told


def test_the_file_that_a_translator_begins_with_has_every_text_once_and_says_nothing() -> None:
    one, found = _read(EMPTY)
    assert one.tag == "de" and [p.code for p in found] == ["language.left"]
    assert found[0].severity is Severity.NOTE and f"{len(texts())} of {len(texts())}" in found[0].message
    with speaking(one):
        assert say("conforms") == "conforms"
    assert EMPTY.count("\nmsgid ") == len(texts()) + 1


def test_one_file_translates_texts_plurals_dates_and_numbers() -> None:
    text = _with("conforms", "konform")
    text = _with("about {n} minute", "etwa {n} Minute", "etwa {n} Minuten", into=text)
    one, found = _read(text)
    assert not [p for p in found if p.severity is Severity.PROBLEM]
    with speaking(one):
        assert say("conforms") == "konform" and say("lapsed") == "lapsed"
        assert say_n("about {n} minute", "about {n} minutes", 1) == "etwa 1 Minute"
        assert say_n("about {n} minute", "about {n} minutes", 20) == "etwa 20 Minuten"
        # Unicode CLDR, German: date formats long and medium, decimal comma (from memory).
        assert (
            language.day(date(2026, 10, 4)) == "4. Oktober 2026"
            and language.short_day(date(2026, 10, 4)) == "04.10.2026"
        )
        assert language.marked("4.20") == "4,20"
    assert language.day(date(2026, 10, 4)) == "4 October 2026" and language.marked("4.20") == "4.20"


@pytest.mark.parametrize(
    ("tag", "forms"),
    [
        ("ru", {1: "0", 2: "1", 5: "2", 11: "2", 21: "0", 22: "1"}),
        ("da", {0: "1", 1: "0", 2: "1"}),
        ("ja", {0: "0", 1: "0", 7: "0"}),
    ],
)
def test_plural_forms_follow_the_rules_of_the_language(tag: str, forms: dict[int, str]) -> None:
    """GNU gettext manual, 11.2.6 "Additional functions for plural forms": ru has three forms, da two, ja one."""
    text = translators_file(tag, None)
    at = text.index('msgid "about {n} minute"')
    end = text.index("\n\n", at)
    block = re.sub(r'msgstr\[(\d)\] ""', r'msgstr[\1] "\1"', text[at:end])
    with speaking(Language(tag, compiled(text[:at] + block + text[end:]))):
        assert {n: say_n("about {n} minute", "about {n} minutes", n) for n in forms} == forms


@pytest.mark.parametrize(
    ("spoil", "code"),
    [
        (lambda: _with("Waiting time after switching off: {time}.", "Wartezeit."), "language.values"),
        (lambda: _with("Waiting time after switching off: {time}.", "{time} {zeit}"), "language.values"),
        (lambda: _with("conforms", "konform {x}"), "language.values"),
        (lambda: _with("Waiting time after switching off: {time}.", "{time.__class__}"), "language.braces"),
        (lambda: _with("Waiting time after switching off: {time}.", "{time!r}"), "language.braces"),
        (lambda: _with("Waiting time after switching off: {time}.", "{time:>99999999}"), "language.braces"),
        (lambda: _with("Waiting time after switching off: {time}.", "{time"), "language.braces"),
        (lambda: _with("Waiting time after switching off: {time}.", "{0}"), "language.braces"),
        (lambda: _with("conforms", "x" * 5000), "language.long"),
        (lambda: _with("not shown", "conforms"), "language.confused"),
        (lambda: _with("not shown", "Konform", into=_with("conforms", "konform ")), "language.confused"),
        (lambda: _with("Not yet.", "Yes."), "language.confused"),
        (lambda: _with("does not meet", "erfüllt", into=_with("meets", "erfüllt")), "language.confused"),
        (lambda: _with("fail", "pass"), "language.confused"),
    ],
)  # fmt: skip
def test_a_text_that_cannot_be_printed_or_hides_a_gap_is_refused_with_its_line(
    spoil: Callable[[], str], code: str
) -> None:
    text = spoil()
    told = _problems(text)
    assert [found for found, _ in told] == [code]
    lines = text.splitlines()
    said = next(n for n, line in enumerate(lines[told[0][1] - 1 :], told[0][1]) if line.startswith("msgstr"))
    assert lines[said - 1] != 'msgstr ""', "the line is that of the text that is wrong"


@pytest.mark.parametrize(
    ("text", "code", "line"),
    [
        (EMPTY.replace('msgstr ""\n\n', 'msgstr "Seite\n\n', 1), "language.line", 0),
        ("hello\n", "language.line", 1),
        ("\n\n<?php\n", "language.line", 3),
        (b"\n\xff\xfe", "language.encoding", 2),
        ('msgid "a"\nmsgid "b"\nmsgstr "c"\n', "language.syntax", 0),
        (EMPTY.replace("plural=(n != 1)", "plural=(n / 0 % __import__('os'))"), "language.syntax", 0),
    ],
)  # fmt: skip
def test_what_is_no_language_file_says_where(text: str | bytes, code: str, line: int) -> None:
    told = _problems(text)
    assert {found for found, _ in told} == {code}
    assert not line or told[0][1] == line


def test_states_and_statements_of_the_program_are_those_that_are_kept_apart() -> None:
    assert set(_APART[0]) == {state.value.replace("-", " ") for state in State}
    ours = {text.message for text in texts()}
    assert {word for group in _APART for word in group} <= ours, "a word that is said differently would escape"


def test_a_language_without_a_file_and_a_name_that_is_none_are_told_at_their_line() -> None:
    for tag, code in (("de", "language.none"), ("klingon", "language.unknown"), ("../x", "language.unknown")):
        one, found = read_language(tag, None, PLACE)
        assert one == Language() and [(p.code, p.place) for p in found] == [(code, PLACE)]
    assert read_language("en", None, PLACE) == (Language(), [])


def test_what_was_translated_stays_when_the_file_is_written_anew() -> None:
    text = _with("conforms", "konform")
    text = text.replace('msgid "lapsed"\n', '#, fuzzy\nmsgid "lapsed"\n') + '\nmsgid "gone"\nmsgstr "weg"\n'
    again = translators_file("de", text.encode("utf-8"))
    assert 'msgid "conforms"\nmsgstr "konform"' in again and "#, fuzzy" in again and "gone" not in again
    assert translators_file("de", again.encode("utf-8")) == again


def test_the_shipped_list_of_texts_is_that_of_the_code() -> None:
    """After a change of a text: `python -m tests.language.texts`."""
    assert (ROOT / "src/witnessmark/languages/witnessmark.pot").read_text("utf-8") == catalogue()


def test_english_can_be_reworded_by_the_same_file() -> None:
    text = _with("Waiting time after switching off: {time}.", "Wait {time} first.", into=translators_file("en", None))
    one, found = read_language("en", text.encode("utf-8"), PLACE)
    assert not [p for p in found if p.severity is Severity.PROBLEM]
    with speaking(one):
        assert say("Waiting time after switching off: {time}.", time="5 min") == "Wait 5 min first."


def test_values_are_never_read_as_texts_and_braces_without_values_stay() -> None:
    assert say("Waiting time after switching off: {time}.", time="{time.__class__} {0}").endswith(
        "{time.__class__} {0}."
    )
    assert say("{odd") == "{odd" and say_in("side", "left") == "left"


def test_a_workshop_s_folder_speaks_its_language(tmp_path: Path) -> None:
    import shutil

    from witnessmark.reading.workshop import read_workshop

    for name in ("evidence", "requirements"):
        shutil.copytree(ROOT / name, tmp_path / name)
    (tmp_path / "templates").mkdir()
    file = tmp_path / "evidence" / "workshop.yaml"
    file.write_text(file.read_text("utf-8").replace("language: en", "language: de"), "utf-8")
    (tmp_path / "templates" / "de.po").write_text(_with("conforms", "konform"), "utf-8")
    world = read_workshop(tmp_path)
    assert world.language.tag == "de" and not [p for p in world.problems if p.code == "language.none"]
    (tmp_path / "templates" / "de.po").unlink()
    (tmp_path / "templates" / "de.po").symlink_to("/etc/passwd")
    told = [p for p in read_workshop(tmp_path).problems if p.code.startswith(("language", "files"))]
    assert told and told[0].severity is Severity.PROBLEM
