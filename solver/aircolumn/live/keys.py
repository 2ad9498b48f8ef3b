"""Every key of the engine file as the page's form shows it: what it takes, what it means, what it is now."""

from __future__ import annotations

from typing import Any

from aircolumn.engine.description.base import BY_CYLINDER
from aircolumn.engine.description.candidates import Manifold
from aircolumn.engine.description.engine_file import Engine
from aircolumn.engine.description.places import value_at
from aircolumn.engine.description.reference import SHORT_FORMS, default_of, models_in, takes

EITHER = "one value, or a group"
MOST_SHOWN = 400  # characters of a value


def all_keys() -> list[dict[str, Any]]:
    """Keys in the order of the file: path, takes, default, meaning. Lists of groups are one key: they are
    written as they stand in the file."""
    found: list[dict[str, Any]] = []
    _walk(Engine, (), found)
    return found


def _walk(model: Any, path: tuple, found: list[dict[str, Any]]) -> None:
    for name, field in model.model_fields.items():
        inner, here = models_in(field.annotation), (*path, field.alias or name)
        if name == BY_CYLINDER or field.alias == BY_CYLINDER:
            continue
        told = takes(field)
        if inner and told != "list of groups" and len(set(inner)) == 1 and inner[0] is not model:
            found.append(_key(here, field, EITHER if inner[0].__name__ in SHORT_FORMS else "group"))
            _walk(inner[0], here, found)
        else:
            found.append(_key(here, field, told))


def _key(path: tuple, field: Any, told: str) -> dict[str, Any]:
    return {
        "path": list(path),
        "takes": told,
        "default": default_of(field),
        "meaning": field.description or "",
        "must": field.is_required(),
    }


def values_of(one: Manifold, keys: list[dict[str, Any]]) -> dict[str, dict[str, Any]]:
    """What a candidate states, by its path in words: text, whether the candidate states it itself, and how
    far off it may be."""
    found = {}
    for key in keys:
        path = tuple(key["path"])
        value = value_at(one.data, path)
        if value is None or (isinstance(value, dict) and key["takes"] == "group"):
            continue
        told: dict[str, Any] = {"text": in_words(value)[:MOST_SHOWN]}
        if one.in_file(path) is not None:
            told["own"] = True
        if path in one.spreads:
            told["plus_minus"] = str(one.spreads[path])
        found[".".join(path)] = told
    return found


def in_words(value: Any) -> str:
    """A value as one would write it in the file."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dict):
        return "{" + ", ".join(f"{k}: {in_words(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(in_words, value)) + "]"
    return str(value)
