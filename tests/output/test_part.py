"""What part and sections print, draw and write, read back."""

import csv
import json
import re
from contextlib import redirect_stdout
from io import StringIO

import numpy as np
import pytest
import trimesh
from tests.conftest import ROOT
from tests.edited import demo_with
from tests.part.shapes import BENT, air_file
from tests.printed import command, is_picture, spaced, texts_of

import aircolumn
from aircolumn.cli import main
from aircolumn.part.mesh_file import read_mesh
from aircolumn.part.read_back import schedule_of

pytest.importorskip("trimesh")
pytest.importorskip("manifold3d")

BONNET = ROOT / "configs" / "rescue-four-bonnet.yaml"
POINTS = "[[0 mm, -300 mm, -200 mm], [0 mm, -300 mm, 0 mm], [0 mm, 0 mm, 0 mm]]"
ROUTE = f"route: {{points: {POINTS}, bend_radius: 60 mm}}"
LENGTH = 200 - 60 + 30 * np.pi + 300 - 60  # mm


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """The demo's own runner along a route of one bend, written with pictures that are looked into."""
    folder = tmp_path_factory.mktemp("part")
    path = demo_with(folder, ("    length: 430 mm\n", f"    {ROUTE}\n"))
    found = command("part", path, out=folder / "out")
    assert found.code == 0, found.complaints
    return found


def test_what_is_said(made):
    assert f"runner 'intake.runner': {LENGTH:.1f} mm along its centre line, wall 3.0 mm" in made.said
    assert "from 46.0 mm at its mouth to 42.0 mm at the head" in made.said
    assert "plus a bellmouth, radius 8.0 mm" in made.said
    volume = np.pi / 12 * LENGTH * (46**2 + 46 * 42 + 42**2) * 1e-3
    assert f"{volume:.1f} cm3 as computed" in made.said
    assert "A mesh is a starting point, not a released part." in made.said
    _, first = spaced(made.said, "leg, mm")[:2]
    assert first == ["140.0", "0.0", "90.0", "60.0"]
    assert "240.0" in made.said


def test_the_centre_line_is_read_back(made, tmp_path):
    text = (made.out / "part-route.csv").read_text()
    rows = list(csv.reader(text.splitlines()))
    assert rows[0] == ["x [mm]", "y [mm]", "z [mm]", "bend_radius [mm]"]
    assert np.array(rows[1:], dtype=float) == pytest.approx(
        np.array([[0, -300, -200, 0], [0, -300, 0, 60], [0, 0, 0, 0]]), abs=1e-6
    )
    (tmp_path / "part-route.csv").write_text(text)
    path = demo_with(tmp_path, ("long: {length: 650 mm}", "long: {route: part-route.csv}"))
    assert aircolumn.load(path).runners["long"].total_length == pytest.approx(1e-3 * LENGTH)


def numbers(said) -> list[float]:
    return [float(t) for t in said if re.fullmatch(r"-?\d+\.\d+", t)]


def table_of(said, first) -> list[str]:
    """What is lettered behind a heading, cell by cell."""
    return said[said.index(first) + 1 :]


def test_every_size_of_the_drawing_is_that_of_the_mesh(made):
    """A stranger could make the part from it: overall sizes on each view, legs and bends, ends, tables."""
    assert {"part-drawing.svg", "part-drawing.pdf"} <= set(made.pictures)
    (panel,) = made.pictures["part-drawing.svg"].axes
    said = texts_of(panel)
    mesh = read_mesh(made.out / "part.stl", "mm")
    x, y, z = 1e3 * mesh.extents
    found = numbers(said)
    for view in ((x, z), (y, z), (x, y)):
        for size in view:
            assert min(abs(n - size) for n in found) < 0.06, size
    assert "R 60.0, 90.0 deg" in said  # the bend, where it lies in the plane of the paper
    assert {"140.0", "240.0"} <= set(said)  # its straight legs
    assert 140.0 + 240.0 + 60.0 * np.pi / 2 == pytest.approx(LENGTH, abs=0.06)
    cells = table_of(said, "straight on, mm")
    rows = [cells[8 * k : 8 * k + 8] for k in range(3)]
    assert [row[1:4] for row in rows] == [
        ["0.0", "-300.0", "-200.0"],
        ["0.0", "-300.0", "0.0"],
        ["0.0", "0.0", "0.0"],
    ]
    assert rows[1][4:] == ["60.0", "90.0", "", "240.0"]
    assert rows[0][7] == "140.0"
    areas = table_of(said, "area, mm2")
    assert float(areas[5]) == pytest.approx(np.pi / 4 * 46**2, abs=0.1)
    assert float(areas[11]) == pytest.approx(np.pi / 4 * 42**2, abs=0.1)
    assert any(t.startswith("scale 1 : ") for t in said)
    assert any("A starting point, not a released part." in t for t in said)


def test_flange_holes_and_joints_are_drawn(under_bonnet):
    """Silhouettes are those of the meshes; the holes of the flange stand in a table."""
    from aircolumn.output.part.drawing import ABOVE, FRONT, SIDE, extent, silhouettes
    from aircolumn.output.part.tables import hole_rows
    from aircolumn.part.made import make

    engine = aircolumn.load(BONNET).engine
    made = make(engine, "runner", 1)
    assert len(made.pieces) == 2
    meshes = [trimesh.load(under_bonnet[0] / f"part-{k}-of-2.stl") for k in (1, 2)]
    for view, axes in ((FRONT, [0, 2]), (SIDE, [1, 2]), (ABOVE, [0, 1])):
        outlines = silhouettes(made, view)
        for piece, mesh in zip(outlines, meshes, strict=True):
            low, high = extent([piece])
            assert low == pytest.approx(mesh.bounds[0][axes], abs=0.01)
            assert high == pytest.approx(mesh.bounds[1][axes], abs=0.01)
    flange = engine.part.port_flange
    assert hole_rows(made.part.part)[1:] == [
        ["head", str(k), f"{1e3 * x:.1f}", f"{1e3 * y:.1f}", f"{1e3 * flange.bolt_hole:.1f}"]
        for k, (x, y) in enumerate(flange.bolts, 1)
    ]


def test_bends_that_follow_each_other_are_one_arc():
    from aircolumn.output.part.drawing import arcs_of, legs_of, true_view

    line = aircolumn.load(BONNET).engine.intake.runner.passage().line
    ((start, bend, angle),) = arcs_of(line)
    legs = legs_of(line)
    assert sum(b - a for a, b in legs) + bend.radius * angle == pytest.approx(line.length)
    assert start == pytest.approx(legs[0][1])
    view = true_view(line)
    flat = view.flat(line.at(np.array([0.0, line.length]))[0])
    assert np.ptp(line.at(line.stations(0.01))[0] @ view.axes[2]) < 1e-6  # it lies in the paper
    assert flat[1, 0] > flat[0, 0]


@pytest.mark.parametrize(
    ("sizes", "scale"), [([[90, 238], [304, 238], [90, 304]], 0.4), ([[10, 20]], 5.0), ([[9e3, 9e3]], 0.02)]
)
def test_scales(sizes, scale):
    from aircolumn.output.part.drawing import said_scale, scale_for

    assert scale_for([np.array(s, dtype=float) for s in sizes]) == scale
    assert said_scale(0.4) == "1 : 2.5"
    assert said_scale(2.0) == "2 : 1"


@pytest.mark.slow
def test_a_whole_manifold_that_fits_no_bed_is_made_in_one_piece(tmp_path):
    done = command("part", BONNET, "--manifold", out=tmp_path / "out")
    assert done.code == 0
    said = " ".join(done.said.split())
    assert "In one piece: no joints were found" in said
    assert (tmp_path / "out" / "part.stl").is_file()


def test_us_sizes_have_thousandths(made, tmp_path):
    path = demo_with(tmp_path, ("    length: 430 mm\n", f"    {ROUTE}\n"))
    said = command("part", path, "--units", "us", out=tmp_path / "out").said
    assert f"{LENGTH / 25.4:.3f} in along its centre line, wall 0.118 in" in said


@pytest.fixture(scope="module")
def under_bonnet(tmp_path_factory):
    """The demo's runner under its bonnet, its pictures drawn: (folder, plain answer)."""
    out, said = tmp_path_factory.mktemp("bonnet") / "out", StringIO()
    with redirect_stdout(said):
        assert main(["part", str(BONNET), "--out", str(out), "--json"]) == 0
    return out, json.loads(said.getvalue())["result"]


def test_views_are_pictures(under_bonnet):
    out, _ = under_bonnet
    names = {p.name for p in out.iterdir()}
    assert len([n for n in names if n.startswith("part-") and "-of-" in n]) >= 2
    assert {"part.3mf", "part-air.stl", "part-air-with-bellmouth.stl", "part-views.png"} <= names
    assert is_picture(out / "part-views.png")
    assert (out / "part-drawing.pdf").read_bytes().startswith(b"%PDF")


def test_what_the_demo_makes_is_read_back(under_bonnet):
    """The air of the demo's runner under its bonnet."""
    read = schedule_of(read_mesh(under_bonnet[0] / "part-air.stl", "mm"))
    assert read.line.length == pytest.approx(0.43, rel=5e-3)
    assert read.area[[0, -1]] == pytest.approx(0.25 * np.pi * np.array([0.046, 0.042]) ** 2, rel=5e-3)


def test_meshes_are_larger_by_the_allowance(tmp_path):
    import trimesh

    sizes = []
    for text in ("", "\npart: {allowance: 1.01}\n"):
        path = demo_with(tmp_path)
        path.write_text(path.read_text() + text)
        out = tmp_path / f"out{len(sizes)}"
        assert command("part", path, out=out).code == 0
        sizes.append(trimesh.load_mesh(out / "part-air.stl").extents)
    assert sizes[1] == pytest.approx(1.01 * sizes[0], rel=1e-6)


def test_wrong_requests(tmp_path):
    out = tmp_path / "out"
    assert (
        "space.spacing"
        in command("part", ROOT / "configs" / "rescue-four.yaml", "--bank", "4", out=out).complaints
    )
    assert "--bank 1: from 2 to 16" in command("part", BONNET, "--bank", "1", out=out).complaints
    sections = "long: {sections: [{length: 1 m, bore: 40 mm}]}"
    path = demo_with(tmp_path, ("long: {length: 650 mm}", sections))
    said = command("part", path, "--runner", "long", out=out).complaints
    assert "a list of sections has no place in space" in said
    assert not out.exists()


def test_what_is_read_from_a_mesh(tmp_path):
    air_file("bent", tmp_path / "air.stl")
    found = command("sections", tmp_path / "air.stl", "--unit", "mm", out=tmp_path / "out")
    assert f"{1e3 * BENT.length:.1f} mm along its centre line, bent to a radius of 39" in found.said.replace(
        "\n  ", " "
    )
    panels = found.pictures["sections.png"].axes
    area = panels[0].lines[0].get_ydata()
    assert area[[0, -1]] == pytest.approx(np.pi / 4 * np.array([46.0, 42.0]) ** 2, rel=2e-3)
    hydraulic = panels[1].lines[1].get_ydata()
    assert hydraulic[[0, -1]] == pytest.approx([46.0, 42.0], rel=2e-3)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ((), "does not say its unit of length"),
        (("--unit", "furlong"), "not a unit of length"),
        (("--unit", "mm", "--start", "0, 0, 0"), "'0' has no unit"),
        (("--unit", "mm", "--start", "0 mm, 0 mm"), "is not a point"),
        (("--unit", "mm", "--allowance", "2"), "a factor from 0.8 to 1.2"),
    ],
)
def test_wrong_questions_about_a_mesh(tmp_path, arguments, said):
    air_file("straight", tmp_path / "air.stl")
    assert said in command("sections", tmp_path / "air.stl", *arguments, out=tmp_path / "out").complaints


def test_a_mesh_too_small_for_its_unit(tmp_path):
    """All triangles fall together: 40 mm read as 40 nm."""
    mesh = trimesh.creation.cylinder(20.0, 100.0)
    mesh.apply_scale(1e-9)
    mesh.export(tmp_path / "tiny.stl")
    asked = command("sections", tmp_path / "tiny.stl", "--unit", "mm", out=tmp_path / "out")
    assert "it holds no triangles of any size; is the unit right?" in asked.complaints
    assert not (tmp_path / "out").exists()


def test_plain_answers(under_bonnet):
    _, found = under_bonnet
    assert found["length"] == pytest.approx(0.43)
    assert found["air_volume"] == pytest.approx(found["computed_volume"], rel=2e-3)
    corners, radii = np.array(found["corners"]), found["radii"]
    assert len(corners) == len(radii) + 2
