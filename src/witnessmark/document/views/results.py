"""One measured result on its page: value with U, what was read, the calculation with its numbers, the budget."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from decimal import ROUND_CEILING, ROUND_FLOOR, Context, Decimal
from fractions import Fraction

from witnessmark.assessment.model import CriterionResult, LeafState, RecordResult, State, Verdict
from witnessmark.document.blocks import (
    Budget,
    BudgetRow,
    Link,
    Pair,
    Reading,
    Readings,
    ResultBlock,
    Step,
    Text,
    Worked,
)
from witnessmark.language import Words, decimal_mark, declared, say, say_in
from witnessmark.methods.base import BudgetRow as Contribution
from witnessmark.methods.base import InputSpec, Method, Output
from witnessmark.methods.contributions import contribution
from witnessmark.quantities import Quantity, QuantityError, Unit, parse_quantity, parse_unit
from witnessmark.quantities.decision import Decision, Statement, probability_words
from witnessmark.quantities.format import Shown, best_unit, number, show, written
from witnessmark.quantities.propagation import SHAPES
from witnessmark.records.acts import Record

from .book import RULE, Book
from .words import capital, instant, plain_name, sentence, short_day, woven

__all__ = [
    "as_text",
    "budget",
    "circumstances",
    "display_unit",
    "does_not_count",
    "in_unit",
    "k_words",
    "leading",
    "nearest",
    "passes_from",
    "readings",
    "result_block",
    "shown",
    "side",
    "who_and_when",
    "worked",
]

_DIGITS = Context(prec=15)
_ROLES = Words({"tester": declared("By"), "witness": declared("Witness"), "judge": declared("Judge")})


def leading(result: RecordResult) -> CriterionResult | None:
    """The criterion to show first: the first that is passed, else the first that is not failed, else the first."""
    for wanted in (Verdict.PASS, Verdict.UNDECIDED, Verdict.FAIL):
        for criterion in result.criteria:
            if criterion.verdict is wanted:
                return criterion
    return None


def shown(result: RecordResult, unit: Unit | None = None) -> Shown | None:
    """The result as text, in `unit` or in the unit of its limit so that both can be compared by eye; where that would
    be a row of noughts, in the unit that reads best. None without a result."""
    output = result.output
    if output is None or not math.isfinite(output.value):
        return None
    chosen = unit or display_unit(result)
    if chosen is None:
        return show(output.value, output.U, output.unit, bound=output.bound)
    return show(output.value, output.U, chosen, bound=output.bound, choose_prefix=False)


def display_unit(result: RecordResult) -> Unit | None:
    """The unit of the limit, or the prefix of it that the value needs when it is below a fiftieth of that unit."""
    first, output = leading(result), result.output
    if first is None or first.decision is None or output is None:
        return None
    unit = first.decision.limit.unit
    if not unit.compatible(output.unit):
        return None
    if unit.offset or not 0 < abs(output.value) < 0.02 * float(unit.scale):
        return unit
    return best_unit(output.value, unit)


def as_text(result: RecordResult) -> str:
    """`507 Ω/V ± 11 Ω/V`, or "" without a result."""
    found = shown(result)
    return str(found) if found else ""


def nearest(found: Sequence[RecordResult]) -> str:
    """Of several results of one measurand on one side of their limits the one that lies nearest to a fail:
    `highest of 6: 9.62 mΩ ± 0.08 mΩ`; "" where they cannot be put in one order."""
    sides = {
        (r.output.measurand, c.decision.limit.lower) for r in found if r.output and (c := leading(r)) and c.decision
    }
    if len(sides) != 1 or len(found) < 2 or any(r.output is None or leading(r) is None for r in found):
        return ""
    lower = next(iter(sides))[1]
    pick = min if lower else max
    worst = pick(found, key=lambda r: r.output.value if r.output else 0.0)
    if lower:
        return say("lowest of {n}: {result}", n=len(found), result=as_text(worst))
    return say("highest of {n}: {result}", n=len(found), result=as_text(worst))


def in_unit(si: float, unit: Unit) -> float:
    """A number in the coherent SI unit as a number in `unit`."""
    return float((Fraction(si) - unit.offset) / unit.scale)


def passes_from(decision: Decision, like: Shown) -> str:
    """Where a pass begins, with the digits of the result, rounded so that what is printed does pass; "" if unknown."""
    if decision.acceptance_limit is None or not math.isfinite(decision.acceptance_limit):
        return ""
    unit = parse_unit(like.unit)
    exact = _DIGITS.create_decimal(repr(in_unit(decision.acceptance_limit, unit)))
    digits = like.U or like.value
    places = len(digits.partition(decimal_mark())[2])
    step = Decimal(1).scaleb(-places)
    rounded = exact.quantize(step, ROUND_CEILING if decision.limit.lower else ROUND_FLOOR, Context(prec=40))
    return number(rounded) + ("" if unit.symbol == "1" else f" {unit.symbol}")


def does_not_count(result: RecordResult) -> str:
    """Why a record shows nothing now, in its own words; "" when it counts."""
    if result.withdrawn:
        return say("It was withdrawn.")
    if result.valid:
        return ""
    return " ".join(sentence(cause.message) for cause in result.causes) or say("It is not valid.")


def _said(criterion: CriterionResult, like: Shown, several: bool) -> str:
    decision = criterion.decision
    if decision is None:
        return say("{limit} is asked.", limit=capital(criterion.asked))
    begin, limit = passes_from(decision, like), capital(str(decision.limit))
    if not (begin and decision.rule.kind == "guarded" and like.U and not like.bound):
        words = say("{limit} is asked.", limit=limit)
    elif decision.limit.lower:
        words = say("{limit} is asked; with this uncertainty {begin} and more passes.", limit=limit, begin=begin)
    else:
        words = say("{limit} is asked; with this uncertainty {begin} and less passes.", limit=limit, begin=begin)
    return f"{capital(plain_name(criterion.criterion))}: {criterion.statement}. {words}" if several else words


def k_words(result: RecordResult) -> str:
    """The coverage factor of a result, `2.07`; "" where there is none."""
    output = result.output
    if output is None or output.k is None or output.U is None:
        return ""
    return number(_DIGITS.create_decimal(repr(round(output.k, 2))))


def _rule(output: Output, decision: Decision | None) -> Text:
    if output.U == 0 and not any(row.u > 0 for row in output.budget):
        known = say("Computed from declared values only, which are taken as exact.")
    elif output.k is not None and output.U is not None:
        known = say("k = {k}, about 95 %.", k=number(_DIGITS.create_decimal(repr(round(output.k, 2)))))
    else:
        known = say("No uncertainty is known.")
    if decision is None:
        return known
    link, rule = Link(RULE, say("decision rule"), True), str(decision.rule)
    if decision.probability is None:
        return woven("{known} Rule: {rule}, {link}.", known=known, rule=rule, link=link)
    return woven(
        "{known} Rule: {rule}, {link}; {probability}.",
        known=known,
        rule=rule,
        link=link,
        probability=probability_words(decision),
    )


def result_block(
    book: Book, leaf: LeafState, result: RecordResult, ident: str, *, beside: bool = True
) -> ResultBlock | None:
    """The result with its statement. A record that does not count says so before it says what it read.

    `beside`: who, when and with what stand at its side; else they stand beside the readings.
    """
    like, output = shown(result), result.output
    if like is None or output is None:
        return None
    first = leading(result)
    several = len(result.criteria) > 1
    sentences = [_said(c, like, several) for c in result.criteria]
    sentences += [sentence(note) for note in output.notes]
    if output.where:
        sentences.append(sentence(output.where))
    if result.result is not None:
        sentences += [sentence(f"{alarm.message}: {alarm.remedy}") for alarm in result.result.alarms]
    read = first.statement if first else say("no statement")
    word = capital(read)
    if first and first.decision and first.decision.statement is not Statement.PASS:
        sentences.append(sentence(first.decision.reason))
    against = does_not_count(result)
    if against:
        sentences = [against, say("When read: {statement}.", statement=read), *sentences]
        lapsed = any(cause.state is State.LAPSED for cause in result.causes)
        word = say("Withdrawn") if result.withdrawn else say("Lapsed") if lapsed else say("Does not count")
    return ResultBlock(
        value=like.value,
        unit="" if like.unit == "1" else like.unit,
        u=like.U,
        bound=like.bound,
        statement=f"{word}.",
        sentence=" ".join(sentences),
        rule=_rule(output, first.decision if first else None),
        side=side(book, result) if beside else (),
        id=ident,
    )


def side(book: Book, result: RecordResult) -> tuple[Pair, ...]:
    """Record, when, who, with what, in which state: the side column of a result."""
    code = book.record_link(result.act.code)
    sealed = (
        woven("{record}, sealed", record=code) if result.record.seal else woven("{record}, not sealed", record=code)
    )
    return (Pair(say("Record"), sealed), *circumstances(book, result.record))


def circumstances(book: Book, record: Record) -> tuple[Pair, ...]:
    """When a record was read, by whom, with what and in which state."""
    pairs = [Pair(say("Read"), instant(record.performed))]
    pairs.append(Pair(_ROLES["tester"], book.person(record.by.get("tester"))))
    pairs += [Pair(_ROLES[role], book.person(who)) for role, who in record.by.items() if role != "tester"]
    method = book.method(record.method)
    if record.method:
        pairs.append(Pair(say("Method"), record.method))
    for role, instrument in record.instruments.items():
        spec = next((r for r in method.roles if r.name == role), None) if method else None
        found = book.calibration(instrument, record.performed.date())
        if found:
            words = say("{instrument}, due {day}", instrument=instrument, day=short_day(found.due))
        else:
            words = say("{instrument}, no calibration", instrument=instrument)
        pairs.append(Pair(capital(say(spec.title) if spec else plain_name(role)), words))
    pairs += [Pair(capital(plain_name(name)), written(value)) for name, value in record.conditions.items()]
    if record.place:
        pairs.append(Pair(say("Place"), record.place))
    pairs.append(Pair(say("Deviates"), record.deviations or say("none")))
    return tuple(pairs)


def _parsed(text: str, spec: InputSpec | None) -> Quantity | None:
    if spec is None or spec.choices:
        return None
    try:
        return parse_quantity(text, like=parse_unit(spec.unit) if spec.unit else None, bare=True)
    except QuantityError:
        return None


def readings(book: Book, result: RecordResult, number_: str, ident: str) -> Readings | None:
    """What was read, in the order of the method; a reading that cannot be parsed stands as it was written."""
    record = result.record
    if not record.readings:
        return None
    method = book.method(record.method)
    order = {spec.name: (spec.order, n) for n, spec in enumerate(method.inputs)} if method else {}
    names = sorted(record.readings, key=lambda name: order.get(name, (10**6, 0)))
    used = {row.name: row for output in (result.result.outputs if result.result else ()) for row in output.budget}
    rows: list[Reading] = []
    for name in names:
        spec = method.input(name) if method else None
        value = record.readings[name]
        texts = value if isinstance(value, tuple) else (value,)
        for n, text in enumerate(texts, 1):
            found = _parsed(text, spec)
            title = say(spec.title) if spec else plain_name(name)
            budget_row = (
                used.get(name)
                or used.get(f"{name}-{n}")
                or used.get(f"{name}.{n}")
                or used.get(f"{name}_{n}")
                or used.get(f"{name}[{n}]")
            )
            own = spec is None or bool(spec.role) or (found is not None and found.u_si is not None)
            rows.append(
                Reading(
                    title=f"{title}, {n}" if len(texts) > 1 else title,
                    value=(f"{found.bound} " if found and found.bound else "") + number(found.value) if found else text,
                    unit=("" if found.unit.symbol == "1" else found.unit.symbol) if found else "",
                    symbol=spec.symbol if spec else "",
                    u=_meter(found, budget_row.u, budget_row.shape) if found and budget_row and own else "",
                    used=_used(spec, budget_row is not None),
                )
            )
    return Readings(rows=tuple(rows), number=number_, note=_note(book, result), side=side(book, result), id=ident)


def _meter(quantity: Quantity, u: float, shape: str) -> str:
    """The ± that the meter is good for, from its standard uncertainty: the half-width, or U with k = 2."""
    if not u > 0:
        return ""
    half = u * (math.sqrt(3) if shape == "rectangular" else 2.0) / float(quantity.unit.scale)
    spread = _DIGITS.create_decimal(repr(half))
    step = Decimal(1).scaleb(
        min(spread.adjusted(), 0 if quantity.value == quantity.value.to_integral() else spread.adjusted())
    )
    return number(spread.quantize(step, context=Context(prec=40)))


def _used(spec: InputSpec | None, counted: bool) -> str:
    points = spec is not None and spec.repeats and not spec.role  # of a curve: the formula goes between them
    if counted or points:
        return say_in("what a reading is used for", "formula")
    if spec and spec.choices:
        return say_in("what a reading is used for", "where")
    return say_in("what a reading is used for", "check")


def _note(book: Book, result: RecordResult) -> Text:
    code = result.act.code
    own = {id(use.requirement) for use in book.uses.get(code, ()) if use.result is result}
    others = [use for use in book.uses.get(code, ()) if id(use.requirement) not in own]
    file = Link(f"attachment:{code}.csv", f"{code}.csv")
    targets = {book.target(use.requirement): use.requirement for use in others}
    if not targets:
        return woven("As CSV: attachment {file}.", file=file)
    places: list[str | Link] = []
    for state in targets.values():
        places += ([", "] if places else []) + [book.link(state)]
    return woven("As CSV: attachment {file}. Used again by {places}.", file=file, places=tuple(places))


def worked(result: RecordResult, ident: str) -> Worked | None:
    """The calculation with the numbers put in, as the method wrote it down."""
    if result.result is None or not result.result.steps:
        return None
    return Worked(tuple(Step(s.formula, s.spoken, s.words) for s in result.result.steps), id=ident)


def budget(book: Book, result: RecordResult, number_: str, ident: str) -> Budget | None:
    """Every contribution, largest first, in the units of the readings and of the result. None where nothing has one."""
    output, like = result.output, shown(result)
    if output is None or like is None or not output.budget or output.u is None or output.U is None:
        return None
    method = book.method(result.record.method)
    unit = parse_unit(like.unit)
    rows = sorted((row for row in output.budget if row.u > 0), key=lambda row: -row.share)
    if not rows:
        return None
    out: list[BudgetRow] = []
    for row in rows:
        spec = _spec(method, row.name)
        own = _own_unit(result.record, spec, unit)
        factor = float(own.scale / unit.scale)
        out.append(
            BudgetRow(
                title=contribution(method, row.name),
                u=_significant(row.u / float(own.scale), 3),
                unit="" if own.symbol == "1" else own.difference.symbol,
                shape=SHAPES.get(row.shape, row.shape),
                sensitivity=_significant(row.sensitivity * factor, 4),
                sensitivity_unit=_ratio(unit, own),
                share=_significant(row.contribution / float(unit.scale), 4),
                part=min(max(row.share, 0.0), 1.0),
                symbol=spec.symbol if spec else "",
            )
        )
    named = method.measurand(output.measurand) if method else None
    k = number(_DIGITS.create_decimal(repr(round(output.k or 2.0, 2))))
    return Budget(
        rows=tuple(out),
        of=say(named.title) if named else plain_name(output.measurand),
        of_symbol=named.symbol if named else "",
        share_unit=unit.difference.symbol,
        combined=_significant(output.u / float(unit.scale), 4),
        expanded=f"U = {like.U} {unit.difference.symbol}, k = {k}",
        number=number_,
        side_note=_lesson(rows, method),
        id=ident,
    )


def _own_unit(record: Record, spec: InputSpec | None, unit: Unit) -> Unit:
    """The unit of one contribution: as its reading was written. What no reading stands for is in that of the result."""
    if spec is None or not spec.unit:
        return unit
    value = record.readings.get(spec.name, "")
    found = _parsed(value if isinstance(value, str) else value[0] if value else "", spec)
    return found.unit if found else parse_unit(spec.unit)


def _spec(method: Method | None, name: str) -> InputSpec | None:
    """The reading that an input of the engine stands for: of that very name, or one of its repeats (`u1-2`)."""
    if method is None:
        return None
    exact = method.input(name)
    return exact if exact is not None else method.input(re.sub(r"[-_. \[(]*[0-9]+[\])]?$", "", name))


def _lesson(rows: list[Contribution], method: Method | None) -> str:
    if not rows or rows[0].share < 0.5:
        return ""
    return say(
        "“{reading}” makes {share} % of the variance: a better reading there is worth most.",
        reading=capital(contribution(method, rows[0].name)),
        share=f"{rows[0].share * 100:.0f}",
    )


def _ratio(out: Unit, own: Unit) -> str:
    if out.symbol == own.symbol:
        return ""
    if own.symbol == "1":
        return out.difference.symbol
    top, _, below = out.symbol.partition("/")
    if not below:
        return f"{top}/({own.symbol})" if "/" in own.symbol else f"{top}/{own.symbol}"
    if own.symbol in (top, below):
        return f"1/{below}" if own.symbol == top else f"{top}/{below}²"
    return f"{top}/({below}·{own.symbol})"


def _significant(x: float, digits: int) -> str:
    if not math.isfinite(x):
        return say("not finite")
    value = _DIGITS.create_decimal(repr(x))
    if value == 0:
        return "0"
    return number(value.quantize(Decimal(1).scaleb(min(value.adjusted() - digits + 1, 0)), context=Context(prec=40)))


def who_and_when(book: Book, record: Record) -> str:
    """`J. Marram, 14 Oct. 2026, 16:20`."""
    return f"{book.person(record.by.get('tester'))}, {instant(record.performed)}"
