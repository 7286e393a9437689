"""Reverse gaps: evidence that no leaf uses, facts that nothing needs, one picture or one set of readings used twice."""

from __future__ import annotations

from collections.abc import Iterator

from witnessmark.assessment.contradictions import CHECKED
from witnessmark.assessment.evidence import Evidence
from witnessmark.assessment.facts import VEHICLE
from witnessmark.assessment.judging import World
from witnessmark.assessment.ledger import vehicle_of
from witnessmark.assessment.model import Unused
from witnessmark.assessment.needs import conditions_ask, limits_ask
from witnessmark.assessment.references import split
from witnessmark.language import declared, say
from witnessmark.records.acts import Record
from witnessmark.records.canonical import digest_of
from witnessmark.records.forms import forms_ask
from witnessmark.records.printed import printed_facts
from witnessmark.records.world import Act

__all__ = ["unused"]

ALWAYS_NEEDED = frozenset({"vin", "requirement_sets", "category"})


def unused(world: World, evidence: Evidence) -> tuple[Unused, ...]:
    """All reverse gaps of one vehicle, sorted by code and path."""
    found = {
        *_records(world, evidence),
        *_facts(world),
        *_pictures(world),
        *_readings(world),
        *_drafts(world),
        *_files(world),
    }
    return tuple(sorted(found, key=lambda u: (u.code, u.path, u.key)))


def _concerns(world: World, act: Act, record: Record) -> bool:
    return vehicle_of(act) == world.vehicle or (record.design is not None and record.design in _designs(world))


def _designs(world: World) -> frozenset[str]:
    return frozenset(d for p in world.parts.known if (d := world.parts.now(p).design))


def _records(world: World, evidence: Evidence) -> Iterator[Unused]:
    for act, record in world.ledger.of(Record):
        if not _concerns(world, act, record):
            continue
        scope = world.scope(record, vehicle_of(act) is not None)
        for ref in record.shows:
            if (id(act), ref) in evidence.judged_by_leaf:
                continue
            _, _, leaf = split(ref)
            meant = scope.meant(ref)
            if not meant:
                yield Unused(
                    "leaf.unknown",
                    say("{code} shows {ref}, and no chosen set has that requirement.", code=act.code, ref=ref),
                    say("withdraw it, or choose the set"),
                    act.path,
                    ref,
                )
            elif all(t.requirement is not None and leaf not in t.requirement.leaves for t in meant):
                yield Unused(
                    "leaf.unknown",
                    say(
                        "{code} shows {ref}, and the requirement has no leaf {leaf}.", code=act.code, ref=ref, leaf=leaf
                    ),
                    say("correct the record with the leaf that is meant"),
                    act.path,
                    ref,
                )
            else:
                yield Unused(
                    "record.unused",
                    say(
                        "{code} shows {ref} for the part {part}, and nothing asks that.",
                        code=act.code,
                        ref=ref,
                        part=record.part,
                    )
                    if record.part
                    else say("{code} shows {ref} for no part, and nothing asks that.", code=act.code, ref=ref),
                    say("withdraw it, or correct its part"),
                    act.path,
                    ref,
                )


def _facts(world: World) -> Iterator[Unused]:
    workshop = world.ledger.workshop
    needed: set[str] = {*ALWAYS_NEEDED, *printed_facts(workshop.facts), *forms_ask(workshop.sets.values())}
    for found in world.ledger.workshop.sets.values():
        for requirement in found.requirements:
            needed |= conditions_ask(requirement) | limits_ask(requirement)
    for _, record in world.ledger.of(Record):
        method = world.methods(record.method) if record.method else None
        needed |= {f.name for f in method.facts} if method else set()
    # Facts that check others are needed too.
    needed |= CHECKED
    for (part, key), said in world.facts.said.items():
        if key not in needed:
            path = min(s.act.path for s in said)
            yield Unused(
                "fact.unused",
                say("{fact} of {part} is stated, and nothing needs it.", fact=key, part=part)
                if part
                else say("{fact} is stated, and nothing needs it.", fact=key),
                say("leave it, or take it into a requirement"),
                path,
                f"{key}\0{part or ''}",
            )


def _pictures(world: World) -> Iterator[Unused]:
    """The same picture, by its digest, for two parts or two vehicles, without a reason."""
    by_digest: dict[str, list[tuple[Act, Record, str]]] = {}
    for act, record in world.ledger.of(Record):
        if world.ledger.is_taken_back(act):
            continue
        digests = {f.name: f.sha256.removeprefix("sha256:") for f in record.files}
        for claim in record.shows.values():
            for name in (claim.photo,):
                if name is not None and name in digests:
                    by_digest.setdefault(digests[name], []).append(
                        (act, record, "" if claim.shared is None else claim.shared)
                    )
    for uses in by_digest.values():
        yield from _twice(world, uses, "picture.twice", _PICTURE)


def _readings(world: World) -> Iterator[Unused]:
    """The same set of readings for two parts or two vehicles, without a reason."""
    by_digest: dict[str, list[tuple[Act, Record, str]]] = {}
    for act, record in world.ledger.of(Record):
        if world.ledger.is_taken_back(act) or len(record.readings) < 2:
            continue
        shared = next((c.shared for c in record.shows.values() if c.shared), "")
        by_digest.setdefault(digest_of(dict(record.readings)), []).append((act, record, shared))
    for uses in by_digest.values():
        yield from _twice(world, uses, "readings.twice", _READINGS)


_PICTURE = declared("The same picture serves for {n} parts or vehicles: {codes}.")
_READINGS = declared("The same readings stand for {n} parts or vehicles: {codes}.")


def _twice(world: World, uses: list[tuple[Act, Record, str]], code: str, text: str) -> Iterator[Unused]:
    places = {(vehicle_of(a), r.part or VEHICLE, r.design) for a, r, _ in uses}
    here = [a for a, _, _ in uses if vehicle_of(a) == world.vehicle]
    without = [a for a, _, shared in uses if not shared]
    if len(places) < 2 or not here or len(without) < 2:
        return
    codes = ", ".join(sorted({a.code for a, _, _ in uses}))
    yield Unused(
        code,
        say(text, n=len(places), codes=codes),
        say("say why with {key}, or do it again for each", key="shared: …"),
        min(a.path for a in here),
        f"{len(places)} {codes}",
    )


def _drafts(world: World) -> Iterator[Unused]:
    for draft in world.ledger.workshop.drafts:
        if draft.vehicle in (None, world.vehicle):
            yield Unused(
                "act.draft",
                say("{path} is a draft: it has no seal and counts for nothing.", path=draft.path),
                f"witnessmark record --seal {draft.path}",
                draft.path,
            )


def _files(world: World) -> Iterator[Unused]:
    prefix = f"evidence/vehicles/{world.vehicle}/"
    for path in world.ledger.workshop.unused_files:
        if path.startswith((prefix, prefix.removeprefix("evidence/"))):
            yield Unused(
                "file.unused",
                say("{path} lies in the folder, and no act names it.", path=path),
                say("name it in a record, or take it away"),
                path,
            )
