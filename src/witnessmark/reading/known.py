"""What is known of every sealed act: its text as first committed, and how the folder holds it now.

The first committed text is the thing. An edit, a lost or doubled file, a seal taken away or a move to another vehicle
does not change what an act says; it says how the act is *held*, and assessment lets such an act hurt but not help.
Pure: history and tree come as texts that have been read.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from witnessmark.records.acts import Record
from witnessmark.records.world import Act, Held

from .acts import ActText, belongs_to_a_vehicle, vehicle_of

__all__ = ["Committed", "acts_from_history", "acts_of_demonstration"]


@dataclass(frozen=True, slots=True)
class Committed:
    """One text of an act as it first appeared: in which commit, and that commit's place in the order of history."""

    text: ActText
    commit: str
    order: int


def acts_from_history(
    committed: Iterable[Committed], tree: Sequence[ActText], precedes: Callable[[str, str], bool]
) -> tuple[Act, ...]:
    """Every sealed act, known ones in order of appearance, then those that are not committed, by path.

    `precedes(a, b)`: commit `a` is an ancestor of commit `b`. Where it cannot say which of two texts under one code was
    first, both are given, as a clash.
    """
    first: dict[str, list[Committed]] = defaultdict(list)
    for one in sorted(committed, key=_appearance):
        if one.text.sealed and one.text.body is not None and one.text.code is not None:
            texts = first[one.text.code]
            if all(one.text.tree != other.text.tree for other in texts):
                texts.append(one)
    sealed, unsealed = _by_code(tree)
    unreadable = {text.path: text for text in tree if text.body is None}
    acts: list[Act] = []
    for code, texts in first.items():
        beginning = texts[0]
        rivals = [other for other in texts[1:] if not precedes(beginning.commit, other.commit)]
        for one in (beginning, *rivals):
            held, found = _held(one.text, sealed.get(code, []), unsealed.get(code, []), unreadable.get(one.text.path))
            acts.append(_act(one.text, found, len(acts), held, clash=bool(rivals), commit=one.commit))
    for code, texts_here in sealed.items():
        if code in first:
            continue
        for text in _distinct(texts_here):
            held = Held.DOUBLED if len(texts_here) > 1 else _placed(text)
            acts.append(_act(text, text, None, held, clash=False))
    return tuple(acts)


def acts_of_demonstration(tree: Sequence[ActText]) -> tuple[Act, ...]:
    """Every sealed file as if committed in order of its sealing: for a pinned demonstration only."""
    sealed, _ = _by_code(tree)
    texts = [(text, len(same)) for same in sealed.values() for text in _distinct(same)]
    texts.sort(key=lambda pair: (_sealed_on(pair[0]), pair[0].path))
    doubled = {code for code, same in sealed.items() if len(_distinct(same)) > 1}
    return tuple(
        _act(text, text, place, Held.DOUBLED if count > 1 else _placed(text), clash=text.code in doubled)
        for place, (text, count) in enumerate(texts)
    )


def _appearance(one: Committed) -> tuple[int, float, str]:
    """Within one commit by the instant of sealing: whoever seals two acts and commits once has sealed them in order."""
    return (one.order, _sealed_on(one.text), one.text.path)


def _sealed_on(text: ActText) -> float:
    return text.seal.on.timestamp() if text.seal is not None else 0.0


def _by_code(tree: Sequence[ActText]) -> tuple[dict[str, list[ActText]], dict[str, list[ActText]]]:
    sealed: dict[str, list[ActText]] = defaultdict(list)
    unsealed: dict[str, list[ActText]] = defaultdict(list)
    for text in sorted(tree, key=lambda t: t.path):
        if text.code is None:
            continue
        if not text.sealed:
            unsealed[text.code].append(text)
        elif text.body is not None:
            sealed[text.code].append(text)
    return sealed, unsealed


def _distinct(texts: Sequence[ActText]) -> list[ActText]:
    kept: list[ActText] = []
    for text in texts:
        if all(text.tree != other.tree for other in kept):
            kept.append(text)
    return kept


def _held(
    first: ActText, here: Sequence[ActText], drafts: Sequence[ActText], spoiled: ActText | None
) -> tuple[Held, ActText | None]:
    """`spoiled`: what lies at the act's first path and cannot be read."""
    if not here:
        if drafts:
            return Held.UNSEALED, drafts[0]
        return (Held.EDITED, spoiled) if spoiled is not None else (Held.MISSING, None)
    if len(here) > 1:
        return Held.DOUBLED, here[0]
    if here[0].tree != first.tree:
        return Held.EDITED, here[0]
    return _placed(here[0]), here[0]


def _placed(text: ActText) -> Held:
    """Whether the act lies where its seal says: not in the folder of another vehicle, not outside its own."""
    if text.body is None or text.seal is None:
        return Held.UNCHANGED
    lies_in = vehicle_of(text.path)
    named = text.seal.vehicle.id if text.seal.vehicle is not None else None
    if isinstance(text.body, Record) and text.body.design is not None:
        return Held.UNCHANGED  # About a design: it may lie wherever the piece was tested.
    if lies_in is not None and lies_in != named:
        return Held.MISPLACED
    if lies_in is None and named is not None and belongs_to_a_vehicle(text.body):
        return Held.MISPLACED
    return Held.UNCHANGED


def _act(
    text: ActText, found: ActText | None, appeared: int | None, held: Held, *, clash: bool, commit: str = ""
) -> Act:
    assert text.body is not None
    assert text.code is not None
    at = found or text
    return Act(
        code=text.code,
        body=text.body,
        path=at.path,
        place=at.place,
        tree=text.tree,
        appeared=appeared,
        held=held,
        seal_holds=text.holds,
        clash=clash,
        by_commit=commit,
    )
