"""Sealed acts that were in the history once and are not any more: a rewritten history, as far as anybody can tell.

They come back as acts that are not committed: such an act can hurt and cannot help, so taking a fail out of the history
gains nothing while a tag, a log of git's, or this machine's memory still knows it. A history rewritten in another place
and cloned anew, or cleared of all that, cannot be told from a true one: that is what a release's anchor is for.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

from witnessmark.problems import Place, Problem, Severity
from witnessmark.records.world import Act, Held

from .acts import ActText, read_act
from .folder import is_act_path
from .githistory import LostText
from .known import Committed
from .witnesses import Witnesses

__all__ = ["lost_acts", "with_clashes"]

_KNOWN_BY = {
    Witnesses.OWN: "a tag or git's log of this branch still knows it",
    Witnesses.LOG: "git's log of where the folder stood still knows it",
    Witnesses.CACHE: "it was read on this machine before",
}


def lost_acts(
    lost: Iterable[LostText], committed: Sequence[Committed], precedes: Callable[[str, str], bool]
) -> tuple[tuple[Act, ...], tuple[Problem, ...]]:
    """What the history has lost, as acts that can only hurt, and a problem for each.

    What lies on another branch gives a note; on one of this folder's own it can hurt too, on a fetched one it cannot.
    A text whose act the history holds is lost only where the history's own first text of it came from elsewhere: an
    edit that was committed and taken back is not.
    """
    first: dict[str, Committed] = {}
    digests: set[tuple[str | None, str]] = set()
    for one in committed:
        if one.text.sealed and one.text.code is not None:
            first.setdefault(one.text.code, one)
            digests.add((one.text.code, one.text.digest))
    acts: list[Act] = []
    problems: list[Problem] = []
    seen: set[tuple[str, str]] = set()
    for one_lost in lost:
        if not is_act_path(one_lost.path):
            continue
        text = read_act(one_lost.data, one_lost.path)
        if not text.sealed or text.body is None or text.code is None:
            continue
        key = (text.code, text.digest)
        here = first.get(text.code)
        if key in digests or key in seen or (here is not None and precedes(here.commit, one_lost.commit)):
            continue
        seen.add(key)
        problems.append(_problem(text, one_lost))
        if one_lost.source is not Witnesses.FETCHED:
            acts.append(_act(text, one_lost.commit, clash=here is not None))
    return tuple(acts), tuple(problems)


def _problem(text: ActText, lost: LostText) -> Problem:
    commit = lost.commit[:12]
    if lost.source in (Witnesses.BRANCH, Witnesses.FETCHED):
        return Problem(
            "git.elsewhere",
            f"{text.code} was sealed on another branch (commit {commit}) and is not in the history of this one"
            + (": here it can only hurt" if lost.source is Witnesses.BRANCH else ""),
            f"git merge {commit}",
            Place(text.path),
            Severity.NOTE,
        )
    remedy = f"bring it back with git merge {commit}; what was mistaken is withdrawn, never taken out"
    if lost.source is Witnesses.CACHE:
        remedy = (
            f"bring commit {commit} back from a clone or a backup; where this folder was made anew by yourself, empty "
            "witnessmark/history in your cache folder"
        )
    return Problem(
        "git.rewritten",
        f"the history was rewritten: {text.code} was sealed and committed, and is no longer in it "
        f"({_KNOWN_BY[lost.source]})",
        remedy,
        Place(text.path),
    )


def _act(text: ActText, commit: str, *, clash: bool) -> Act:
    assert text.body is not None
    assert text.code is not None
    return Act(
        code=text.code,
        body=text.body,
        path=text.path,
        place=Place(text.path),
        tree=text.tree,
        appeared=None,
        held=Held.MISSING,
        seal_holds=text.holds,
        clash=clash,
        by_commit=commit,
    )


def with_clashes(acts: Sequence[Act], lost: Sequence[Act]) -> tuple[Act, ...]:
    """All acts; where a lost one bears a code that the history gives to another text, neither can be believed."""
    codes = {act.code for act in lost}
    return (*(replace(act, clash=True) if act.code in codes else act for act in acts), *lost)
