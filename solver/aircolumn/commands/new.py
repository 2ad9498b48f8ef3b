"""``new``: a first engine file from a few basic figures."""

import os
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import get_args

from aircolumn.commands import options
from aircolumn.commands.options import option, positional, switch
from aircolumn.commands.results import Answer
from aircolumn.display_units import ENVIRONMENT, SETS, choose, said_length
from aircolumn.engine.description.engine_file import Installation as PLACES
from aircolumn.engine.description.reader import load
from aircolumn.engine.description.units import to_si
from aircolumn.engine.starter.file import starter_text
from aircolumn.engine.starter.proportions import VALVES, Known, proportions
from aircolumn.errors import RequestError
from aircolumn.output import CAUTION
from aircolumn.output.check.text import check_text
from aircolumn.output.tables import wrapped

#: sizes and their kinds
SIZES = {"bore": "length", "stroke": "length", "rod": "length", "displacement": "volume"}
MOST_CAM_LIFT = 3e-3  # m, at which a card states events


@dataclass(frozen=True)
class Request(options.Arguments):
    """What ``new`` is asked: what is known, as it was typed."""

    file: Path = positional(type=Path, metavar="FILE", help="to be written: engine.yaml")
    cylinders: int = option(type=int, required=True, metavar="N", help="how many")
    valves: int = option(type=int, choices=list(VALVES), required=True, help="in each cylinder")
    peak: str = option(required=True, metavar="SPEED", help="of peak power: '6000 rpm'")
    bore: str | None = option(metavar="SIZE", help="cylinder bore: '86 mm'")
    stroke: str | None = option(metavar="SIZE", help="'86 mm'")
    rod: str | None = option(
        metavar="SIZE", help="connecting rod, between centres: '143 mm'; left out: 1.75 strokes"
    )
    displacement: str | None = option(
        metavar="SIZE", help="of the engine, where bore or stroke is not known: '2.0 L'"
    )
    compression_ratio: float | None = option(type=float, metavar="R", help="if known")
    cam: Sequence[float] | None = option(
        nargs=4,
        type=float,
        metavar=("IVO", "IVC", "EVO", "EVC"),
        help="cam card: degrees before top, after bottom, before bottom and after top dead centre",
    )
    cam_at: str = option(
        default="1 mm",
        metavar="LIFT",
        help="lift at which --cam states them: '0.050 in' (default: 1 mm); of the valve, or of the lobe with"
        " --rocker-ratio",
    )
    rocker_ratio: float | None = option(
        type=float,
        metavar="R",
        help="--cam-at is lift of the lobe, and the valve lifts so many times as much",
    )
    installation: str | None = option(
        choices=get_args(PLACES),
        help="where it runs: decides on filter, ducts and exhaust (left out: not known, so bands cover all)",
    )
    bend: str | None = option(
        metavar="ANGLE", help="by how much a runner turns from plenum to head: '90 deg'; '0 deg'"
    )
    manifolds: bool = switch(
        "candidates that are whole manifolds (runner, plenum, throttle) in place of runners"
    )
    units: str | None = option(
        choices=SETS,
        help="of the file and of results (default: those that the sizes are given in)",
    )
    title: str = option(default="New engine", help="shown on tables and plots")


@dataclass(frozen=True)
class Written:
    """The file that was written."""

    file: Path


def run(request: Request) -> Answer[Written]:
    """Write a file that can be run, and show what follows from it."""
    file = request.file
    if file.exists():
        raise RequestError(f"{file} already exists; choose another name")
    known = _known(request)
    try:
        found = proportions(known)
    except ValueError as error:
        raise RequestError(str(error)) from None
    file.parent.mkdir(parents=True, exist_ok=True)
    text = starter_text(known, found, request.title, _units(request), request.manifolds)
    file.write_text(text, encoding="utf-8")
    choose(request.units, os.environ.get(ENVIRONMENT), _units(request))
    try:
        text = check_text(load(file))
    except Exception:
        file.unlink()  # nothing half-done stays
        raise
    next_step = (
        f"written: {file}. Lines marked 'assumed' are guesses. Replace them with what you measure, then run:"
    )
    command = f"  aircolumn compare {file}"  # one line, to be copied
    texts = [wrapped(f"{text}\n\n{next_step}"), command, f"\n{wrapped(CAUTION)}"]
    return Answer(texts, wrap=False, result=lambda: Written(file))


def _known(request: Request) -> Known:
    """What was said of the engine, SI. Raises RequestError."""
    sizes = {name: _size(name, getattr(request, name), kind) for name, kind in SIZES.items()}
    if not 1 <= request.cylinders <= 16:
        raise RequestError("--cylinders must be from 1 to 16")
    ratio = request.compression_ratio
    if ratio is not None and not 3.0 <= ratio <= 25.0:
        raise RequestError("--compression-ratio must be from 3 to 25")
    rpm = _size("peak", request.peak, "speed of rotation")
    if rpm is None or not 300.0 <= rpm <= 25000.0:
        raise RequestError("--peak must be from 300 to 25000 rpm")
    at, rocker = _size("cam-at", request.cam_at, "length"), request.rocker_ratio
    if request.cam is None and (request.cam_at != "1 mm" or rocker is not None):
        raise RequestError("--cam-at and --rocker-ratio go with --cam")
    if at is None or at > MOST_CAM_LIFT:
        raise RequestError(f"--cam-at must be at most {said_length(MOST_CAM_LIFT, 6)}, not {request.cam_at}")
    if rocker is not None and not 0.5 <= rocker <= 3.0:
        raise RequestError("--rocker-ratio must be from 0.5 to 3")
    return Known(
        request.cylinders,
        request.valves,
        rpm,
        ratio=ratio,
        cam=request.cam,
        cam_at=at,
        rocker_ratio=rocker,
        installation=request.installation,
        bend=_bend(request.bend),
        **sizes,
    )


def _bend(text: str | None) -> float | None:
    """By how many degrees a runner turns; None if it was not said. Raises RequestError."""
    if text is None:
        return None
    try:
        angle = to_si(text, "angle")
    except ValueError as error:
        raise RequestError(f"--bend: {error}") from None
    if not 0.0 <= angle <= 360.0:
        raise RequestError(f"--bend must be from 0 to 360 deg, not {text}")
    return angle


def _units(request: Request) -> str:
    """The units asked for, or those that the sizes were given in."""
    if request.units is not None:
        return request.units
    given = " ".join(getattr(request, name) or "" for name in SIZES)
    return "us" if re.search(r"in\b|inch|ft\b|cid?\b", given) else "metric"


def _size(name: str, text: str | None, kind: str) -> float | None:
    """A size, SI; None if it was not said. Raises RequestError."""
    if text is None:
        return None
    try:
        value = to_si(text, kind)
    except ValueError as error:
        raise RequestError(f"--{name}: {error}") from None
    if value <= 0.0:
        raise RequestError(f"--{name} must be greater than 0, not {text}")
    return value
