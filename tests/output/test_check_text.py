"""What check and atmosphere print, against hand calculation from the engine file's own values."""

import re

import numpy as np
import pytest
from tests.conftest import DEMO, ROOT
from tests.edited import demo_with
from tests.printed import command, lines_of, right_aligned

import aircolumn
from aircolumn.cli import main

BENCH = """      bench:
        depression: 28 inH2O
        lift: [2 mm, 6 mm, 10 mm]
        flow: [60 cfm, 155 cfm, 190 cfm]
"""
CFM = 0.3048**3 / 60.0 * 1e3  # L/s


def changed(*pairs):
    text = DEMO.read_text()
    for old, new in pairs:
        assert old in text
        text = text.replace(old, new, 1)
    return text


def checked(folder, text, capsys, *more) -> dict:
    """{first words: the rest} of the lines that check prints."""
    path = folder / "engine.yaml"
    path.write_text(text)
    assert main(["check", str(path), *more]) == 0
    lines = capsys.readouterr().out.split("\n\n")[0].splitlines()  # what is assumed follows
    assert lines[0] == f"{path}: read without errors"
    return {line[:26].strip(): line[26:] for line in lines[1:]} | {"all": lines}


def lift(maximum, duration):
    """The card's lift, m, every hundredth of a degree (docstring of cylinder/valve_lift.py)."""
    margin = 0.5 * (1.0 - np.sqrt(1.0 - (0.2e-3 / maximum) ** 0.4))
    seat = duration / (1.0 - 2.0 * margin)
    x = np.arange(0.0, seat, 0.01) / seat
    return maximum * (4.0 * x * (1.0 - x)) ** 2.5


def test_figures_of_the_demo(tmp_path, capsys):
    said = checked(tmp_path, changed(("radius: 8 mm", "radius: 8 mm, end_correction: false")), capsys)
    swept = np.pi / 4 * 89.0**2 * 100.0 * 1e-3  # cm3
    assert said["displacement"] == (
        f"{4 * swept:.0f} cm3 (4 x {swept:.1f} cm3), clearance {swept / 8.2:.2f} cm3"
    )
    vapour = 0.4 * 3169.8  # 40 % of saturation at 25 degC (IAPWS)
    density = (99e3 - vapour) / (287.055 * 298.15) + vapour / (461.52 * 298.15)
    numbers = [float(n) for n in re.findall(r"\d+\.\d+", said["air density"])]
    assert numbers == pytest.approx([density, 1e-3 * vapour], rel=1e-3)
    assert said["air density"].endswith(" kPa")
    ratio, share = re.findall(r"\d+\.\d+", said["air-fuel ratio"])
    assert ratio == "13.80"
    assert float(share) == pytest.approx(13.8 / 14.7, abs=0.005)
    # (4 x (1 - x))^2.5 of the card: the seat is this much further out on either side, degrees
    out = [
        duration / (2.0 * np.sqrt(1.0 - (0.2 / top) ** 0.4)) - 0.5 * duration
        for duration, top in ((226.0, 10.0), (229.0, 9.5))
    ]
    assert said["valve overlap"] == f"7 deg as stated, {7.0 + sum(out):.0f} deg seat to seat"
    assert said["intake timing"] == (
        f"opens {2 + out[0]:.0f} deg before TDC, shuts {44 + out[0]:.0f} deg after BDC,"
        f" {226 + 2 * out[0]:.0f} deg seat to seat at the valve"
    )
    assert said["exhaust timing"] == (
        f"opens {44 + out[1]:.0f} deg before BDC, shuts {5 + out[1]:.0f} deg after TDC,"
        f" {229 + 2 * out[1]:.0f} deg seat to seat at the valve"
    )
    assert (
        "  stated: opens 2 deg before TDC, shuts 44 deg after BDC, 226 deg at 0.20 mm at the valve"
        in said["all"]
    )
    assert said["mean piston speed"] == "20.0 m/s at 6000 rpm"
    assert said["computed"].startswith(
        "one cylinder, cells of 12.0 mm in the intake and 20.0 mm in the exhaust"
    )
    sound = np.sqrt(1.4 * (99e3 / density / 298.15) * 298.15)
    # curtain area times Cd at L/D, two valves; the lobe from the card
    for side, head, top, duration, cd in (
        ("intake valve", 35e-3, 10e-3, 226.0, [0.70, 0.68, 0.64, 0.59, 0.54, 0.48]),
        ("exhaust valve", 30e-3, 9.5e-3, 229.0, [0.70, 0.68, 0.64, 0.60, 0.56, 0.51]),
    ):
        curve = lift(top, duration)
        table = np.arange(1, 7) * 0.05
        area = 2.0 * np.pi * head * curve * np.interp(curve / head, table, cd)
        mean = area[area > 0.0].mean()
        index = np.pi / 4 * 0.089**2 * 20.0 / (mean * sound)
        numbers = [float(n) for n in re.findall(r"(?<![a-z])\d+\.?\d*", said[side])]
        expected = [
            1e3 * top,
            1e3 * np.sum(curve) * 0.01,
            1e6 * area.max(),
            1e6 * mean,
            *([index, 6000.0, 0.5] if side == "intake valve" else []),
        ]
        assert numbers == pytest.approx(expected, rel=1e-2)
        assert numbers[:3] == pytest.approx(expected[:3], rel=1e-3)
    # runner 46 to 42 mm, port 42 to 38 mm: length over area of a cone is 4 L / (pi d1 d2)
    for name, length in (("short", 0.29), ("middle", 0.43), ("long", 0.65)):
        neck = 4.0 / np.pi * (length / (0.046 * 0.042) + 0.09 / (0.042 * 0.038))
        low, high = (
            60.0
            * 2**0.5
            / (2 * np.pi * k)
            * sound
            * (1.0 / (neck * swept * 1e-6)) ** 0.5
            * (8.2 / 10.2) ** 0.5
            for k in (2.5, 2.0)
        )
        words = said[f"runner {name}"]
        assert words.startswith(
            f"{1e3 * length:.0f} mm, with port and mouth {1e3 * (length + 0.09):.0f} mm; rule of"
            " thumb (Helmholtz, neck and volume): tuned at "
        )
        told = [float(n) for n in re.findall(r"\d+", words)[-2:]]
        assert told == pytest.approx([low, high], abs=1.5)
    # C8.26 H15.5: O2 per mole 8.26 + 15.5 / 4, air per O2 1 / (0.20946 x dry share of the air)
    needed = (8.26 + 15.5 / 4) / (0.20946 * (1 - vapour / 99e3))
    air = (1 - vapour / 99e3) * 28.965 + vapour / 99e3 * 18.015
    stoichiometric = needed * air / (12.011 * 8.26 + 1.008 * 15.5)
    assert said["fuel"] == (
        "gasoline (C8.26 H15.5), lower heating value 43.10 MJ/kg, latent heat 350 kJ/kg,"
        f" stoichiometric air-fuel ratio {stoichiometric:.2f}"
    )
    assert said["delivery"] == (
        "at the port; port walls and intake valves can give 3.3 kW to evaporate it, and give 0.8 kW of 0.9 kW"
        " at 1500 rpm (10 % from the charge) and 3.3 kW of 3.6 kW at 6000 rpm (10 % from the charge)"
    )
    assert said["leak past the rings"] == f"{2.0 * 0.089:.2f} mm2 per cylinder (assumed)"
    assert said["range that matters"] == "from 2500 to 4000 rpm"
    assert len(said["all"]) == 21


def test_how_the_fuel_arrives(tmp_path, capsys):
    def delivery(text):
        return checked(tmp_path, changed(("delivery: port", text)), capsys)["delivery"]

    walls = "liquid fuel in the cylinder takes"
    share = "of its heat of evaporation from the charge"
    assert delivery("delivery: direct, charge_cooling: 0.8, injection_start: 280 deg") == (
        "direct, from 280 deg before firing top dead centre on for 60 deg;"
        f" {walls} 80 % {share}, the rest from the walls"
    )
    said = delivery("delivery: premixed")
    assert re.fullmatch(
        r"premixed, 60 % of it as vapour \(assumed\), drawn in at \d+\.\d degC;"
        rf" {walls} 10 % {share} \(assumed\), the rest from the walls",
        said,
    )
    # 60 % of 350 kJ/kg at 13.8 kg of air per kg: cp of air 1.006 kJ/(kg K), of vapour about 1.6
    vapour = 0.6 / 13.8
    cooled = float(re.search(r"at (\d+\.\d) degC", said)[1])
    assert 25.0 - cooled == pytest.approx(vapour * 350.0 / (1.015 + 1.6 * vapour), abs=0.3)
    gas = checked(
        tmp_path, changed(("fuel: gasoline, delivery: port", "fuel: methane, delivery: premixed")), capsys
    )
    assert gas["delivery"] == "premixed, 100 % of it as vapour (assumed), drawn in at 25.0 degC"
    assert gas["fuel"].startswith("methane (C1 H4), lower heating value 50.0")


def test_what_caps_a_valve(tmp_path, capsys):
    """Two 35 mm valves at Cd 0.9 of the curtain pass more than a 30 mm port."""
    text = changed(
        ("bore: {to: 38 mm}  ", "bore: {to: 30 mm}  "),
        ("[0.70, 0.68, 0.64, 0.59, 0.54, 0.48]", "[0.9, 0.9, 0.9, 0.9, 0.9, 0.9]"),
        ("reference: curtain\n", "reference: curtain\n      with_port: true\n"),
    )
    lines = checked(tmp_path, text, capsys)["all"]
    at = next(k for k, line in enumerate(lines) if line.startswith("intake valve"))
    assert lines[at + 1] == (
        "  its coefficients hold the port's friction and bends: the port pipe has none of its own"
    )
    lift_there, bore_area = re.findall(r"(\d+\.\d+) mm of lift.*?the (\d+) mm2", lines[at + 2])[0]
    assert int(bore_area) == round(np.pi / 4 * 30.0**2)
    assert float(lift_there) == pytest.approx(225.0 * np.pi / (2 * np.pi * 35.0 * 0.9), abs=0.05)


def test_the_mouth_adds_its_end_correction(tmp_path, capsys):
    """A plain pipe end adds 0.6133 radii (Levine & Schwinger 1948)."""
    said = checked(tmp_path, changed(("shape: bellmouth, radius: 8 mm", "shape: plain")), capsys)
    with_mouth = int(re.search(r"mouth (\d+) mm", said["runner short"])[1])
    assert with_mouth == round(290.0 + 90.0 + 0.6133 * 23.0)


def test_manifold_bench_and_steps(tmp_path, capsys):
    """All cylinders where they differ, the bench's readings, and every sudden change of bore."""
    table = DEMO.read_text()
    table = table[table.index("      lift_ratio:") : table.index("\nexhaust:")]
    text = changed(
        (table, BENCH),
        ("bore: {to: 38 mm}  ", "bore: {from: 36 mm, to: 38 mm}  "),
        (
            "primary: {length: 200 mm, bore: 38 mm, wall_temperature: 450 degC}",
            "primary: {length: 200 mm, bore: 42 mm, wall_temperature: 450 degC}\n"
            "  collector: {wall_temperature: 400 degC, sections: [{length: 100 mm, bore: 50 mm},"
            " {length: 200 mm, bore: 60 mm}]}",
        ),
    )
    lines = checked(tmp_path, text, capsys)["all"]
    assert any(line.startswith("computed                  all cylinders") for line in lines)

    def step(position, first, second):
        small, large = sorted((first, second))
        beta = (small / large) ** 2
        return (
            f"  {position} mm from its beginning the bore goes from {first:.1f} mm to"
            f" {second:.1f} mm in one step: narrowing loses {0.5 * (1 - beta):.2f} of the head in"
            f" the narrow bore (Crane TP-410), widening {(1 - beta) ** 2:.2f} (Borda-Carnot)"
        )

    for name, length in (("short", 290), ("middle", 430), ("long", 650)):
        at = next(k for k, line in enumerate(lines) if line.startswith(f"runner {name} "))
        assert lines[at + 1] == step(length, 42.0, 36.0)
    at = lines.index("exhaust port and primary")
    assert lines[at + 1] == step(80, 38.0, 42.0)
    at = lines.index("exhaust collector")
    assert lines[at + 1 :] == [step(100, 50.0, 60.0)]
    at = next(k for k, line in enumerate(lines) if line.startswith("  bench at "))
    assert lines[at] == (
        f"  bench at {28 * 0.249089:.2f} kPa, drawn into the cylinder, Cd on curtain area: lift mm,"
        " reading L/s, Cd, reading from Cd L/s"
    )
    for row, opening, flow in zip(lines[at + 1 : at + 4], (2, 6, 10), (60, 155, 190), strict=True):
        told = [float(v) for v in row.split()]
        area = 2.0 * np.pi * 0.035 * opening * 1e-3
        # Q = Cd A sqrt(2 dp/rho), less the expansion of isentropic flow to first order
        dp, rho = 28 * 249.089, 101325.0 / (287.05 * 293.15)
        cd = 1e-3 * flow * CFM / (area * np.sqrt(2 * dp / rho) * (1 - 0.75 / 1.4 * dp / 101325.0))
        assert told[:2] == pytest.approx([opening, flow * CFM], abs=0.006)
        assert told[2] == pytest.approx(cd, rel=2e-3)
        assert told[3] == told[1]


def test_schedules_written_are_the_runners(tmp_path, capsys):
    checked(tmp_path, DEMO.read_text(), capsys, "--out", str(tmp_path / "o"))
    for name, length in (("short", 290.0), ("middle", 430.0), ("long", 650.0)):
        lines = (tmp_path / "o" / f"{name}-area.csv").read_text().splitlines()
        assert lines[0] == "distance [mm],area [mm2]"
        assert lines[1] == "0,1661.90251375"  # twelve digits
        rows = np.array([[float(v) for v in line.split(",")] for line in lines[1:]])
        assert rows[[0, -1], 0] == pytest.approx([0.0, length])
        assert rows[[0, -1], 1] == pytest.approx(np.pi / 4 * np.array([46.0, 42.0]) ** 2)


#: as docstring of measured/atmosphere.py, at 95 kPa, 32 degC, 50 %; water at 32 degC: 4759 Pa (IAPWS)
DRY = 95e3 - 0.5 * 4759.0
FACTORS = {
    "observed": 1.0,
    "j1349": 1.18 * (99e3 / DRY) * (305.0 / 298.0) ** 0.5 - 0.18,
    "j607": 29.92 * 3386.389 / DRY * ((89.6 + 460.0) / 520.0) ** 0.5,
    "din70020": 101.3e3 / 95e3 * (305.0 / 293.0) ** 0.5,
    "iso1585": (99e3 / DRY) ** 1.2 * (305.0 / 298.0) ** 0.6,
}
REFERENCES = {
    "observed": "as measured",
    "j1349": "99 kPa dry, 25 degC",
    "j607": "29.92 inHg dry, 60 degF",
    "din70020": "101.3 kPa, 20 degC",
    "iso1585": "99 kPa dry, 25 degC",
}
TITLES = {
    "observed": "observed",
    "j1349": "SAE J1349",
    "j607": "SAE J607",
    "din70020": "DIN 70020",
    "iso1585": "ISO 1585, spark ignition",
}


@pytest.mark.parametrize("stated", FACTORS)
def test_atmosphere_table(stated, capsys):
    given = ["--pressure", "95 kPa", "--temperature", "32 degC", "--humidity", "50 %"]
    assert main(["atmosphere", "180 hp", "--stated", stated, *given[:-1], "100 %"]) == 0
    assert "degC, 100 % relative humidity: vapour" in capsys.readouterr().out
    assert main(["atmosphere", "180 hp", "--stated", stated, *given]) == 0
    out = capsys.readouterr().out
    head = re.match(
        r"95\.00 kPa, 32\.0 degC, 50 % relative humidity: vapour (\d\.\d{3}) kPa,"
        r" dry air (\d\d\.\d{3}) kPa",
        out,
    )
    assert float(head[1]) == pytest.approx(0.5 * 4.759, rel=2e-3)
    assert float(head[2]) == pytest.approx(1e-3 * DRY, rel=1e-4)
    _, rows = right_aligned(out, "name")
    assert [row[0] for row in rows] == list(FACTORS)
    for name, title, reference, factor, value in rows:
        assert (title, reference) == (TITLES[name], REFERENCES[name])
        assert float(factor) == pytest.approx(FACTORS[name], rel=1e-4)
        number, unit = value.split()
        assert float(number) == pytest.approx(180.0 * FACTORS[name] / FACTORS[stated], rel=2e-4)
        assert unit == "hp"
        assert len(number.replace(".", "")) <= 5


def test_atmosphere_outside_a_range_is_told(capsys):
    """J1349's limits: 90 to 105 kPa, 15 to 35 degC, factor 0.93 to 1.07 (from memory)."""
    given = ["--pressure", "85 kPa", "--temperature", "41 degC"]
    assert main(["atmosphere", "200 N m", *given]) == 0
    told = [line for line in capsys.readouterr().out.splitlines() if line.startswith("outside")]
    assert told[0] == ("outside the range: SAE J1349: dry pressure 85 kPa is outside 90 to 105 kPa")
    assert told[1] == ("outside the range: SAE J1349: inlet-air temperature 41 degC is outside 15 to 35 degC")
    assert re.fullmatch(r"outside the range: SAE J1349: factor 1\.23\d? is outside 0\.93 to 1\.07", told[2])
    assert [t.split(": ")[1] for t in told].count("DIN 70020") == 2


def test_dry_air_has_no_water_to_lose(tmp_path, capsys):
    path = demo_with(tmp_path, ("humidity: 40 %", "humidity: 0 %"))
    assert main(["check", str(path)]) == 0
    assert "condenses" not in capsys.readouterr().out


def test_configs_are_checked():
    for name in ("classroom-single", "rescue-four-manifold"):
        assert main(["check", str(ROOT / "configs" / f"{name}.yaml")]) == 0
    assert aircolumn.load(DEMO).engine.why_cylinders_differ == ""


def test_what_can_hardly_be_is_doubted(tmp_path, capsys):
    """Bench readings of a cylinder beside one valve; a piston at 70 m/s; the demo has neither."""
    assert main(["check", str(DEMO)]) == 0
    lines = [r for r in capsys.readouterr().out.splitlines() if r.startswith("doubtful")]
    assert len(lines) == 1
    assert lines[0].startswith("doubtful: a runner of 430 mm without a bend: hardly any manifold has")
    path = tmp_path / "engine.yaml"
    text = DEMO.read_text()
    start = text.index("    discharge:")
    stop = text.index("exhaust:")
    bench = (
        "    discharge:\n      bench: {depression: 28 inH2O, lift: [2 mm, 5 mm, 8 mm], flow:"
        " [60 cfm, 135 cfm, 280 cfm]}\n\n"
    )
    text = (text[:start] + bench + text[stop:]).replace("    count: 2\n", "    count: 1\n", 1)
    path.write_text(text.replace("  to: 6000 rpm", "  to: 21000 rpm"))
    assert main(["check", str(path)]) == 0
    lines = [r for r in capsys.readouterr().out.splitlines() if r.startswith("doubtful: ")]
    assert lines[0].startswith("doubtful: mean piston speed 70 m/s at 21000 rpm")
    assert "on the curtain area of the intake valve: no valve passes more than its area (rea" in (lines[1])


LIFT = "lift: {maximum: 10 mm, events_at: 0.2 mm}"
LOBE = "lift: {cam_lift: 0.245 in, rocker_ratio: 1.7, events_at_cam: 0.050 in, lash: 0.1 mm}"


def test_timing_names_the_side_of_the_rocker(tmp_path, capsys):
    """218 deg at 0.050 in of lobe lift is at 0.085 in of the valve's, and longer at the seat."""
    said = checked(tmp_path, changed((LIFT, LOBE)), capsys, "--units", "us")
    assert said["intake timing"].endswith("deg seat to seat at the valve (lash taken off)")
    assert (
        "  stated: opens 2 deg before TDC, shuts 44 deg after BDC, 226 deg at 0.0850 in"
        " at the valve (0.0500 in at the cam x 1.7)"
    ) in said["all"]
    # the valve leaves its seat where the lobe has taken up the lash
    top, events, lash = 1.7 * 0.245 * 25.4, 1.7 * 0.050 * 25.4, 0.1
    half = [np.sqrt(1.0 - (h / top) ** 0.4) for h in (events, lash)]
    seat = 226.0 * half[1] / half[0]
    assert f"{seat:.0f} deg seat to seat" in said["intake timing"]


@pytest.mark.parametrize(
    ("lift", "doubt"),
    [
        (
            "lift: {cam_lift: 6.2 mm, rocker_ratio: 1.7, events_at_cam: 0.085 in}",
            "intake events stated at 2.16 mm at the cam: cards give 0.10 to 1.27 mm there; if it is"
            " lift of the valve, write events_at",
        ),
        (
            "lift: {maximum: 10 mm, events_at: 0.085 in}",
            "intake events stated at 2.16 mm at the valve: cards seldom give more than 1.27 mm there;"
            " if the card says lift of the lobe, write that as events_at_cam with rocker_ratio",
        ),
        ("lift: {maximum: 10 mm, events_at: 2.5 mm}", "the intake valve is off its seat for"),
        (LOBE, None),
        (LIFT, None),
    ],
)
def test_doubtful_timing_is_told(lift, doubt, tmp_path, capsys):
    doubtful = [
        line
        for line in checked(tmp_path, changed((LIFT, lift)), capsys)["all"]
        if line.startswith("doubtful: ") and "without a bend" not in line
    ]
    if doubt is None:
        assert not doubtful
    else:
        assert any(line.startswith(f"doubtful: {doubt}") for line in doubtful)


def test_drawing_of_the_lift_curves(tmp_path):
    """Both curves, and the cards' points on them."""
    ran = command("check", DEMO, out=tmp_path / "o")
    assert ran.code == 0
    assert {"valve-lift.png", "valve-lift.svg"} <= {p.name for p in ran.out.iterdir()}
    lines = lines_of(ran.pictures["valve-lift.png"].axes[0])
    angle, lift = lines["intake valve, 254 deg seat to seat"]
    at, events = lines["intake card: 226 deg at 0.20 mm at the valve"]
    assert list(at) == pytest.approx([-2.0, 224.0])
    assert np.interp(at, angle, lift) == pytest.approx(events, abs=0.005)
    assert max(lift) == pytest.approx(10.0, abs=1e-3)
    assert "exhaust card: 229 deg at 0.20 mm at the valve" in lines
