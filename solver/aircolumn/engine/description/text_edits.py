"""A value of a YAML file changed in its text: all that is not changed stays as it is, byte for byte.

PyYAML says where every value begins and ends; what is typed goes there, in the style of what stood there.
What was written is read back: the file must then say what it said before but for the value.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import yaml

from aircolumn.engine.description.places import value_at, with_value
from aircolumn.engine.description.source import Source, source_of
from aircolumn.engine.description.spread import VALUE
from aircolumn.errors import InputError, RequestError

Keys = tuple[str | int, ...]
LONGEST = 2000  # characters that are typed
_PLAIN = re.compile(r"[^\s\-?:,\[\]{}#&*!|>'\"%@`~=<][^,\[\]{}\n]*")  # of a value that needs no quotes


def put_value(source: Source, path: Keys, typed: str, text: bool = False) -> bytes:
    """The file with another value at a key, or with the key if it was not there.

    Parameters
    ----------
    source : Source
        The file as it was read.
    path : tuple
        Keys, and places in lists.
    typed : str
        As one would write it in the file: ``17 in``, ``[38 mm, 41 mm]``, ``{from: 46 mm, to: 42 mm}``.
    text : bool
        What is typed is a text, whatever signs are in it.

    Returns
    -------
    bytes

    Raises
    ------
    RequestError
        For what is no value, and places that cannot be changed without touching others.
    """
    value, written = _read(typed, text)
    old, root = _composed(source)
    near, rest = _nearest(root, path)
    if rest:
        new = _added(old, near, path, rest, written)
    else:
        new = old[: near.start_mark.index] + _styled(old, near, written, value) + old[_end(near) :]
    return _checked(source, new, with_value(source.data, path, value))


def take_away(source: Source, path: Keys) -> bytes:
    """The file without a key. Raises RequestError as ``put_value``."""
    old, root = _composed(source)
    parent, rest = _nearest(root, path[:-1])
    if rest or value_at(source.data, path[:-1]) is None:
        raise RequestError(f"{_said(path)} is not in the file")
    start, end = _entry(old, parent, str(path[-1]))
    inner = dict(value_at(source.data, path[:-1]))
    inner.pop(str(path[-1]), None)
    if not inner and not parent.flow_style:  # an empty group has to be written
        key, node = parent.value[0]
        new = old[: key.start_mark.index] + "{}" + old[_end(node) :]
    else:
        new = old[:start] + old[end:]
    return _checked(source, new, with_value(source.data, path[:-1], inner))


def rename_key(source: Source, path: Keys, name: str) -> bytes:
    """The file with another name for a key. Raises RequestError as ``put_value``."""
    old, root = _composed(source)
    parent, rest = _nearest(root, path[:-1])
    group = value_at(source.data, path[:-1])
    if rest or not isinstance(group, dict) or path[-1] not in group:
        raise RequestError(f"{_said(path)} is not in the file")
    if name in group:
        raise RequestError(f"there is a '{name}' already")
    key = next(k for k, _ in parent.value if k.value == path[-1])
    start, end = key.start_mark.index, key.end_mark.index
    new = old[:start] + _as_scalar(name) + old[end:]
    renamed = {name if k == path[-1] else k: v for k, v in group.items()}
    return _checked(source, new, with_value(source.data, path[:-1], renamed))


def copy_key(source: Source, path: Keys, name: str) -> bytes:
    """The file with a further key that holds what another does, at the end of its group."""
    old, root = _composed(source)
    node, rest = _nearest(root, path)
    if rest:
        raise RequestError(f"{_said(path)} is not in the file")
    group = value_at(source.data, path[:-1])
    if name in group:
        raise RequestError(f"there is a '{name}' already")
    parent, _ = _nearest(root, path[:-1])
    written = old[node.start_mark.index : _end(node)]
    if not parent.flow_style and isinstance(node, yaml.CollectionNode) and not node.flow_style:
        start, end = _entry(old, parent, str(path[-1]))  # a block goes as whole lines
        key = next(k for k, _ in parent.value if k.value == path[-1])
        at = _after(old, parent)
        chunk = old[start : key.start_mark.index] + _as_scalar(name) + old[key.end_mark.index : end]
        new = _with_line_end(old[:at], old) + chunk.rstrip("\r\n") + _newline(old) + old[at:]
    else:
        new = _added(old, parent, (*path[:-1], name), (name,), written)
    return _checked(source, new, with_value(source.data, (*path[:-1], name), value_at(source.data, path)))


def keys_in_order(source: Source, path: Keys, names: list[str]) -> bytes:
    """The file with the keys of a group in another order, each with the comment on its line."""
    old, root = _composed(source)
    parent, rest = _nearest(root, path)
    group = value_at(source.data, path)
    if rest or not isinstance(group, dict) or sorted(group) != sorted(names):
        raise RequestError(f"the names are not those of {_said(path)}")
    if parent.flow_style:
        spans = {k.value: (k.start_mark.index, _end(v)) for k, v in parent.value}
    else:
        spans = {k.value: _entry(old, parent, k.value) for k, _ in parent.value}
    new, at = "", 0
    for (start, end), name in zip(list(spans.values()), names, strict=True):
        new += old[at:start] + _with_line_end(old[slice(*spans[name])], old, not parent.flow_style)
        at = end
    new += old[at:]
    return _checked(source, new, with_value(source.data, path, {n: group[n] for n in names}))


def _composed(source: Source) -> tuple[str, yaml.Node]:
    """Text of the file (without a byte order mark) and its nodes."""
    text = source.raw.decode("utf-8-sig")
    root: Any = yaml.compose(text, Loader=yaml.SafeLoader)
    if _repeats(root, set()):
        raise RequestError("the file repeats parts of itself (*name): change it in an editor")
    return text, root


def _repeats(node: yaml.Node, seen: set[int]) -> bool:
    if id(node) in seen:
        return True
    seen.add(id(node))
    if isinstance(node, yaml.MappingNode):
        return any(_repeats(part, seen) for pair in node.value for part in pair)
    return isinstance(node, yaml.SequenceNode) and any(_repeats(part, seen) for part in node.value)


def _nearest(node: yaml.Node, path: Keys) -> tuple[Any, Keys]:
    """The node at a path, or the last group on the way there and what is missing. A value with a plus_minus
    is the value alone."""
    for k, step in enumerate(path):
        inner = _inner(node, step)
        if inner is None:
            return node, path[k:]
        node = inner
    sure = _inner(node, VALUE) if isinstance(node, yaml.MappingNode) else None
    return (node if sure is None else sure), ()


def _inner(node: yaml.Node, step: str | int) -> yaml.Node | None:
    if isinstance(node, yaml.MappingNode):
        return next((v for k, v in node.value if k.value == str(step)), None)
    if isinstance(node, yaml.SequenceNode) and isinstance(step, int) and step < len(node.value):
        return node.value[step]
    return None


def _read(typed: str, text: bool) -> tuple[Any, str]:
    """(what is meant, how it is written). Raises RequestError."""
    typed = typed.strip()
    if not typed or len(typed) > LONGEST or "\n" in typed or not typed.isprintable():
        raise RequestError(f"type a value in one line of at most {LONGEST} characters")
    if text:
        return typed, _as_scalar(typed)
    try:
        source = source_of(Path("what was typed"), f"x: {typed}".encode())
        return source.data["x"], typed
    except (InputError, KeyError):
        pass
    return typed, _as_scalar(typed)  # such as 17"


def _as_scalar(text: str) -> str:
    """A text as YAML writes it, in quotes where it must."""
    plain = _PLAIN.fullmatch(text) and ": " not in text and " #" not in text and not text.endswith(":")
    if plain and yaml.safe_load(text) == text:
        return text
    return _quoted(text)


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _end(node: Any) -> int:
    """Where a value ends: of a block, with its last value."""
    if isinstance(node, yaml.CollectionNode) and not node.flow_style and node.value:
        last = node.value[-1]
        return _end(last[1] if isinstance(last, tuple) else last)
    return node.end_mark.index


def _styled(old: str, node: Any, written: str, value: Any) -> str:
    """What is written, in the quotes that stood there, and a blank from its key."""
    style = node.style if isinstance(node, yaml.ScalarNode) else None
    if isinstance(value, str) and style == "'":
        written = "'" + value.replace("'", "''") + "'"
    elif isinstance(value, str) and style == '"':
        written = _quoted(value)
    start = node.start_mark.index
    if isinstance(node, yaml.CollectionNode) and not node.flow_style:  # a block began on a line of its own
        raise RequestError("a group on several lines cannot be replaced here; change its keys")
    return written if old[start - 1 : start].isspace() or old[start - 1 : start] in "[{" else f" {written}"


def _added(old: str, near: Any, path: Keys, rest: Keys, written: str) -> str:
    """The text with a key that was missing, in the last group on its way."""
    if any(isinstance(step, int) for step in rest):
        raise RequestError(f"{_said(path)}: that place is not in the list")
    for step in reversed(rest[1:]):
        written = f"{{{_as_scalar(str(step))}: {written}}}"
    entry = f"{_as_scalar(str(rest[0]))}: {written}"
    if isinstance(near, yaml.ScalarNode):
        if near.value or near.style is not None:
            raise RequestError(f"{_said(path)}: a single value stands there, not a group")
        at = near.start_mark.index
        return f"{old[:at]} {{{entry}}}{old[at:]}"
    if not isinstance(near, yaml.MappingNode):
        raise RequestError(f"{_said(path)}: a list stands there, not a group")
    if near.flow_style:
        at = near.end_mark.index - 1
        while old[at - 1].isspace():
            at -= 1
        comma = ", " if near.value and old[at - 1] != "," else " " if near.value else ""
        return f"{old[:at]}{comma}{entry}{old[at:]}"
    at = _after(old, near)
    indent = " " * near.value[0][0].start_mark.column
    return f"{_with_line_end(old[:at], old)}{indent}{entry}{_newline(old)}{old[at:]}"


def _after(old: str, group: Any) -> int:
    """Where the line of a block's last value ends."""
    at = old.find("\n", max(_end(group) - 1, 0))
    return len(old) if at < 0 else at + 1


def _entry(old: str, parent: Any, name: str) -> tuple[int, int]:
    """From where to where a key and its value stand: whole lines of a block, else with a comma."""
    at = next((k for k, (key, _) in enumerate(parent.value) if key.value == name), None)
    if at is None:
        raise RequestError(f"'{name}' is not in the file")
    key, node = parent.value[at]
    start, end = key.start_mark.index, _end(node)
    if parent.flow_style:
        if at + 1 < len(parent.value):
            return start, parent.value[at + 1][0].start_mark.index
        return (_end(parent.value[at - 1][1]) if at else start), end
    start = old.rfind("\n", 0, start) + 1
    if old[start : key.start_mark.index].strip():
        raise RequestError(f"'{name}' shares its line with others: change it in an editor")
    stop = old.find("\n", max(end - 1, 0))
    return start, len(old) if stop < 0 else stop + 1


def _newline(text: str) -> str:
    return "\r\n" if "\r\n" in text else "\n"


def _with_line_end(part: str, text: str, wanted: bool = True) -> str:
    return part + _newline(text) if wanted and part and not part.endswith("\n") else part


def _checked(source: Source, new: str, due: Any) -> bytes:
    """The bytes of the new text, if they say what they should. Raises RequestError."""
    mark = b"\xef\xbb\xbf" if source.raw.startswith(b"\xef\xbb\xbf") else b""
    raw = mark + new.encode()
    try:
        found = source_of(source.path, raw).data
    except InputError:
        found = None
    if found != due or list(map(str, _order(found))) != list(map(str, _order(due))):
        raise RequestError("this cannot be changed here without touching other lines: change it in an editor")
    return raw


def _order(data: Any) -> list:
    """The keys of all groups, in order."""
    if isinstance(data, dict):
        return [x for k, v in data.items() for x in (k, *_order(v))]
    return [x for v in data for x in _order(v)] if isinstance(data, list) else []


def _said(path: Keys) -> str:
    return ".".join(map(str, path))
