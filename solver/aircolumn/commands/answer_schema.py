"""What --json prints, as JSON Schema (draft 2020-12), made from the types of what each command finds."""

from __future__ import annotations

from functools import reduce
from importlib import import_module
from operator import or_
from typing import Any, get_args, get_type_hints

from pydantic import ConfigDict, TypeAdapter
from pydantic.json_schema import GenerateJsonSchema

from aircolumn.commands import COMMANDS
from aircolumn.commands.results import Printed
from aircolumn.questions.answer import StudyFound
from aircolumn.questions.read import all_questions

NUMBER = {"type": ["number", "null"]}  # null: not known
SETTINGS = ConfigDict(
    arbitrary_types_allowed=True, extra="forbid", alias_generator=lambda name: name.rstrip("_")
)


class _AsPrinted(GenerateJsonSchema):
    """As output/plain.py prints values: NaN as null, arrays as lists."""

    def float_schema(self, schema: Any) -> dict:
        """A number, or not known."""
        return NUMBER

    def is_instance_schema(self, schema: Any) -> dict:
        """An array: of numbers, or of such arrays."""
        return {"type": "array", "items": {"type": ["number", "null", "array"]}}

    def field_title_should_be_set(self, schema: Any) -> bool:
        """Names say enough."""
        return False


def found_by(command: str) -> Any:
    """The type of what a command finds: what its ``run`` is declared to answer."""
    (kind,) = get_args(get_type_hints(import_module(f"aircolumn.commands.{command}").run)["return"])
    if kind is not StudyFound:
        return kind
    return reduce(or_, (kind[question.found] for question in all_questions().values()))


def answer_schema() -> dict[str, Any]:
    """The schema of every answer."""
    kinds: Any = tuple[(Printed, *map(found_by, COMMANDS))]  # type: ignore[misc]
    made = TypeAdapter(kinds, config=SETTINGS).json_schema(mode="serialization", schema_generator=_AsPrinted)
    printed, *found = made["prefixItems"]
    each = [
        {"if": {"properties": {"command": {"const": name}}}, "then": {"properties": {"result": result}}}
        for name, result in zip(COMMANDS, found, strict=True)
    ]
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "What aircolumn prints with --json",
        "description": "Figures are SI, angles in degrees, speeds in rev/min; null: not known.",
        **printed,
        "allOf": each,
        "$defs": made["$defs"],
    }
