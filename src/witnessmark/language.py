"""What the program says, in the language of the workshop: texts from a PO file, dates and numbers by Unicode CLDR.

English stands in the code. `say("Measured on {day}", day=…)` prints it, or what the catalogue of the run puts in its
place; `{day}` is replaced by the value as it is: what stands in a value is never read as a text of ours. Another
language is one file in the format of GNU gettext (PO); what it lacks is said in English.

The language is a context of the run, set once where a document or an assessment begins (`speaking`); English where
nobody sets any. Every floor may import this module. It reads no file.
"""

from __future__ import annotations

import base64
import functools
import gettext
import io
import re
import string
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING, Protocol, TypeVar

if TYPE_CHECKING:
    from babel import Locale

__all__ = [
    "ENGLISH",
    "Language",
    "Words",
    "compiled",
    "day",
    "decimal_mark",
    "declared",
    "fields",
    "in_words",
    "language_of",
    "marked",
    "say",
    "say_in",
    "say_n",
    "short_day",
    "speaking",
    "spoken",
]

K = TypeVar("K")

ENGLISH = "en"
_CONVENTION = {"en": "en_GB"}
"""Where a language alone leaves open how dates are written."""
_TAG = re.compile(r"[a-z]{2,3}(-[A-Z]{2})?\Z")


class _Texts(Protocol):
    def gettext(self, message: str) -> str: ...
    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str: ...
    def pgettext(self, context: str, message: str) -> str: ...


@dataclass(frozen=True, slots=True)
class Language:
    """One language: its tag (`de`, `pt-BR`), and its texts as gettext compiles them; none for English."""

    tag: str = ENGLISH
    compiled: bytes = b""

    @property
    def locale(self) -> str:
        """The locale whose dates and numbers are used, as CLDR names it."""
        return _CONVENTION.get(self.tag, self.tag.replace("-", "_"))

    def as_json(self) -> dict[str, str]:
        """The language on its way into a child process."""
        return {"tag": self.tag, "compiled": base64.b64encode(self.compiled).decode("ascii")}

    @classmethod
    def of_json(cls, data: Mapping[str, str] | None) -> Language:
        """And out of it again; English for nothing."""
        return cls(data["tag"], base64.b64decode(data["compiled"])) if data else cls()

    @property
    def texts(self) -> _Texts:
        """The catalogue. Raises `OSError` when `compiled` is no catalogue."""
        return _texts(self.compiled)


@functools.cache
def _texts(data: bytes) -> _Texts:
    return gettext.GNUTranslations(io.BytesIO(data)) if data else gettext.NullTranslations()


@functools.cache
def _locale(name: str) -> Locale:
    from babel import Locale  # slow to import, and only a document needs it

    return Locale.parse(name)


def language_of(tag: str) -> str | None:
    """The tag if it is one that CLDR knows (`de`, `pt-BR`), else None."""
    if not _TAG.match(tag):
        return None
    try:
        _locale(Language(tag).locale)
    except Exception:  # Babel raises several kinds for a name that it does not know
        return None
    return tag


_SPOKEN: ContextVar[Language] = ContextVar("witnessmark_language", default=Language())  # noqa: B039  # it is frozen


def spoken() -> Language:
    """The language of this run."""
    return _SPOKEN.get()


@contextmanager
def speaking(one: Language) -> Iterator[None]:
    """Everything within is said in this language."""
    token = _SPOKEN.set(one)
    try:
        yield
    finally:
        _SPOKEN.reset(token)


def declared(text: str) -> str:
    """`text` itself: says that it is one of ours and is to be translated where it is said, not here."""
    return text


def say(text: str, /, **values: object) -> str:
    """The text in the language of the run, with the values in it. Raises KeyError for a value that is not given."""
    one = _SPOKEN.get()
    said = one.texts.gettext(text) if one.compiled and text else text
    return said.format_map(values) if values else said


def say_in(context: str, text: str, /, **values: object) -> str:
    """Like `say`, for a word that other languages translate differently by what it is said of (`context`)."""
    one = _SPOKEN.get()
    said = one.texts.pgettext(context, text) if one.compiled else text
    return said.format_map(values) if values else said


def say_n(one: str, many: str, n: int, /, **values: object) -> str:
    """Like `say`, in the form that the number takes. `{n}` is the number in digits, `{count}` in words up to twelve."""
    language = _SPOKEN.get()
    said = language.texts.ngettext(one, many, n) if language.compiled else one if n == 1 else many
    return said.format_map({"n": n, "count": in_words(n), **values})


_NUMBERS = (
    declared("no"),
    declared("one"),
    declared("two"),
    declared("three"),
    declared("four"),
    declared("five"),
    declared("six"),
    declared("seven"),
    declared("eight"),
    declared("nine"),
    declared("ten"),
    declared("eleven"),
    declared("twelve"),
)


class Words(Mapping[K, str]):
    """Words by token: each declared in English, said in the language of the run when it is looked up."""

    def __init__(self, texts: Mapping[K, str]) -> None:
        self._texts = texts

    def __getitem__(self, token: K) -> str:
        return say(self._texts[token])

    def __iter__(self) -> Iterator[K]:
        return iter(self._texts)

    def __len__(self) -> int:
        return len(self._texts)


def in_words(n: int) -> str:
    """The number in words up to twelve, in digits from thirteen on."""
    return say(_NUMBERS[n]) if 0 <= n < len(_NUMBERS) else str(n)


def day(value: date | datetime) -> str:
    """The day as this language writes it in a text: `24 November 2026`."""
    from babel.dates import format_date

    return format_date(value, "long", locale=_SPOKEN.get().locale)


def short_day(value: date | datetime) -> str:
    """The day as this language writes it in a table: `24 Nov 2026`."""
    from babel.dates import format_date

    return format_date(value, "medium", locale=_SPOKEN.get().locale)


def decimal_mark() -> str:
    """The decimal mark of the language."""
    one = _SPOKEN.get()
    if one.tag == ENGLISH:
        return "."
    from babel.numbers import get_decimal_symbol

    return get_decimal_symbol(one.locale)


def marked(number: str) -> str:
    """A number with the decimal mark of the language; what a person wrote never comes here."""
    mark = decimal_mark()
    return number if mark == "." else number.replace(".", mark)


def fields(text: str) -> frozenset[str]:
    """The names of the values that a text asks. Raises ValueError for what is no plain name in braces."""
    names = set()
    for _, name, form, conversion in string.Formatter().parse(text):
        if name is None:
            continue
        if not name.isidentifier() or form or conversion:
            raise ValueError(f"{{{name}}} is no plain name")
        names.add(name)
    return frozenset(names)


def compiled(po: str) -> bytes:
    """A PO file as gettext reads it. Fuzzy entries are left out. Raises ValueError for what is no PO."""
    from babel.messages.mofile import write_mo
    from babel.messages.pofile import PoFileError, read_po

    try:
        catalogue = read_po(io.StringIO(po), abort_invalid=True)
    except PoFileError as fault:
        raise ValueError(str(fault)) from None
    out = io.BytesIO()
    write_mo(out, catalogue)
    return out.getvalue()
