"""The inlet ahead of the throttle: how it is described, built and told; what a restrictor does."""

from math import inf

import numpy as np
import pytest
from scipy.optimize import brentq
from tests import made_up
from tests.conftest import DEMO, ROOT
from tests.printed import command
from validation import case_inlet
from validation.gas_constants import A0

import aircolumn
from aircolumn.cli import main
from aircolumn.engine.model.inlet import choked_flow, cone_loss, in_series, inlet_runs, pitches
from aircolumn.engine.model.operating_point import operating_point
from aircolumn.flow.network.items import NO_WALL

STUDENT = ROOT / "configs" / "student-four.yaml"
PIPE = "{pipe: {length: 0.3 m, bore: 60 mm, wall_temperature: 300 K}}"
FILTER = "{filter: {pressure_drop: 1 kPa, flow: 100 g/s}}"
BOX = "{airbox: {volume: 5 L}}"
RESTRICTOR = "{restrictor: {throat: 20 mm, bore: 46 mm, nozzle_length: 40 mm, diffuser_length: 200 mm}}"


def with_inlet(folder, *elements):
    """The rescue engine behind an inlet."""
    text = DEMO.read_text()
    assert "  throttle: {" in text
    path = folder / "engine.yaml"
    inlet = f"  inlet: [{', '.join(elements)}]\n  throttle: {{"
    path.write_text(text.replace("  throttle: {", inlet, 1))
    return path


def built(folder, *elements):
    """Its stretches behind which the throttle has 10 cm2."""
    return inlet_runs(aircolumn.load(with_inlet(folder, *elements)).engine, 1e-3)


@pytest.fixture(scope="module")
def student():
    return aircolumn.load(STUDENT).engine


def test_stretches(tmp_path):
    """One from each volume to the next; throats where they stand; the throttle at the end."""
    area = 0.1 / np.sqrt(2.0 * 99e3 / (287.05 * 298.15) * 1000.0)
    (bare,) = built(tmp_path, PIPE)
    assert bare.piping.segments[-1].length == 0.3
    assert bare.piping.segments[0].wall == NO_WALL  # the air before the mouth
    assert (bare.first, bare.last, bare.beyond) == (inf, 1e-3, None)
    assert bare.mouth > 0.0
    (front,) = built(tmp_path, FILTER, PIPE)
    assert (front.first, front.last) == (pytest.approx(area), 1e-3)
    (back,) = built(tmp_path, PIPE, FILTER)
    assert (back.first, back.last) == (inf, pytest.approx((area**-2 + 1e6) ** -0.5))
    first, second = built(tmp_path, PIPE, FILTER, BOX, RESTRICTOR, PIPE)
    assert (first.last, first.beyond) == pytest.approx((area, 5e-3))
    lengths = [p.length for p in second.piping.segments]
    assert lengths == [0.04, 0.2, 0.3]
    assert (second.mouth, second.first, second.last) == (0.0, inf, 1e-3)
    box, pot = built(tmp_path, FILTER, BOX)
    assert box.piping is None
    assert (box.first, box.beyond) == pytest.approx((area, 5e-3))
    assert (pot.piping, pot.last) == (None, 1e-3)


def test_losses_of_a_restrictor(tmp_path):
    """Spread so that slow flow loses K of the throat's head: int k (A_t/A)^2 dx."""
    ((one,)) = built(tmp_path, RESTRICTOR)
    for segment, k in zip(one.piping.segments, (0.04, cone_loss(0.02, 0.046, 0.2)), strict=True):
        x = np.linspace(0.0, 1.0, 20001)
        bore = segment.start + (segment.end - segment.start) * x
        lost = segment.wall.bend * segment.length * np.trapezoid((0.02 / bore) ** 4, x)
        assert lost == pytest.approx(k, rel=1e-6)
        assert segment.wall.friction == 0.0
    assert cone_loss(0.02, 0.046, 0.001) == pytest.approx((1.0 - (20 / 46) ** 2) ** 2)


def test_cone_against_the_fluids_library():
    fittings = pytest.importorskip("fluids.fittings", reason="fluids is not installed")
    for length in (0.05, 0.1, 0.3):
        theirs = fittings.diffuser_conical(Di1=0.02, Di2=0.046, l=length, method="Crane")
        assert cone_loss(0.02, 0.046, length) == pytest.approx(theirs, rel=1e-9)


def test_throats_in_series_lose_together():
    """Three equal ones pass what one of 1/sqrt(3) of the area does; none is no loss."""
    assert in_series(1.0, 1.0, 1.0) == pytest.approx(3.0**-0.5)
    assert in_series(2.0, inf) == 2.0


def test_choked_flow(student):
    """20 mm, 100 kPa, 25 degC: 73.5 g/s (NACA Report 1135: 0.0404 A p0 / sqrt(T0) for air)."""
    by_hand = 0.0404184 * 0.25 * np.pi * 0.02**2 * 100e3 / 298.15**0.5
    assert choked_flow(student) == pytest.approx(by_hand, rel=1e-4)
    assert choked_flow(student.with_intake(inlet=None)) == inf


def test_a_choked_engine_draws_what_its_throat_passes(student):
    found = [operating_point(student, rpm).figures for rpm in (6000.0, 13000.0)]
    slow, choked = found
    most = choked_flow(student)
    assert 0.97 * most <= choked["air_flow"] <= most
    assert choked["inlet_mach"] >= 1.0
    assert slow["inlet_mach"] < 0.5
    assert slow["plenum_pressure"] > 0.99e5 > 0.9e5 > choked["plenum_pressure"]
    for f in found:
        assert f["mass_error"] < 1e-9
        assert f["energy_error"] < 1e-9


def steady_mach(share):
    """Mach number below 1 at which a share of the choking flow passes (isentropic flow, NACA Report 1135)."""
    return brentq(lambda m: m * (1.2 / (1.0 + 0.2 * m * m)) ** 3 - share, 0.0, 1.0)


@pytest.mark.parametrize("rpm", [6000.0, 8000.0, 9000.0])
def test_the_highest_mach_number_is_more_than_that_of_the_mean_flow(student, rpm):
    """It is taken over the cycle, in which the flow swings: as the cycle ends it may be less."""
    found = operating_point(student, rpm).figures
    steady = steady_mach(found["air_flow"] / choked_flow(student))
    assert steady < found["inlet_mach"] < 1.6 * steady


def test_one_cylinder_is_the_manifold_behind_an_inlet(student):
    one, four = (operating_point(student.changed(model=m), 8000.0).figures for m in ("single", "manifold"))
    assert (one["cylinders_computed"], four["cylinders_computed"]) == (1.0, 4.0)
    assert one["ve"] == pytest.approx(four["ve"], abs=1e-3)
    assert one["air_flow"] == pytest.approx(four["air_flow"], rel=2e-3)


def test_an_inlet_that_hardly_hinders_changes_little(tmp_path, demo):
    """A mouth of 200 mm, 50 mm long."""
    wide = "{pipe: {length: 50 mm, bore: 200 mm, heat_factor: 0, entry: {end_correction: false}}}"
    engine = aircolumn.load(with_inlet(tmp_path, wide)).engine
    found, plain = (operating_point(e, 3500.0).figures for e in (engine, demo.engine))
    assert found["ve"] == pytest.approx(plain["ve"], abs=2e-3)
    assert 0.0 < found["inlet_mach"] < 0.1
    assert plain["inlet_mach"] == 0.0


def test_a_clogged_filter_takes_power(tmp_path, demo):
    clogged = "{filter: {pressure_drop: 8 kPa, flow: 120 g/s}}"
    engine = aircolumn.load(with_inlet(tmp_path, clogged, "{airbox: {volume: 8 L}}")).engine
    found, plain = (operating_point(e, 5000.0).figures for e in (engine, demo.engine))
    assert found["torque"] < 0.97 * plain["torque"]
    assert found["plenum_pressure"] < plain["plenum_pressure"] - 4e3


#: what is wrong: (elements, what the message must say)
WRONG = {
    "nothing": ([], "at least 1 are expected here"),
    "no such thing": (["{horn: 3}"], "intake.inlet.0.horn: unknown key"),
    "two in one": ([PIPE[:-1] + ", " + FILTER[1:]], "one of pipe, filter, airbox, restrictor"),
    "two filters": ([FILTER, FILTER], "two filters"),
    "an airbox in the air": ([BOX], "an airbox needs a pipe"),
    "two airboxes": ([PIPE, BOX, BOX], "an airbox needs a pipe"),
    "a filter in a pipe": ([PIPE, FILTER, PIPE], "a filter between two pipes"),
    "no first bore": (
        ["{pipe: {length: 1 m, bore: {to: 60 mm}, heat_factor: 0}}"],
        "needs 'from' and 'to'",
    ),
    "no length": (["{pipe: {bore: 60 mm, wall_temperature: 30 degC}}"], "0.pipe: length is missing"),
    "a wide throat": ([RESTRICTOR.replace("20 mm", "50 mm")], "narrower than its bore"),
    "flow by volume": ([FILTER.replace("100 g/s", "100 L/s")], "is not a unit of mass flow"),
}


@pytest.mark.parametrize("name", WRONG)
def test_wrong_inlets(name, tmp_path, capsys):
    elements, said = WRONG[name]
    path = with_inlet(tmp_path, *elements)
    assert main(["check", str(path)]) == 2
    error = capsys.readouterr().err
    assert said in error
    assert f"{path}:" in error
    assert "intake" in error


def test_an_inlet_to_nothing(tmp_path, capsys):
    text = (ROOT / "configs" / "student-four.yaml").read_text()
    for line in ("  throttle: {bore: 46 mm, shaft: 6 mm}\n", "  plenum: {volume: 3.2 L}\n"):
        assert line in text
        text = text.replace(line, "")
    (tmp_path / "e.yaml").write_text(text)
    assert main(["check", str(tmp_path / "e.yaml")]) == 2
    assert "an inlet leads to a throttle and a plenum" in capsys.readouterr().err


def test_check_lists_the_inlet(tmp_path, capsys):
    path = with_inlet(tmp_path, FILTER, BOX, PIPE, RESTRICTOR)
    assert main(["check", str(path)]) == 0
    said = [r for r in capsys.readouterr().out.splitlines() if r.startswith("inlet: ")]
    # One column between two volumes (the filter is no column), by hand.
    mouth = 0.8217 * 0.03  # of a flanged pipe
    column = 4.0 / np.pi * ((0.3 + mouth) / 0.06**2 + (0.04 + 0.2) / (0.046 * 0.02))
    sound = np.sqrt(1.4 * 287.05 * 298.15)
    pitch = sound / (2.0 * np.pi) * np.sqrt((1.0 / 5e-3 + 1.0 / 6e-3) / column)
    assert said == [
        "inlet: filter, 1.00 kPa at 100.0 g/s: effective area 2079 mm2",
        "inlet: airbox, 5.00 L",
        "inlet: pipe, 300 mm, 60.0 mm wide at its end",
        "inlet: restrictor, throat 20.0 mm: of the throat's dynamic head the nozzle loses 4 % and"
        " the diffuser 11 % (Crane TP-410)",
        "inlet: the restrictor chokes at 72.8 g/s",
        f"inlet: resonates at {pitch:.1f} Hz (air columns on the volumes behind them), which the"
        f" intake strokes reach at {30.0 * pitch:.0f} rpm",
    ]


def test_pitches_of_two_columns(tmp_path):
    """Two degrees of freedom (closed form, as in validation/case_inlet.py)."""
    pipe = "{{pipe: {{length: {} m, bore: {} m, heat_factor: 0, entry: {{end_correction: false}}}}}}"
    box = f"{{airbox: {{volume: {1e3 * case_inlet.V1} L}}}}"
    one, two = (pipe.format(length, case_inlet.D) for length in (case_inlet.L1, case_inlet.L2))
    path = with_inlet(tmp_path, one, box, two)
    text = path.read_text()
    path.write_text(text.replace("volume: 6 L", f"volume: {1e3 * case_inlet.V2} L"))
    found = np.array(pitches(aircolumn.load(path).engine))
    sound = np.sqrt(1.4 * 287.05 * 298.15)
    assert found / sound == pytest.approx(case_inlet.lumped()[0] / A0, rel=1e-9)


def test_curve_tells_where_it_chokes(tmp_path):
    """The made-up engine's Mach number is 0.4 + rpm / 10 000: choked from the asked 6000 on."""
    with made_up.in_place():
        ran = command("curve", STUDENT, "--rpm", "3000", "5000", "6000", "8000", out=tmp_path / "o")
        slow = command("compare", STUDENT, "--rpm", "3000", "5000", out=tmp_path / "p")
    engine = aircolumn.load(STUDENT).engine
    most = max(made_up.point(engine, n).figures["air_flow"] for n in (3000.0, 5000.0, 6000.0, 8000.0))
    share = 100 * most / choked_flow(engine)
    assert (
        f"restrictor choked from 6000 rpm on; the engine draws at most {1e3 * most:.1f} g/s,"
        f" {share:.1f} % of what chokes it" in ran.said
    )
    assert "long: restrictor not choked: its Mach number reaches 0.90; the engine" in slow.said
