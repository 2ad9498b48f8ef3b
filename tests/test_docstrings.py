"""Public functions say what they take, return and raise: every parameter by its name."""

import inspect
import re

import pytest

import aircolumn
from aircolumn import Network
from aircolumn.flow.network.run import Run

NEVER_RAISES = {"beside", "sentences", "map_table", "wave_split"}
PUBLIC = {name: getattr(aircolumn, name) for name in aircolumn.__all__}
FUNCTIONS = {name: f for name, f in PUBLIC.items() if inspect.isfunction(f)}
FUNCTIONS |= {
    f"{owner.__name__}.{name}": method
    for owner, names in ((Network, dir(Network)), (Run, ("march", "profile", "held")))
    for name in names
    if inspect.isfunction(method := getattr(owner, name)) and not name.startswith("_")
}
DATA = [c for c in PUBLIC.values() if inspect.isclass(c) and hasattr(c, "__dataclass_fields__")]


def section(text, title):
    """The lines under a heading of a docstring."""
    found = re.search(rf"^{title}\n-+\n(.*?)(?=^\w[\w ]*\n-+\n|\Z)", text, re.MULTILINE | re.DOTALL)
    return found[1] if found else ""


def named(lines):
    """Parameters that have an entry."""
    entries = re.findall(r"^([\w*, ]+?)(?: :.*)?$", lines, re.MULTILINE)
    return {name.strip().lstrip("*") for entry in entries for name in entry.split(",")}


@pytest.mark.parametrize("name", FUNCTIONS)
def test_a_function_says_what_it_takes_returns_and_raises(name):
    function, text = FUNCTIONS[name], inspect.getdoc(FUNCTIONS[name]) or ""
    taken = set(inspect.signature(function).parameters) - {"self"}
    assert taken <= named(section(text, "Parameters")), text
    if inspect.signature(function).return_annotation not in (None, "None"):
        assert section(text, "Returns"), text
    assert name in NEVER_RAISES or section(text, "Raises"), text


@pytest.mark.parametrize("kind", DATA, ids=lambda c: c.__name__)
def test_data_say_what_they_hold(kind):
    told = named(section(inspect.getdoc(kind) or "", "Parameters"))
    own = {"gas", "conservative", "products"} if kind is Network else set(kind.__dataclass_fields__)
    assert own <= told
