"""Every command on any legal engine: an answer or a message, figures that are numbers, and what is drawn of
one length. Bores that step, throats, cones and megaphones, collectors, silencers, inlets, open air."""

import csv
import json

import numpy as np
import pytest
from tests import made_up
from tests.conftest import CLASSROOM, ROOT
from tests.printed import command
from tests.random_engines import legal_data
from tests.spoiled import as_yaml

import aircolumn
from aircolumn.curves.speeds import speeds_of

ENGINES = sorted(
    path
    for folder in ("configs", "validation/published")
    for path in (ROOT / folder).glob("*.yaml")
    if not path.name.startswith("study-")
)
#: with the march, at one speed: arguments after the file
MARCHED = {
    "trace": ("--rpm", "{rpm}"),
    "explain": ("--rpm", "{rpm}"),
    "account": ("--rpm", "{rpm}"),
    "report": ("--rpm", "{rpm}"),
}
#: of many points, with formulas in place of the march
MADE_UP = {
    "check": (),
    "curve": ("--only-given",),
    "compare": ("--only-given",),
    "map": ("--steps", "3", "--rpm", "{less}", "{rpm}", "{more}"),
    "explore": ("--rpm", "{rpm}", "{more}", "--vary", "engine.compression_ratio", "9", "10"),
    "bands": ("--rpm", "{rpm}", "{more}", "--cases", "40"),
    "logsheet": (),
    "change": ("{file}", "--rpm", "{rpm}"),
    "part": (),
}
MOST_CYLINDERS = 4  # for account, which marches eight points a speed
#: that need a runner laid in space, or one given by length and bore, and say so
NEED_A_SHAPE = {"part", "map"}


def no_number(token):
    raise AssertionError(f"{token} in an answer")


def finite(path):
    """No cell of a CSV file is a number that is none."""
    with open(path, newline="", encoding="utf-8") as file:
        cells = [c.lower() for row in csv.reader(file) for c in row]
    assert not {"nan", "inf", "-inf"} & set(cells), path


def of_one_length(value, where=""):
    """What a page draws: the tables of one cycle go with its distances and angles."""
    if isinstance(value, dict):
        if "distance" in value and "forward" in value:
            for name in ("p", "forward", "backward"):
                rows = value.get(name, [])
                assert all(len(row) == len(value["distance"]) for row in rows), (where, name)
        for name, inner in value.items():
            of_one_length(inner, f"{where}.{name}")
    elif isinstance(value, list):
        for inner in value:
            of_one_length(inner, where)


def tried(name, rest, path, rpm, folder) -> int:
    """Run one command and look at what it says, writes and draws; its exit code."""
    words = [
        w.format(rpm=f"{rpm:.0f}", less=f"{0.9 * rpm:.0f}", more=f"{1.1 * rpm:.0f}", file=path) for w in rest
    ]
    found = command(
        name,
        path,
        *words,
        "--json",
        out=folder / name,
        only_given=False,
        rendered=name in ("report", "explore"),
    )
    assert found.code in (0, 1, 2), found.complaints
    if found.code:
        assert found.complaints.strip()
        return found.code
    json.loads(found.said, parse_constant=no_number)
    for file in (folder / name).glob("*.csv"):
        finite(file)
    for page in (folder / name).glob("*.html"):
        text = page.read_text(encoding="utf-8")
        for name in ("CHARTS", "CYCLES"):
            held, _ = json.JSONDecoder(parse_constant=no_number).raw_decode(text.partition(f"{name} = ")[2])
            of_one_length(held)
    for figure in found.pictures.values():
        for line in (line for panel in figure.axes for line in panel.lines):
            x, y = (np.asarray(v, dtype=float) for v in line.get_data())
            assert x.shape == y.shape
            assert not (np.isinf(x) | np.isinf(y)).any()
    return 0


def through_all(path, rpm, folder, left_out=()) -> dict[str, int]:
    """{command: exit code}."""
    marched = {name: rest for name, rest in MARCHED.items() if name not in left_out}
    codes = {name: tried(name, rest, path, rpm, folder) for name, rest in marched.items()}
    with made_up.in_place():
        return codes | {name: tried(name, rest, path, rpm, folder) for name, rest in MADE_UP.items()}


@pytest.mark.slow
def test_a_port_narrower_than_its_runner(tmp_path):
    """Through every command, the classroom engine with a step of bore between runner and port."""
    pytest.importorskip("plotly")
    text = CLASSROOM.read_text()
    assert "port: {length: 80 mm, bore: 40 mm" in text
    path = tmp_path / "engine.yaml"
    path.write_text(text.replace("port: {length: 80 mm, bore: 40 mm", "port: {length: 80 mm, bore: 38 mm"))
    codes = through_all(path, 4000.0, tmp_path)
    assert {n: c for n, c in codes.items() if c} == {}


@pytest.mark.slow
@pytest.mark.parametrize("path", ENGINES, ids=lambda p: p.stem)
def test_shipped_engines(path, tmp_path):
    codes = through_all(path, float(np.median(speeds_of(aircolumn.load(path).engine))), tmp_path)
    assert {n: c for n, c in codes.items() if c and n not in NEED_A_SHAPE} == {}


@pytest.mark.slow
@pytest.mark.parametrize("first", range(0, 100, 10))
def test_random_legal_engines(first, tmp_path):
    ended = []
    for seed in range(first, first + 10):
        data, rpm = legal_data(seed)
        folder = tmp_path / str(seed)
        folder.mkdir()
        path = folder / "engine.yaml"
        path.write_text(as_yaml(data), encoding="utf-8")
        dear = seed % 5 or data["engine"]["cylinders"] > MOST_CYLINDERS
        codes = through_all(path, rpm, folder, ("account",) if dear else ())
        ended += [c for name, c in codes.items() if name not in ("part", "map")]  # of runners in sections
    assert np.mean(np.array(ended) == 0) > 0.9
