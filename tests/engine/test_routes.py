"""Routes, cross-sections and the space of an engine file: what they mean, and what is said of wrong ones."""

import numpy as np
import pytest
from tests import made_up
from tests.conftest import DEMO, ROOT
from tests.edited import demo_with
from tests.printed import command

import aircolumn
from aircolumn.curves.tuning.tuning_map import with_bore, with_length
from aircolumn.engine.model.piping import intake_piping, pipe_sections, pipe_shape
from aircolumn.errors import InputError
from aircolumn.flow.duct.bends import bend_loss

LONG = "long: {length: 650 mm}"
BONNET = ROOT / "configs" / "rescue-four-bonnet.yaml"
SECTIONS = (
    "long: {sections: [{length: 200 mm, bore: {from: 46 mm, to: 44 mm}},"
    " {length: 94.2477796 mm, bore: 44 mm, bend_angle: 90 deg, bend_radius: 60 mm},"
    " {length: 200 mm, bore: {from: 44 mm, to: 42 mm}}]}"
)
ROUTE = (
    "long: {route: {points: [[0 mm, -260 mm, -260 mm], [0 mm, -260 mm, 0 mm], [0 mm, 0 mm, 0 mm]],"
    " bend_radius: 60 mm}, sizes: [{at: 0 %, bore: 46 mm}, {distance: 200 mm, bore: 44 mm},"
    " {distance: 294.2477796 mm, bore: 44 mm}, {at: 100 %, bore: 42 mm}]}"
)


def runner(folder, text, name="long"):
    return aircolumn.load(demo_with(folder, (LONG, text))).runners[name]


def refused(folder, text):
    with pytest.raises(InputError) as told:
        runner(folder, text)
    return str(told.value)


def test_a_route_is_computed_as_the_sections_it_makes(tmp_path):
    by_hand, found = (pipe_sections(runner(tmp_path, text), None) for text in (SECTIONS, ROUTE))
    for a, b in zip(by_hand, found, strict=True):
        assert tuple(a) == pytest.approx(tuple(b), rel=1e-6)
    assert found[1].bend == pytest.approx(bend_loss(90.0, 0.06, 0.044))
    path = demo_with(tmp_path, (LONG, ROUTE))
    one = aircolumn.operating_point(aircolumn.load(path).with_runner("long"), 3500.0).figures["ve"]
    path = demo_with(tmp_path, (LONG, SECTIONS))
    other = aircolumn.operating_point(aircolumn.load(path).with_runner("long"), 3500.0).figures["ve"]
    assert one == pytest.approx(other, abs=1e-5)


def test_a_route_from_a_file_with_radii(tmp_path):
    (tmp_path / "r.csv").write_text(
        "# as bent\nx [mm],y [mm],z [mm],bend_radius [mm]\n0,-260,-260,0\n0,-260,0,60\n0,0,0,0\n"
    )
    assert runner(tmp_path, "long: {route: r.csv}").total_length == pytest.approx(0.4 + 0.03 * np.pi)


def test_a_smooth_route_from_a_file(tmp_path):
    angle = np.linspace(0.0, 0.5 * np.pi, 30)
    rows = "\n".join(f"0,{100 * np.cos(a):.6f},{100 * np.sin(a):.6f}" for a in angle)
    (tmp_path / "r.csv").write_text(f"X [mm],Y [mm],Z [mm]\n{rows}\n")
    found = runner(tmp_path, "long: {route: {file: r.csv, width_along: [0, 1, 0]}, bore: 40 mm}")
    assert found.total_length == pytest.approx(0.05 * np.pi, rel=1e-4)
    assert sum(s.bend_angle for s in found.sections) == pytest.approx(90.0, abs=0.2)
    loss = sum(cone.bend for cone in pipe_sections(found, None))
    assert loss == pytest.approx(bend_loss(90.0, 0.1, 0.04), rel=0.01)


def test_a_rectangular_port_has_its_hydraulic_diameter(tmp_path):
    sizes = "sizes: [{at: 0 %, bore: 42 mm}, {at: 100 %, width: 52 mm, height: 26 mm}]"
    path = demo_with(
        tmp_path,
        ("    bore: {to: 38 mm}                         # begins as the runner ends", f"    {sizes}"),
    )
    engine = aircolumn.load(path).with_runner("long")
    cones = pipe_sections(engine.intake.port, None)
    last = cones[-1]
    assert 0.25 * np.pi * last.end**2 == pytest.approx(0.052 * 0.026)
    hydraulic = 2 * 0.052 * 0.026 / (0.052 + 0.026)
    assert last.roundness * last.end == pytest.approx(hydraulic, rel=0.02)  # mean over the last cone
    assert cones[0].roundness == pytest.approx(1.0, abs=0.01)
    volume = pipe_shape(engine.intake.port).volume()
    share = np.linspace(0, 1, 2001)
    width, height, corner = 0.042 + 0.010 * share, 0.042 - 0.016 * share, 0.021 * (1 - share)
    due = 0.09 * np.trapezoid(width * height - (4 - np.pi) * corner**2, share)
    assert volume == pytest.approx(due, rel=3e-4)
    wall = intake_piping(engine).wall()
    along = intake_piping(engine).shape.length
    assert wall.roundness(np.array([0.1, along - 1e-6])) == pytest.approx([1.0, last.roundness])


def test_more_perimeter_is_more_friction_and_heat(tmp_path):
    """A flat runner of the same areas fills a little worse."""
    flat = (
        "long: {length: 650 mm, sizes: [{at: 0 %, width: 83.0951 mm, height: 20 mm},"
        " {at: 100 %, width: 69.2721 mm, height: 20 mm}]}"
    )
    path = demo_with(tmp_path, (LONG, flat))
    engine, plain = (aircolumn.load(p).with_runner("long") for p in (path, DEMO))
    ends = engine.intake.runner.first_bore, engine.intake.runner.last_bore
    assert ends == pytest.approx((0.046, 0.042), rel=1e-5)
    ve = [aircolumn.operating_point(e, 4000.0).figures["ve"] for e in (plain, engine)]
    assert 0.005 < ve[0] - ve[1] < 0.05


def test_a_bend_may_state_its_loss(tmp_path):
    stated = SECTIONS.replace("bend_radius: 60 mm", "bend_radius: 60 mm, bend_loss: 0.31")
    assert pipe_sections(runner(tmp_path, stated), None)[1].bend == 0.31


def test_a_length_takes_the_place_of_a_route(tmp_path):
    route = "{points: [[0 mm, -430 mm, 0 mm], [0 mm, 0 mm, 0 mm]]}"
    path = demo_with(tmp_path, ("    length: 430 mm\n", f"    route: {route}\n"))
    found = aircolumn.load(path).runners
    assert found["short"].total_length == pytest.approx(0.29)
    assert found["short"].route is None


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("long: {route: {points: [[0, 0 mm, 0 mm], [1 m, 0 mm, 0 mm]]}}", "points.0.0: 0 has no unit"),
        ("long: {route: {points: [[0 mm, 0 mm], [1 m, 0 mm, 0 mm]]}}", "at least 3 are expected"),
        ("long: {route: {points: [[0 mm, 0 mm, 0 mm]]}}", "at least 2 are expected"),
        (ROUTE.replace(" bend_radius: 60 mm", ""), "bend_radius is missing (or curve: smooth)"),
        (
            ROUTE.replace("radius: 60 mm", "radius: [60 mm, 50 mm]"),
            "2 bend radii for 1 points between the ends",
        ),
        (
            ROUTE.replace("radius: 60 mm", "radius: 300 mm"),
            "from point 1 to point 2 there are 260 mm, but the bends there need 300",
        ),
        (ROUTE.replace("at: 100 %", "at: 90 %"), "sizes must begin at 0 % and end at 100 %"),
        (ROUTE.replace("distance: 200 mm", "distance: 300 mm"), "sizes must stand in order along the pipe"),
        (ROUTE.replace("bore: 42 mm", "width: 42 mm"), "give bore, or both width and height"),
        (ROUTE.replace("bore: 42 mm", "bore: 42 mm, height: 3 mm"), "give either bore, or width and height"),
        (ROUTE.replace("at: 0 %,", ""), "say where: either at (a share of the length) or distance"),
        (
            "long: {length: 300 mm, route: {points: [[0 mm, 0 mm, 0 mm], [1 m, 0 mm, 0 mm]]}}",
            "either route, or length",
        ),
        ("long: {route: none.csv}", "none.csv:1:1: cannot be read"),
        (
            SECTIONS.replace("bore: 44 mm,", "bore: 44 mm, perimeter: 100 mm,"),
            "no shape of this area has a perimeter",
        ),
    ],
)
def test_wrong_routes_and_sizes(tmp_path, text, said):
    assert said in refused(tmp_path, text)


@pytest.mark.parametrize(
    ("table", "said"),
    [
        ("x,y,z\n0,0,0\n", "r.csv:1:1: columns 'x [mm],y [mm],z [mm]' are expected"),
        ("x [mm],y [mm],z [mm]\n0,0,0\n", "a route needs two points or more"),
        ("x [mm],y [mm],z [mm]\n0,0,0\n1,wide,0\n", "r.csv:3:1: y: 'wide mm' is not a number"),
        (
            "x [mm],y [mm],z [mm],bend_radius [mm]\n0,0,0,0\n50,0,0,0\n50,50,0,0\n",
            "must be greater than 0 at a corner",
        ),
    ],
)
def test_wrong_files_of_points(tmp_path, table, said):
    (tmp_path / "r.csv").write_text(table)
    assert said in refused(tmp_path, "long: {route: r.csv}")


def test_a_route_that_crosses_itself_is_refused(tmp_path):
    points = "[-300 mm, 0 mm, 0 mm], [100 mm, 0 mm, 0 mm], [100 mm, 200 mm, 0 mm], [-100 mm, 200 mm, 0 mm],"
    crossing = (
        f"long: {{route: {{points: [{points} [-100 mm, -200 mm, 0 mm]], bend_radius: 40 mm}}, bore: 40 mm}}"
    )
    said = refused(tmp_path, crossing)
    assert "intake.runner.route: long: it crosses itself" in said
    assert ":64:" in said  # where the candidate states it


def with_space(folder, text, *pairs):
    path = demo_with(folder, *pairs)
    path.write_text(path.read_text() + text)
    return path


SPACE = """
space:
  port: {at: [0 mm, 0 mm, 0 mm], direction: [0, -1, 0.2]}
  mouths: {from: [-50 mm, -400 mm, -300 mm], to: [50 mm, 0 mm, 300 mm]}
  spacing: 96 mm
  planes: {bonnet: {through: [0 mm, 0 mm, 150 mm], normal: [0, 0, 1]}}
"""


def test_every_candidate_is_laid(tmp_path):
    found = aircolumn.load(with_space(tmp_path, SPACE))
    for name, length in (("short", 0.29), ("middle", 0.43), ("long", 0.65)):
        one = found.runners[name]
        assert one.total_length == pytest.approx(length, abs=1e-6)
        assert one.route is not None
        assert max(p[2] for p in one.route.points) < 0.3
    assert sum(cone.bend for cone in pipe_sections(found.runners["long"], None)) > 0.0
    assert found.with_runner("long").intake.runner == found.runners["long"]


def test_a_candidate_that_does_not_fit_is_named(tmp_path):
    low = SPACE.replace("-300 mm], to: [50 mm, 0 mm, 300 mm]", "-150 mm], to: [50 mm, 0 mm, 120 mm]")
    floor = "floor: {through: [0 mm, 0 mm, -160 mm], normal: [0, 0, -1]}"
    wing = "wing: {through: [0 mm, -300 mm, 0 mm], normal: [0, -1, 0]}, "
    wing += "head: {through: [0 mm, 20 mm, 0 mm], normal: [0, 1, 0]}"
    text = low.replace("150 mm], normal: [0, 0, 1]}", f"100 mm], normal: [0, 0, 1]}}, {floor}, {wing}")
    with pytest.raises(InputError) as told:
        aircolumn.load(with_space(tmp_path, text, (LONG, "long: {length: 1500 mm}")))
    (said,) = str(told.value).splitlines()
    assert "intake.runner.length: long: no route of 1500 mm was found in the space: the nearest" in said
    assert ":64:" in said


def test_a_stated_route_is_checked_against_the_space(tmp_path):
    path = with_space(tmp_path, SPACE.replace("150 mm", "20 mm"), (LONG, ROUTE))
    with pytest.raises(
        InputError, match=r"long: at .* from its mouth the outside is \d+\.\d mm beyond 'bonnet'"
    ):
        aircolumn.load(path)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (
            "  mouths: {from: [-50 mm, -400 mm, -300 mm], to: [50 mm, 0 mm, 300 mm]}\n",
            "",
            "mouths is missing",
        ),
        ("direction: [0, -1, 0.2]", "direction: [0, 0, 0]", "direction needs one other than"),
        ("direction: [0, -1, 0.2]", "direction: [1, 0, 0]", "leave along the crankshaft run into each other"),
        ("normal: [0, 0, 1]", "normal: [0, 0, 0]", "normal needs a direction"),
        ("spacing: 96 mm", "spacing: 96", "96 has no unit"),
        (
            "spacing: 96 mm",
            "spacing: 46 mm",
            "at 46 mm spacing the next runner is 46 mm away, but bore, walls and",
        ),
    ],
)
def test_wrong_spaces(tmp_path, old, new, said):
    assert old in SPACE
    with pytest.raises(InputError, match=said):
        aircolumn.load(with_space(tmp_path, SPACE.replace(old, new)))


def test_the_demo_under_its_bonnet_says_how_it_is_laid():
    from aircolumn.output.check.text import check_text

    said = check_text(aircolumn.load(BONNET))
    assert "laid in the space: " in said
    assert "bends lose" in said


def test_a_map_of_a_laid_runner_varies_it():
    """Its bends are left out: they were those of its own length."""
    engine = aircolumn.load(BONNET).engine
    assert engine.intake.runner.sections is not None
    for changed in (with_length(engine, 0.3), with_bore(engine, 0.036)):
        shape = pipe_shape(changed.intake.runner)
        assert shape.length == pytest.approx(changed.intake.runner.length)
        assert shape.diameter[-1] == pytest.approx(changed.intake.runner.bore.end)
    assert pipe_shape(with_bore(engine, 0.036).intake.runner).diameter[-1] == pytest.approx(0.036)


def test_the_best_of_a_search_is_an_engine_file(tmp_path):
    """It is read from anywhere, files beside the engine file included, and can be made."""
    (tmp_path / "r.csv").write_text("x [mm],y [mm],z [mm]\n0,-300,0\n0,-150,20\n0,0,0\n")
    demo_with(tmp_path, ("  bore: 89 mm", "  bore: 89 mm"), ("    length: 90 mm\n", "    route: r.csv\n"))
    port = (
        (tmp_path / "engine.yaml")
        .read_text()
        .replace("bore: {to: 38 mm} ", "bore: {from: 42 mm, to: 38 mm} ")
    )
    (tmp_path / "engine.yaml").write_text(port)
    (tmp_path / "study.yaml").write_text(
        "engine: engine.yaml\nspeeds: {from: 2000 rpm, to: 4000 rpm, step: 500 rpm}\n"
        "vary: {intake.runner.length: {from: 250 mm, to: 600 mm}}\nsearch: {evaluations: 10}\n"
    )
    with made_up.in_place():
        found = command("study", tmp_path / "study.yaml", out=tmp_path / "o", only_given=False)
    assert found.code == 0, found.complaints
    best = aircolumn.load(found.out / "study-best.yaml").engine.intake
    assert best.port.total_length == pytest.approx(0.302, abs=2e-3)
    assert f"with length {1e3 * best.runner.length:.4g} mm" in found.said


BEND = (
    "{length: 94.2477796 mm, bore: 47.87307365 mm, perimeter: 180 mm,"
    " bend_angle: 90 deg, bend_radius: 60 mm%s}"
)
STRAIGHT = "{length: 150 mm, bore: 47.87307365 mm, perimeter: 180 mm}"
FLAT_ROUTE = (
    "long: {route: {points: [[0 mm, 0 mm, 0 mm], [0 mm, 210 mm, 0 mm], [210 mm, 210 mm, 0 mm]],"
    " bend_radius: 60 mm, width_along: [0, 0, 1]}, sizes: ["
    + ", ".join(f"{{at: {at} %, width: 60 mm, height: 30 mm, corner_radius: 0 mm}}" for at in (0, 100))
    + "]}"
)


def flat_bend(folder, stated):
    text = f"long: {{sections: [{STRAIGHT}, {BEND % stated}, {STRAIGHT}]}}"
    return pipe_sections(runner(folder, text), None)[1]


def test_the_width_of_a_bend_in_its_plane(tmp_path):
    """A rectangle bent across its short side, as a route and as sections with a perimeter."""
    laid = pipe_sections(runner(tmp_path, FLAT_ROUTE), None)[1]
    stated = flat_bend(tmp_path, ", bend_width: 30 mm")
    assert stated.bend == pytest.approx(laid.bend, rel=1e-3)
    assert stated.roundness == pytest.approx(laid.roundness, rel=1e-6)
    assert flat_bend(tmp_path, ", bend_width: 60 mm").bend > 2.5 * stated.bend
    assert flat_bend(tmp_path, "").bend > 1.3 * stated.bend  # without: as wide as a circle of that area


def test_bend_factor_is_of_the_law_alone(tmp_path):
    text = SECTIONS.replace("long: {", "long: {bend_factor: 1.5, ")
    assert pipe_sections(runner(tmp_path, text), None)[1].bend == pytest.approx(
        1.5 * bend_loss(90.0, 0.06, 0.044)
    )
    stated = text.replace("bend_radius: 60 mm", "bend_radius: 60 mm, bend_loss: 0.2")
    assert pipe_sections(runner(tmp_path, stated), None)[1].bend == pytest.approx(0.2)
