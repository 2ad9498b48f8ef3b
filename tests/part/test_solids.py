"""Solids against closed forms, and their surfaces by an independent checker (trimesh)."""

import dataclasses
from itertools import pairwise

import numpy as np
import pytest
from tests.conftest import ROOT
from tests.part.shapes import BENT, KINDS, ROUND, STRAIGHT, passage

import aircolumn
from aircolumn.engine.description.part import Flange, Joint, Part
from aircolumn.errors import RequestError
from aircolumn.part.sweep import MM, tube
from aircolumn.space.cross_section import CrossSection
from aircolumn.space.passage import Passage

trimesh = pytest.importorskip("trimesh")
pytest.importorskip("manifold3d")

from aircolumn.part.made import make  # noqa: E402
from aircolumn.part.pieces import extents, pieces_of  # noqa: E402
from aircolumn.part.plenum import box_sides  # noqa: E402
from aircolumn.part.runner import RunnerPart, runner_part  # noqa: E402

FLANGE = Flange.model_construct(
    thickness=0.01, width=0.09, height=0.062, corner_radius=0.01, bolts=[[0.036, 0.0], [-0.036, 0.0]],
    bolt_hole=0.0084,
)  # fmt: skip
BONNET = ROOT / "configs" / "rescue-four-bonnet.yaml"
AREA = 0.25 * np.pi * 0.042**2


def mesh_of(solid):
    mesh = solid.to_mesh()
    return trimesh.Trimesh(np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts))


def check_closed(solid):
    mesh = mesh_of(solid)
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.volume == pytest.approx(solid.volume(), rel=1e-4)


def part_of(line=STRAIGHT, sides=ROUND, lip=0.0, shifts=1, **keys):
    one = Passage(line, np.array([0.0, line.length]), CrossSection(*np.array(sides).T))
    return RunnerPart(
        one, Part(**{"wall": "3 mm"}).changed(**keys), lip, np.outer(range(shifts), [0.1, 0, 0])
    )


@pytest.mark.parametrize("kind", KINDS)
def test_the_air_column_holds_what_is_computed(kind):
    one = passage(kind)
    solid = tube(one, 0.0, one.length)
    check_closed(solid)
    assert solid.volume() / MM**3 == pytest.approx(one.volume(), rel=1e-3)


def test_volumes_by_formula():
    straight, bent = (tube(p.passage, 0.0, p.end).volume() / MM**3 for p in (part_of(), part_of(BENT)))
    assert straight == pytest.approx(AREA * 0.4, rel=1e-9)
    assert bent == pytest.approx(AREA * BENT.length, rel=1e-3)  # Pappus
    taper = part_of(sides=((0.046, 0.046, 0.023), (0.042, 0.042, 0.021))).air().volume() / MM**3
    assert taper == pytest.approx(np.pi / 12 * 0.4 * (0.046**2 + 0.046 * 0.042 + 0.042**2), rel=1e-9)


def test_a_wall_with_a_flange_by_formula():
    solid = part_of(port_flange=FLANGE).solid()
    check_closed(solid)
    outer = 0.25 * np.pi * 0.048**2
    plate = 0.09 * 0.062 - (4 - np.pi) * 0.01**2 - outer - 2 * 0.25 * np.pi * 0.0084**2
    assert solid.volume() / MM**3 == pytest.approx(0.4 * (outer - AREA) + 0.01 * plate, rel=2e-3)
    assert solid.genus() == 3  # the bore and two bolts


def test_a_bellmouth_stands_in_front():
    plain, made = part_of().solid(), part_of(lip=0.008).solid()
    check_closed(made)
    assert extents(made)[2] - extents(plain)[2] == pytest.approx(8.0, abs=0.01)
    assert np.sort(extents(made))[0] == pytest.approx(42 + 2 * 8 + 2 * 3, abs=0.1)


def test_a_bank_is_one_plate_and_as_many_runners():
    solid = part_of(shifts=3, port_flange=FLANGE).solid()
    check_closed(solid)
    assert solid.genus() == 3 * 3
    assert len(solid.decompose()) == 1
    assert np.sort(extents(solid))[1] == pytest.approx(2 * 100 + 90, abs=0.01)


@pytest.mark.parametrize("kind", ["spigot", "o_ring", "flange"])
def test_pieces_fit_the_bed_and_each_other(kind):
    joint = Joint.model_construct(**(Joint().model_dump() | {"kind": kind}))
    part = part_of(port_flange=FLANGE, bed=[0.15, 0.15, 0.19], joint=joint)
    pieces = pieces_of(part)
    assert len(pieces) == 3
    for piece in pieces:
        check_closed(piece.solid)
        assert np.all(np.sort(extents(piece.solid)) <= [150, 150, 190])
    for one, other in pairwise(pieces):
        assert (one.solid ^ other.solid).volume() < 1.0  # mm3: they touch, and do not overlap
    air = part.air()
    for piece in pieces:
        assert (piece.solid ^ air).volume() < 1.0  # nothing stands in the air
    together = sum(p.solid.volume() for p in pieces)
    assert together > part.solid().volume()


def test_an_o_ring_has_its_groove():
    joint = Joint.model_construct(**(Joint().model_dump() | {"kind": "o_ring", "cord": 0.0026}))
    first, *_ = pieces_of(part_of(bed=[0.15, 0.15, 0.25], joint=joint))
    middle = MM * (first.stop + 0.5 * joint.length)
    lying = first.solid.rotate([90.0, 0.0, 0.0])  # slices are square to z
    cuts = {at: lying.slice(at).area() for at in (middle, middle + 4)}
    outer = 0.042 + 2 * (0.8 * 0.0026 + 0.0015)  # groove and what is under it, above the wall's 3 mm
    deep = 0.25 * np.pi * ((outer - 2 * 0.8 * 0.0026) ** 2 - 0.042**2) * 1e6
    assert cuts[middle] == pytest.approx(deep, rel=0.01)
    assert cuts[middle + 4] == pytest.approx(0.25 * np.pi * (outer**2 - 0.042**2) * 1e6, rel=0.01)


@pytest.mark.slow
def test_a_spigot_needs_a_straight_stretch():
    ring = dataclasses.replace(part_of(BENT), part=part_of().part.changed(bed=[0.1, 0.1, 0.1]))
    with pytest.raises(RequestError, match="which needs no straight stretch"):
        pieces_of(ring)


def test_a_tiny_bed():
    with pytest.raises(RequestError, match="fits a bed of 30 x 30 x 30 mm"):
        pieces_of(part_of(bed=[0.03, 0.03, 0.03]))


@pytest.mark.parametrize(
    ("flange", "said"),
    [
        (FLANGE.changed(width=0.045), "port_flange: its width of 45 mm is less than the opening"),
        (FLANGE.changed(bolts=[[0.022, 0.0]]), r"the bolt at \(22.0, 0.0\) mm cuts into the bore"),
    ],
)
def test_flanges_that_cannot_be(flange, said):
    with pytest.raises(RequestError, match=said):
        part_of(port_flange=flange).solid()


@pytest.fixture(scope="module")
def under_bonnet():
    return aircolumn.load(BONNET).with_runner("runner")


def test_the_manifold_of_the_demo(under_bonnet):
    """Plenum, four runners, throttle: one closed solid that holds the plenum's volume."""
    free = under_bonnet.changed(part=under_bonnet.part.changed(bed=None))
    made = make(free, "manifold", 4)
    (piece,) = made.pieces
    check_closed(piece.solid)
    assert len(piece.solid.decompose()) == 1
    depth, length, height = box_sides(made.part, free, 6e-3)
    assert depth * length * height == pytest.approx(6e-3)
    assert (
        piece.solid.genus() == 4 + 8 + 3
    )  # openings of runners and throttle, bolts, and runners beside each other
    assert made.air_volume == pytest.approx(made.computed_volume, rel=2e-3)


def test_a_plenum_that_would_run_into_things(under_bonnet):
    space = under_bonnet.space
    low = space.planes["cross member"].changed(through=[0.0, 0.0, -0.15])
    near = under_bonnet.changed(space=space.changed(planes={"cross member": low}))
    with pytest.raises(
        RequestError, match=r"it comes too near to 'cross member', by 15\d\.\d mm at \("
    ) as told:
        make(near, "manifold", 4)
    assert "What may help: change part.plenum.height" in str(told.value)
    assert "mouth_direction" not in str(told.value)  # it is stated


@pytest.mark.slow
def test_a_log_as_plenum():
    engine = aircolumn.load(ROOT / "configs" / "rescue-four-manifold.yaml").engine
    if engine.intake.log is None:
        places = [0.06, 0.156, 0.252, 0.348]
        log = {
            "length": "410 mm",
            "bore": "110 mm",
            "heat_factor": 0,
            "runners_at": [f"{x} m" for x in places],
        }
        from aircolumn.engine.description.plenum import Plenum

        engine = engine.with_intake(plenum=Plenum(log=log))
    made = make(engine.changed(part=Part()), "manifold", 4)
    check_closed(made.pieces[0].solid)
    assert len(made.pieces[0].solid.decompose()) == 1


def test_a_bank_needs_its_spacing(demo):
    with pytest.raises(RequestError, match=r"space\.spacing"):
        runner_part(demo.engine, 4)
