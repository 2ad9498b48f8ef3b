"""The keys of the engine file: as a JSON schema for editors, and one by one for a reference."""

from dataclasses import dataclass
from typing import Annotated, Any, Literal, get_args, get_origin

from aircolumn.display_units import SETS
from aircolumn.engine.description.area_schedule import KEY
from aircolumn.engine.description.base import BY_CYLINDER, CANDIDATES, RUNNERS, FileModel, PerCylinder
from aircolumn.engine.description.engine_file import Engine
from aircolumn.engine.description.fitted import FITTED
from aircolumn.engine.description.route_file import FILE
from aircolumn.engine.description.spread import PLUS_MINUS, VALUE
from aircolumn.engine.description.units import Checked, in_trade_units

#: Groups that may be written as one text or number.
SHORT_FORMS = {"Taper": "string", "Route": "string", "FuelName": "string", "Column": "string"}


UNSURE = "Unsure"  # what the schema calls a value with its plus_minus


@dataclass(frozen=True)
class Key:
    """A key of a part: its name, what it takes, its default ("" if it must be given or is left to
    others) and what it means; must: whether it must be given."""

    name: str
    takes: str
    default: str
    meaning: str
    must: bool


def parts() -> dict[type[FileModel], list[str]]:
    """Every part of the engine file with the places where it stands, in the file's order."""
    found: dict[type[FileModel], list[str]] = {}
    _walk(Engine, "", found)
    return found


def _walk(part: Any, place: Any, found: Any) -> None:
    if part in found and place in found[part]:
        return
    found.setdefault(part, []).append(place)
    for name, field in part.model_fields.items():
        if name == BY_CYLINDER:
            continue
        for inner in models_in(field.annotation):
            _walk(inner, f"{place}.{field.alias or name}".lstrip("."), found)


def models_in(annotation: Any) -> list[type[FileModel]]:
    """The parts an annotation holds."""
    if isinstance(annotation, type) and issubclass(annotation, FileModel):
        return [annotation]
    return [part for inner in get_args(annotation) for part in models_in(inner)]


def own_keys(part: type[FileModel]) -> list[Key]:
    """The keys that a model has and its base does not."""
    inherited = {name for base in part.__mro__[1:] for name in getattr(base, "model_fields", {})}
    return [_key(part, name, field) for name, field in part.model_fields.items() if name not in inherited]


def _key(part: Any, name: str, field: Any) -> Key:
    alias = field.alias or name
    return Key(alias, takes(field), default_of(field), field.description, field.is_required())


def takes(field: Any) -> str:
    """What may stand behind a key, in words."""
    annotation = field.annotation
    checked = checked_of(field)
    inner = models_in(annotation)
    if inner:
        return "list of groups" if _is_list(annotation) else "group"
    choices = _choices(annotation)
    if choices:
        return ", ".join(choices)
    if checked is not None:
        text = checked.schema.get("description") or _number(checked.schema)
        return f"list: {text}" if _is_list(annotation) else text
    if bool in _flat(annotation):
        return "true or false"
    return "list of whole numbers" if int in _flat(annotation) else "text"


def _number(schema: Any) -> str:
    kind = "whole number" if schema["type"] == "integer" else "number"
    return f"{kind} from {schema['minimum']:g} to {schema['maximum']:g}"


def _flat(annotation: Any) -> list:
    inner = get_args(annotation)
    return [annotation] if not inner else [x for a in inner for x in _flat(a)]


def _is_list(annotation: Any) -> bool:
    return get_origin(annotation) is list or any(map(_is_list, get_args(annotation)))


def _choices(annotation: Any) -> list[str]:
    if get_origin(annotation) is Literal:
        return [str(v) for v in get_args(annotation)]
    return [c for inner in get_args(annotation) for c in _choices(inner)]


def checked_of(field: Any) -> Checked | None:
    """What checks the field's values, however deep it stands in the annotation."""
    for found in field.metadata:
        if isinstance(found, Checked):
            return found
    return _checked_in(field.annotation)


def _checked_in(annotation: Any) -> Checked | None:
    if get_origin(annotation) is Annotated:
        for found in annotation.__metadata__:
            if isinstance(found, Checked):
                return found
    for inner in get_args(annotation):
        found = _checked_in(inner)
        if found is not None:
            return found
    return None


def default_of(field: Any) -> str:
    """A key's default as the file would write it; "" if it has none or leaves it to others."""
    value, checked = field.default, checked_of(field)
    if field.is_required() or value is None or isinstance(value, FileModel) or value in ("", {}, []):
        return ""
    if isinstance(value, bool):
        return str(value).lower()
    if checked is not None and checked.kind:
        return in_trade_units(value, checked.kind)
    return f"{value:.6g}" if isinstance(value, float) else str(value)


def schema() -> dict[str, Any]:
    """The engine file as JSON Schema (draft 2020-12). It says what editors can use: keys, choices,
    what each takes and means; limits of quantities are in words."""
    found = Engine.model_json_schema(by_alias=True)
    by_name = {part.__name__: part for part in parts()}
    for name, group in {**found["$defs"], "Engine": found}.items():
        _describe(by_name[name], group)
    for group in found["$defs"].values():
        keys = group.get("properties", {})
        if "bend_radius" in keys and "points" in keys:  # one radius for all bends; points from a file
            radius = keys["bend_radius"]
            either, about = [radius, {"type": "string"}], radius["description"]
            keys["bend_radius"] = {"anyOf": either, "description": about}
            keys[FILE] = {"type": "string", "description": "CSV file of points, in place of points"}
            group.pop("required", None)
        if "sections" in keys:
            keys[KEY] = {
                "type": "string",
                "description": "CSV file of distance and area, in place of length and bore",
            }
        if BY_CYLINDER in keys:  # what is not repeated there is that of all
            keys[BY_CYLINDER] = {
                "type": "object",
                "additionalProperties": {"type": "object"},
                "description": PerCylinder.model_fields[BY_CYLINDER].description,
            }
    runner = {
        "type": "object",
        "properties": found["$defs"]["Runner"]["properties"],
        "additionalProperties": False,
    }
    found["$defs"][UNSURE] = {
        "type": "object",
        "description": "a value, and the half-width of the interval that holds it in 95 of 100 cases",
        "properties": {VALUE: {}, PLUS_MINUS: {"type": ["string", "number"]}},
        "required": [VALUE, PLUS_MINUS],
        "additionalProperties": False,
    }
    names = {"type": "array", "items": {"type": "string"}, "minItems": 2}
    for name, meaning, value in (
        (RUNNERS, "candidates by name: keys of intake.runner that differ", runner),
        ("switchable", "manifolds that change over between candidates, by name", names),
    ):
        found["properties"][name] = {"type": "object", "description": meaning, "additionalProperties": value}
    told = "candidates by name: keys of the file by their path, or another engine file"
    of_each = {"type": ["object", "string"]}
    found["properties"][CANDIDATES] = {"type": "object", "description": told, "additionalProperties": of_each}
    told = (
        "what pull --fit found, each with its plus_minus, and the correlation by pairs (discharge-fmep: 0.64)"
    )
    found["properties"][FITTED] = {"type": "object", "description": told}
    about = "units of results: kW or hp, and so on"
    found["properties"]["units"] = {"enum": list(SETS), "description": about}
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **_shortened(found)}


def _describe(part: Any, group: Any) -> None:
    """Meanings, and defaults as the file would write them."""
    for name, field in part.model_fields.items():
        alias = field.alias or name
        entry = group["properties"][alias]
        entry["description"] = f"{field.description} [{takes(field)}]"
        entry.pop("title", None)
        entry.pop("default", None)
        if default_of(field):
            entry["default"] = default_of(field)
        checked = checked_of(field)
        if checked is not None and checked.schema.get("type") != "integer":
            group["properties"][alias] = _or_unsure(entry)


def _or_unsure(entry: dict) -> dict:
    """A value alone, or with its plus_minus."""
    about = {k: entry.pop(k) for k in ("description", "default") if k in entry}
    plain = entry["anyOf"] if set(entry) == {"anyOf"} else [entry]
    return {**about, "anyOf": [*plain, {"$ref": f"#/$defs/{UNSURE}"}]}


def _shortened(node: Any) -> Any:
    """With the short forms of groups beside the long ones."""
    if isinstance(node, list):
        return [_shortened(v) for v in node]
    if not isinstance(node, dict):
        return node
    name = str(node.get("$ref", "")).rpartition("/")[2]
    if name in SHORT_FORMS:
        rest = {k: v for k, v in node.items() if k != "$ref"}
        unsure = [{"$ref": f"#/$defs/{UNSURE}"}] if name == "Taper" else []
        return {**rest, "anyOf": [{"type": SHORT_FORMS[name]}, {"$ref": node["$ref"]}, *unsure]}
    return {k: _shortened(v) for k, v in node.items()}
