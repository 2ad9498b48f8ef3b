"""The drawing of an engine file: what the air passes, in order, to scale."""

import numpy as np
import pytest
from matplotlib.patches import Polygon, Rectangle
from tests.conftest import DEMO, ROOT
from tests.printed import command, drawn

import aircolumn
from aircolumn.cli import main
from aircolumn.engine.model.flow_path import Bore, Chamber, Gate, Vessel, flow_path
from aircolumn.output.check.drawing import WIDER, part_label

STUDENT = ROOT / "configs" / "student-four.yaml"


def test_the_way_through_the_student_engine():
    path = flow_path(aircolumn.load(STUDENT).with_runner("long"))
    assert [p.name for p in path] == [
        "filter",
        "inlet pipe",
        "restrictor",
        "throttle",
        "plenum",
        "runner",
        "intake port",
        "intake valve",
        "cylinder",
        "exhaust valve",
        "exhaust port",
        "primary",
    ]
    by_name = {p.name: p for p in path}
    assert by_name["restrictor"].sections == pytest.approx(
        np.array([(0.04, 0.046, 0.02), (0.2, 0.02, 0.046)])
    )
    assert by_name["runner"].sections == [pytest.approx((0.28, 0.042, 0.036))]
    assert by_name["intake port"].sections == [pytest.approx((0.075, 0.036, 0.034))]
    assert by_name["plenum"] == Vessel("plenum", "intake", pytest.approx(3.2e-3))
    assert by_name["exhaust valve"] == Gate("exhaust valve", "exhaust", 2, pytest.approx(0.022))
    assert by_name["cylinder"].volume == pytest.approx(np.pi / 4 * 0.066**2 * 0.0438)
    assert [p.side for p in path] == ["intake"] * 8 + ["exhaust"] * 4


def test_the_way_of_a_stated_cylinder_through_the_whole_exhaust(tmp_path):
    lines = [
        "collector: {groups: [[1, 4], [2, 3]], length: 0.4 m, bore: 45 mm, heat_factor: 0}",
        "merge: {length: 0.9 m, bore: {from: 55 mm, to: 60 mm}, wall_temperature: 350 K}",
        "silencer: {volume: 9 L, pressure_drop: 15 kPa, flow: 110 g/s}",
    ]
    rows = DEMO.read_text().splitlines()
    k = next(i for i, r in enumerate(rows) if r.startswith("  primary:"))
    rows[k : k + 1] = [
        rows[k].replace("{", "{lengths: [0.3 m, 0.4 m, 0.5 m, 0.6 m], "),
        *(f"  {line}" for line in lines),
    ]
    (tmp_path / "e.yaml").write_text("\n".join(rows))
    path = flow_path(aircolumn.load(tmp_path / "e.yaml").engine, 3)
    last = {p.name: p for p in path[-4:]}
    assert list(last) == ["primary", "collector", "merge", "silencer"]
    assert last["primary"].length == pytest.approx(0.5)
    assert last["merge"].sections == [pytest.approx((0.9, 0.055, 0.06))]
    assert last["silencer"].volume == pytest.approx(9e-3)


def test_words():
    assert part_label(Bore("runner", "intake", [(0.1, 0.05, 0.05), (0.2, 0.05, 0.04)])) == (
        "runner\n300 mm\nbore 50.0 - 40.0 mm"
    )
    assert part_label(Vessel("plenum", "intake", 2.5e-3)) == "plenum\n2.50 L"
    assert part_label(Gate("intake valve", "intake", 2, 0.035)) == "intake valve\n2 x 35.0 mm"
    assert part_label(Gate("throttle", "intake", 1, 0.072)) == "throttle\n72.0 mm"
    assert part_label(Gate("filter", "intake", 1, 0.0)) == "filter"
    assert part_label(Chamber("cylinder", "exhaust", 0.089, 0.1, 6.22e-4)) == (
        "cylinder\n89.0 mm x 100.0 mm\n622.0 cm3"
    )


@pytest.fixture(scope="module")
def ran(tmp_path_factory):
    return command("check", STUDENT, out=tmp_path_factory.mktemp("layout") / "o")


def test_drawn_to_scale(ran):
    """Outlines one behind the other, lengths true, widths WIDER times; a panel for each runner."""
    axes = ran.pictures["layout.png"].axes
    assert [a.get_ylabel() for a in axes] == ["short", "long"]
    for panel, name in zip(axes, ("short", "long"), strict=True):
        path = flow_path(aircolumn.load(STUDENT).with_runner(name))
        x, shapes = 0.0, list(panel.patches)
        for part in (p for p in path if not isinstance(p, Gate)):
            shape = shapes.pop(0)
            if isinstance(part, Bore):
                assert isinstance(shape, Polygon)
                corners = shape.get_xy()
                assert corners[:, 0].min() == pytest.approx(x)
                x += 1e3 * part.length
                assert corners[:, 0].max() == pytest.approx(x)
                at_end = corners[np.isclose(corners[:, 0], x), 1]
                assert np.ptp(at_end) == pytest.approx(1e3 * WIDER * part.sections[-1][2])
                continue
            assert isinstance(shape, Rectangle)
            assert shape.get_x() == pytest.approx(x)
            if isinstance(part, Chamber):
                due = 1e3 * part.stroke, 1e3 * WIDER * part.bore
            else:
                due = (1e3 * part.volume ** (1 / 3),) * 2
            assert (shape.get_width(), shape.get_height()) == pytest.approx(due)
            x += due[0]
        assert not shapes
        texts = [t.get_text() for t in panel.texts]
        assert texts == [part_label(p) for p in path]


def test_written_with_the_schedules(ran):
    assert (
        "/o: layout.png, layout.svg, long-area.csv, origin.json, short-area.csv, student-four.yaml"
        in ran.said
    )
    figure = ran.pictures["layout.png"]
    assert figure.axes[0].get_title() == "Student 600 cc four behind a 20 mm restrictor (invented)"
    assert figure.axes[-1].get_xlabel() == "distance along the flow, mm"
    assert "A prediction is not a clearance to run." in figure._supxlabel.get_text()


def test_every_demo_can_be_drawn(tmp_path):
    for path in sorted((ROOT / "configs").glob("*.yaml")):
        if "vary" in path.read_text() or "cases:" in path.read_text():
            continue
        with drawn():
            assert main(["check", str(path), "--out", str(tmp_path / path.stem)]) == 0
        assert (tmp_path / path.stem / "layout.svg").exists()
