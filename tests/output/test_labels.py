"""Every word in the pictures: titles, axes, legends, captions. They are part of what is said."""

import pytest
from tests import made_up
from tests.conftest import CLASSROOM, DEMO, ROOT
from tests.output.test_study_text import GRID
from tests.printed import command
from tests.studies import HEAD, SPAN, SPEEDS

from aircolumn.curves.tuning.filling_account import EFFECTS, REST

RESCUE, SPEED = "Mountain-rescue 2.5-litre four (invented)", "engine speed, rpm"
CYCLE = f"{RESCUE}\nrunner middle, cylinder 1, 3000 rpm"
CAUTION = "A prediction is not a clearance to run."
ANGLE = "crank angle, deg (0 at firing top dead centre)"
OVER = "kPa over plenum mean"
BEST_RUNNER = "search:\n  second_aim: {of: flatness}\n  evaluations: 20\n"
MANIFOLD = ROOT / "configs" / "rescue-four-manifold.yaml"
COMMANDS = {
    "compare": ("compare", DEMO),
    "manifold": ("compare", MANIFOLD, "--rpm", "3000", "4500"),
    "map": ("map", CLASSROOM, "--steps", "4"),
    "account": ("account", DEMO),
    "trace": ("trace", DEMO, "--rpm", "3000"),
    "explain": ("explain", DEMO, "--runner", "long"),
}
STUDIES = {
    "sweep": GRID + SPEEDS,
    "search": SPAN + SPEEDS + BEST_RUNNER,
    "sensitivity": SPAN + SPEEDS + "sensitivity: {count: 8, aim: {of: torque, at: 4500 rpm}}\n",
    "tolerance": "vary: {intake.runner.bore: {plus_minus: 0.4 mm}}\n" + SPEEDS + "tolerance: {count: 8}\n",
}
VE = "volumetric efficiency, %\n(trapped air, ambient reference)"
WAVES = (
    "Waves at the intake valve. Arrow: from the launch of the suction wave to its return as"
    " compression, by the travel time.\nCrank angles are degrees after firing top dead centre."
    f" {CAUTION}"
)
#: (what was run, picture): (title, x, y, legend's title) of each panel and colour bar; caption
LABELS = {
    ("compare", "compare"): (
        [
            (RESCUE, "", VE, ""),
            ("", "", "brake torque, N m\n(observed)", ""),
            ("", SPEED, "brake power, kW\n(observed)", ""),
        ],
        "Markers: computed points. Rings: peak values, labelled at the right.\nShaded:"
        " range that matters, from 2500 to 4000 rpm. Dotted: speeds at which torque curves cross."
        " Wide pale bands: two-way.\n"
        f"{CAUTION}",
    ),
    ("manifold", "compare-cylinders"): (
        [
            (
                "Mountain-rescue 2.5-litre four, whole manifold (invented)",
                "",
                "equal: VE of each cylinder, %",
                "cylinder",
            ),
            ("", SPEED, "unequal: VE of each cylinder, %", "cylinder"),
        ],
        CAUTION,
    ),
    ("map", "map"): (
        [
            ("Classroom 500 cc single (invented)", SPEED, "runner length, mm", ""),
            ("", "", "volumetric efficiency, % (ambient reference)", ""),
        ],
        f"Circles: the highest VE at each length. Lines: what the rules of thumb say.\n{CAUTION}",
    ),
    ("account", "account"): (
        [
            ("volumetric efficiency, %", "", "", ""),
            *((entry, SPEED if k > 6 else "", "", "") for k, entry in enumerate([*EFFECTS, REST])),
        ],
        "The entries add up to VE - 100 %. Shaded: from one order of removing them to its reverse."
        " Where the band spans zero,\nan effect acts through the others, mostly by a shift of the"
        f" tuning. {CAUTION}",
    ),
    ("trace", "trace-3000"): (
        [
            (CYCLE, "", "pressure, kPa", ""),
            ("", "", f"waves at the valve,\n{OVER}", ""),
            ("", "", "velocity, m/s", ""),
            ("", "", "flow, g/s", ""),
            ("", ANGLE, "effective area, mm2", ""),
        ],
        f"Dashed: valve events as the file states them. {CAUTION}",
    ),
    ("trace", "trace-3000-map"): (
        [
            (CYCLE, "", "distance from the mouth, mm", ""),
            ("", "", "distance from the mouth, mm", ""),
            ("", ANGLE, "distance from the mouth, mm", ""),
            ("", "", f"pressure,\n{OVER}", ""),
            ("", "", f"wave towards the valve,\n{OVER}", ""),
            ("", "", f"wave towards the mouth,\n{OVER}", ""),
        ],
        "The valve is at the top edge. A wave shows as a slanting band; where it meets an edge, the"
        " other family takes over.\nLines: much above (whole) and much below (dashed) the plenum"
        f" mean. {CAUTION}",
    ),
    ("trace", "trace-3000-pv"): (
        [
            (CYCLE, "volume, cm3", "cylinder pressure, kPa", ""),
            ("gas exchange (dotted: plenum mean)", "volume, cm3", "cylinder pressure, kPa", ""),
        ],
        CAUTION,
    ),
    ("explain", "explain-long"): (
        [
            (RESCUE, f"{SPEED} (triangles: humps and dips)", "VE, % (ambient reference)", ""),
            ("long: hump at 2500 rpm, VE 102.8 %", "crank angle, deg (shaded: intake valve open)", OVER, ""),
        ],
        WAVES,
    ),
    ("explain", "explain-long-events"): (
        [("long: hump at 2500 rpm, VE 102.8 %", "crank angle, deg (shaded: intake valve open)", OVER, "")],
        WAVES,
    ),
    ("sweep", "study-family"): (
        [(RESCUE, "", VE, ""), ("", SPEED, "brake torque, N m", "")],
        f"Curves by runner length, mm (bore_to 42 mm).\n{CAUTION}",
    ),
    ("sweep", "study-envelope"): (
        [
            (RESCUE, "", "brake torque, N m", ""),
            ("", "", "runner length, mm", ""),
            ("", SPEED, "runner bore to, mm", ""),
        ],
        "Grey: every case. Below: the values of the best case (points) and of all cases within"
        f" 0.5 % of it (bars).\n{CAUTION}",
    ),
    ("sweep", "study-contour"): (
        [
            (f"{RESCUE}\nVolumetric efficiency at bore_to 42 mm", SPEED, "runner length, mm", ""),
            ("Mean torque from 2500 to 4000 rpm", "runner bore to, mm", "runner length, mm", ""),
            ("", "", "VE, %", ""),
            ("", "", "mean torque, N m", ""),
        ],
        f"Circles: the best of each row.\n{CAUTION}",
    ),
    ("search", "study"): (
        [
            (f"{RESCUE}\naim: mean torque from 2500 to 4000 rpm", "runner length, mm", "aim, N m", ""),
            ("", "valve closes abdc, deg", "aim, N m", ""),
            (
                "second aim: flatness from 2500 to 4000 rpm",
                "mean torque from 2500 to 4000 rpm, N m",
                "second aim",
                "",
            ),
            ("", "", "order computed", ""),
            ("", "", "order computed", ""),
        ],
        f"Ring: the best. Crosses: a limit is broken. {CAUTION}",
    ),
    ("sensitivity", "study"): (
        [("", "share of the variance of torque at 4500 rpm", "", "")],
        CAUTION,
    ),
    ("tolerance", "study"): (
        [(RESCUE, "", "brake torque, N m", ""), ("", SPEED, "change of torque, N m", "")],
        f"Band: 9 curves within bore +-0.4 mm. {CAUTION}",
    ),
}


@pytest.fixture(scope="module")
def runs(tmp_path_factory):
    folder = tmp_path_factory.mktemp("labels")
    with made_up.in_place():
        found = {n: command(*c, out=folder / n) for n, c in COMMANDS.items()}
        for name, text in STUDIES.items():
            (folder / f"{name}.yaml").write_text(HEAD + text)
            found[name] = command("study", folder / f"{name}.yaml", out=folder / name)
    return found


def test_every_picture_is_looked_at(runs):
    drawn = {(n, p.removesuffix(".png")) for n, r in runs.items() for p in r.pictures if "png" in p}
    assert drawn - set(LABELS) == {("manifold", "compare")}  # as ("compare", "compare")


@pytest.mark.parametrize("key", LABELS, ids="-".join)
def test_labels(runs, key):
    name, picture = key
    panels, caption = LABELS[key]
    fig = runs[name].pictures[f"{picture}.png"]
    found = []
    for a in fig.axes:
        legend = a.get_legend()
        title = "" if legend is None else legend.get_title().get_text()
        found.append((a.get_title(), a.get_xlabel(), a.get_ylabel(), title))
        named = [m for m in a.lines if not str(m.get_label()).startswith("_")]
        said = [t.get_text() for t in a.texts]
        for line in named:
            label = str(line.get_label()).partition(" (")[0]
            at_its_end = any(text.startswith(label) for text in said)
            pale = f"Wide pale bands: {label}." in fig._supxlabel.get_text()
            assert legend is not None or len(named) < 2 or at_its_end or pale
    assert found == panels
    assert fig._supxlabel.get_text() == caption
    assert runs[name].pictures[f"{picture}.svg"] is fig
