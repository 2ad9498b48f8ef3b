"""Values of a YAML file changed in its text: nothing else changes, and the file says what it should."""

import random
from pathlib import Path

import pytest
from tests.conftest import ROOT

from aircolumn.engine.description import text_edits
from aircolumn.engine.description.places import value_at, with_value
from aircolumn.engine.description.source import source_of
from aircolumn.errors import RequestError

FILES = sorted((ROOT / "configs").glob("*.yaml"))
TRICKY = """\
# first
a:   {x: 1, 'y': "two, three"   , z: [1 mm, 2 mm]}   # flow
b:
    long: {length: 650 mm}   # keeps its words

    short:
        length: 290 mm # one
        entry:
            shape: plain
# in between
c:
d: {value: 5 mm, plus_minus: 1 mm}
list:
  - {filter: {flow: 80 g/s}}
  - pipe: {length: 60 mm}"""


def source(text, raw=None):
    return source_of(Path("engine.yaml"), text.encode() if raw is None else raw)


def lines_that_differ(old, new):
    old, new = old.splitlines(keepends=True), new.splitlines(keepends=True)
    while old and new and old[0] == new[0]:
        old, new = old[1:], new[1:]
    while old and new and old[-1] == new[-1]:
        old, new = old[:-1], new[:-1]
    return old, new


@pytest.mark.parametrize("end", ["\n", "\r\n"], ids=["lf", "crlf"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"], ids=["", "bom"])
@pytest.mark.parametrize(
    ("path", "typed", "was", "now"),
    [
        (("a", "x"), "2.5", "a:   {x: 1, 'y'", "a:   {x: 2.5, 'y'"),
        (("a", "y"), "four", '"two, three"   ,', '"four"   ,'),
        (("a", "new"), "7 mm", "2 mm]}", "2 mm], new: 7 mm}"),
        (("a", "z", 1), "3 in", "2 mm]", "3 in]"),
        (("b", "long", "length"), "17 in", "650 mm}   #", "17 in}   #"),
        (("b", "short", "length"), "300 mm", "290 mm # one", "300 mm # one"),
        (("b", "short", "entry", "shape"), "bellmouth", "shape: plain", "shape: bellmouth"),
        (("c",), "3", "c:", "c: 3"),
        (("c", "deep", "er"), "3", "c:", "c: {deep: {er: 3}}"),
        (("d",), "6 mm", "value: 5 mm", "value: 6 mm"),
        (("list", 0, "filter", "flow"), "90 g/s", "80 g/s", "90 g/s"),
        (("list", 1, "pipe", "length"), "61 mm", "60 mm", "61 mm"),
    ],
)
def test_only_the_value_changes(path, typed, was, now, end, mark):
    text = TRICKY.replace("\n", end)
    before = source(text, mark + text.encode())
    assert text_edits.put_value(before, path, typed) == mark + text.replace(was, now, 1).encode()


@pytest.mark.parametrize(
    ("path", "gone"),
    [
        (("a", "x"), "x: 1, "),
        (("a", "z"), ", z: [1 mm, 2 mm]"),
        (("b", "long"), "    long: {length: 650 mm}   # keeps its words\n"),
        (("b", "short", "length"), "        length: 290 mm # one\n"),
    ],
)
def test_a_key_is_taken_away(path, gone):
    found = text_edits.take_away(source(TRICKY), path).decode()
    assert found.replace("   }", "}") == TRICKY.replace(gone, "", 1).replace("   }", "}")


def test_the_last_key_leaves_an_empty_group():
    found = text_edits.take_away(source(TRICKY), ("b", "short", "entry", "shape")).decode()
    assert source(found).data["b"]["short"]["entry"] == {}


def test_candidates_are_named_copied_and_ordered():
    text = "runners:\n  a: {length: 1 mm}  # one\n  b:\n    length: 2 mm\n  # of c\n  c: {}\nx: 1\n"
    assert text_edits.rename_key(source(text), ("runners", "b"), "wide b").decode() == text.replace(
        "b:", "wide b:"
    )
    twice = text_edits.copy_key(source(text), ("runners", "b"), "b 2").decode()
    assert twice == text.replace("  c: {}\n", "  c: {}\n  b 2:\n    length: 2 mm\n")
    swapped = text_edits.keys_in_order(source(text), ("runners",), ["c", "b", "a"]).decode()
    assert list(source(swapped).data["runners"]) == ["c", "b", "a"]
    assert "a: {length: 1 mm}  # one\n" in swapped
    with pytest.raises(RequestError, match="there is a 'a' already"):
        text_edits.rename_key(source(text), ("runners", "b"), "a")


@pytest.mark.parametrize(
    ("text", "path", "typed", "said"),
    [
        ("a: &one {x: 1}\nb: *one\n", ("a", "x"), "2", "repeats parts"),
        ("a: 1\n", ("a", "x"), "2", "a single value stands there"),
        ("a: [1]\n", ("a", 4), "2", "not in the list"),
        ("a:\n  x: 1\n", ("a",), "2", "on several lines"),
        ("a: 1\n", ("a",), "2\nb: 3", "one line"),
        ("a: 1\n", ("a",), "", "type a value"),
        ("a: 1\n", ("a",), "\x1b[2J", "one line"),
    ],
)
def test_what_cannot_be_changed_is_said(text, path, typed, said):
    with pytest.raises(RequestError, match=said):
        text_edits.put_value(source(text), path, typed)


@pytest.mark.parametrize(
    "typed", ["a: b", "x # y", "#1", "true", "12", "- x", 'it\'s "so"', "{", "é ü", "a\\b", "*", "no"]
)
def test_a_text_stays_a_text(typed):
    found = text_edits.put_value(source("title: x\nb: 1\n"), ("title",), typed, text=True)
    assert source("", found).data == {"title": typed, "b": 1}


@pytest.mark.parametrize("file", FILES, ids=lambda f: f.stem)
def test_random_edits_of_every_example(file):
    """A value here and there: one line changes, and the data are those due."""
    chance, now = random.Random(1), source("", file.read_bytes())

    def places(data, path=()):
        if isinstance(data, dict):
            return [p for k, v in data.items() for p in places(v, (*path, k))]
        return [path]

    for _ in range(15):
        path = chance.choice(places(now.data))
        typed = chance.choice(["17 in", "0.5", "300 mm", "[1, 2]", "{from: 46 mm, to: 42 mm}"])
        due = with_value(now.data, path, source(f"x: {typed}\n").data["x"])
        if isinstance(value_at(now.data, path), list) and file.stem.startswith("study"):  # on several lines
            continue
        after = source("", text_edits.put_value(now, path, typed))
        assert after.data == due
        old, new = lines_that_differ(now.raw.decode(), after.raw.decode())
        assert len(old) <= 8
        assert len(new) <= 1
        key = chance.choice(places(after.data))
        if len(key) > 1 and isinstance(value_at(after.data, key[:-1]), dict):
            less = source("", text_edits.take_away(after, key))
            group = {k: v for k, v in value_at(after.data, key[:-1]).items() if k != key[-1]}
            assert less.data == with_value(after.data, key[:-1], group)
        now = after
