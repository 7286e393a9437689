"""What is asked of a vehicle, its parts and designs: what the chosen sets need, why, and what hangs on it. No more."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.workshops import commit_all
from witnessmark.assessment.assess import assess
from witnessmark.assessment.needs import all_methods, always_calculated_with, needed_facts
from witnessmark.reading.set_differences import shipped_sets
from witnessmark.reading.sets import FACTS, read_facts
from witnessmark.reading.workshop import read_workshop
from witnessmark.recording.forms.statement import facts_wanted
from witnessmark.records.printed import printed_facts
from witnessmark.shipped import shipped

from .conftest import Run
from .shop import BASE

SECOND = "requirements/second/"


def _with_second_set(root: Path) -> None:
    """A second set that nobody has chosen: it asks a fact of the vehicle and one of each bus."""
    (root / SECOND).mkdir(parents=True)
    (root / SECOND / "set.yaml").write_text("format: 1\ntitle: Second\nshort: S\nnote: Invented.\n")
    (root / SECOND / "area.yaml").write_text(
        "format: 1\narea: a\ntitle: A\norder: 1\nrequirements:\n"
        "  - {id: lid, clause: '1', title: Lid of the bus, statement: It is shut., source: {confidence: own},\n"
        "     each: {part: hv-bus, where: {bus_lid: fitted}}, applies: {charging: ac},\n"
        "     leaves: {a: {inspect: shut}}, shown: a}\n"
    )
    facts = (root / FACTS).read_text()
    lid = "  bus_lid: {title: lid, ask: Has it a lid?, why: Dust., of: hv-bus, choices: {fitted: yes, none: no}}\n"
    (root / FACTS).write_text(facts + lid)
    commit_all(root)


def _wanted(root: Path) -> dict[str, dict[str, tuple[str, ...]]]:
    workshop = read_workshop(root, use_cache=False)
    return facts_wanted(workshop, assess(workshop, "van-07"))


def test_a_fact_that_only_a_set_needs_which_is_not_chosen_is_not_asked(root: Path, run: Run) -> None:
    _with_second_set(root)
    assert _wanted(root) == {}
    said = run("record", "van-07", "facts", "--by", "jm", typed=())
    assert "No fact is missing" in said.err


def test_chosen_it_is_asked_with_why_and_what_hangs_on_it(root: Path, run: Run) -> None:
    _with_second_set(root)
    chosen = (root / BASE / "facts/first.yaml").read_text()
    assert "value: [mini]" in chosen
    event = "by: jm\nevent: changed\npart: vehicle\nat: 2026-10-14 10:00\nfacts: requirement_sets\n"
    event += "fact: {requirement_sets: [mini, second]}\nsource: {requirement_sets: letter}\n"
    done = run("change", "van-07", answers=event)
    assert done.status == 0, done.err
    assert _wanted(root) == {
        "vehicle": {"charging": ("Lid of the bus",)},
        "traction-bus": {"bus_lid": ("Lid of the bus",)},
    }
    said = run("record", "van-07", "facts", "--by", "jm", typed=("", "", "", "", "", "", "", ""))
    assert "How?\n    Other rules. On it hangs “Lid of the bus”.\n" in said.err
    assert "Has it a lid?\n    Dust. On it hangs “Lid of the bus”.\n" in said.err
    assert "which?" not in said.err.casefold(), "the sets are stated"
    assert said.err.count("Nothing was stated, so nothing is kept.") == 2


def test_of_parts_and_designs_only_what_the_chosen_sets_need(root: Path, run: Run) -> None:
    _with_second_set(root)
    typed = ("fitted", "Charge bus", "", "", "", "C-1", "", "", "", "", "leave")
    assert "Has it a lid?" not in run("change", "van-07", "--by", "jm", typed=typed).err
    answers = "by: jm\nwhat: design\ndesign: bus-d\nrevision: A\nkind: hv-bus\ntitle: Bus\nissued: 2026-10-01\n"
    refused = run("record", "design", answers=answers + "fact: {bus_lid: fitted}\nsource: {bus_lid: drawing}\n")
    assert refused.status == 2 and "bus_lid" in refused.err


def test_a_new_vehicle_is_asked_for_its_sets_and_then_for_what_they_need(root: Path, run: Run) -> None:
    _with_second_set(root)
    vehicle = "by: jm\nwhat: vehicle\nid: van-09\ntitle: Another van\nfile_number: SEC-09\n"
    assert run("record", "vehicle", answers=vehicle).status == 0
    first = ("", "", "SAMPLE9VAN0000009", "plate", "second, mini", "letter", "", "keep")
    said = run("record", "van-09", "facts", "--by", "jm", typed=(*first, "", "", "ac", "order", "", "keep"))
    assert "Which?\n    So.\n   1  mini    A small set\n   2  second  Second\n" in said.err
    assert "How?\n    Other rules. On it hangs “Lid of the bus”.\n" in said.err
    assert said.out.count("Kept as ") == 2
    workshop = read_workshop(root, use_cache=False)
    assert {r.set_id for r in assess(workshop, "van-09").requirements} == {"mini", "second"}


def test_a_set_that_there_is_not_cannot_be_chosen(root: Path, run: Run) -> None:
    vehicle = "by: jm\nwhat: vehicle\nid: van-09\ntitle: Another van\nfile_number: SEC-09\n"
    assert run("record", "vehicle", answers=vehicle).status == 0
    said = run("record", "van-09", "facts", "--by", "jm", typed=("", "", "", "maxi", "mini", "letter", "", "leave"))
    assert "'maxi' is not among the answers" in said.err and "hoose one of mini" in said.err


def test_what_every_method_calculates_with_is_asked_before_the_first_measurement(tmp_path: Path) -> None:
    """Isolation per volt cannot be had without the working voltage (clause 5.1.3 of UN R100: ohms per volt of it)."""
    found = shipped_sets()["un-r100-03"].requirement("isolation-joined-bus")
    assert found is not None
    assert always_calculated_with(found, all_methods()) == {"working_voltage"}


@pytest.mark.parametrize("ident", sorted(shipped_sets()))
def test_the_facts_of_one_set_are_a_part_of_all_and_every_one_has_its_reason(ident: str) -> None:
    facts = read_facts((shipped("requirements") / "facts.yaml").read_bytes())[0]
    needed = needed_facts(shipped_sets()[ident].requirements, facts, all_methods())
    own = {"vin", "requirement_sets", "category"}
    checked = {"cells_in_series", "cell_voltage_max", "working_voltage", "nominal_voltage"}
    assert {key for key, hanging in needed.items() if not hanging} <= own | checked | printed_facts(facts)
    assert len(needed) < len(facts)


def test_every_shipped_fact_says_why_and_a_quantity_what_is_plausible() -> None:
    facts = read_facts((shipped("requirements") / "facts.yaml").read_bytes())[0]
    for key, fact in facts.items():
        assert len(fact.why) > 10 and fact.title, key
        assert fact.unit is None or (fact.lowest is not None and fact.highest is not None), key
