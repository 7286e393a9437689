"""A JSON Schema for every kind of file, for editors and for checks by other programs.

Draft 2020-12. Where a field takes any text as written, a number or truth value that an editor's own YAML parser would
make of it is allowed too: `0421` without quotes is text here and a number there.
"""

from __future__ import annotations

import ast
import inspect
from functools import cache
from itertools import pairwise
from typing import Any

from pydantic import BaseModel
from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue

from witnessmark.records import acts, authority, forms, release, reviews, risks, sealed, sets, workshop
from witnessmark.records.acts import (
    Adoption,
    Answer,
    Authorisation,
    Calibration,
    CarryOver,
    Check,
    Comparison,
    Concession,
    DesignRevision,
    Event,
    Policy,
    Record,
    Release,
    RiskAnalysis,
    SetEdition,
    Statement,
    Withdrawal,
)
from witnessmark.records.forms import FormFile
from witnessmark.records.sets import FactsFile, RequirementFile, SetFile
from witnessmark.records.workshop import InstrumentFile, PersonFile, VehicleFile, WorkshopFile

__all__ = ["DIALECT", "FILES", "schema_of", "schemas"]

DIALECT = "https://json-schema.org/draft/2020-12/schema"

FILES: tuple[tuple[str, type[BaseModel]], ...] = (
    ("workshop", WorkshopFile),
    ("person", PersonFile),
    ("instrument", InstrumentFile),
    ("vehicle", VehicleFile),
    ("facts", FactsFile),
    ("set", SetFile),
    ("requirements", RequirementFile),
    ("form", FormFile),
    ("record", Record),
    ("statement", Statement),
    ("event", Event),
    ("withdrawal", Withdrawal),
    ("carry-over", CarryOver),
    ("check", Check),
    ("calibration", Calibration),
    ("authorisation", Authorisation),
    ("concession", Concession),
    ("policy", Policy),
    ("design-revision", DesignRevision),
    ("set-edition", SetEdition),
    ("comparison", Comparison),
    ("adoption", Adoption),
    ("answer", Answer),
    ("risk-analysis", RiskAnalysis),
    ("release", Release),
)
"""Name of the schema and model, one line for each kind of file."""


class _Plain(GenerateJsonSchema):
    """Without titles that only repeat the key, and with absent instead of null: a file has no null."""

    def field_title_should_be_set(self, schema: Any) -> bool:
        return False

    def nullable_schema(self, schema: Any) -> JsonSchemaValue:
        return self.generate_inner(schema["schema"])

    def default_schema(self, schema: Any) -> JsonSchemaValue:
        return self.generate_inner(schema["schema"])


def schema_of(model: type[BaseModel], name: str) -> dict[str, Any]:
    """The schema of one kind of file."""
    found = model.model_json_schema(schema_generator=_Plain, by_alias=True, mode="validation")
    defined = {"": found, **found.get("$defs", {})}
    for class_name, part in defined.items():
        words = _words_of_fields().get(class_name or model.__name__, {})
        for field, text in words.items():
            if field in part.get("properties", {}):
                part["properties"][field]["description"] = text
    return {"$schema": DIALECT, "title": name, **_without_titles(found, inside=False)}


@cache
def _words_of_fields() -> dict[str, dict[str, str]]:
    """By class and key of the file, the words that stand below a field in the models' source."""
    found: dict[str, dict[str, str]] = {}
    for module in (sealed, acts, authority, reviews, risks, release, sets, forms, workshop):
        for node in ast.parse(inspect.getsource(module)).body:
            if not isinstance(node, ast.ClassDef):
                continue
            words = found.setdefault(node.name, {})
            for field, below in pairwise(node.body):
                if (
                    isinstance(field, ast.AnnAssign)
                    and isinstance(field.target, ast.Name)
                    and isinstance(below, ast.Expr)
                    and isinstance(below.value, ast.Constant)
                    and isinstance(below.value.value, str)
                ):
                    words[_ALIASES.get(field.target.id, field.target.id)] = inspect.cleandoc(below.value.value)
    return found


_ALIASES = {
    "work": "for", "valid_from": "from", "event_at": "at",
    "withdrawn_at": "at", "carried_at": "at", "checked_at": "at", "released_at": "at",
}  # fmt: skip
"""Fields whose key in the file is a word that Python keeps for itself."""


def schemas() -> dict[str, dict[str, Any]]:
    """All schemas by name, in the order of `FILES`."""
    return {name: schema_of(model, name) for name, model in FILES}


def _without_titles(schema: Any, *, inside: bool) -> Any:
    """Without `title`, except where it is the name of a key (`inside` properties); and with mappings closed.

    A mapping whose keys have a pattern takes no others, and its least size is counted in keys, not in letters.
    """
    if isinstance(schema, list):
        return [_without_titles(item, inside=False) for item in schema]
    if not isinstance(schema, dict):
        return schema
    names = ("properties", "patternProperties", "$defs")
    cleaned = {
        key: _without_titles(value, inside=key in names and not inside)
        for key, value in schema.items()
        if inside or key != "title"
    }
    if not inside and cleaned.get("type") == "object":
        if "patternProperties" in cleaned:
            cleaned.setdefault("additionalProperties", False)
        if "minLength" in cleaned:
            cleaned["minProperties"] = cleaned.pop("minLength")
    return cleaned
