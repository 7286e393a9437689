"""Empty fields stand in the way of a release, stand in it, and are computed again when it is verified."""

from __future__ import annotations

import copy
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from tests.forms.test_form_pages import EMPTY, assessed, workshop
from witnessmark.records.release import Release
from witnessmark.release.conditions import Request, reasons_against
from witnessmark.release.describe import describe
from witnessmark.release.recompute import _forms


def reasons(tmp_path: Path, **how: Any) -> dict[str, str]:
    request = Request("van-07", "B", "ao", **how)
    return {
        p.code: f"{p.message}. {p.remedy}"
        for p in reasons_against(tmp_path, workshop(), assessed(), request, False, date(2026, 11, 24))
    }


def test_freeze_names_the_empty_fields_and_a_reason_covers_them(tmp_path: Path) -> None:
    said = reasons(tmp_path)["freeze.fields"]
    assert said.startswith("6 fields of the authority's forms are empty: un-r100-03:essential-characteristics/1.6")
    assert all(f"essential-characteristics/{number}" in said for number in EMPTY)
    assert "witnessmark record van-07 form" in said
    assert "freeze.fields" not in reasons(tmp_path, with_gaps="the papers are being drawn")


def test_a_release_with_empty_fields_alone_needs_its_reason() -> None:
    tree = {
        "format": "1", "release": "A", "at": "2026-11-24T12:00+01:00", "by": "ao", "as_of": "2026-11-24",
        "commit": "0" * 40, "manifest": "0" * 64, "gaps": "0", "unconfirmed": "0",
    }  # fmt: skip
    assert Release.model_validate(tree).fields == 0, "a release of an older program has none"
    with pytest.raises(ValueError, match="with_gaps"):
        Release.model_validate({**tree, "fields": "2"})
    assert Release.model_validate({**tree, "fields": "2", "with_gaps": "soon"}).fields == 2


def test_what_a_release_says_of_the_forms_is_compared_with_what_is_computed() -> None:
    now = describe(workshop(), assessed()).audit
    assert list(_forms(now, now)) == []
    assert list(_forms({k: v for k, v in now.items() if k != "forms"}, now)) == [], "an older program knew no forms"
    ways: tuple[Callable[[dict[str, Any]], object], ...] = (
        lambda form: form["fields"][1]["values"][0].update(words="another make"),
        lambda form: form.update(filled=32),
        lambda form: form.update(empty=[]),
        lambda form: form["fields"].pop(1),
        lambda form: form.update(id="another"),
    )
    for spoil in ways:
        was = copy.deepcopy(now)
        spoil(was["forms"][0])
        assert {p.code for p in _forms(was, now)} == {"differs.form"}
