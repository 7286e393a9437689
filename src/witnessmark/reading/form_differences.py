"""How the authority's forms of a set differ from those that came with the tool: an item less is a gap less."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from witnessmark.records.forms import Form, Item
from witnessmark.records.sets import RequirementSet

__all__ = ["form_differences"]


def form_differences(was: RequirementSet, now: RequirementSet) -> Iterator[tuple[str, str]]:
    """Each difference as the id of its form and words; forms of the set that came first, then added ones."""
    before, after = _forms(was), _forms(now)
    for ident, form in before.items():
        if ident not in after:
            yield ident, "is taken out"
        else:
            yield from ((ident, words) for words in _one(form, after[ident]))
    yield from ((ident, "is added") for ident in after if ident not in before)


def _forms(one: RequirementSet) -> Mapping[str, Form]:
    return {form.id: form for form in one.forms}


def _one(was: Form, now: Form) -> Iterator[str]:
    for name, what in (("applies", "when it applies"), ("each", "when it applies"), ("source", "its source")):
        if getattr(was.file, name) != getattr(now.file, name):
            yield f"{what} is not what it was"
    before, after = ({item.number: item for item in form.file.items} for form in (was, now))
    for number, item in before.items():
        other = after.get(number)
        if other is None:
            yield f"item {number} is taken out"
        elif _filled(item) != _filled(other):
            yield f"item {number} is filled otherwise"
        elif item.title != other.title:
            yield f"item {number} was called “{item.title}”"
    yield from (f"item {number} is added" for number in after if number not in before)


def _filled(item: Item) -> Item:
    """The item apart from its words."""
    return item.model_copy(update={"title": "", "otherwise": None, "source": None})
