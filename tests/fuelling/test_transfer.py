"""From the old table to the new one: cells by hand, what is printed and written, hidden engines."""

import csv
import json
import shutil

import numpy as np
import pytest
import yaml
from tests import made_up
from tests.conftest import DEMO, ROOT
from tests.printed import command

from aircolumn.engine.description.reader import load
from aircolumn.fuelling.at_load import Throttled, cells_for_load, filling_at_load
from aircolumn.fuelling.filling import filling_of
from aircolumn.fuelling.session import UsersOwn, control_table
from aircolumn.fuelling.table_file import read_user_table
from aircolumn.fuelling.transfer import Doubt, transferred
from aircolumn.study.bands.cases import Cases
from aircolumn.study.executors import Cores

TABLE = ROOT / "configs" / "invented-ve-middle.csv"


def test_cells_by_hand():
    """One changes, one changes by less than is known, one is out of reach."""
    table, ratio = np.array([[0.8, 0.9, 1.0]]), np.array([[1.1, 1.01, np.nan]])
    found = transferred(table, ratio, Doubt(np.full((1, 3), 0.02), np.full((1, 3), 0.05), 24))
    assert found.values == pytest.approx(np.array([[0.88, 0.9, 1.0]]))
    assert found.changed.tolist() == [[True, False, False]]
    assert found.left.tolist() == [[False, True, False]]
    assert found.beyond.tolist() == [[False, False, True]]


@pytest.fixture(scope="module")
def moved(tmp_path_factory):
    """The command on the made-up demo, with injectors: (what came of it, its folder)."""
    folder = tmp_path_factory.mktemp("fuelling")
    data = yaml.safe_load(DEMO.read_text())
    data["fuelling"] = {"lambda_target": 0.9, "injectors": {"flow": "200 g/min"}}
    (folder / "engine.yaml").write_text(yaml.safe_dump(data, sort_keys=False))
    shutil.copy(TABLE, folder / "old.csv")
    with made_up.in_place():
        ran = command(
            "fuelling",
            folder / "engine.yaml",
            "--runner",
            "long",
            "--table",
            f"middle={folder / 'old.csv'}",
            "--cases",
            "8",
            out=folder / "o",
        )
    return ran


def test_the_table_comes_back_in_its_own_form(moved):
    """Old values times what the made-up engine has more with the long runner at that speed; rounded as
    before, all else as it was."""
    assert moved.code == 0
    old, new = (p.read_text().splitlines() for p in (TABLE, moved.out / "fuelling-old.csv"))
    assert new[:2] == old[:2]
    table, back = read_user_table(TABLE), read_user_table(moved.out / "fuelling-old.csv")
    description = load(DEMO)
    for k, rpm in enumerate(table.rpm):
        middle, long = (made_up.filling(description.with_runner(n), rpm) for n in ("middle", "long"))
        ratio = back.values[k] / table.values[k]
        there = np.abs(ratio - 1.0) > 1e-9  # else left as it is, or out of reach
        assert ratio[there] == pytest.approx(long / middle, abs=2e-3)
    assert np.any(np.abs(back.values / table.values - 1.0) > 0.03)


def test_every_cell_is_written_with_what_is_known_of_it(moved):
    with open(moved.out / "fuelling.csv", newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 77
    states = {r["state"] for r in rows}
    assert states <= {"changed", "left as it is", "out of reach"}
    for row in rows:
        if row["state"] == "changed":
            due = float(row["VE tuned, middle [%]"]) * (1.0 + float(row["change [%]"]) / 100.0)
            assert float(row["VE, long [%]"]) == pytest.approx(due, rel=1e-6)
            assert abs(float(row["change [%]"])) > 0.9 * float(row["change known to [%]"])
            duty = float(row["pulse [ms]"]) / (120e3 / float(row["rpm"]))
            assert float(row["duty [%]"]) == pytest.approx(100.0 * duty)


def test_what_is_printed(moved):
    said = moved.said.replace("\n  ", " ")
    assert "Table of long: 11 speeds x 7 manifold pressures" in said
    assert "From the tuned table of middle (old.csv):" in said
    assert "Injectors: most duty" in said
    assert "e85" in said
    assert "lean mixture at load breaks engines" in said
    assert "nothing is said about ignition" in said


def test_as_json(tmp_path, capsys):
    from aircolumn.cli import main

    with made_up.in_place():
        assert main(["fuelling", str(DEMO), "--runner", "short", "--json", "--out", str(tmp_path / "o")]) == 0
    told = json.loads(capsys.readouterr().out)["result"]
    assert told["runner"] == "short"
    assert len(told["filling"]) == 16
    assert told["moved"] is None


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--runner", "huge"], "no runner 'huge'"),
        (["--runner", "long", "--table", "old.csv"], "say which runner it was tuned with"),
        (["--runner", "long", "--table", f"long={TABLE}"], "name another"),
        (["--runner", "long", "--table", f"huge={TABLE}"], "no runner 'huge'"),
        (["--runner", "long", "--table", "middle=none.csv"], "cannot be read"),
        (["--runner", "long", "--cases", "2"], "--cases must be from 8"),
    ],
)
def test_wrong_requests(arguments, said, tmp_path, capsys):
    from aircolumn.cli import main

    assert main(["fuelling", str(DEMO), *arguments, "--out", str(tmp_path / "o")]) == 2
    assert said in capsys.readouterr().err


@pytest.mark.slow
@pytest.mark.parametrize("hidden", [5, 18, 40])
def test_a_hidden_engine_is_lean_by_a_third_of_what_the_old_table_makes_it(hidden, tmp_path, store):
    """The old table is tuned on an engine that differs from the file in all that it leaves open: over the
    cells that change by more than 3 %, the error of lambda with the table made from it is at most a third of
    that with the old one, and less than with the predicted table alone."""
    description = load(DEMO)
    cases = Cases.of(description)
    engines = cases.engines(cases.drawn(64, seed=77)[hidden])
    rpm, loads = np.arange(1000.0, 6001.0, 1000.0), np.arange(40e3, 91e3, 25e3)
    cells = cells_for_load([description.engine], rpm, store, Cores())
    true = {}
    for name in ("middle", "long"):
        at = filling_at_load(Throttled(engines[name], cells), rpm, loads, False, store, Cores())
        true[name] = filling_of(at.figures, engines[name], "manifold")
    assert np.isfinite(true["middle"]).all()
    lines = [f"rpm / kPa,{','.join(f'{p / 1e3:g}' for p in loads)}"]
    lines += [
        f"{n:g},{','.join(f'{100 * v:.2f}' for v in r)}" for n, r in zip(rpm, true["middle"], strict=True)
    ]
    (tmp_path / "old.csv").write_text("\n".join(lines) + "\n")
    tuned = read_user_table(tmp_path / "old.csv")
    found = control_table(description, "long", tmp_path / "o", UsersOwn(tuned, "middle"), count=12)
    matters = np.abs(true["long"] / true["middle"] - 1.0) > 0.03

    def off(table):
        return float(np.sqrt(np.nanmean((table / true["long"] - 1.0)[matters] ** 2)))

    kept, new, alone = off(true["middle"]), off(found.moved.values), off(found.filling)
    print(f"lambda off by {kept:.2%} with the old table, {new:.2%} with the new, {alone:.2%} as predicted")
    assert new <= kept / 3.0
    assert new < alone
