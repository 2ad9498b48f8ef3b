"""The references of keys and figures (configs/KEYS.md, configs/FIGURES.md) as text."""

from __future__ import annotations

from typing import Any

from aircolumn.engine.description.base import FileModel
from aircolumn.engine.description.reference import own_keys, parts
from aircolumn.point_figures import FIGURES, curve_columns

HEAD = """# Keys of the engine file

Made from the program's own models by `aircolumn schema --keys`. Values with a unit are text such as
`420 mm`; any unit of the kind will do. A group holds further keys. Keys marked * must be given
wherever their group is; all else has the default shown, or may be left out.

Beside the keys below, the file may have `runners` (candidates by name; each gives the keys of
`intake.runner` that differ) or `candidates` (each gives keys of the whole file by their path, as
`tall: {intake.runner.length: 700 mm, intake.plenum: {volume: 9 L}}`; what is named replaces what
stands there, a group the whole group, `null` takes it away; or the name of another engine file),
`switchable` (manifolds that change over between candidates: `name: [runner, runner]`) and `units` (of
results on the screen, in pictures and CSV files: `metric` for N m, kW, bar and mm, `us` for lbf ft,
hp, psi and in). Any pipe may have `area_schedule: FILE.csv` (distance and area) in place of length
and bore, and `route: FILE.csv` (x, y, z) in place of length. `fitted` is what `aircolumn pull --fit` found.

Any quantity, and any number that need not be whole, may say how sure it is:
`{value: 44 deg, plus_minus: 2 deg}`. Plus_minus is the half-width of the interval that holds the true
value in 95 of 100 cases, in a unit of the same kind or in per cent of the value; `aircolumn bands` says
what that does to the curves. `exhaust: {collector: null}` says that there is surely none.
"""


def keys_text() -> str:
    """The reference as Markdown: a table for each group of keys."""
    blocks = [HEAD]
    explanations: set[type[FileModel]] = set()
    for part, places in parts().items():
        for base in reversed(part.__mro__):
            if issubclass(base, FileModel) and base not in (FileModel, *explanations) and own_keys(base):
                explanations.add(base)
                blocks.append(_block(base, places if base is part else []))
    return "\n".join(blocks)


def _block(part: Any, places: Any) -> str:
    name = part.__name__
    where = ", ".join(f"`{place}`" for place in places if place) or "the file itself"
    bases = [b.__name__ for b in part.__mro__[1:] if issubclass(b, FileModel) and b is not FileModel]
    texts = [f"## {_title(name)}\n"]
    if places:
        texts.append(f"Found at {where}.\n")
    if bases:
        texts.append(f"Also has the keys of: {', '.join(map(_title, bases))}.\n")
    rows = [
        f"| `{key.name}`{' *' if key.must else ''} | {key.takes} | {key.default} | {key.meaning} |"
        for key in own_keys(part)
    ]
    table = ["| key | takes | default | meaning |", "|---|---|---|---|", *rows, ""]
    return "\n".join([*texts, *table])


TITLES = {
    "Engine": "The file",
    "Cylinders": "Bottom end",
    "PerCylinder": "What each cylinder has",
    "PipePerCylinder": "Pipe of each cylinder",
    "InletElement": "Element of the inlet",
    "InletPipe": "Pipe in the inlet",
    "Measured": "Measured pulls",
    "FuelName": "Fuel",
    "CylinderWalls": "Walls of the cylinder",
    "IntakeValve": "Intake valve",
    "ExhaustValve": "Exhaust valve",
    "Section": "Section of a pipe",
}


def _title(name: str) -> str:
    return TITLES.get(name, name)


HEADING = """# Figures of a point

What every command computes at a speed, by the names of CSV and NetCDF files, of JSON and of `--figures`.
NetCDF and JSON are SI; tables and CSV files show the units that are chosen and name them. *: in the table of
a curve without being asked for. Made by `aircolumn schema --figures`.

| name | SI unit | above a column | what it is |
|---|---|---|---|"""


def figures_text() -> str:
    """A table of all figures, Markdown."""
    shown = curve_columns()
    rows = []
    for name, f in FIGURES.items():
        mark, unit = " *" if name in shown else "", "-" if f.unit == "1" else f.unit
        rows.append(f"| `{name}`{mark} | {unit} | {f.heading} | {f.meaning} |")
    return "\n".join([HEADING, *rows])
