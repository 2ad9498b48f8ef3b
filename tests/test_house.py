"""The folders lie one above the other: nothing imports from a higher one."""

import ast
import re
import subprocess
import sys
from pathlib import Path

import pytest
from tests.conftest import DEMO, ROOT

import aircolumn

PACKAGE = Path(aircolumn.__file__).parent
#: From the ground up. Folders on one floor do not import each other.
FLOORS = (
    {"constants", "errors", "point_figures", "process", "protocols", "sources", "unfinished", "user_folder"},
    {"display_units"},
    {"flow/compiled"},
    {"flow/gas"},
    {"flow/arrays"},
    {"flow/duct"},
    {"flow/ends"},
    {"flow/cylinder", "space"},
    {"flow/march"},
    {"flow/network"},
    {"engine/rules_of_thumb", "engine/description"},
    {"engine/starter", "engine/model", "engine/uncertain"},
    {"curves"},
    {"curves/tuning"},
    {"measured", "study", "part"},
    {"study/bands", "measured/traces"},
    {"fuelling"},
    {"output"},
    {"output/page"},
    {"output/check", "output/curves", "output/explain"},
    {
        "output/account",
        "output/bands",
        "output/fuelling",
        "output/logsheet",
        "output/map",
        "output/part",
        "output/pull",
        "output/trace",
        "output/traces",
    },
    {"questions"},
    {"questions/search", "questions/sensitivity", "questions/sweep", "questions/tolerance"},
    {"live"},
    {"commands"},
    {"cli"},
    {"startup"},
    {"__init__", "__main__"},
)
FLOOR = {name: k for k, floor in enumerate(FLOORS) for name in floor}


def room_of(place: str) -> str:
    """The room of a module ("wing/folder/file", or "wing/file"): the longest that FLOORS names."""
    parts = place.split("/")
    return next(r for k in (2, 1) if (r := "/".join(parts[:k])) in FLOOR)


def upward_imports(file: Path, package: Path) -> list[str]:
    """Imports of a file from its own floor (another folder) or higher."""
    home = room_of(file.relative_to(package).as_posix().removesuffix(".py"))
    found = []
    for node in ast.walk(ast.parse(file.read_text())):
        names = [node.module] if isinstance(node, ast.ImportFrom) and node.module else []
        names += [a.name for a in node.names] if isinstance(node, ast.Import) else []
        for name in names:
            top, _, rest = name.partition(".")
            if top != "aircolumn" or not rest:
                continue
            there = room_of(rest.replace(".", "/"))
            if there != home and FLOOR[there] >= FLOOR[home]:
                found.append(f"{file.relative_to(package)}:{node.lineno}: {name}")
    return found


def test_nothing_imports_upward():
    files = [f for f in PACKAGE.rglob("*.py") if f.name != "__init__.py"]  # these hold a line of text
    assert [x for f in files for x in upward_imports(f, PACKAGE)] == []


def test_a_file_is_read_without_the_compiler():
    """Numba takes a third of a second to load."""
    script = (
        "import sys; import aircolumn; aircolumn.load(sys.argv[1]);"
        "assert not {'numba', 'llvmlite'} & set(sys.modules)"
    )
    subprocess.run([sys.executable, "-c", script, str(DEMO)], check=True)


def test_an_upward_import_is_noticed(tmp_path):
    (tmp_path / "flow" / "gas").mkdir(parents=True)
    file = tmp_path / "flow" / "gas" / "air.py"
    file.write_text("from aircolumn.engine.model.figures import FIGURES\nimport aircolumn.errors\n")
    assert upward_imports(file, tmp_path) == ["flow/gas/air.py:1: aircolumn.engine.model.figures"]


@pytest.mark.parametrize("file", sorted(PACKAGE.rglob("*.py")), ids=lambda f: f.stem)
def test_rooms_are_small(file):
    """No file over 400 lines, no function over 60 (docstring apart); every folder says what lives
    there."""
    text = file.read_text()
    assert text.count("\n") <= 400
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef):
            said = node.body[0].end_lineno if ast.get_docstring(node) else node.lineno
            assert node.end_lineno - said < 60, node.name
    if file.name == "__init__.py":
        assert ast.get_docstring(ast.parse(text))


def test_no_public_name_stands_in_two_modules():
    """Whoever searches for a name finds one thing. Commands share two by design, and the two kinds
    of views all of theirs."""
    where: dict[str, set[str]] = {}
    for file in PACKAGE.rglob("*.py"):
        for node in ast.parse(file.read_text()).body:
            if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_"):
                where.setdefault(node.name, set()).add(str(file.relative_to(PACKAGE)))
    views = {"flow/compiled/intrinsics.py", "flow/compiled/plain.py"}
    twice = {
        name: sorted(files)
        for name, files in where.items()
        if len(files) > 1 and files != views and name not in ("Request", "run")
    }
    assert not twice


NAMED = re.compile(r"(?<![\w/.{}])((?:[A-Za-z_]+/)*[A-Za-z_]+\.(?:py|md|c))\b")


def test_files_that_are_named_exist():
    """A comment or a page that sends its reader to a file that was renamed."""
    parts = ("solver", "tests", "validation", "notebooks", "configs")
    files = [p for part in parts for p in (ROOT / part).rglob("*") if p.is_file()] + list(ROOT.glob("*.md"))
    names = {p.name for p in files}
    folders = [ROOT / "solver", ROOT / "tests", PACKAGE, *(p for p in PACKAGE.rglob("*") if p.is_dir())]
    stale = []
    for file in files:
        if file.suffix not in (".py", ".md", ".c", ".js", ".yaml") or file.is_relative_to(ROOT / "tests"):
            continue  # tests make files up
        for name in NAMED.findall(file.read_text()):
            there = any((place / name).exists() for place in (*folders, *file.parents))
            if not there and ("/" in name or name not in names):
                stale.append(f"{file.relative_to(ROOT)}: {name}")
    assert stale == []


def test_no_file_of_output_is_a_splinter():
    """Under thirty lines a file costs more to find than to read."""
    files = [p for wing in ("output", "questions") for p in (PACKAGE / wing).rglob("*.py")]
    files = [p for p in files if p.name != "__init__.py"]
    assert [p.name for p in files if len(p.read_text().splitlines()) < 30] == []
