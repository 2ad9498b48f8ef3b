"""What pulls ask of the table: filling from air flow, fuel flow, pulse width and lambda, by hand."""

import csv
import json

import numpy as np
import pytest
import yaml
from tests import made_up
from tests.conftest import DEMO, ROOT
from tests.printed import command, rows_of

from aircolumn.engine.description.reader import load
from aircolumn.errors import InputError
from aircolumn.fuelling.filling import WORDS
from aircolumn.fuelling.session import trim_of
from aircolumn.fuelling.table_file import read_user_table
from aircolumn.measured.measured_curve import stoichiometric_of

PULLS = ROOT / "configs" / "invented-pulls-long.csv"
TABLE = ROOT / "configs" / "invented-ve-middle.csv"
SWEPT, FLOW = np.pi / 4 * 0.089**2 * 0.1, 4e-3  # m3 of a cylinder, kg/s of an injector


@pytest.fixture(scope="module")
def pulls(tmp_path_factory):
    """The same pulls with other columns in place of the air flow: {name: file}."""
    folder = tmp_path_factory.mktemp("pulls")
    _, heads, *rows = csv.reader(PULLS.read_text().splitlines())
    at, ratio = heads.index("air flow [kg/h]"), heads.index("AFR")
    files = {"air": PULLS}

    def write(name, heading, column):
        cells = [row[:at] + column(row) + row[at + 1 :] for row in rows]
        lines = [heads[:at] + heading + heads[at + 1 :], *cells]
        files[name] = folder / f"{name}.csv"
        files[name].write_text("\n".join(",".join(line) for line in lines))

    def fuel(row):  # kg/h
        return float(row[at]) / float(row[ratio])

    def pulse(row):  # ms
        each = fuel(row) / 3600.0 / (4 * float(row[2]) / 120.0)
        return 1e3 * (each / FLOW + 0.9e-3)

    write("fuel", ["fuel flow [kg/h]"], lambda row: [f"{fuel(row):.5f}"])
    write("pulse", ["Einspritzzeit [ms]"], lambda row: [f"{pulse(row):.5f}"])
    write("lambda", [], lambda row: [])
    return files


def engine_file(folder, **fuelling):
    data = yaml.safe_load(DEMO.read_text())
    data["fuelling"] = {"lambda_target": 0.9, "injectors": {"flow": "240 g/min"}, **fuelling}
    (folder / "engine.yaml").write_text(yaml.safe_dump(data, sort_keys=False))
    return folder / "engine.yaml"


def asked(file, folder, *more, **fuelling):
    """What ``fuelling`` prints and says as JSON."""
    with made_up.in_place():
        path = engine_file(folder, **fuelling)
        ran = command(
            "fuelling", path, "--runner", "long", "--pulls", file, *more, "--json", out=folder / "o"
        )
    assert ran.code == 0, ran.said
    return json.loads(ran.said)["result"]["asked"], ran


@pytest.mark.parametrize("name", ["fuel", "pulse"])
def test_fuel_and_pulses_give_what_the_air_flow_gave(name, pulls, tmp_path):
    (tmp_path / "a").mkdir()
    air, _ = asked(pulls["air"], tmp_path / "a")
    (tmp_path / "b").mkdir()
    other, _ = asked(pulls[name], tmp_path / "b")
    assert air["source"] == "air flow"
    assert other["source"] != "air flow"
    assert other["rpm"] == air["rpm"]
    assert other["measured"] == pytest.approx(air["measured"], rel=2e-3)
    assert other["known_to"] == pytest.approx(air["known_to"], rel=0.15)


def test_lambda_asks_for_its_quotient_over_the_target(pulls, tmp_path):
    """Run with the table at hand: what is asked for is lambda over what was metered for."""
    found, _ = asked(pulls["lambda"], tmp_path, "--table", f"long={TABLE}")
    assert found["source"] == "lambda, as run with this table"
    heads, *rows = csv.reader(pulls["lambda"].read_text().splitlines())
    ratio = np.array([float(row[heads.index("AFR")]) for row in rows])
    rpm = np.array([float(row[2]) for row in rows])
    near = [np.mean(ratio[np.abs(rpm - n) < 125.0]) for n in found["rpm"]]
    due = np.array(near) / stoichiometric_of(load(DEMO).engine) / 0.9 - 1.0
    assert found["correction"] == pytest.approx(due, abs=4e-3)
    table = read_user_table(TABLE)
    top = table.at(np.array(found["rpm"]), np.array([90e3]))[:, 0]  # all pulls are above its last load
    assert found["table"] == pytest.approx(top)


@pytest.mark.parametrize("way", list(WORDS))
def test_measured_filling_by_hand(way, pulls, tmp_path):
    """Of one speed, from kg/h, the air of the day and the manifold's pressure."""
    found, _ = asked(pulls["air"], tmp_path, filling=way)
    k = found["rpm"].index(3000.0)
    _, heads, *rows = csv.reader(PULLS.read_text().splitlines())
    flow, rpm, inlet = (
        np.array([float(row[heads.index(h)]) for row in rows])
        for h in ("air flow [kg/h]", "engine speed [rpm]", "inlet air [degC]")
    )
    near = np.abs(rpm - 3000.0) < 125.0
    each = np.mean(flow[near] / rpm[near]) / 3600.0 / (4 / 120.0)  # kg a cylinder and cycle
    density = 99.025e3 / (288.4 * (273.15 + np.mean(inlet[near])))  # of moist air
    outside = each / (density * SWEPT)
    air = load(DEMO).engine.intake.ambient
    thinner = 1.0 / (0.985 - 3000.0 / air.pressure) * (1.0 + 3.0 / air.temperature)  # as made up
    by_hand = {"ambient": outside, "manifold": outside * thinner, "fresh": outside * 1.07}
    assert found["measured"][k] == pytest.approx(by_hand[way], rel=0.005)


def test_what_is_printed_and_written(pulls, tmp_path):
    path = engine_file(tmp_path, lambda_target=0.8)
    with made_up.in_place():
        ran = command("fuelling", path, "--runner", "long", "--pulls", PULLS, out=tmp_path / "o")
    said = ran.said.replace("\n  ", " ")
    assert "3 pulls (invented-pulls-long.csv; filling by air flow) ask for" in said
    assert "by the scatter of the pulls" in said
    assert "Leanest against its target: lambda 0.9" in said
    rows = rows_of(ran.out / "fuelling-pulls.csv")
    assert len(rows) == 19
    for row in rows:
        due = 100.0 * (float(row["VE measured [%]"]) / float(row["VE in the table [%]"]) - 1.0)
        assert float(row["correction [%]"]) == pytest.approx(due, abs=1e-6)
    assert (ran.out / PULLS.name).exists()


def test_a_single_pull_tells_no_scatter(tmp_path):
    lines = PULLS.read_text().splitlines()
    one = [line for line in lines if not line.startswith(("2,", "3,"))]
    (tmp_path / "one.csv").write_text("\n".join(one))
    with made_up.in_place():
        ran = command(
            "fuelling", engine_file(tmp_path), "--runner", "long", "--pulls", tmp_path / "one.csv",
            out=tmp_path / "o",
        )  # fmt: skip
    assert "how well that is known cannot be told" in ran.said.replace("\n  ", " ")


@pytest.mark.parametrize(
    ("keep", "said"),
    [
        ("torque", "neither air flow, fuel flow, pulse width nor lambda is logged"),
        ("fast", "no speed of the pulls is among those of the table"),
    ],
)
def test_pulls_that_tell_nothing(keep, said, tmp_path):
    heads = "engine speed [rpm],torque [Nm]" + (",lambda" if keep == "fast" else "")
    more = ",0.9" if keep == "fast" else ""
    start = 7000 if keep == "fast" else 2000
    rows = [f"{n},200{more}" for n in range(start, start + 2000, 50)]
    (tmp_path / "p.csv").write_text("\n".join([heads, *rows]))
    with made_up.in_place():
        ran = command(
            "fuelling", engine_file(tmp_path), "--runner", "long", "--pulls", tmp_path / "p.csv",
            out=tmp_path / "o",
        )  # fmt: skip
    assert ran.code == 2
    assert said in ran.complaints.replace("\n  ", " ")


def test_lambda_over_speed_and_load(tmp_path):
    """On straight lines between the cells of its table; that of another kind of load is refused."""
    (tmp_path / "target.csv").write_text("rpm;30;90\n1000;1,00;0,90\n6000;1,00;0,80\n")
    base = ["fuelling", engine_file(tmp_path), "--runner", "long", "--load-unit", "kPa"]
    with made_up.in_place():
        ran = command(*base, "--lambda-table", tmp_path / "target.csv", "--json", out=tmp_path / "o")
    told = json.loads(ran.said)["result"]
    rpm, loads, target = (np.array(told[name]) for name in ("rpm", "loads", "lambda_target"))
    i, j = len(rpm) // 2, len(loads) // 2
    down = np.interp(loads[j], [30e3, 90e3], [0.0, 1.0]) * np.interp(rpm[i], [1000.0, 6000.0], [0.1, 0.2])
    assert target[i, j] == pytest.approx(1.0 - down)
    (tmp_path / "open.csv").write_text("rpm,10,100\n1000,1.0,0.9\n6000,1.0,0.8\n")
    with made_up.in_place():
        ran = command(
            "fuelling", engine_file(tmp_path), "--runner", "long", "--load-unit", "%",
            "--lambda-table", tmp_path / "open.csv", out=tmp_path / "p",
        )  # fmt: skip
    assert ran.code == 2
    assert "has throttle openings, the table manifold pressures" in ran.complaints.replace("\n  ", " ")


def test_a_lambda_that_no_engine_runs_at_is_told_with_its_cell(tmp_path):
    (tmp_path / "t.csv").write_text("rpm \\ kPa,30,90\n1000,1.0,0.9\n6000,14.7,0.8\n")
    with pytest.raises(InputError, match=r"lambda 14\.7: from 0\.5 to 2 is possible") as told:
        read_user_table(tmp_path / "t.csv", holds="lambda")
    assert (told.value.problems[0].line, told.value.problems[0].column) == (3, 6)


def test_trim_of_unequal_runners():
    """Made up to fill by 1.00, 1.01, 1.02 and 1.03 of one; of an engine of which one cylinder stands for all
    there is none."""
    unequal = load(ROOT / "configs" / "rescue-four-manifold.yaml").engine
    with made_up.in_place():
        each = trim_of(unequal, np.array([2000.0, 3000.0]))
    assert each == pytest.approx(np.array([[1.0, 1.01, 1.02, 1.03]] * 2) / 1.015 - 1.0)
    assert trim_of(load(DEMO).engine, np.array([3000.0])) is None
