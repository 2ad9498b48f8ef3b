"""From a shape to a mesh and back: lengths, areas, perimeters, VE; and meshes that are none."""

import numpy as np
import pytest
from tests.conftest import DEMO
from tests.edited import demo_with
from tests.machine import allowed
from tests.part.shapes import KINDS, air_file, as_file, passage
from tests.printed import command

import aircolumn
from aircolumn.errors import ComputationError, InputError, RequestError
from aircolumn.part.sweep import tube
from aircolumn.space.centre_line import bent_line
from aircolumn.space.cross_section import CrossSection, circle
from aircolumn.space.passage import Passage

trimesh = pytest.importorskip("trimesh")
pytest.importorskip("manifold3d")

from aircolumn.part import mesh_file  # noqa: E402
from aircolumn.part.mesh_file import read_mesh  # noqa: E402
from aircolumn.part.read_back import schedule_of  # noqa: E402


@pytest.mark.parametrize(("kind", "form"), [*((kind, "stl") for kind in KINDS), ("oval tapered", "3mf")])
def test_round_trip(kind, form, tmp_path):
    one = passage(kind)
    path = air_file(kind, tmp_path / f"air.{form}")
    read = schedule_of(read_mesh(path, "mm" if form == "stl" else None), np.zeros(3))
    assert read.line.length == pytest.approx(one.length, rel=5e-3)
    section = one.section(read.distance * one.length / read.line.length)
    assert read.area == pytest.approx(section.area, rel=5e-3)
    assert read.perimeter == pytest.approx(section.perimeter, rel=5e-3)
    assert read.held == pytest.approx(read.volume, rel=2e-3)
    assert read.volume == pytest.approx(one.volume(), rel=2e-3)
    place = one.line.at(read.distance * one.length / read.line.length)[0]
    assert np.max(np.linalg.norm(read.line.at(read.distance)[0] - place, axis=1)) < 1e-3


@pytest.mark.slow
def test_without_ends_named_it_goes_from_the_larger(tmp_path):
    read = schedule_of(read_mesh(air_file("bent", tmp_path / "air.stl"), "mm"))
    assert read.area[0] > read.area[-1]
    back = schedule_of(read_mesh(tmp_path / "air.stl", "mm"), stop=np.zeros(3))
    assert back.area[0] < back.area[-1]


def test_ve_of_what_is_read_back(tmp_path):
    """The rescue four with its long runner as cones, and as the schedule of its mesh."""
    sizes = [[0.046, 0.042], [0.046, 0.042], [0.023, 0.021]]
    runner = Passage(
        bent_line([[0, 0.65, 0], [0, 0, 0]], []), np.array([0, 0.65]), CrossSection(*np.array(sizes))
    )
    as_file(tube(runner, 0.0, 0.65), tmp_path / "long.stl")
    done = command("sections", tmp_path / "long.stl", "--unit", "mm", out=tmp_path / "out")
    assert done.code == 0, done.complaints
    (tmp_path / "long-area.csv").write_text((tmp_path / "out" / "long-area.csv").read_text())
    path = demo_with(tmp_path, ("long: {length: 650 mm}", "long: {area_schedule: long-area.csv}"))
    for rpm in (2500.0, 4000.0):
        one, other = (
            aircolumn.operating_point(aircolumn.load(p).with_runner("long"), rpm).figures["ve"]
            for p in (DEMO, path)
        )
        assert other == pytest.approx(one, abs=1e-3)  # a tenth of a point


def test_a_mesh_that_is_larger_by_the_allowance(tmp_path):
    path = air_file("straight", tmp_path / "air.stl")
    done = command("sections", path, "--unit", "mm", "--allowance", "1.01", out=tmp_path / "out")
    assert "396.0 mm along its centre line, straight" in done.said


def test_the_schedule_is_read_by_an_engine_file(tmp_path):
    air_file("oval tapered", tmp_path / "oval.stl")
    done = command("sections", tmp_path / "oval.stl", "--unit", "mm", out=tmp_path / "out")
    assert {"oval-area.csv", "oval-route.csv", "sections.png"} <= {
        p.name for p in (tmp_path / "out").iterdir()
    }
    assert done.code == 0
    (tmp_path / "oval-area.csv").write_text((tmp_path / "out" / "oval-area.csv").read_text())
    path = demo_with(tmp_path, ("long: {length: 650 mm}", "long: {area_schedule: oval-area.csv}"))
    from aircolumn.engine.model.piping import pipe_sections

    cones = pipe_sections(aircolumn.load(path).runners["long"], None)
    one = passage("oval tapered")
    assert sum(c.length for c in cones) == pytest.approx(one.length, rel=1e-3)
    first = one.section(0.0)
    assert cones[0].roundness == pytest.approx(np.pi * first.bore / first.perimeter, rel=3e-3)
    (tmp_path / "route.csv").write_text((tmp_path / "out" / "oval-route.csv").read_text())
    path = demo_with(tmp_path, ("long: {length: 650 mm}", "long: {route: route.csv, bore: 40 mm}"))
    runner = aircolumn.load(path).runners["long"]
    assert runner.total_length == pytest.approx(one.length, rel=1e-3)
    assert sum(s.bend_angle for s in runner.sections) == pytest.approx(180.0, abs=4.0)


def wrong_mesh(path, unit="mm"):
    with pytest.raises((InputError, RequestError, ComputationError)) as told:
        schedule_of(read_mesh(path, unit))
    return str(told.value)


def test_meshes_that_are_none(tmp_path):
    path = tmp_path / "air.stl"
    assert "cannot be read" in wrong_mesh(path)
    path.write_text("nothing of the kind")
    assert str(path) in wrong_mesh(path)
    path.write_bytes(b"")
    assert "no mesh can be read" in wrong_mesh(path) or "no triangles" in wrong_mesh(path)
    assert "a mesh in one of .stl, .3mf" in wrong_mesh(DEMO)
    air_file("straight", path)
    assert "does not say its unit" in wrong_mesh(path, None)
    assert "not a unit of length" in wrong_mesh(path, "kg")


def test_an_open_mesh_says_where(tmp_path):
    mesh = trimesh.load_mesh(air_file("straight", tmp_path / "air.stl"))
    mesh.update_faces(np.arange(len(mesh.faces)) != 2000)
    mesh.export(tmp_path / "open.stl")
    said = wrong_mesh(tmp_path / "open.stl")
    assert "the mesh is not closed: 3 edges do not have two faces, the first near (" in said


def test_two_bodies(tmp_path):
    one = passage("straight")
    solid = tube(one, 0.0, 0.4)
    as_file(solid + solid.translate([100.0, 0, 0]), tmp_path / "two.stl")
    assert "it holds 2 bodies" in wrong_mesh(tmp_path / "two.stl")


def test_a_column_that_crosses_itself(tmp_path):
    loop = bent_line(
        [[-0.3, 0, 0], [0.1, 0, 0], [0.1, 0.2, 0], [-0.1, 0.2, 0], [-0.1, -0.3, 0]], [0.06, 0.06, 0.06]
    )
    crossing = Passage(loop, np.array([0, loop.length]), circle(np.array([0.04, 0.04])))
    as_file(tube(crossing, 0.0, loop.length), tmp_path / "loop.stl")
    assert "crosses itself" in wrong_mesh(tmp_path / "loop.stl")


def test_a_ball_has_no_ends(tmp_path):
    trimesh.creation.icosphere(subdivisions=3, radius=20.0).export(tmp_path / "ball.stl")
    assert "0 flat ends were found, and two are needed" in wrong_mesh(tmp_path / "ball.stl")


def test_too_large(tmp_path, monkeypatch):
    path = air_file("straight", tmp_path / "air.stl")
    monkeypatch.setattr(mesh_file, "LARGEST", 100_000)
    assert "at most 0 MB are read: export it less finely" in wrong_mesh(path)


@pytest.mark.slow
def test_a_large_mesh(tmp_path):
    """40 MB are read, cut and told within 8 GB of address space (100 MB took 27 s and 1.7 GB)."""
    import resource
    import subprocess
    import sys

    from aircolumn.part import sweep

    one = passage("bent")
    s = np.linspace(0.0, one.length, 960)
    around, sweep.AROUND = sweep.AROUND, 416
    try:
        points = sweep.rings(one.frames(s), [one.one_section(x) for x in s])
        as_file(sweep.skinned(points), tmp_path / "large.stl")
    finally:
        sweep.AROUND = around
    assert (tmp_path / "large.stl").stat().st_size > 38e6
    run = [sys.executable, "-m", "aircolumn", "sections", "large.stl", "--unit", "mm"]
    limit = lambda: resource.setrlimit(resource.RLIMIT_AS, (8 << 30, 8 << 30))  # noqa: E731
    found = subprocess.run(
        run, cwd=tmp_path, capture_output=True, text=True, timeout=allowed(90.0), preexec_fn=limit
    )
    assert found.returncode == 0, found.stderr
    assert f"{1e3 * one.length:.1f}"[:4] in found.stdout
