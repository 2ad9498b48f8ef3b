"""Recipes of DEVELOPERS.md, followed to the letter in a copy of the project."""

import csv
import json
import os
import shutil
import subprocess
import sys

import jsonschema
import numpy as np
import pytest
import xarray as xr
from tests.conftest import CLASSROOM, DEMO, ROOT

pytestmark = pytest.mark.slow  # the key reaches the kernels: they are compiled anew

#: file: [(a line there, what is put behind it)]
WALL_VALUE = {
    "engine/description/pipes.py": [
        (
            '        1.0, description="multiplier of the steady friction law"\n    )\n',
            "    drag_factor: Annotated[float, plain_number(0.0, 10.0)] = Field(\n"
            '        1.0, description="multiplier of all drag"\n    )\n',
        ),
        ('            "friction": self.friction_factor,\n', '            "drag_factor": self.drag_factor,\n'),
    ],
    "flow/network/items.py": [("    friction: Along = 0.0\n", "    drag_factor: Along = 1.0\n")],
    "flow/arrays/ducts.py": [('    "diameter rough wall ', "drag_factor ")],
    "flow/duct/reconstruction.py": [
        ("drag = mesh.friction[j] * rate + 0.5 * mesh.bend[j]\n", "        drag *= mesh.drag_factor[j]\n")
    ],
}
LEFT = shutil.ignore_patterns("__pycache__", "*.egg-info")
COMMAND = '''"""``greet``: says whose engine it is."""

from dataclasses import dataclass

from aircolumn.commands import options
from aircolumn.commands.results import Answer


@dataclass(frozen=True)
class Request(options.EngineFile):
    """What ``greet`` is asked."""


@dataclass(frozen=True)
class Greeting:
    """The title."""

    title: str


def run(request: Request) -> Answer[Greeting]:
    """The title of an engine file."""
    title = request.read().engine.title
    return Answer([f"this is: {title}"], result=lambda: Greeting(title))
'''


@pytest.fixture
def copy(tmp_path):
    """The project, to be changed."""
    for name in ("solver", "tests", "configs", "validation", "notebooks"):
        shutil.copytree(ROOT / name, tmp_path / name, ignore=LEFT)
    for file in (ROOT / "pyproject.toml", *ROOT.glob("*.md")):
        shutil.copy(file, tmp_path)
    return tmp_path


def python(copy, *words) -> str:
    """What Python prints in the copy."""
    environment = {**os.environ, "PYTHONPATH": f"{copy / 'solver'}:{copy}"}
    done = subprocess.run(
        [sys.executable, *words], cwd=copy, env=environment, text=True, capture_output=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_a_wall_value_that_reaches_the_kernels(copy):
    changed(copy, WALL_VALUE)
    (copy / "configs" / "KEYS.md").write_text(python(copy, "-m", "aircolumn", "schema", "--keys"))
    python(copy, "-m", "tests.frozen_defaults")
    assert (
        "| `drag_factor` | number from 0 to 10 | 1 | multiplier of all drag |"
        in (copy / "configs" / "KEYS.md").read_text()
    )
    assert json.loads((copy / "tests" / "defaults.json").read_text())["Runner"]["drag_factor"] == 1.0
    tests = ("tests/engine/test_keys.py", "tests/engine/test_defaults.py", "tests/test_house.py")
    python(copy, "-m", "pytest", "-q", "-p", "no:cacheprovider", *tests)

    text = CLASSROOM.read_text()
    runner = "  runner:\n"
    assert text.count(runner) == 1
    (copy / "rough.yaml").write_text(text.replace(runner, runner + "    drag_factor: 8\n"))
    script = (
        "import aircolumn, sys; p = aircolumn.operating_point;"
        " print(*(float(p(aircolumn.load(f).engine, 4000.0).figures['ve']) for f in sys.argv[1:]))"
    )
    plain, rough = map(float, python(copy, "-c", script, str(CLASSROOM), "rough.yaml").split())
    assert plain == pytest.approx(point(4000.0), rel=1e-12)  # 1 changes nothing
    assert rough < plain - 0.01
    wrong = copy / "wrong.yaml"
    wrong.write_text(text.replace(runner, runner + "    drag_factor: 50\n"))
    done = subprocess.run(
        [sys.executable, "-m", "aircolumn", "check", str(wrong)],
        env={**os.environ, "PYTHONPATH": str(copy / "solver")},
        text=True,
        capture_output=True,
        check=False,
    )
    assert done.returncode == 2
    assert "drag_factor" in done.stderr


def point(rpm: float) -> float:
    """VE of the classroom engine by the project as it is."""
    import aircolumn

    return float(aircolumn.operating_point(aircolumn.load(CLASSROOM).engine, rpm).figures["ve"])


def test_a_command(copy):
    commands = copy / "solver" / "aircolumn" / "commands"
    (commands / "greet.py").write_text(COMMAND)
    table = commands / "__init__.py"
    line = '    "new": "a first engine file from a few basic figures",\n'
    assert line in table.read_text()
    table.write_text(table.read_text().replace(line, line + '    "greet": "says whose engine it is",\n'))
    assert "greet" in python(copy, "-m", "aircolumn", "--help")
    assert python(copy, "-m", "aircolumn", "greet", str(CLASSROOM)).startswith("this is: ")
    assert '"Greeting": {' in python(copy, "-m", "aircolumn", "schema", "--answers")
    python(copy, "-m", "pytest", "-q", "-p", "no:cacheprovider", "tests/test_house.py")


CORNERS = '''"""Corners: the torque at every corner of the spans."""

from dataclasses import dataclass
from itertools import product

import numpy as np
import xarray as xr

from aircolumn.questions.kind import Question
from aircolumn.study.models import Asked
from aircolumn.study.points import computed


class Corners(Asked):
    """No keys of its own."""

    def cases(self, keys: int) -> int:
        return 2**keys


@dataclass(frozen=True)
class CornersFound:
    values: list[list[float]]
    torque: list[list[float]]


class CornersQuestion(Question[CornersFound]):
    name = "corners"
    found = CornersFound
    keys = Corners

    def ask(self, plan, work):
        rows = plan.scaled(list(product((0.0, 1.0), repeat=len(plan.axes))))
        table = computed(plan.on(work.cells.final), rows, work.store, work.executor, work.progress)
        return CornersFound([list(r) for r in rows], [[o.figure("torque") for o in row] for row in table])

    def text(self, plan, result):
        return f"{len(result.values)} corners"

    def tables(self, plan, result, folder):
        np.savetxt(folder / "study.csv", result.torque, delimiter=",")
        return xr.Dataset({"torque": (("corner", "rpm"), result.torque)})

    def draw(self, plan, result, folder):
        return []

    def page(self, plan, result):
        return "What do the corners make?", self.text(plan, result), []

    def plain(self, plan, result):
        return result


QUESTION = CornersQuestion()
'''


def test_a_kind_of_study(copy):
    """One folder: its key is read, and it is computed, printed, written, told as JSON and shown."""
    folder = copy / "solver" / "aircolumn" / "questions" / "corners"
    folder.mkdir()
    (folder / "__init__.py").write_text('"""Corners."""\n')
    (folder / "question.py").write_text(CORNERS)
    study = copy / "corners.yaml"
    vary = "vary:\n  intake.runner.length: {from: 300 mm, to: 500 mm}\n"
    study.write_text(f"engine: configs/{CLASSROOM.name}\nspeeds: [4000 rpm, 5000 rpm]\n{vary}corners: {{}}\n")
    run = ("-m", "aircolumn")
    assert "2 corners" in python(copy, *run, "study", "corners.yaml", "--out", "o")
    torque = np.loadtxt(copy / "o" / "study.csv", delimiter=",")
    assert torque.shape == (2, 2)
    assert xr.open_dataset(copy / "o" / "study.nc", engine="scipy").torque.values == pytest.approx(torque)
    answer = json.loads(python(copy, *run, "study", "corners.yaml", "--out", "o", "--json"))
    assert answer["result"]["question"] == "corners"
    assert answer["result"]["answer"]["values"] == [[300.0], [500.0]]
    schema = json.loads(python(copy, *run, "schema", "--answers"))
    jsonschema.validate(answer, schema)
    assert "CornersFound" in schema["$defs"]
    python(copy, *run, "report", "corners.yaml", "--out", "r")
    assert "What do the corners make?" in (copy / "r" / "report.html").read_text()
    study.write_text(study.read_text() + "sensitivity: {count: 8}\n")
    done = subprocess.run(
        [sys.executable, *run, "study", "corners.yaml"],
        cwd=copy,
        env={**os.environ, "PYTHONPATH": str(copy / "solver")},
        text=True,
        capture_output=True,
        check=False,
    )
    assert "one study answers one question" in done.stderr


FIGURE = {
    "point_figures.py": (
        '    "cycles": Figure(',
        '    "air_per_cycle": Figure("kg", "mass", "air trapped in a cycle", "air per cycle", 17),\n',
    ),
    "engine/model/figures.py": ('        "ve": trapped / full,\n', '        "air_per_cycle": trapped,\n'),
}


def test_a_figure(copy):
    """One line and one formula: it is in every table and file, in the units of each."""
    for name, (line, more) in FIGURE.items():
        file = copy / "solver" / "aircolumn" / name
        text = file.read_text()
        assert text.count(line) == 1, (name, line)
        file.write_text(text.replace(line, more + line))
    (copy / "configs" / "FIGURES.md").write_text(python(copy, "-m", "aircolumn", "schema", "--figures"))
    run = ("-m", "aircolumn")
    common = (str(CLASSROOM), "--rpm", "4000", "5000")
    printed = python(copy, *run, "curve", *common, "--out", "o").splitlines()
    table = printed[next(k for k, line in enumerate(printed) if line.split()[:1] == ["rpm"]) :]
    assert "air per cycle mg" in table[0]
    rows = list(csv.DictReader((copy / "o" / "curve.csv").read_text().splitlines()))
    values = [float(row["air_per_cycle [mg]"]) for row in rows]
    assert 300.0 < values[0] < 900.0
    for row, ve, value in zip(table[2:4], (float(row["ve [%]"]) for row in rows), values, strict=True):
        assert row.split()[-1] == f"{value:.1f}"
        assert value / ve == pytest.approx(values[0] / float(rows[0]["ve [%]"]))
    data = xr.open_dataset(copy / "o" / "curve.nc", engine="scipy")
    assert data.air_per_cycle.values.ravel() == pytest.approx(1e-6 * np.array(values), rel=1e-6)
    assert data.air_per_cycle.attrs["long_name"] == "air trapped in a cycle"
    answer = json.loads(python(copy, *run, "curve", *common, "--json", "--out", "o"))
    told = answer["result"]["curves"]["figures"]["air_per_cycle"]
    assert np.ravel(told["values"]) == pytest.approx(data.air_per_cycle.values.ravel())
    demo = (str(DEMO), "--rpm", "4000", "--figures", "air_per_cycle")
    assert "long air per cycle mg" in python(copy, *run, "compare", *demo, "--out", "c")
    python(copy, *run, "report", *demo, "--out", "r")
    assert "long air per cycle mg" in (copy / "r" / "report.html").read_text()
    assert "| `air_per_cycle` * | kg | air per cycle |" in (copy / "configs" / "FIGURES.md").read_text()
    tests = ("tests/engine/test_keys.py", "tests/test_house.py")
    python(copy, "-m", "pytest", "-q", "-p", "no:cacheprovider", *tests)


#: A reed: file: [(a line there, what is put behind it)]
REED = {
    "flow/arrays/ends.py": [
        (
            "VELOCITY = 9  # wall whose velocity follows a signal over time\n",
            "REED = 10  # one-way throat out of a volume\n",
        ),
        ('"EndValues", "loss throat speed frequency p rho burned inertance angle', " opens wide"),
    ],
    "flow/ends/boundary_conditions.py": [
        ("    PRESSURE,\n    RESTRICTION,\n", "    REED,\n"),
        (
            "        from_volume(net, end, w, p, target)\n\n\n",
            '''@routine
def reed(net, end, earlier, target):
    """One-way throat out of the volume: its area follows the pressure difference of the stage before, in a
    straight line from shut at ``opens`` to the whole at ``wide``."""
    ends, states, arrivals = ends_of(net), states_of(net), arrivals_of(net)
    volume = ends.volume[end]
    p0, invariant, impedance = states.p[volume], arrivals.invariant[end], arrivals.impedance[end]
    guess = nodes_at(net, earlier).p[ends.node[end]]
    lift = (p0 - guess - ends.opens[end]) / (ends.wide[end] - ends.opens[end])
    throat = ends.throat[end] * min(max(lift, 0.0), 1.0)
    area = mesh_of(net).area[ends.node[end]]
    if invariant < p0 and throat > 0.0:
        rho0, gamma = states.leaving[volume], states.gamma[volume]
        entering = invariant, impedance, area, min(throat, area), p0, rho0, gamma, 0.0, 0.0
        p, _ = through_throat(False, entering, guess, 0.0)
        from_volume(net, end, (p - invariant) / impedance, p, target)
    else:
        from_inside(net, end, 0.0, invariant, target)


''',
        ),
        (
            "                junction(net, end, target)\n",
            "        elif kind == REED:\n            reed(net, end, earlier, target)\n",
        ),
    ],
    "flow/network/items.py": [
        ("    angle: float = NO_DIRECTION\n", "    opens: float = 0.0\n    wide: float = 1.0\n")
    ],
    "flow/network/duct_ends.py": [
        (
            "        self._end(duct, side, End(ea.RESTRICTION, volume, throat=area))\n\n",
            '''    def reed(self, duct, side, volume, area, opens, wide) -> None:
        """One-way throat out of ``volume``."""
        self._end(duct, side, End(ea.REED, volume, throat=area, opens=opens, wide=wide))

''',
        )
    ],
}
PAIRED = """
from aircolumn import GasState, Network, perfect_gas, straight

def marched(pressure, *other):
    net = Network(perfect_gas())
    net.duct("pipe", straight(0.5, 0.04), 20, GasState(pressure=pressure, temperature=300.0))
    net.vessel("air", 1.0, 1e5, 300.0)
    net.vessel("beyond", 1.0, 1e5, 300.0)
    net.reed("pipe", "right", "air", 5e-4, 1e3, 4e3)
    if other[0] == "join":
        net.duct("more", straight(0.3, 0.04), 12, GasState(pressure=pressure, temperature=300.0))
        net.join(("pipe", "left"), ("more", "left"))
        net.closed("more", "right")
    else:
        getattr(net, other[0])("pipe", "left", *other[1:])
    run = net.ready()
    before = run.held("pipe").mass + float(run.blocks.volumes[0, :, 0].sum())
    held = run.held("pipe").mass
    run.march(0.004)
    whole = run.held("pipe").mass + float(run.blocks.volumes[0, :, 0].sum())
    if other[0] != "join":
        assert abs(whole / before - 1.0) < 1e-12, other
    return run.held("pipe").mass / held

two = ("reed", "air", 5e-4, 1e3, 4e3)
for other in (("closed",), ("opening", "air"), ("opening", "beyond"), two, ("join",)):
    assert marched(0.9e5, *other) > 1.01, other  # it lets gas in
assert abs(marched(1.1e5, "closed") - 1.0) < 1e-12  # and none out
print("sound")
"""


def changed(copy, changes):
    """Put lines behind lines of the copy's sources."""
    for name, pairs in changes.items():
        file = copy / "solver" / "aircolumn" / name
        text = file.read_text()
        for line, more in pairs:
            assert text.count(line) == 1, (name, line)
            text = text.replace(line, line + more)
        file.write_text(text)


def test_an_end(copy):
    """A reed, beside each kind of thing that may stand at the duct's other end: nothing is read that is not
    its own (the march in Python sees to that), no ring is walked without end, and what is compiled agrees."""
    changed(copy, REED)
    environment = {**os.environ, "PYTHONPATH": f"{copy / 'solver'}:{copy}"}
    for plain in ("1", ""):
        done = subprocess.run(
            [sys.executable, "-c", PAIRED],
            env=environment | {"AIRCOLUMN_PLAIN": plain},
            text=True,
            capture_output=True,
            timeout=300,
            check=False,
        )
        assert done.stdout == "sound\n", done.stderr
