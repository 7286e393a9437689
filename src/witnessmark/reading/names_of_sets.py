"""Names in acts about requirement sets: editions, comparisons, adoptions, letters of the authority, risk analyses."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from witnessmark.problems import Problem
from witnessmark.records.acts import Adoption, Answer, Comparison, RiskAnalysis, SetEdition

from .acts import ActText, place_in, vehicle_of
from .naming import Known, Step, unknown

__all__ = ["RULES"]


def _edition(text: ActText, known: Known) -> Iterator[Problem]:
    body = text.body
    assert isinstance(body, SetEdition)
    yield from _set(text, known, body.set, "set")


def _letter(text: ActText, known: Known) -> Iterator[Problem]:
    assert isinstance(text.body, Answer)
    if text.body.answers not in known.issues.get(vehicle_of(text.path) or "", ()):
        yield unknown(
            "issue.unknown",
            "frozen issue",
            text.body.answers,
            known.issues.get(vehicle_of(text.path) or "", ()),
            place_in(text, "answers"),
            "an answer is about an issue that was frozen: witnessmark freeze",
        )
    for name in text.body.requirements:
        set_id, _, ident = name.rpartition(":")
        if ident not in (known.sets.get(set_id, {}) if set_id else known.leaves):
            yield unknown(
                "requirement.unknown",
                "requirement",
                name,
                known.leaves,
                place_in(text, "requirements", name, key=True),
                "see the sets in requirements/",
            )


def _risks(text: ActText, known: Known) -> Iterator[Problem]:
    assert isinstance(text.body, RiskAnalysis)
    for ident, risk in text.body.risks.items():
        for name, control in risk.controls.items():
            for n, ref in enumerate(control.shown_by):
                yield from _requirement_or_leaf(text, known, ref, "risks", ident, "controls", name, "shown_by", n)


def _requirement_or_leaf(text: ActText, known: Known, ref: str, *steps: Step) -> Iterator[Problem]:
    name, _, leaf = ref.partition("/")
    set_id, _, ident = name.rpartition(":")
    leaves = known.sets.get(set_id, {}) if set_id else known.leaves
    if ident not in leaves:
        yield unknown(
            "requirement.unknown", "requirement", name, known.leaves, place_in(text, *steps), "see the sets in "
            "requirements/",
        )  # fmt: skip
    elif leaf and leaf not in leaves[ident]:
        yield unknown(
            "leaf.unknown", f"leaf of {ident}", leaf, leaves[ident], place_in(text, *steps),
            f"its leaves are {', '.join(sorted(leaves[ident]))}",
        )  # fmt: skip


def _comparison(text: ActText, known: Known) -> Iterator[Problem]:
    assert isinstance(text.body, Comparison)
    yield from _set(text, known, text.body.compares, "compares")


def _adoption(text: ActText, known: Known) -> Iterator[Problem]:
    assert isinstance(text.body, Adoption)
    yield from _set(text, known, text.body.adopts, "adopts")


def _set(text: ActText, known: Known, name: str, key: str) -> Iterator[Problem]:
    """The set of the folder it lies in. That a requirement of it is gone since is no fault: it was there then."""
    folder = text.path.split("/")[1]
    if name not in known.sets:
        yield unknown("set.unknown", "requirement set", name, known.sets, place_in(text, key), "name the folder's set")
    elif name != folder:
        yield Problem(
            "set.other", f"this speaks of the set '{name}' and lies in requirements/{folder}/", "move it to its set",
            place_in(text, key),
        )  # fmt: skip


RULES: Mapping[type, Callable[[ActText, Known], Iterator[Problem]]] = {
    SetEdition: _edition,
    Comparison: _comparison,
    Adoption: _adoption,
    Answer: _letter,
    RiskAnalysis: _risks,
}
