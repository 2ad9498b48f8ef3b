"""What curve and compare draw; every picture with its title and caution; gaps."""

import numpy as np
import pytest
from tests import made_up
from tests.conftest import DEMO
from tests.made_up_curves import RUNNERS, SPEEDS, netcdf
from tests.printed import command, lines_of, right_aligned, rows_of, texts_of


def crossing(first, second):
    """Speeds where one straight-line curve passes another, by hand."""
    gap = np.subtract(first, second)
    return [
        SPEEDS[k] + 500.0 * gap[k] / (gap[k] - gap[k + 1])
        for k in range(len(gap) - 1)
        if gap[k] * gap[k + 1] < 0.0
    ]


def test_curves_drawn(written):
    fig, data = written["compare"].pictures["compare.png"], netcdf(written, "compare")
    for panel, figure in zip(fig.axes, ("ve", "torque_corrected", "power_corrected"), strict=True):
        lines = {k: v for k, v in lines_of(panel).items() if k != "two-way"}
        assert len(lines) == len(RUNNERS)
        for (label, (x, y)), r in zip(lines.items(), RUNNERS, strict=True):
            factor = {"ve": 100.0, "torque_corrected": 1.0, "power_corrected": 1e-3}[figure]
            values = list(factor * data[figure].sel(runner=r).values)
            assert list(x) == list(SPEEDS)
            assert list(y) == pytest.approx(values, rel=1e-12)
            part = values[2:6]
            mean = (0.5 * part[0] + part[1] + part[2] + 0.5 * part[3]) / 3.0
            at = SPEEDS[np.argmax(values)]
            shown, top = {
                "ve": (f"{mean:.1f} %", f"{max(values):.1f} %"),
                "torque_corrected": (f"{mean:.1f} N m", f"{max(values):.0f} N m"),
                "power_corrected": ("", f"{max(values):.1f} kW"),
            }[figure]
            mean = [f"mean {shown}"] if shown else []
            assert label == (f"{r} ({mean[0]})" if mean else r)
            assert "\n".join([r, f"{top} at {at:.0f}", *mean]) in texts_of(panel)
            ring = next(
                m
                for m in panel.lines
                if m.get_markersize() == 12 and m.get_ydata()[0] == pytest.approx(max(values))
            )
            assert ring.get_xdata()[0] == SPEEDS[np.argmax(values)]
        span = panel.patches[0]
        assert (span.get_x(), span.get_width()) == (2500.0, 1500.0)
    torque = {r: data.torque_corrected.sel(runner=r).values for r in RUNNERS}
    at = crossing(torque["short"], torque["long"])[0]
    assert f"{at:.0f}" in texts_of(fig.axes[1])
    dotted = [m.get_xdata()[0] for m in fig.axes[1].lines if list(m.get_ydata()) == [0, 1]]
    assert any(x == pytest.approx(at) for x in dotted)
    assert fig._supxlabel.get_text() == (
        "Markers: computed points. Rings: peak values, labelled at the right.\n"
        "Shaded: range that matters, from 2500 to 4000 rpm. Dotted: speeds at which torque curves"
        " cross. Wide pale bands: two-way.\nA prediction is not a clearance to run."
    )
    assert written["compare"].pictures["compare.svg"] is fig


def test_cylinders_drawn(written):
    data = netcdf(written, "manifold")
    fig = written["manifold"].pictures["compare-cylinders.png"]
    for panel, r in zip(fig.axes, ("equal", "unequal"), strict=True):
        assert panel.get_ylabel().startswith(r)
        for k in (1, 2, 3, 4):
            x, y = lines_of(panel)[str(k)]
            assert list(x) == [3000.0, 4500.0]
            assert list(y) == list(100 * data.ve_cylinder.sel(runner=r, cylinder=k).values)


def name_of(ran, fig) -> str:
    """The file of a picture."""
    return next(name for name, picture in ran.pictures.items() if picture is fig)


def test_every_picture_has_its_title_and_the_caution(written):
    for name, r in written.items():
        for fig in r.pictures.values():
            title = "Classroom 500 cc single" if name in ("map", "bore") else "Mountain-rescue"
            above = fig._suptitle.get_text() if fig._suptitle else fig.axes[0].get_title()
            assert title in above or "-events" in name_of(r, fig)
            assert "A prediction is not a clearance to run." in fig._supxlabel.get_text()


@pytest.fixture(scope="module")
def gaps(tmp_path_factory):
    folder = tmp_path_factory.mktemp("gaps")
    rpm = ("--rpm", "2500", "3000", "3500", "4000")
    with made_up.in_place(missing=(3000.0,)):
        options = {"curve": (), "compare": (), "map": ("--steps", "3"), "account": ()}
        return {n: command(n, DEMO, *rpm, *more, out=folder / n) for n, more in options.items()}


WHY = "at 3000 rpm made up to fail"


def test_gaps_are_gaps_everywhere(gaps):
    for name, names in (
        ("curve", ["middle"]),
        ("compare", list(RUNNERS)),
        ("account", [""]),
        ("map", ["200 mm", "550 mm", "900 mm"]),
    ):
        ran = gaps[name]
        assert ran.code == 1
        lines = [f"  {n + ', ' if n else ''}3000 rpm: {WHY}" for n in names]
        assert "\n".join(["Not computed (-):", *lines]) in ran.said
        total = {"curve": 4, "compare": 12, "account": 4, "map": 12}[name]
        assert f"{len(names)} of {total} points; the others are written" in ran.complaints
    rows = rows_of(gaps["curve"].out / "curve.csv")
    assert [r["failure"] for r in rows] == ["", WHY, "", ""]
    assert [bool(r["torque [N m]"]) for r in rows] == [True, False, True, True]
    _, table = right_aligned(gaps["compare"].said, "rpm")
    assert table[1] == ["3000", *["-"] * 9]
    assert all("-" not in cell for row in table[:1] + table[2:] for cell in row)
    said = gaps["compare"].said
    assert "mean torque from 2500 to 4000 rpm, N m: short not known, middle not known" in said
    fig = gaps["compare"].pictures["compare.png"]
    assert list(lines_of(fig.axes[0])) == ["two-way", *(f"{r} (mean not known)" for r in RUNNERS)]
    crosses = [m for m in fig.axes[0].lines if m.get_marker() == "x"]
    assert [list(m.get_xdata()) for m in crosses] == [[3000.0]] * 3
    assert "Crosses: speeds that could not be computed." in fig._supxlabel.get_text()
    assert "Blank: could not be computed." in gaps["map"].pictures["map.png"]._supxlabel.get_text()
