"""The plug-ins that the workshop's policy names are made known, and no others.

The newest policy in force on the day asked for counts, of those that lie there as they were sealed and committed: what
is not committed makes no method known. To take a plug-in back, write a new policy without it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from witnessmark.problems import Problem
from witnessmark.records.acts import Policy
from witnessmark.records.world import Act, Held

from .acts import ActText, place_in

__all__ = ["adopt_plugins", "plugins_named"]


def plugins_named(acts: Sequence[Act], day: date) -> tuple[Act | None, tuple[str, ...]]:
    """The policy that counts on `day`, and the plug-ins that it names."""
    policies = [
        (act.body.in_force, act.appeared, act.code, act)
        for act in acts
        if isinstance(act.body, Policy)
        and act.appeared is not None
        and act.held is Held.UNCHANGED
        and act.seal_holds
        and not act.clash
        and act.body.in_force <= day
    ]
    if not policies:
        return None, ()
    newest = max(policies, key=lambda entry: entry[:3])[3]
    assert isinstance(newest.body, Policy)
    return newest, newest.body.policy.plugins


def adopt_plugins(acts: Sequence[Act], texts: Sequence[ActText], day: date) -> tuple[tuple[str, ...], list[Problem]]:
    """Makes the methods known; the names of their distributions, and every fault at its place in the policy."""
    from witnessmark.methods.registry import adopt

    policy, named = plugins_named(acts, day)
    if policy is None or not named:
        adopt({})
        return (), []
    from witnessmark.methods.plugins import load_plugins

    found, faults = load_plugins(named)
    adopt(found)
    text = next((text for text in texts if text.path == policy.path), None)
    place = policy.place if text is None else place_in(text, "policy", "plugins", key=True)
    return named, [replace(fault, place=place) for fault in faults]
