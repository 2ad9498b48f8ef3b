"""Plain data as an instance of a model, and what pydantic finds wrong in the words of the file."""

import difflib
from typing import Any

from pydantic import BaseModel, ValidationError

from aircolumn.engine.description.base import GROUP, LIST
from aircolumn.engine.description.engine_file import Engine
from aircolumn.engine.description.fitted import FITTED
from aircolumn.engine.description.source import Source, problem
from aircolumn.errors import Problem


def validated(
    model: Any, data: dict[str, Any], source: Source, problems: list[Problem], prefix: tuple
) -> Any:
    """``data`` as an instance of ``model``; None if it is wrong, with what is added to problems."""
    try:
        return model.model_validate(data)
    except ValidationError as error:
        for item in error.errors(include_url=False):
            problems.append(_translate(model, item, data, source, prefix))
        return None


def _translate(
    model: Any, item: Any, data: dict[str, Any], source: Source, prefix: tuple[str, str]
) -> Problem:
    """A pydantic finding in the words of the file."""
    item["loc"] = tuple(step for step in item["loc"] if step not in (GROUP, LIST))
    path = prefix + _known_path(item["loc"], data)
    kind = item["type"]
    if kind == "missing":
        parent = path[:-1]
        line, column = source.place(parent)
        group = _group_at(model, item["loc"])
        said = f"this group is missing; {_keys_of(group)}" if group else "this key is missing"
        return Problem(line, column, ".".join(map(str, path)), said)
    if kind == "extra_forbidden":
        return problem(source, path, _unknown(model, item["loc"]))
    if kind == "value_error":
        return problem(source, path, str(item["ctx"]["error"]))
    if kind == "literal_error":
        allowed = item["ctx"]["expected"].replace("'", "")
        return problem(source, path, f"'{item['input']}' is not known here; use {allowed}")
    if kind in ("model_type", "model_attributes_type", "dict_type"):
        group = _group_at(model, item["loc"])
        which = f"; {_keys_of(group)}" if group else ""
        return problem(source, path, f"a group of 'key: value' lines is expected here{which}")
    if kind == "list_type":
        return problem(source, path, "a list [a, b, ...] is expected here")
    if kind == "string_type":
        return problem(source, path, "text is expected here")
    if kind in ("bool_parsing", "bool_type"):
        return problem(source, path, "true or false is expected here")
    if kind.startswith("int_"):
        return problem(source, path, "a whole number is expected here")
    if kind.startswith("float_") or kind == "finite_number":
        return problem(source, path, "a number is expected here")
    if kind == "too_short":
        least = item["ctx"]["min_length"]
        return problem(source, path, f"at least {least} are expected here")
    return problem(source, path, f"{item['msg']} (found {str(item['input'])[:60]!r})")


def _known_path(loc: tuple[int | str, ...], data: dict[str, Any]) -> tuple:
    """The part of a pydantic location that is really in the file, and the key after it."""
    path: list[int | str] = []
    here: Any = data
    for step in loc:
        if isinstance(here, dict) and (step in here or step == loc[-1]):
            path.append(step)
            here = here.get(step)
        elif isinstance(here, list) and isinstance(step, int) and step < len(here):
            path.append(step)
            here = here[step]
    return tuple(path)


def _unknown(model: Any, loc: tuple[str, ...]) -> str:
    known = _keys_at(model, loc[:-1])
    if model is Engine and len(loc) == 1:
        known = [*known, "runners", "candidates", "switchable", "units", FITTED]
    close = difflib.get_close_matches(str(loc[-1]), known, 1, 0.5)
    if close:
        return f"unknown key; did you mean '{close[0]}'?"
    return f"unknown key; known here: {', '.join(known)}" if known else "unknown key"


def _group_at(model: Any, loc: tuple[str, ...]) -> type | None:
    """The model of the group at a pydantic location; None for a plain value."""
    for step in loc:
        field = _fields(model).get(step)
        if field is not None:
            model = _model_in(field.annotation)
        if model is None:
            return None
    return model


def _keys_of(group: type) -> str:
    """Which keys a group needs and may have."""
    fields = _fields(group)
    needed = [name for name, f in fields.items() if f.is_required()]
    more = [name for name in fields if name not in needed]
    said = [f"it needs {', '.join(needed)}"] if needed else []
    return "; ".join([*said, f"it may have {', '.join(more)}"] if more else said)


def _keys_at(model: Any, loc: tuple[str, ...]) -> list[str]:
    for step in loc:
        field = _fields(model).get(step)
        if field is None:
            continue
        model = _model_in(field.annotation) or model
    return list(_fields(model))


def _fields(model: Any) -> dict:
    return {f.alias or name: f for name, f in model.model_fields.items()}


def _model_in(annotation: Any) -> type | None:
    """The model class inside an annotation such as ``Annotated[list[Section], ...] | None``."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    for inner in getattr(annotation, "__args__", ()):
        found = _model_in(inner)
        if found:
            return found
    return None
