"""A made-up language: every word of ours with a mark before it; what has none is not ours, or was forgotten.

    python -m tests.language.pseudo [--pages NAME …]     # what of the pages is neither ours nor the workshop's

Dates and numbers are Finnish, because neither its months nor its decimal mark look English.
"""

from __future__ import annotations

import argparse
import functools
import io
import re
import tempfile
from collections.abc import Iterator, Sequence
from html import unescape
from pathlib import Path

from tests.language.texts import ROOT, texts
from witnessmark.document.text import UNITS
from witnessmark.language import Language, compiled

MARK = "ø"
TAG = "fi"
_BRACES = re.compile(r"(\{\w+\})")
_WORD = re.compile(r"[A-Za-z][\w']*")


def marked(text: str) -> str:
    """Every word with the mark before it; what stands in braces stays."""
    return "".join(p if _BRACES.fullmatch(p) else _WORD.sub(MARK + r"\g<0>", p) for p in _BRACES.split(text))


@functools.cache
def pseudo_file() -> str:
    """The PO file as a team would write one."""
    from babel.messages.catalog import Catalog
    from babel.messages.pofile import write_po

    made = Catalog(locale="fi", charset="utf-8", fuzzy=False)
    for text in texts():
        if text.many:
            made.add((text.message, text.many), (marked(text.message), marked(text.many)), context=text.context or None)
        else:
            made.add(text.message, marked(text.message), context=text.context or None)
    out = io.BytesIO()
    write_po(out, made)
    return out.getvalue().decode("utf-8")


@functools.cache
def pseudo() -> Language:
    """The language, by the way of its file."""
    return Language(TAG, compiled(pseudo_file()))


# ---------------------------------------------------------------- what is neither ours nor the workshop's

_SPOKEN = ("aria-label", "alt", "placeholder", "title")
_KNOWN = {"sha", "vin", "yaml", "json", "csv", "pdf", "html", "un", "iso", "iec", "din", "en", "dc", "ac", "hv", "rₒ"}


def said_in(html: str) -> Iterator[str]:
    """Each piece of text of a page: between tags, and in the attributes that are read aloud."""
    html = re.sub(r"(?s)<(script|style|math|head)\b.*?</\1>|<wbr>|<!--.*?-->", "", html)
    for name in _SPOKEN:
        yield from (unescape(found) for found in re.findall(rf'\b{name}="([^"]*)"', html))
    html = re.sub(r"</?(strong|em|a|span|b|i|sub|sup|code)\b[^>]*>", "", html)
    for piece in re.split(r"<[^>]*>", html):
        if text := " ".join(unescape(piece).replace("\u00a0", " ").replace("\u202f", " ").split()):
            yield text


_CODE = re.compile(r"\b[2-9a-z]{4}-[2-9a-z]{4}-[2-9a-z]{4}\b")


def printed_in(text: str) -> str:
    """A page of a PDF as its reader gives it, in one line: lines are joined, codes of sheets are taken out."""
    text = text.replace("\u00a0", " ").replace("\u202f", " ").replace("\u200b", "").replace("\u00ad", "")
    return " ".join(_CODE.sub(f" {MARK}code ", text).split())


@functools.cache
def corpus(root: Path) -> str:
    """What a person of the workshop wrote, with the names of files; small letters, one line each."""
    out: list[str] = []
    for folder in ("evidence", "requirements"):
        for path in sorted((root / folder).rglob("*")):
            out.append(path.relative_to(root).as_posix())
            if path.suffix in (".yaml", ".csv", ".md") and path.is_file():
                text = path.read_text("utf-8")
                out.append(text)
    return f" {plain(' '.join(out))} "


def plain(text: str) -> str:
    """Small letters and digits alone, one space between words: ids, titles and sentences alike."""
    return " ".join(re.findall(r"[^\W_]+", text.casefold()))


_FIGURE = re.compile(rf"(?<![\w.,-])[<>≥≤±−+-]?\s?\d[\d., \u202f]*\s?(?:(?:{UNITS})(?![\w·/-]))?")
"""A number with its unit, a clause or a date: no words of anybody."""


def strangers(text: str, known: str) -> list[str]:
    """Runs of words without the mark that nobody of the workshop wrote."""
    found = []
    for run in re.split(rf"(?i:{MARK})[\w']+", text):
        if _is_known(run, known) or all(_is_known(p, known) for p in re.split(r"[;:]\s", _FIGURE.sub(" ; ", run))):
            continue
        found.append(run.strip())
    return found


@functools.cache
def _months() -> frozenset[str]:
    from babel.dates import get_month_names

    return frozenset(get_month_names("wide", locale=TAG).values())


def _is_known(run: str, known: str) -> bool:
    words = {word.casefold() for word in re.findall(r"[^\W\d_][\w']+", run)}
    return words <= _KNOWN | _months() or f" {plain(run)} " in known or _put_together(run, known)


def _put_together(run: str, known: str) -> bool:
    """Whether it is pieces of the workshop's words in a row: titles with serials, names. A small word alone is none."""
    words = re.findall(r"[^\W_]+", run)
    while words:
        long = next((n for n in range(len(words), 0, -1) if f" {plain(' '.join(words[:n]))} " in known), 0)
        if not long or (long == 1 and words[0].isalpha() and words[0].islower() and words[0] not in _KNOWN):
            return False
        words = words[long:]
    return True


def main(arguments: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--pages", nargs="*", default=[])
    asked = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory() as folder:
        out = build(Path(folder))
        total = 0
        for page in sorted((out / "html").glob("*.html")):
            if asked.pages and not any(page.stem.startswith(name) for name in asked.pages):
                continue
            seen: dict[str, None] = {}
            for text in said_in(page.read_text("utf-8")):
                for run in strangers(text, corpus(ROOT)):
                    seen.setdefault(run[:150])
            total += len(seen)
            if seen:
                print(f"== {page.stem}: {len(seen)}")  # noqa: T201 - a command
                for run in seen:
                    print("   ", run)  # noqa: T201 - a command
        print(total, "runs of words that are neither ours nor the workshop's")  # noqa: T201 - a command


def build(folder: Path) -> Path:
    """The demonstration's HTML in the made-up language."""
    import dataclasses

    from witnessmark.assessment.assess import assess
    from witnessmark.document.build import build as make
    from witnessmark.reading.workshop import read_workshop

    world = dataclasses.replace(read_workshop(ROOT), language=pseudo())
    out = folder / "out"
    report = make(ROOT, world, assess(world, "van-07"), out)
    assert report.written, "\n".join(f"{p.code} {p.place} {p.message}" for p in report.problems[:9])
    return out


if __name__ == "__main__":
    main()
