"""YAML text to plain data that remembers where every key and value stood.

PyYAML does the parsing; this adds positions, refuses duplicate keys (which PyYAML silently
overwrites) and caps the size, so that a wrong file ends in a message and not in a full memory. What
an alias (*name) repeats counts each time.
"""

from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import yaml

from aircolumn.engine.description.spread import PLUS_MINUS, VALUE, check_spread
from aircolumn.engine.description.text_file import AsRead, read_bytes, text_of, wrong
from aircolumn.errors import InputError, Problem

LARGEST_FILE = 1_000_000  # bytes
MOST_VALUES = 20_000
_SEXAGESIMAL = ("tag:yaml.org,2002:int", "tag:yaml.org,2002:float")  # YAML 1.1 reads 1:30 as 90
GREATEST = 2**53  # of a whole number: greater ones have no exact float
PLAIN = (str, int, float, bool, type(None))


@dataclass
class Source:
    """Data of a file, the (line, column) of the value at each key path, and the bytes it was read
    from; ``beside``: the files it names, by name, as they were read; ``spreads``: how uncertain the values
    are that say so, by key path, as written."""

    path: Path
    data: dict = field(default_factory=dict)
    places: dict = field(default_factory=dict)
    raw: bytes = b""
    beside: dict[str, AsRead] = field(default_factory=dict)
    spreads: dict[tuple, Any] = field(default_factory=dict)

    @property
    def files(self) -> list[AsRead]:
        """The engine or study file, and the files it names in its own folder."""
        near = (file for name, file in self.beside.items() if Path(name).name == name)
        return [AsRead(self.path, self.raw), *near]

    def with_data(self, data: dict) -> "Source":
        """The same file with other data in place of its own, all of it sure."""
        return replace(self, data=data, spreads={})

    def place(self, path: tuple) -> tuple[int, int]:
        """Position of the value at ``path``, or of the nearest thing above it."""
        while path and path not in self.places:
            path = path[:-1]
        return self.places.get(path, (1, 1))


def read_source(path: Path) -> Source:
    """Read a YAML file whose top level is a mapping. Raises InputError."""
    path = Path(path)
    return source_of(path, read_bytes(path, LARGEST_FILE))


def source_of(path: Path, raw: bytes) -> Source:
    """The same from the bytes of a file at ``path``."""
    source = Source(path, raw=raw)
    text = text_of(path, source.raw)
    try:
        root = yaml.compose(text, Loader=_Loader)
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        line, column = (mark.line + 1, mark.column + 1) if mark else (1, 1)
        said = f"not valid YAML: {error.problem}"
        if "'\\t'" in said:
            said = "a tab stands here; YAML wants blanks"
        raise wrong(path, said, line, column) from None
    except (yaml.YAMLError, RecursionError):
        raise wrong(path, "not valid YAML: it has characters or nesting YAML cannot have") from None
    except _TooMany:
        raise wrong(path, f"more than {MOST_VALUES} values") from None
    if root is None:
        raise wrong(path, "the file is empty; 'engine:' and the other sections are expected")
    if not isinstance(root, yaml.MappingNode):
        raise wrong(path, "the file must be a list of 'key: value' lines, such as 'engine:'")
    reader = _Reader(source)
    try:
        source.data = reader.value(root, ())
    except _TooMany:
        raise wrong(path, f"more than {MOST_VALUES} values, those of aliases repeated") from None
    except RecursionError:
        raise wrong(path, "the file nests too deeply") from None
    if reader.problems:
        raise InputError(path, reader.problems)
    return source


def problem(source: Source, path: Any, message: str) -> Problem:
    """What is wrong at a key of the file."""
    line, column = source.place(path)
    return Problem(line, column, ".".join(map(str, path)), message)


class _TooMany(Exception):
    """More nodes than a file may have."""


class _Loader(yaml.SafeLoader):
    """Counts what it composes, so that a long file is refused soon."""

    def __init__(self, text: str) -> None:
        super().__init__(text)
        self.count = 0

    def compose_node(self, parent: yaml.Node | None, index: Any) -> yaml.Node | None:
        self.count += 1
        if self.count > MOST_VALUES:
            raise _TooMany
        return super().compose_node(parent, index)


class _Reader:
    """Turns composed nodes into data, noting places and problems."""

    def __init__(self, source: Source) -> None:
        self.source = source
        self.problems: list[Problem] = []
        self.scalars = yaml.constructor.SafeConstructor()
        self.count = 0

    def value(
        self, node: yaml.MappingNode | yaml.ScalarNode | yaml.SequenceNode, path: tuple[int | str, ...]
    ) -> Any:
        self.count += 1
        if self.count > MOST_VALUES:
            raise _TooMany
        mark = node.start_mark
        self.source.places[path] = (mark.line + 1, mark.column + 1)
        if isinstance(node, yaml.MappingNode):
            return self.mapping(node, path)
        if isinstance(node, yaml.SequenceNode):
            return [self.value(item, (*path, i)) for i, item in enumerate(node.value)]
        return self.scalar(node, path)

    def mapping(self, node: yaml.MappingNode, path: tuple[int | str, ...]) -> dict[str, Any]:
        data = {}
        for key_node, value_node in node.value:
            key = key_node.value if isinstance(key_node, yaml.ScalarNode) else None
            mark = key_node.start_mark
            if key is None:
                self.wrong(mark, path, "a key must be a single word")
            elif not key.isprintable():
                self.wrong(mark, path, "a key with control characters cannot be used")
            elif key in data:
                self.wrong(mark, (*path, key), "this key appears twice; keep one of them")
            else:
                data[key] = self.value(value_node, (*path, key))
        return self.sure(data, path) if VALUE in data else data

    def sure(self, data: dict[str, Any], path: tuple[int | str, ...]) -> Any:
        """The value of ``{value: 420 mm, plus_minus: 2 mm}``; how uncertain it is, is noted."""
        if set(data) != {VALUE, PLUS_MINUS}:
            line, column = self.source.places[path]
            said = f"{VALUE} goes with {PLUS_MINUS} alone: {{{VALUE}: 420 mm, {PLUS_MINUS}: 2 mm}}"
            self.problems.append(Problem(line, column, ".".join(map(str, path)), said))
            return None
        try:
            check_spread(data[VALUE], data[PLUS_MINUS])
        except ValueError as error:
            place = (*path, PLUS_MINUS)
            self.problems.append(problem(self.source, place, str(error)))
        self.source.spreads[path] = data[PLUS_MINUS]
        return data[VALUE]

    def scalar(self, node: yaml.ScalarNode, path: tuple[int | str, ...]) -> float | str | None:
        if node.tag in _SEXAGESIMAL and ":" in node.value:
            return node.value  # text, as in YAML 1.2
        try:
            value = self.scalars.construct_object(node)
        except Exception:  # PyYAML's constructors raise many kinds of error on wrong text
            value = None
            self.wrong(node.start_mark, path, f"'{node.value[:60]}' cannot be read as a value")
        if not isinstance(value, PLAIN) or (isinstance(value, int) and abs(value) > GREATEST):
            self.wrong(node.start_mark, path, f"'{node.value[:60]}' cannot be used as a value here")
            return None
        if isinstance(value, str) and not value.isprintable():
            value = value.encode("utf-8", "backslashreplace").decode()
            if not value.replace("\n", " ").replace("\t", " ").isprintable():
                self.wrong(node.start_mark, path, "a text with control characters cannot be used")
        return value

    def wrong(self, mark: yaml.Mark, path: tuple[int | str, ...], message: str) -> None:
        key = ".".join(map(str, path))
        self.problems.append(Problem(mark.line + 1, mark.column + 1, key, message))
