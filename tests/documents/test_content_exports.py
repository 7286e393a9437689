"""Attachments, readings as CSV, and the JSON envelope against its published schema."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import jsonschema
import pikepdf
import pytest

from tests.documents.fixture_assessment import VEHICLE, assessment, folder, workshop
from witnessmark.assessment.model import State
from witnessmark.document import build as building
from witnessmark.document.attachments import plan
from witnessmark.document.build import build
from witnessmark.document.content import sources
from witnessmark.document.tables import defused, figures_csv, readings_csv
from witnessmark.document.views.book import Book
from witnessmark.exports.audit import audit_envelope, audit_schema, fleet_envelope
from witnessmark.methods.registry import method
from witnessmark.records.acts import Record
from witnessmark.records.world import Held


def test_the_envelope_fits_its_schema_and_says_every_state() -> None:
    world = workshop()
    one = assessment(world)
    schema = audit_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(schema)
    document = json.loads(audit_envelope(world, one))
    validator.validate(document)
    validator.validate(json.loads(fleet_envelope(world, [one])))
    assert document["vehicle"] == VEHICLE
    assert {r["id"]: r["state"] for r in document["requirements"]} == {r.id: r.state.value for r in one.requirements}
    assert document["summary"]["not-shown"] == 3
    leaf = document["requirements"][0]["leaves"][0]
    assert leaf["result"]["unit"] == "Ω/V"
    assert leaf["result"]["value"].startswith("1097.")
    assert isinstance(leaf["result"]["U"], str)


def test_the_schema_refuses_a_word_that_is_no_state() -> None:
    world = workshop()
    document = json.loads(audit_envelope(world, assessment(world)))
    document["requirements"][0]["state"] = "open"
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(document, audit_schema())


def test_every_act_behind_the_file_is_attached_and_in_order() -> None:
    world = workshop()
    one = assessment(world)
    planned = plan(Book.of(world, one))
    names = [p.name for p in planned]
    assert names == sorted(names)
    assert {f"{a.code}.yaml" for a in world.acts} <= set(names)
    assert "7k4qxm.csv" in names
    kinds = {p.name: (p.mime, p.relationship) for p in planned}
    assert kinds["7k4qxm.yaml"] == ("application/yaml", "source")
    assert kinds["7k4qxm.csv"] == ("text/csv", "data")
    assert not any(p.name.endswith((".jpg", ".pdf")) for p in planned)


def test_an_edited_act_is_attached_as_it_was_first_committed() -> None:
    from dataclasses import replace

    world = workshop()
    acts = tuple(replace(a, held=Held.EDITED) if a.code == "7k4qxm" else a for a in world.acts)
    edited = replace(world, acts=acts)
    found = next(p for p in plan(Book.of(edited, assessment(edited))) if p.name == "7k4qxm.yaml")
    assert found.path == ""
    assert json.loads(found.text)["readings"]["ub"] == "402.9 V"
    assert "as first committed" in found.description


def test_what_does_not_fit_is_listed_with_the_reason(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    world = workshop()
    root = folder(tmp_path, world)
    monkeypatch.setattr(building, "LIMIT", 3000)
    report = build(root, world, assessment(world))
    assert report.written
    assert report.left_out
    rows = json.loads(
        sources(world, assessment(world), left_out=dict(report.left_out)).data["data/photographs-and-logs.json"]
    )["attached"]["rows"]
    assert sum(1 for row in rows if row[2] == "attached") + len(report.left_out) == len(rows)
    assert all("more than the" in why for _, why in report.left_out)
    with pikepdf.open(report.pdf) as pdf:
        inside = {name: bytes(pdf.attachments[name].get_file().read_bytes()) for name in pdf.attachments}
    names = {p.name for p in plan(Book.of(world, assessment(world)))}
    assert set(inside) == names - {name for name, _ in report.left_out}
    for name, data in inside.items():
        assert data == (report.out / "html" / "attached" / name).read_bytes()
        if name.endswith(".yaml"):
            act = next(a for a in world.acts if a.code == name.removesuffix(".yaml"))
            assert data == (root / act.path).read_bytes()


def test_readings_keep_their_order_units_and_text() -> None:
    record = next(a.body for a in workshop().acts if a.code == "7k4qxm")
    assert isinstance(record, Record)
    rows = list(csv.reader(io.StringIO(readings_csv(record, method("voltmeter-own-source/1")))))
    assert rows[0] == ["reading", "title", "repeat", "value", "unit", "bound", "as written"]
    assert [row[0] for row in rows[1:4]] == ["ub", "u1", "u2"]
    assert rows[1][3:] == ["402.9", "V", "", "402.9 V"]
    assert next(row for row in rows if row[0] == "ro_at")[3:] == ["", "", "", "negative"]


@pytest.mark.parametrize("text", ["=1+1", "+cmd", "-2+3", "@SUM(A1)", "\tx", "=HYPERLINK()"])
def test_a_cell_that_a_spreadsheet_would_run_is_defused(text: str) -> None:
    assert defused(text) == "'" + text


@pytest.mark.parametrize("text", ["-0.5", "+3", "12e-3", "403.2 V", "plain"])
def test_numbers_and_words_stay_as_they_are(text: str) -> None:
    assert defused(text) == text


def test_figures_of_a_log_are_flat_and_sorted() -> None:
    text = figures_csv({"b": [1, None], "a": {"x": "=1"}})
    assert text == "figure,value\r\na.x,'=1\r\nb[0],1\r\nb[1],\r\n"


def test_every_state_is_in_the_schema() -> None:
    assert set(audit_schema()["$defs"]["state"]["enum"]) == {state.value for state in State}
