"""The whole manifold: the limit in which it is n single cylinders, ledgers, spread."""

import csv
from dataclasses import replace

import numpy as np
import pytest
from tests.conftest import DEMO
from tests.printed import is_picture

from aircolumn.cli import main
from aircolumn.curves.curve import curve
from aircolumn.engine.description.pipes import Collector
from aircolumn.engine.model.assembly import build
from aircolumn.engine.model.geometry import firing_phases, geometry_of
from aircolumn.engine.model.operating_point import march_to_cycle, operating_point
from aircolumn.flow.arrays.ends import RESERVOIR

ORDERS = {4: [1, 3, 4, 2], 6: [1, 5, 3, 6, 2, 4], 8: [1, 8, 4, 3, 6, 5, 7, 2]}
BANKS = {4: None, 6: [[1, 2, 3], [4, 5, 6]], 8: [[1, 3, 5, 7], [2, 4, 6, 8]]}


def manifold(engine, n, lengths=None, collector=True):
    """The demo engine with n cylinders, its plenum and throttle in proportion."""
    i = engine.intake
    intake = i.model_copy(
        update={
            "runner": i.runner.model_copy(update={"lengths": lengths}),
            "plenum": i.plenum.model_copy(update={"volume": 1.5e-3 * n}),
            "throttle": i.throttle.model_copy(update={"bore": 0.036 * n**0.5}),
        }
    )
    pipe = Collector.model_validate(
        {
            "length": "600 mm",
            "bore": "55 mm",
            "wall_temperature": "400 degC",
            "groups": BANKS[n],
        }
    )
    exhaust = engine.exhaust.model_copy(update={"collector": pipe if collector else None})
    e = engine.block.model_copy(update={"cylinders": n, "firing_order": ORDERS[n]})
    changes = {"model": "manifold", "block": e, "intake": intake, "exhaust": exhaust}
    return engine.model_copy(update=changes)


def endless_plenum(engine, rpm):
    """The point with a plenum so large that its state never changes."""
    net = build(engine)
    net.volumes["plenum"] = replace(net.volumes["plenum"], kind=RESERVOIR)
    g = geometry_of(engine)
    return march_to_cycle(engine, net.ready(angle=g.intake_seats), rpm, g).point


@pytest.mark.parametrize("rpm", [2500.0, 6000.0])
def test_endless_plenum_makes_every_cylinder_a_single_one(demo, rpm):
    many = manifold(demo.engine, 4, collector=False)
    one = endless_plenum(many.model_copy(update={"model": "single"}), rpm).figures
    all_four = endless_plenum(many, rpm)
    assert all_four.figures["ve"] == pytest.approx(one["ve"], rel=0.002)
    assert all_four.figures["torque"] == pytest.approx(one["torque"], rel=0.002)
    assert all_four.ve_cylinder == pytest.approx(one["ve"], rel=0.002)


@pytest.mark.parametrize("n", [4, 6, 8])
def test_ledgers_close(demo, n):
    point = operating_point(manifold(demo.engine, n), 4000.0)
    assert point.ve_cylinder.shape == (n,)
    assert point.figures["mass_error"] < 1e-6
    assert point.figures["energy_error"] < 1e-3
    assert point.figures["periodicity"] < 1e-3
    if n in (4, 6):  # evenly fired, each collector too: all cylinders are alike
        assert point.figures["ve_spread"] < 1e-3
    else:  # a cross-plane eight fires its banks unevenly
        assert point.figures["ve_spread"] > 0.02


def test_cross_plane_pairs_differ_and_those_of_a_flat_plane_do_not(demo):
    """Two banks of 4-into-1. A cross-plane eight fires two cylinders of a bank 90 degrees apart (5
    and 7, 8 and 4): the first of them breathes unlike the second. A flat-plane one fires its banks
    in turn, each evenly."""
    cross = manifold(demo.engine, 8)
    block = cross.block.model_copy(update={"firing_order": [1, 8, 3, 6, 7, 2, 5, 4]})
    flat = cross.model_copy(update={"block": block})
    uneven, even = (operating_point(e, 4000.0) for e in (cross, flat))
    by_number = dict(zip(range(1, 9), uneven.ve_cylinder, strict=True))
    for first, second in ((5, 7), (8, 4)):
        assert abs(by_number[first] - by_number[second]) > 0.03
    assert by_number[5] == pytest.approx(by_number[8], abs=2e-3)  # the banks are alike
    assert even.figures["ve_spread"] < 2e-3
    for point in (uneven, even):
        assert point.figures["mass_error"] < 1e-10
        assert point.figures["energy_error"] < 1e-10


def test_unequal_runners_spread_and_mirror(demo):
    """Cylinders 1 and 4, and 2 and 3, are each half a cycle apart: swapping the lengths of such a
    pair swaps their VE."""
    lengths = [0.36, 0.43, 0.43, 0.50]
    point = operating_point(manifold(demo.engine, 4, lengths), 4500.0)
    assert point.figures["ve_spread"] > 0.01
    swapped = operating_point(manifold(demo.engine, 4, lengths[::-1]), 4500.0)
    assert swapped.ve_cylinder[[3, 0]] == pytest.approx(point.ve_cylinder[[0, 3]], rel=2e-3)


def test_uneven_firing_is_echoed_too(demo):
    """A twin that fires at 0 and 270 degrees: the cylinders of the manifold differ, so the single
    model can only agree with them roughly; fired evenly it agrees."""
    e = demo.engine.block.model_copy(update={"cylinders": 2, "firing_order": [1, 2]})
    twin = demo.engine.model_copy(update={"block": e})
    odd = twin.model_copy(update={"block": e.model_copy(update={"firing_angles": [0.0, 270.0]})})
    for engine, within in ((twin, 1e-3), (odd, 0.05)):
        whole = operating_point(engine.model_copy(update={"model": "manifold"}), 4000.0).figures
        one = operating_point(engine, 4000.0).figures
        assert one["ve"] == pytest.approx(whole["ve"], rel=within)


def test_echo_keeps_the_total(demo):
    """What the other three cylinders drew over the last cycle is three times the one's own."""
    engine = demo.engine
    g = geometry_of(engine)
    run = build(engine).ready(angle=g.intake_seats)
    march_to_cycle(engine, run, 3000.0, g)
    omega = 3000.0 * np.pi / 30.0
    k = list(run.network.ends).index(("intake 1", "left"))
    own, others = run.blocks.tally_ends[k, 0], run.blocks.tally_echo[0]
    run.march(4.0 * np.pi / omega, omega=omega)
    own, others = run.blocks.tally_ends[k, 0] - own, run.blocks.tally_echo[0] - others
    assert others == pytest.approx(3.0 * own, rel=1e-3)


def test_curve_names_the_cylinders(demo):
    data = curve(manifold(demo.engine, 4), [3000.0])
    assert list(data.cylinder.values) == [1, 2, 3, 4]
    assert float(np.ptp(data.ve_cylinder.values)) < 1e-3
    assert "whole manifold" in data.attrs["model"]


def test_manifold_file_end_to_end(tmp_path, capsys):
    """Table and picture of every cylinder; a candidate of one length has it in all cylinders."""
    text = (DEMO.parent / "rescue-four-manifold.yaml").read_text()
    text = text.replace("  unequal: {}", "  unequal: {}\n  one: {length: 430 mm}")
    (tmp_path / "m.yaml").write_text(text)
    out = tmp_path / "out"
    assert main(["compare", str(tmp_path / "m.yaml"), "--rpm", "4500", "--out", str(out)]) == 0
    said = capsys.readouterr().out
    assert "VE of each cylinder" in said
    assert is_picture(out / "compare-cylinders.png")
    with open(out / "compare.csv") as file:
        rows = {r["runner"]: r for r in csv.DictReader(file)}
    assert rows["one"]["ve [%]"] == rows["equal"]["ve [%]"]
    assert float(rows["unequal"]["ve_spread [%]"]) > 1.0 > float(rows["equal"]["ve_spread [%]"])


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (", 460 mm] #", "] #", "3 lengths for 4 cylinders"),
        ("700 mm, bore: 55 mm", "700 mm, groups: [[1, 2], [2, 4]], bore: 55 mm", "cylinders once"),
        ("700 mm, bore: 55 mm", "700 mm, bore: {to: 55 mm}", "needs both 'from' and 'to'"),
        ("model: manifold", "model: manifolds", "'manifolds' is not known here"),
    ],
)
def test_wrong_manifold(old, new, said, tmp_path, capsys):
    text = (DEMO.parent / "rescue-four-manifold.yaml").read_text()
    assert old in text
    (tmp_path / "m.yaml").write_text(text.replace(old, new))
    assert main(["check", str(tmp_path / "m.yaml")]) == 2
    assert said in capsys.readouterr().err


def test_firing_phases(demo):
    e = demo.engine
    assert firing_phases(e) == [0.0, 540.0, 180.0, 360.0]
    odd = e.block.model_copy(update={"firing_angles": [0.0, 90.0, 360.0, 450.0]})
    assert firing_phases(e.model_copy(update={"block": odd})) == [0.0, 450.0, 90.0, 360.0]
