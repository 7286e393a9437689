"""Rule 13: `as_of` is an argument; what lies after it can hurt, not help; the same input gives the same."""

from __future__ import annotations

from .world import C, K, N, S, Story


def test_states_are_given_at_as_of() -> None:
    story = Story().rec("P1").concession("K", at=10, last=60)
    assert story.state() is C
    story = Story().rec("F1").concession("K", at=10, last=60)
    for as_of, state in ((9, N), (10.5, K), (60, K), (61, N)):
        story.as_of = as_of
        assert story.state() is state


def test_what_is_sealed_later_helps_only_later() -> None:
    story = Story().rec("P50")
    for as_of, state in ((49, S), (51, C)):
        story.as_of = as_of
        assert story.state() is state


def test_assessment_carries_its_day_and_is_the_same_twice() -> None:
    story = Story().rec("P1").rec("U2")
    one, other = story.assess(), story.assess()
    assert one == other
    assert one.as_of == story.workshop().as_of
