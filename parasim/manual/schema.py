"""The design file as a JSON Schema, by which editors complete keys and check values while one types."""

import json
from typing import Any

from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue
from pydantic_core import core_schema

from parasim.config.design import Design
from parasim.config.scenario import BrakeCommand
from parasim.manual.keys import keys

SOMETHING = {"anyOf": [{"type": "number"}, {"type": "string"}]}
"""A number, or text with a unit."""


class _Schema(GenerateJsonSchema):
    """Quantities are numbers or text; their limits, in units of their own, stand in the description."""

    def function_plain_schema(self, schema: core_schema.PlainValidatorFunctionSchema) -> JsonSchemaValue:
        return dict(SOMETHING)

    def model_schema(self, schema: core_schema.ModelSchema) -> JsonSchemaValue:
        made = super().model_schema(schema)
        return {"anyOf": [made, {"type": "string"}]} if schema["cls"] is BrakeCommand else made

    def function_before_schema(self, schema: core_schema.BeforeValidatorFunctionSchema) -> JsonSchemaValue:
        # What is read before may be looser than what comes of it: a plain number for a calibration.
        inner = self.generate_inner(schema["schema"])
        if schema["schema"]["type"] in {"model-fields", "int"}:
            return inner
        return {"anyOf": [inner, *SOMETHING["anyOf"]]}


def design_schema() -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of a design file."""
    schema = Design.model_json_schema(schema_generator=_Schema)
    for key in keys():
        place: Any = schema
        for part in key.name.split("."):
            place = _property(schema, place, part)
            if place is None:
                break
        else:
            place["description"] = f"{key.meaning} ({key.limits})" if key.limits else key.meaning
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}


def _property(schema: dict[str, Any], place: dict[str, Any], name: str) -> dict[str, Any] | None:
    """Property of an object in a schema, references and unions looked through; None if it has none."""
    if "$ref" in place:
        place = schema["$defs"][place["$ref"].rpartition("/")[2]]
    if name in place.get("properties", {}):
        found: dict[str, Any] = place["properties"][name]
        return found
    inside = (_property(schema, one, name) for one in place.get("anyOf", ()))
    return next((one for one in inside if one is not None), None)


def schema_text() -> str:
    """The schema as text."""
    return json.dumps(design_schema(), indent=2, ensure_ascii=False) + "\n"
