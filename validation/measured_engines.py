"""Engines that others measured: what is published, what the program predicts, and its band.
``python -m validation.measured_engines [NAME ...] > table``

Each file of validation/measured holds what is published of one engine, with its sources, and the engine
file made of it. A new engine is one file. Torque and power are compared at the air of the standard by which
they were published. Speeds of highest torque and power, and these themselves, are read off each curve by a
parabola through its highest point and the two beside it. The band holds 95 of 100 engines that fit the file
(``aircolumn bands``), what is predicted is their middle. Mean and spread are of (predicted - published) /
published, the latter with n - 1; "left out" is how far an engine lies from the mean of all others, on
average."""

from __future__ import annotations

import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import yaml

from aircolumn import load
from aircolumn.curves.speeds import speeds_of
from aircolumn.engine.description.units import to_si
from aircolumn.study.bands.session import USUAL, how_sure
from aircolumn.study.bands.verdict import quantiles

FOLDER = Path(__file__).parent / "measured"
TORQUE, POWER = "peak torque", "peak power"
#: figure: (kind of quantity, unit shown, factor from SI, decimals)
FIGURES = {
    TORQUE: ("torque", "N m", 1.0, 0),
    f"speed of {TORQUE}": ("speed of rotation", "rpm", 1.0, 0),
    POWER: ("power", "kW", 1e-3, 0),
    f"speed of {POWER}": ("speed of rotation", "rpm", 1.0, 0),
}


@dataclass(frozen=True)
class Compared:
    """One published figure: of which engine and runner, the figure, published, predicted (the middle of the
    engines that fit the file), by the file as it stands, its band (SI), source."""

    engine: str
    runner: str
    figure: str
    published: float
    predicted: float
    own: float
    low: float
    high: float
    source: str

    @property
    def off(self) -> float:
        """Predicted less published, over published."""
        return self.predicted / self.published - 1.0

    @property
    def inside(self) -> bool:
        """Whether what is published lies in the band."""
        return bool(self.low <= self.published <= self.high)


def top(x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """(where, how high) the highest point of each curve (..., s) is, by a parabola through three points."""
    k = np.clip(np.argmax(y, axis=-1), 1, len(x) - 2)
    a, b, c = (np.take_along_axis(y, (k + d)[..., None], axis=-1)[..., 0] for d in (-1, 0, 1))
    bend = a - 2.0 * b + c
    shift = np.where(bend < 0.0, 0.5 * (a - c) / np.where(bend < 0.0, bend, -1.0), 0.0)
    shift = np.clip(shift, -1.0, 1.0)
    return x[k] + shift * (x[1] - x[0]), b - 0.25 * (a - c) * shift


def figures(rpm: np.ndarray, torque: np.ndarray) -> dict[str, np.ndarray]:
    """Every figure of curves (..., s)."""
    at, torque_top = top(rpm, torque)
    power_at, power_top = top(rpm, torque * rpm * np.pi / 30.0)
    return {TORQUE: torque_top, f"speed of {TORQUE}": at, POWER: power_top, f"speed of {POWER}": power_at}


def compared(name: str, cases: int = USUAL, folder: Path | None = None) -> list[Compared]:
    """Every published figure of an engine beside what is predicted."""
    about = yaml.safe_load((FOLDER / f"{name}.yaml").read_text(encoding="utf-8"))
    with tempfile.TemporaryDirectory() as place:
        path = Path(place) / f"{name}.yaml"
        own = {"installation": about["installation"]["place"], "rating": about["rating"]["standard"]}
        data = {**own, **about["engine_file"]}
        data["intake"].pop("ambient", None)  # a guess of the day's, where published figures are corrected
        path.write_text(yaml.safe_dump(data, sort_keys=False), encoding="utf-8")
        description = load(path)
        speeds = speeds_of(description.engine)
        found = how_sure(description, speeds, folder or Path(place) / "points", count=cases)
    curves = found.curves
    own = {n: figures(curves.rpm, curves.own[k]) for k, n in enumerate(curves.runners)}
    every = {n: figures(curves.rpm, curves.torque[:, k]) for k, n in enumerate(curves.runners)}
    rows = []
    for fact in about["published"]:
        runner, figure, over = fact["of"], fact["figure"], fact.get("over")
        value, cases_of = own[runner][figure], every[runner][figure]
        if over is not None:
            value, cases_of = value / own[over][figure], cases_of / every[over][figure]
        kind = FIGURES[figure][0]
        due = float(fact["value"]) if over is not None else to_si(fact["value"], kind)
        low, high = quantiles(cases_of)
        label = f"{runner} over {over}" if over is not None else runner
        rows.append(
            Compared(
                about["title"],
                label,
                figure,
                due,
                float(np.median(cases_of)),
                float(value),
                float(low),
                float(high),
                fact["source"],
            )
        )
    return rows


def table(rows: list[Compared]) -> str:
    """As Markdown."""
    lines = [
        "| engine | runner | figure | published | predicted | off | 95 of 100 | | the file as it stands |",
        "|---|---|---|---|---|---|---|---|---|",
    ]
    for r in rows:
        _, unit, factor, places = FIGURES[r.figure]
        ratio = " over " in r.runner
        unit, factor, places = ("", 1.0, 3) if ratio else (unit, factor, places)
        shown = [f"{v * factor:.{places}f}" for v in (r.published, r.predicted, r.low, r.high, r.own)]
        lines.append(
            f"| {r.engine} | {r.runner} | {r.figure}{' ' * bool(unit)}{unit} | {shown[0]} | {shown[1]} |"
            f" {100 * r.off:+.1f} % | {shown[2]} to {shown[3]} | {'' if r.inside else 'missed'} |"
            f" {shown[4]} |"
        )
    return "\n".join(lines)


def summary(rows: list[Compared]) -> str:
    """Mean and spread of torque and power, leaving each engine out in turn."""
    texts = []
    for figure in (TORQUE, POWER, f"speed of {POWER}"):
        own = [r for r in rows if r.figure == figure and " over " not in r.runner]
        off = np.array([100 * r.off for r in own])
        engines = np.array([r.engine for r in own])
        left = [off[engines == e].mean() - off[engines != e].mean() for e in dict.fromkeys(engines)]
        width = 100 * np.mean([0.5 * (r.high - r.low) / r.predicted for r in own])
        texts.append(
            f"{figure}: mean {off.mean():+.1f} %, spread {off.std(ddof=1):.1f} % ({len(off)} figures of"
            f" {len(left)} engines), left out {np.sqrt(np.mean(np.square(left))):.1f} %; half-width of"
            f" bands {width:.1f} %; inside {sum(r.inside for r in own)} of {len(own)}"
        )
        alone = np.array([100 * (r.own / r.published - 1.0) for r in own])
        texts[-1] += (
            f"; by the files as they stand: mean {alone.mean():+.1f} %, spread {alone.std(ddof=1):.1f} %"
        )
    return "\n".join(f"- {t}" for t in texts)


def main(names: list[str]) -> None:
    """Print the table and its summary."""
    rows = []
    for name in names or sorted(p.stem for p in FOLDER.glob("*.yaml")):
        rows += compared(name)
        print(f"{name} done", file=sys.stderr, flush=True)
    print(f"{table(rows)}\n\n{summary(rows)}")


if __name__ == "__main__":
    main(sys.argv[1:])
