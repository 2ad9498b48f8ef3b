"""A measured session as text and tables: files, curves, verdict, calibration."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.display_units import column_heading, percent, unit
from aircolumn.engine.description.base import required
from aircolumn.engine.description.fitted import CORRELATION, FITTED, Fitted, by_pairs
from aircolumn.engine.description.reference import checked_of
from aircolumn.engine.description.rewrite import rewritten
from aircolumn.engine.description.spread import PLUS_MINUS, VALUE
from aircolumn.engine.description.units import in_trade_units
from aircolumn.measured.atmosphere import OBSERVED, title_of
from aircolumn.measured.calibration import UNKNOWNS, with_values
from aircolumn.measured.like_for_like import CONFIDENCE
from aircolumn.measured.overlay import FAILURE, TORQUE, Overlay
from aircolumn.measured.pull_to_xarray import COLUMNS, pull_dataset, pull_rows
from aircolumn.output.data_files import digits, write_netcdf, write_rows
from aircolumn.output.pull.next_text import next_block, write_next
from aircolumn.output.pull.read_text import AT_THE_WHEELS, left, read_text, statement_line
from aircolumn.output.pull.verdict_text import verdict_text
from aircolumn.output.tables import fitted, listed

if TYPE_CHECKING:
    from aircolumn.measured.calibration import Calibration
    from aircolumn.measured.logs.pull_file import PullFile
    from aircolumn.measured.session import Session

BETWEEN = "~"  # marks what no reading stands for


def session_text(s: Session) -> str:
    """The whole report of a dyno.session.Session."""
    blocks = ["\n".join(statement_line(name, f) for name, f in s.files.items())]
    blocks += [] if s.next is None else [next_block(s.next)]
    blocks += [file_text(name, f, s.overlays[name]) for name, f in s.files.items()]
    for name, o in s.overlays.items():
        blocks.append(f"{name}, measured and predicted\n{overlay_table(o)}\n{overlay_words(o)}")
    blocks.append(ranges_text(s))
    if s.verdict is not None:
        blocks.append(verdict_text(s))
    if s.calibration is not None:
        blocks.append(calibration_text(s))
    blocks.append(s.cells)
    return "\n\n".join(b for b in blocks if b)


def file_text(name: str, file: PullFile, o: Overlay) -> str:
    """What was found in a file and what was left out."""
    lines = [f"{name}: read from {file.path}", read_text(file, o.curve.remarks)]
    return "\n".join([*lines, *([AT_THE_WHEELS] if file.wheel else [])])


def overlay_table(o: Overlay) -> str:
    """Measured beside predicted at every speed, with residuals in percent of the measured."""
    torque, share = unit("torque"), unit("share")
    lines = []
    for k, rpm in enumerate(o.curve.rpm):
        mark = BETWEEN if o.curve.between[k] else " "
        lines.append(
            [
                f"{rpm:.0f}",
                torque.number(o.torque[k]) + mark,
                torque.number(o.torque_half_width[k]),
                torque.number(o.torque_predicted[k]),
                share.number(o.torque_off[k], sign="+"),
                share.number(o.ve[k]) + mark,
                share.number(o.ve_predicted[k]),
                share.number(o.ve_off[k], sign="+"),
                f"{o.correction[k]:.4f}",
            ]
        )
    headings = [
        "rpm",
        f"torque {torque.name}",
        "+-",
        "predicted",
        "off %",
        "VE %",
        "predicted",
        "off %",
        "correction",
    ]
    return fitted(headings, lines)


def overlay_words(o: Overlay) -> str:
    """What the table's columns mean, and the mean and the scatter of what is off."""
    interval = "one pull, so no interval"
    if o.curve.pulls > 1:
        interval = f"+-: {percent(CONFIDENCE, '.0f')} interval of the mean of {o.curve.pulls} pulls"
    text = f"Torque {_at(o.curve.standard)}; {interval}."
    if o.curve.level_known or o.ve_from != TORQUE:
        kind = "trapped" if o.ve_from == TORQUE else "delivered"
        text += f" VE from {o.ve_from}, {kind} air over swept volume at the density of the air drawn."
    read = ~o.curve.between
    if not read.all():
        text += (
            f" {BETWEEN}: no reading at this speed; a straight line between the readings on"
            " both sides, which does not count below."
        )
    off = off_text(o)
    gaps = [
        f"  no prediction at {rpm:.0f} rpm: {why}"
        for rpm, why in zip(o.curve.rpm, o.predicted.get(FAILURE, ()), strict=False)
        if why
    ]
    return "\n".join([text, *([f"Predicted minus measured: {off}"] if off else []), *gaps])


def _at(standard: str) -> str:
    return "as measured" if standard == OBSERVED else f"corrected to {title_of(standard)}"


def off_text(o: Overlay) -> str:
    """Mean and scatter of what torque and VE are off by, where there are readings: of one reading what it is
    off by."""
    read = ~o.curve.between
    texts = []
    for name, off in (("torque", o.torque_off[read]), ("VE", o.ve_off[read])):
        there = off[np.isfinite(off)]
        if there.size == 1:
            texts.append(f"{name} {percent(there[0], '+.1f')} at the one speed that was read")
        elif there.size:
            texts.append(
                f"{name} {percent(there.mean(), '+.1f')} on average (scatter {percent(there.std(), '.1f')})"
            )
    return ", ".join(texts)


def ranges_text(s: Session) -> str:
    """Means over the range that matters and work over a sweep, measured and predicted."""
    torque, power, work = unit("torque"), unit("power"), unit("work")
    lines = []
    for name, pair in s.ranges.items():
        for kind, r in zip(("measured", "predicted"), pair or (), strict=False):
            lines.append([name, kind, torque.number(r.torque), power.number(r.power, 2), work.number(r.work)])
    if not lines:
        return ""
    heads = [
        "runner",
        "",
        f"mean torque {torque.name}",
        f"mean power {power.name}",
        f"work of a sweep {work.name}",
    ]
    r = next(p for p in s.ranges.values() if p)[0]
    rate = "" if np.isnan(r.work) else f"; the sweep at {r.sweep_rate:.0f} rpm/s"
    return f"{r.span.words[0].upper()}{r.span.words[1:]}{rate}\n{fitted(heads, lines)}"


def calibration_text(s: Session) -> str:
    """Fitted values, whether they are plausible, and what they do to both manifolds."""
    c = required(s.calibration)
    rows = []
    for name, value in c.values.items():
        u = UNKNOWNS[name]
        shown = unit(u.kind)
        rows.append(
            [
                name,
                u.meaning,
                shown.number(value, 3),
                shown.number(c.half_widths[name], 3),
                shown.name or "-",
                c.judgement(name),
            ]
        )
    first, *others = s.overlays
    lines = [
        f"Calibration on {first} ({c.evaluations} curves computed)",
        left(["unknown", "meaning", "value", "+-", "unit", ""], rows),
        "+-: joint 95 % intervals, of all values at once; the engine file has that of each alone."
        f" Misfit (chi^2 per degree of freedom) {c.misfit:.2f}"
        + (
            ": the model cannot follow the data within its"
            " noise. Check what was not fitted: valve timing, compression, exhaust, burn phasing"
            if c.misfit > 2.0
            else ""
        ),
    ]
    for name in (first, *others):
        role = "fitted" if name == first else "not fitted, a test"
        before, after = s.overlays[name], s.calibrated[name]
        pairs = (before.torque_off, after.torque_off), (before.ve_off, after.ve_off)
        change = ", ".join(
            f"{n} {100 * _rms(x):.2f} -> {percent(_rms(y), '.2f')}"
            for n, (x, y) in zip(("torque", "VE"), pairs, strict=True)
        )
        lines.append(f"{name} ({role}), root mean square off: {change}")
    lines.append(f"{s.description.path.stem}-fitted.yaml is the engine file with these values.")
    worse = [n for n in others if _rms(s.calibrated[n].ve_off) > _rms(s.overlays[n].ve_off)]
    if worse:
        lines.append(
            f"VE of {listed(worse)}, which was not fitted, is further off than before: the"
            " fit may have taken up something else."
        )
    return "\n".join(lines)


def fitted_file(s: Session) -> str:
    """The engine file with the fitted values in it, as text."""
    found = required(s.calibration)
    values = found.values
    texts = f"{s.description.path.name} with {', '.join(values)} fitted to pulls of"
    return rewritten(
        s.description,
        lambda engine: with_values(engine, values),
        f"{texts} {next(iter(s.overlays))}; comments are in that file",
        {FITTED: fitted_section(found)},
    )


def fitted_section(found: Calibration) -> dict[str, Any]:
    """What a fit found and how surely, as the engine file keeps it."""
    rows: dict[str, Any] = {}
    for name, value in found.values.items():
        kind = required(checked_of(Fitted.model_fields[name])).kind
        pair = (value, found.alone[name])
        shown = [in_trade_units(v, kind) if kind else float(f"{v:.6g}") for v in pair]
        rows[name] = dict(zip((VALUE, PLUS_MINUS), shown, strict=True))
    return rows | {CORRELATION: by_pairs(list(rows), found.correlation)} if len(rows) > 1 else rows


def _rms(values: np.ndarray) -> float:
    return float(np.sqrt(np.nanmean(values**2)))


def write_pull_tables(s: Session, folder: Path) -> None:
    """pull.csv, pull.nc, omitted.csv (rows and cells left out) into ``folder``."""
    write_netcdf(pull_dataset(s), folder / "pull.nc")
    units = [unit(kind) for _, _, kind in COLUMNS]
    headings = [column_heading(title, u) for (title, _, _), u in zip(COLUMNS, units, strict=True)]
    write_rows(
        folder / "pull.csv",
        ["runner", "rpm", *headings],
        (
            [name, f"{row[0]:.10g}", *(digits(u.of(v), 8) for u, v in zip(units, row[1:], strict=True))]
            for name, rows in pull_rows(s).items()
            for row in rows
        ),
    )
    if s.next is not None:
        write_next(s.next, folder / "pull-next.csv")
    omitted = [
        [name, x.line, max(x.last, x.line), "row" if x.whole_row else "cell", x.reason]
        for name, f in s.files.items()
        for x in f.omitted
    ]
    write_rows(folder / "omitted.csv", ["runner", "from line", "to line", "what", "reason"], omitted)
