"""How the authority's forms of a set differ from those that came with the tool: an item less is a gap less."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from witnessmark.language import say
from witnessmark.records.forms import Form, Item
from witnessmark.records.sets import RequirementSet

__all__ = ["form_differences"]


def form_differences(was: RequirementSet, now: RequirementSet) -> Iterator[tuple[str, str]]:
    """Each difference as the id of its form and words; forms of the set that came first, then added ones."""
    before, after = _forms(was), _forms(now)
    for ident, form in before.items():
        if ident not in after:
            yield ident, say("is taken out")
        else:
            yield from ((ident, words) for words in _one(form, after[ident]))
    yield from ((ident, say("is added")) for ident in after if ident not in before)


def _forms(one: RequirementSet) -> Mapping[str, Form]:
    return {form.id: form for form in one.forms}


def _one(was: Form, now: Form) -> Iterator[str]:
    for name in ("applies", "each"):
        if getattr(was.file, name) != getattr(now.file, name):
            yield say("when it applies is not what it was")
    if was.file.source != now.file.source:
        yield say("its source is not what it was")
    before, after = ({item.number: item for item in form.file.items} for form in (was, now))
    for number, item in before.items():
        other = after.get(number)
        if other is None:
            yield say("item {number} is taken out", number=number)
        elif _filled(item) != _filled(other):
            yield say("item {number} is filled otherwise", number=number)
        elif item.title != other.title:
            yield say("item {number} was called “{title}”", number=number, title=item.title)
    yield from (say("item {number} is added", number=number) for number in after if number not in before)


def _filled(item: Item) -> Item:
    """The item apart from its words."""
    return item.model_copy(update={"title": "", "otherwise": None, "source": None})
