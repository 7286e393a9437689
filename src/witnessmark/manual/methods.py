"""The methods, each on a page of its own: made from what the method declares, so that it cannot say otherwise."""

from __future__ import annotations

from collections.abc import Iterator

from witnessmark.document.blocks import Cautions, Note, Pair, Pairs, Symbol, Text
from witnessmark.language import say
from witnessmark.methods.base import InputSpec, Method
from witnessmark.methods.registry import METHODS, method
from witnessmark.quantities.format import number

from .written import Written, cell, table

__all__ = ["methods_pages", "page_of"]


def page_of(ident: str) -> str:
    """The page of a method."""
    return "method-" + ident.replace("/", "-")


def methods_pages() -> Iterator[Written]:
    """The list of methods, then a page for each that comes with the tool."""
    found = [one for ident in sorted(METHODS) if (one := method(ident)) is not None]
    overview = Written(
        "methods", "Methods", "how a reading becomes a result: equation, source, readings, instruments, cautions"
    )
    overview.paragraph(
        f"{len(found)} methods come with the tool. A change that can alter a digit is a new version; the old one "
        "stays. High voltage can kill: each page begins with the cautions of its method."
    )
    rows: list[tuple[Text, ...]] = [(cell(m.id, page_of(m.id)), say(m.title), _yields(m)) for m in found]
    overview.block(table("b.methods", (("Method", 1.6), ("What it is", 3), ("What it yields", 2)), rows))
    yield overview
    for one in found:
        yield _page(one)


def _yields(one: Method) -> str:
    return "; ".join(f"{say(m.title)}{f' in {m.unit}' if m.unit not in ('', '1') else ''}" for m in one.measurands)


def _page(one: Method) -> Written:
    page = Written(page_of(one.id), f"{say(one.title)} ({one.id})", listed=False)
    page.block(Note(say(one.purpose), style="lead"))
    page.block(
        Cautions(
            voltage="High voltage can kill",
            lines=tuple(say(c.text) for c in one.cautions),
            title=say(one.title),
            id="b.cautions",
        )
    )
    page.formula(one.equation)
    page.block(
        Pairs(
            (
                Pair("Source", say(one.source)),
                Pair("How well it is known", say(one.confidence)),
                Pair("Valid", say(one.validity)),
                *(
                    (Pair("Uncertainty", "with the terms of second order (JCGM 100:2008, 5.1.2, note)"),)
                    if one.second_order
                    else ()
                ),
                Pair("In a record", f"method: {one.id}"),
            ),
            columns=1,
            id="b.about",
        )
    )
    if one.inputs:
        page.heading("What is read, in the order of taking")
        heads = (("Name in the file", 1.4), ("Symbol", 0.8), ("What it is", 3), ("Unit", 0.8), ("Plausible", 1.4))
        rows: list[tuple[Text, ...]] = [
            (s.name, (Symbol(s.symbol, say(s.title)),) if s.symbol else "none", _what(one, s), _unit(s), _plausible(s))
            for s in sorted(one.inputs, key=lambda s: s.order)
        ]
        page.block(table("b.inputs", heads, rows))
    sections: tuple[tuple[str, str, list[tuple[Text, ...]]], ...] = (
        (
            "Facts that it needs",
            "facts",
            [(s.name, say(s.title) + _optional(s.required), cell(s.unit)) for s in one.facts],
        ),
        (
            "Channels of the log",
            "channels",
            [
                (
                    s.name,
                    say(s.title) + _optional(s.required) + (", several" if s.many else "") + _moves(s.moves),
                    s.unit,
                )
                for s in one.channels
            ],
        ),
        (
            "Options",
            "options",
            [
                (
                    s.name,
                    say(s.title) + ("; at the bench only" if s.bench_only else ""),
                    f"{_default(s.default)} {s.unit}".strip(),
                )
                for s in one.options
            ],
        ),
        (
            "Instruments",
            "roles",
            [
                (s.name, say(s.title) + _optional(s.required), cell(say(s.demands) if s.demands else s.function))
                for s in one.roles
            ],
        ),
        (
            "Conditions",
            "conditions",
            [(s.name, say(s.title) + _optional(s.required), s.must or "to be stated") for s in one.conditions],
        ),
        ("What it yields", "yields", [(s.name, say(s.title), cell(s.unit)) for s in one.measurands]),
    )
    last = {
        "facts": "Unit",
        "channels": "Unit",
        "options": "Without it",
        "roles": "Has to be",
        "conditions": "Has to be",
    }
    for title, key, rows_ in sections:
        if rows_:
            page.heading(title)
            page.block(
                table(f"b.{key}", (("Name in the file", 1.4), ("What it is", 3), (last.get(key, "Unit"), 2)), rows_)
            )
    return page


def _moves(moves: bool) -> str:
    return "; one that never moves is not believed" if moves else ""


def _optional(required: bool) -> str:
    return "" if required else " (optional)"


def _what(one: Method, spec: InputSpec) -> str:
    words = say(spec.title) + _optional(spec.required)
    words += ", several times" if spec.repeats else ""
    role = next((say(r.title) for r in one.roles if r.name == spec.role), "")
    return f"{words}; on the {role}" if role else words


def _unit(spec: InputSpec) -> str:
    return " or ".join(spec.choices) if spec.choices else spec.unit or "none"


def _plausible(spec: InputSpec) -> str:
    if spec.low is None and spec.high is None:
        return "not asked"
    if spec.low is None or spec.high is None:
        side = f"from {_number(spec.low)}" if spec.high is None else f"to {_number(spec.high)}"
        return f"{side} {spec.unit}".strip()
    return f"{_number(spec.low)} to {_number(spec.high)} {spec.unit}".strip()


def _number(value: float | None) -> str:
    from decimal import Decimal

    return "" if value is None else number(Decimal(f"{value:.12g}"))


def _default(value: float | None) -> str:
    return "needed" if value is None else _number(value)
