"""The files of a search: every curve, the best and the front as engine files."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.display_units import column_heading, unit
from aircolumn.engine.description.fitted import FITTED
from aircolumn.engine.description.rewrite import written_anew
from aircolumn.output.data_files import write_rows
from aircolumn.questions.aims import KINDS, SI, SI_UNITS
from aircolumn.questions.search.limits import SHOWN
from aircolumn.questions.words import axis_heads

if TYPE_CHECKING:
    import xarray as xr

    from aircolumn.questions.search.search import RunnerSearch, SearchResult
    from aircolumn.study.plan import Plan

BEST = "study-best.yaml"
FRONT_FILES = "study-front-*.yaml"


def front_file(number: int) -> str:
    """What the engine file of a design of the front is called; the first is 1."""
    return FRONT_FILES.replace("*", f"{number:02d}")


def write_engines(plan: Plan, found: SearchResult, folder: Path) -> None:
    """The best, and every design of the front, as engine files."""
    _write_engine(plan, found.values, folder / BEST)
    for k, design in enumerate(found.front, 1):
        _write_engine(plan, design.values, folder / front_file(k))


def _write_engine(plan: Plan, values: tuple, path: Path) -> None:
    source = plan.engine_source
    said = f"{source.path.name} with {plan.case_words(values)}; comments are in that file"
    one = plan.manifold(values)
    fit = {FITTED: source.data[FITTED]} if FITTED in source.data else {}
    of_fit = {path: spread for path, spread in source.spreads.items() if path[0] == FITTED}
    text = written_anew({**one.data, **fit}, source.path.parent, said, {**one.spreads, **of_fit})
    path.write_text(text, encoding="utf-8")


def write_known(search: RunnerSearch, found: SearchResult, path: Path) -> None:
    """Every curve a search computed as CSV."""
    plan = search.plan
    units = [unit(KINDS[a.of]) for a in search.aims]
    limits = [unit(SHOWN[limit.of]) for limit in search.limits]
    heads = [
        *axis_heads(plan),
        *(column_heading(a.words, u) for a, u in zip(search.aims, units, strict=True)),
        *(column_heading(f"limit: {v.words}", u) for v, u in zip(search.limits, limits, strict=True)),
        "keeps limits",
        "speeds",
        *(["engines"] if found.robust else []),
    ]
    rows = [
        [
            *d.values,
            *(float(u.of(v)) for u, v in zip(units, d.aims, strict=True)),
            *(float(u.of(v)) for u, v in zip(limits, d.figures, strict=True)),
            "yes" if d.fits else "no",
            len(d.rpm),
            *([len(d.each)] if found.robust else []),
        ]
        for d in found.known
    ]
    write_rows(path, heads, rows)


def search_dataset(search: RunnerSearch, found: SearchResult) -> xr.Dataset:
    """Every curve a search computed: the aims, by how much limits are kept, torque over speed."""
    import xarray as xr

    plan, known = search.plan, found.known
    rpm = np.unique(np.concatenate([d.rpm for d in known]))
    data = xr.Dataset(coords={"rpm": ("rpm", rpm, {"units": "rev/min"})})
    for axis, values in zip(plan.axes, zip(*(d.values for d in known), strict=True), strict=True):
        data.coords[axis.name] = ("curve", list(values), {"units": axis.unit or "1", "long_name": axis.key})
    for n, aim in enumerate(search.aims):
        about = {"units": SI_UNITS[aim.of], "long_name": aim.words}
        data["second_aim" if n else "aim"] = ("curve", [d.aims[n] for d in known], about)
    for n, limit in enumerate(search.limits):
        units = SI[SHOWN[limit.of]]
        about = {"units": units, "long_name": limit.words}
        data[f"limit_{n + 1}"] = ("curve", [d.figures[n] for d in known], about)
        about = {"units": units, "long_name": f"by how much it is kept: {limit.words}"}
        data[f"over_limit_{n + 1}"] = ("curve", [d.margins[n] for d in known], about)
    torque = np.full((len(known), rpm.size), np.nan)
    for row, d in zip(torque, known, strict=True):
        row[np.isin(rpm, d.rpm)] = d.torque
    data["torque"] = (
        ("curve", "rpm"),
        torque,
        {"units": "N m", "long_name": "brake torque of the engine"},
    )
    best = [np.array_equal(d.share, found.best.share) for d in known]
    data["best"] = ("curve", np.array(best, dtype=np.int8), {"units": "1", "long_name": "the best"})
    if found.robust:
        about = {"units": "1", "long_name": "engines it was computed in"}
        data["engines"] = ("curve", np.array([len(d.each) for d in known], dtype=np.int32), about)
    data.attrs = {"title": plan.engine.title, "aim_with_cells_halved": float(found.recheck.aims[0])}
    return data
