"""The commands on good input: what they print and write."""

import subprocess
import sys

import numpy as np
import pytest
import xarray as xr
from tests import made_up
from tests.conftest import DEMO
from tests.printed import is_picture

from aircolumn.cli import main


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    out = tmp_path_factory.mktemp("results") / "here"
    arguments = ["compare", str(DEMO), "--rpm", "2500", "4000", "5500", "--out", str(out)]
    assert main(arguments) == 0
    return out


def test_files(written):
    names = sorted(p.name for p in written.iterdir())
    assert names == [
        "compare-switchable.csv",
        "compare.csv",
        "compare.nc",
        "compare.png",
        "compare.svg",
        "origin.json",
        "rescue-four.yaml",
    ]
    assert is_picture(written / "compare.png")


def test_a_folder_within_folders_is_made(tmp_path):
    with made_up.in_place():
        for command in ("curve", "study"):
            file = DEMO
            if command == "study":
                file = tmp_path / "study.yaml"
                file.write_text(
                    f"engine: {DEMO}\nvary:\n  intake.runner.length: [0.3 m, 0.4 m]\nspeeds: [3000 rpm]\n"
                )
            out = tmp_path / "a" / command / "c"
            more = ["--rpm", "3000"] if command == "curve" else []
            assert main([command, str(file), *more, "--out", str(out)]) == 0
            assert any(out.iterdir())


def test_netcdf_is_labelled(written):
    data = xr.load_dataset(written / "compare.nc")
    assert list(data.runner.values) == ["short", "middle", "long"]
    assert list(data.rpm.values) == [2500, 4000, 5500]
    assert data.torque.attrs["units"] == "N m"
    assert "ambient" in data.attrs["reference"]


def test_compare_says_what_matters(tmp_path, capsys):
    out = str(tmp_path / "o")
    options = ["--rpm", "2500", "4000", "5500", "--verbose", "--uncertainty", "--out", out]
    assert main(["compare", str(DEMO), *options]) == 0
    printed = capsys.readouterr().out
    for text in (
        "peak VE",
        "cross between 2500 and 4000 rpm",
        "(from speeds up to 1500 rpm apart, so humps and dips between them are missed)",
        "mean torque from 2500 to 4000 rpm",
        "does not close by",
        "numerical uncertainty of VE: at most",
        "not a clearance to run",
    ):
        assert text in printed


def test_curve_of_one_runner(tmp_path, capsys):
    out = tmp_path / "o"
    assert main(["curve", str(DEMO), "--runner", "long", "--rpm", "3000", "3500", "--out", str(out)]) == 0
    printed = capsys.readouterr().out
    assert "BSFC" in printed
    assert (out / "curve-long.png").exists()
    data = xr.load_dataset(out / "curve-long.nc")
    assert data.runner.values.tolist() == ["long"]


def test_results_of_others_stay(tmp_path):
    out = tmp_path / "o"
    out.mkdir()
    (out / "notes.txt").write_text("mine")
    assert main(["curve", str(DEMO), "--rpm", "3000", "--out", str(out)]) == 0
    assert (out / "notes.txt").read_text() == "mine"
    assert not [p for p in tmp_path.iterdir() if p.name.startswith(".")]


def test_could_not_compute(tmp_path, capsys):
    path = tmp_path / "e.yaml"
    path.write_text(DEMO.read_text() + "\nnumerics: {most_cycles: 3, repeat_within: 0.00001}\n")
    out = tmp_path / "o"
    assert main(["curve", str(path), "--rpm", "3000", "--out", str(out)]) == 1
    assert "does not repeat" in capsys.readouterr().err
    assert not out.exists()


def test_interrupt_writes_nothing(tmp_path, capsys, monkeypatch):
    from aircolumn.engine.model import stretches

    def stop(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr(stretches, "point_beside", stop)
    out = tmp_path / "o"
    assert main(["curve", str(DEMO), "--rpm", "3000", "--out", str(out)]) == 130
    assert "interrupted; run the same command to go on" in capsys.readouterr().err
    assert not out.exists()


def test_speeds_include_the_last(demo):
    from aircolumn.curves.speeds import speeds_of

    speeds = demo.engine.speeds.model_copy(update={"stop": 5900.0})
    rpm = speeds_of(demo.engine.model_copy(update={"speeds": speeds}))
    assert rpm[0] == 1500
    assert rpm[-1] == 5900
    assert np.all(np.diff(rpm) > 0)


def test_public_names_are_functions_in_any_order_of_import():
    """A module of the same name must not stand in the way of a public function."""
    code = (
        "import aircolumn.cli, aircolumn.curves.curve, aircolumn.engine.model.operating_point, pkgutil;"
        "import aircolumn.curves.tuning.filling_account, aircolumn.curves.tuning.tuning_map;"
        "bad = [n for n in aircolumn.__all__ if not callable(getattr(aircolumn, n))];"
        "modules = {m.name for m in pkgutil.iter_modules(aircolumn.__path__)};"
        "assert not bad, bad; assert not modules & set(aircolumn.__all__)"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


@pytest.mark.parametrize("wrong", [[3000.0, float("nan")], [3000.0, 50.0], [40000.0, 3000.0], []])
def test_speeds_no_engine_turns_at(wrong):
    from aircolumn.engine.description.given import check_speeds
    from aircolumn.errors import RequestError

    with pytest.raises(RequestError, match=r"rpm"):
        check_speeds(wrong)
    assert list(check_speeds([3000, 2000, 3000])) == [2000.0, 3000.0]


def test_a_command_leaves_the_process_as_it_was(tmp_path):
    """What the program does to its own process (startup.py) is not done to those who call main."""
    code = (
        "import gc, os, signal, sys; before = gc.get_threshold(), sys.getswitchinterval(),"
        " signal.getsignal(signal.SIGTERM); import matplotlib.pyplot as plt; backend = plt.get_backend();"
        f" from aircolumn.cli import main; main(['check', {str(DEMO)!r}, '--out', {str(tmp_path / 'o')!r}]);"
        " import aircolumn.startup;"
        " assert before == (gc.get_threshold(), sys.getswitchinterval(), signal.getsignal(signal.SIGTERM));"
        " assert not [n for n in aircolumn.startup.UNWANTED if n in sys.modules and sys.modules[n] is None];"
        " assert plt.get_backend() == backend"
    )
    subprocess.run([sys.executable, "-c", code], check=True, capture_output=True)
