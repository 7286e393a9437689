"""Our own texts by key, one file for each language; month names, numbers in words and the decimal mark come from it.

A text is a string, or a table of plural forms (`one`, `other` …) of which `n` picks one. `{name}` in it is replaced by
the value of that name; `{n}` is the number in digits, `{count}` in words. A value is put in as it is: what stands in it
is never read as a text of ours.

The language is a context of the run, set once where a build begins (`speaking`); English where nobody sets any.
"""

from __future__ import annotations

import functools
import string
import tomllib
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import AbstractContextManager, contextmanager, nullcontext
from contextvars import ContextVar
from dataclasses import dataclass
from datetime import date
from importlib.resources import files
from types import MappingProxyType

__all__ = [
    "LANGUAGES",
    "Catalogue",
    "CatalogueFault",
    "catalogue",
    "fields",
    "in_language",
    "marked",
    "read",
    "section",
    "speaking",
    "spoken",
    "t",
]

LANGUAGES = ("en",)
"""The catalogues that come with the program."""

_FORMS: Mapping[str, Callable[[int], str]] = MappingProxyType(
    {
        "one-other": lambda n: "one" if n == 1 else "other",
        "one-also-nought": lambda n: "one" if n in (0, 1) else "other",
        "one-few-many": lambda n: (
            "one"
            if n % 10 == 1 and n % 100 != 11
            else "few"
            if n % 10 in (2, 3, 4) and n % 100 not in (12, 13, 14)
            else "many"
        ),
        "other": lambda n: "other",
    }
)
"""Which form a number takes, by the name in the catalogue's `grammar.plural`."""


class CatalogueFault(ValueError):
    """A catalogue, or a call that asks it, is wrong: the message names the key."""


@dataclass(frozen=True, slots=True)
class Catalogue:
    """One language. `texts` maps a key such as `layout.table` to its text, or to its plural forms."""

    language: str
    texts: Mapping[str, str | Mapping[str, str]]
    months: tuple[str, ...]
    months_short: tuple[str, ...]
    numbers: tuple[str, ...]
    """Nought to twelve in words."""
    day: str
    day_short: str
    decimal: str
    plural: str

    def say(self, key: str, /, *, n: int | None = None, **values: object) -> str:
        """The text of that key with the values in it. Raises `CatalogueFault` for what does not fit together."""
        found = self.texts.get(key)
        if found is None:
            raise CatalogueFault(f"the catalogue {self.language!r} has no text {key!r}")
        if isinstance(found, Mapping):
            if n is None:
                raise CatalogueFault(f"{key!r} has plural forms and is asked without a number")
            found = found[_FORMS[self.plural](n)]
        if n is not None:
            values = {"n": n, "count": self.number(n), **values}
        try:
            return found.format_map(values)
        except (KeyError, IndexError, AttributeError, ValueError) as fault:
            raise CatalogueFault(f"{key!r} asks a value that it is not given: {fault}") from None

    def number(self, n: int) -> str:
        """In words up to twelve, in digits from thirteen on."""
        return self.numbers[n] if 0 <= n < len(self.numbers) else str(n)

    def date(self, value: date, *, short: bool = False) -> str:
        """The day as this language writes it."""
        names = self.months_short if short else self.months
        return (self.day_short if short else self.day).format(
            day=value.day, month=names[value.month - 1], year=value.year
        )


def read(data: bytes, language: str) -> Catalogue:
    """A catalogue from its file. Raises `CatalogueFault` that names what is missing or too much."""
    try:
        tree = tomllib.loads(data.decode("utf-8"))
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as fault:
        raise CatalogueFault(f"the catalogue {language!r} cannot be read: {fault}") from None
    grammar = tree.pop("grammar", None)
    wanted = {"months", "months_short", "numbers", "day", "day_short", "decimal", "plural"}
    if not isinstance(grammar, dict) or set(grammar) != wanted:
        raise CatalogueFault(f"the catalogue {language!r} needs a grammar with {', '.join(sorted(wanted))}")
    lengths = {"months": 12, "months_short": 12, "numbers": 13}
    for name, length in lengths.items():
        if len(grammar[name]) != length:
            raise CatalogueFault(f"grammar.{name} of {language!r} has {len(grammar[name])} entries, not {length}")
    if grammar["plural"] not in _FORMS:
        raise CatalogueFault(f"grammar.plural of {language!r} is one of {', '.join(_FORMS)}")
    texts = dict(_flat(tree, "", language))
    return Catalogue(
        language,
        MappingProxyType(texts),
        tuple(grammar["months"]),
        tuple(grammar["months_short"]),
        tuple(grammar["numbers"]),
        grammar["day"],
        grammar["day_short"],
        grammar["decimal"],
        grammar["plural"],
    )


def _flat(tree: Mapping[str, object], before: str, language: str) -> Iterator[tuple[str, str | Mapping[str, str]]]:
    for name, value in tree.items():
        key = f"{before}{name}"
        if isinstance(value, str):
            yield key, value
        elif isinstance(value, dict) and "other" in value:
            yield key, MappingProxyType({str(form): str(text) for form, text in value.items()})
        elif isinstance(value, dict):
            yield from _flat(value, f"{key}.", language)
        else:
            raise CatalogueFault(f"{key!r} of {language!r} is neither a text nor plural forms")


@functools.cache
def catalogue(language: str) -> Catalogue:
    """The catalogue that comes with the program. Raises `CatalogueFault` for a language that it does not have."""
    if language not in LANGUAGES:
        raise CatalogueFault(f"there is no catalogue {language!r}; there are {', '.join(LANGUAGES)}")
    return read(files("witnessmark.document").joinpath(f"catalogues/{language}.toml").read_bytes(), language)


_SPOKEN: ContextVar[Catalogue | None] = ContextVar("witnessmark_catalogue", default=None)


def spoken() -> Catalogue:
    """The catalogue of this run."""
    return _SPOKEN.get() or catalogue("en")


@contextmanager
def speaking(one: Catalogue) -> Iterator[None]:
    """Everything within is said in this language."""
    token = _SPOKEN.set(one)
    try:
        yield
    finally:
        _SPOKEN.reset(token)


def in_language(language: str) -> AbstractContextManager[None]:
    """Speaks the language that comes with the program, unless a catalogue was set already."""
    return nullcontext() if _SPOKEN.get() is not None else speaking(catalogue(language))


def marked(number: str) -> str:
    """A number of ours with the decimal mark of the language; what a person wrote never comes here."""
    return number.replace(".", spoken().decimal)


def t(key: str, /, *, n: int | None = None, **values: object) -> str:
    """The text of that key in the language of the run."""
    return spoken().say(key, n=n, **values)


def section(name: str) -> Mapping[str, str]:
    """All texts below `name.` that need no value: the words of the layout, which templates take by name."""
    before = f"{name}."
    return {
        key.removeprefix(before): text
        for key, text in spoken().texts.items()
        if key.startswith(before) and isinstance(text, str)
    }


def fields(text: str | Mapping[str, str]) -> frozenset[str]:
    """The names of the values that a text asks, in any of its forms."""
    forms: Iterable[str] = text.values() if isinstance(text, Mapping) else (text,)
    return frozenset(name for form in forms for _, name, _, _ in string.Formatter().parse(form) if name is not None)
