"""A first engine file: plausible proportions, marked as assumed, and it runs."""

import re
import shlex

import numpy as np
import pytest
from tests.edited import leaves

import aircolumn
from aircolumn.cli import main, parser
from aircolumn.engine.model.operating_point import operating_point
from aircolumn.engine.starter.proportions import Known, cam_for, proportions

#: five engines: options, speed of peak power rev/min
ENGINES = {
    "50 cc single": (["--cylinders", "1", "--valves", "2", "--displacement", "50 cc"], 7500),
    "twin": (
        [
            "--cylinders",
            "2",
            "--valves",
            "4",
            "--bore",
            "80 mm",
            "--stroke",
            "60 mm",
            "--compression-ratio",
            "12",
        ],
        8500,
    ),
    "2.0 four": (["--cylinders", "4", "--valves", "4", "--displacement", "2.0 L"], 6000),
    "3.0 six": (
        [
            "--cylinders",
            "6",
            "--valves",
            "4",
            "--displacement",
            "3 L",
            "--bore",
            "86 mm",
            "--cam",
            "15",
            "50",
            "55",
            "15",
        ],
        6500,
    ),
    "12 litre six": (
        ["--cylinders", "6", "--valves", "2", "--displacement", "12 L", "--compression-ratio", "9"],
        2200,
    ),
}


def made(name, folder):
    """The description of a new file."""
    options, rpm = ENGINES[name]
    path = folder / "engine.yaml"
    assert main(["new", str(path), *options, "--peak", f"{rpm} rpm"]) == 0
    return aircolumn.load(path)


@pytest.mark.parametrize("name", ENGINES)
def test_proportions_are_those_of_the_handbook(name, tmp_path, capsys):
    """Ranges of Heywood 1988 (sections 2.2, 6.3, table 6.1), from memory; piston speed and BMEP:
    common practice, no source."""
    description, rpm = made(name, tmp_path), ENGINES[name][1]
    assert "displacement" in capsys.readouterr().out
    e = description.engine
    b = e.block
    assert 0.79 <= b.bore / b.stroke <= 1.41
    assert 3.0 <= b.rod / (0.5 * b.stroke) <= 4.0
    assert 8.0 <= b.compression_ratio <= 12.0
    assert 8.0 < 2.0 * b.stroke * rpm / 60.0 < 22.0
    iv, ev = e.intake.valve, e.exhaust.valve
    heads = {1: ((0.42, 0.50), (0.34, 0.43)), 2: ((0.35, 0.37), (0.28, 0.32))}[iv.count]
    for valve, (low, high) in zip((iv, ev), heads, strict=True):
        assert low - 0.01 <= valve.diameter / b.bore <= high + 0.01
        assert 0.23 < valve.lift.maximum / valve.diameter < 0.30
    lengths = [r.length for r in description.runners.values()]
    assert lengths == sorted(lengths)
    assert 0.05 < lengths[0] < lengths[-1] < 1.3
    points = [operating_point(e, share * rpm).figures for share in (0.7, 0.85, 1.0)]
    assert all(0.6 < f["ve"] < 1.15 for f in points)
    assert max(f["ve"] for f in points) > 0.85  # one of them is near its hump
    assert 8e5 < max(f["bmep"] for f in points) < 14e5


def test_what_is_given_is_kept_and_the_rest_is_marked(tmp_path):
    options, rpm = ENGINES["3.0 six"]
    path = tmp_path / "six.yaml"
    title = "Six: a 'title' with # and: signs"
    assert main(["new", str(path), *options, "--peak", f"{rpm} rpm", "--title", title]) == 0
    engine = aircolumn.load(path).engine
    assert engine.title == title
    assert engine.block.bore == pytest.approx(0.086)
    swept = np.pi / 4 * 0.086**2 * engine.block.stroke
    assert 6 * swept == pytest.approx(3e-3, rel=1e-3)
    iv, ev = engine.intake.valve, engine.exhaust.valve
    events = (iv.opens_btdc, iv.closes_abdc, ev.opens_bbdc, ev.closes_atdc)
    assert events == (15.0, 50.0, 55.0, 15.0)
    rows = path.read_text().splitlines()
    marked = {row.split(":")[0].strip() for row in rows if "# assumed" in row}
    assert {"rod", "compression_ratio", "throttle", "length", "diameter", "mixture"} <= marked
    assert not marked & {"cylinders", "opens_btdc", "closes_abdc"}
    assert "  bore: 86 mm" in rows


def test_faster_engines_have_longer_cams():
    events = np.array([cam_for(n) for n in (2000.0, 4000.0, 6000.0, 8000.0, 12000.0)])
    assert np.all(np.diff(events, axis=0) >= 0.0)
    assert events[0].min() > -10.0
    assert events[-1].max() < 70.0


def test_sizes_that_are_known_decide():
    both = proportions(Known(4, 4, 6000.0, bore=0.08, stroke=0.09))
    assert (both.bore, both.stroke) == (0.08, 0.09)
    stroke = proportions(Known(4, 4, 6000.0, stroke=0.09, displacement=2e-3))
    assert np.pi / 4 * stroke.bore**2 * 0.09 == pytest.approx(5e-4)
    with pytest.raises(ValueError, match="bore and stroke, or the displacement"):
        proportions(Known(4, 4, 6000.0, bore=0.08))


#: what is wrong: (options, what is said)
WRONG = {
    "no size": (["--bore", "80 mm"], "give bore and stroke, or the displacement"),
    "too much": (
        ["--bore", "80 mm", "--stroke", "80 mm", "--displacement", "2 L"],
        "give bore and stroke, or the displacement",
    ),
    "no unit": (["--displacement", "2"], "--displacement: '2' has no unit"),
    "negative": (["--displacement", "-2 L"], "must be greater than 0"),
    "ratio": (["--displacement", "2 L", "--compression-ratio", "50"], "from 3 to 25"),
}


@pytest.mark.parametrize("name", WRONG)
def test_wrong_requests(name, tmp_path, capsys):
    options, said = WRONG[name]
    path = tmp_path / "engine.yaml"
    given = ["new", str(path), "--cylinders", "4", "--valves", "4", "--peak", "6000 rpm"]
    assert main([*given, *options]) == 2
    assert said in capsys.readouterr().err
    assert not path.exists()


def test_nothing_is_overwritten_and_nothing_half_done_stays(tmp_path, capsys):
    path = tmp_path / "engine.yaml"
    path.write_text("mine")
    given = ["new", str(path), "--cylinders", "4", "--valves", "4", "--peak", "6000 rpm"]
    assert main([*given, "--displacement", "2 L"]) == 2
    assert "already exists" in capsys.readouterr().err
    assert path.read_text() == "mine"
    other = tmp_path / "impossible.yaml"
    huge = ["--displacement", "900 L"]
    assert main(["new", str(other), *given[2:], *huge]) == 2
    assert not other.exists()


GIVEN = ["--cylinders", "4", "--valves", "4", "--peak", "6000 rpm", "--displacement", "2 L"]


def test_a_file_in_inches_is_the_same_engine(tmp_path, capsys):
    paths = [tmp_path / f"{units}.yaml" for units in ("metric", "us")]
    for path in paths:
        assert main(["new", str(path), *GIVEN, "--units", path.stem]) == 0
    said = capsys.readouterr().out
    assert "in the intake" in said
    metric, us = (aircolumn.load(path) for path in paths)
    assert us.units == "us"
    text = re.sub(r"  #.*", "", paths[1].read_text())
    assert not re.search(r"\d (mm|L|degC|K|kPa)\b", text)
    for name in metric.candidates:
        for (path, a), (_, b) in zip(
            *(list(leaves(d.with_runner(name).model_dump())) for d in (metric, us)), strict=True
        ):
            assert b == (pytest.approx(a, rel=2e-3) if isinstance(a, float) else a), path


def test_two_whole_manifolds(tmp_path):
    path = tmp_path / "engine.yaml"
    assert main(["new", str(path), *GIVEN, "--manifolds"]) == 0
    d = aircolumn.load(path)
    assert list(d.candidates) == ["low-end", "top-end"]
    torque, power = (d.with_runner(n).intake for n in d.candidates)
    assert torque.runner.length > power.runner.length
    assert torque.plenum.volume < d.engine.intake.plenum.volume < power.plenum.volume
    assert power.throttle.bore > torque.throttle.bore


def test_the_program_alone_says_how_to_begin(capsys):
    """The commands it names can be typed as they stand."""
    assert main([]) == 2
    said = capsys.readouterr().out
    named = re.findall(r"^  aircolumn (\w+)(.*)$", said, re.MULTILINE)
    assert [name for name, _ in named] == ["new", "check", "compare", "bands", "report"]
    for name, rest in named:
        parser(name).parse_args([name, *shlex.split(rest)])


CARD = ("--cam", "-4", "34", "42", "-6", "--cam-at", "0.050 in")


def test_a_cam_card_at_any_lift_and_a_rod(tmp_path, capsys):
    words = [
        "--cylinders",
        "8",
        "--valves",
        "2",
        "--bore",
        "4 in",
        "--stroke",
        "3.48 in",
        "--peak",
        "5500 rpm",
    ]
    path = tmp_path / "e.yaml"
    assert main(["new", str(path), *words, "--rod", "5.7 in", *CARD, "--rocker-ratio", "1.5"]) == 0
    engine = aircolumn.load(path).engine
    assert engine.block.rod == pytest.approx(5.7 * 0.0254, rel=1e-4)
    lift = engine.intake.valve.lift
    assert (lift.events_at_cam, lift.rocker_ratio) == (pytest.approx(1.27e-3), 1.5)
    assert engine.intake.valve.opens_btdc == -4.0
    assert "# inlet: list what stands" in path.read_text()
    assert main(["new", str(tmp_path / "v.yaml"), *words, *CARD]) == 0
    assert aircolumn.load(tmp_path / "v.yaml").engine.intake.valve.lift.events_at == pytest.approx(1.27e-3)


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (["--cam-at", "0.050 in"], "go with --cam"),
        ([*CARD[:-1], "5 mm"], "--cam-at must be at most 3 mm"),
        ([*CARD, "--rocker-ratio", "9"], "--rocker-ratio must be from 0.5 to 3"),
    ],
)
def test_wrong_cam_cards(more, said, tmp_path, capsys):
    words = ["--cylinders", "4", "--valves", "4", "--displacement", "2 L", "--peak", "6000 rpm"]
    assert main(["new", str(tmp_path / "e.yaml"), *words, *more]) == 2
    assert said in capsys.readouterr().err
