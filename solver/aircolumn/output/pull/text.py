"""A measured session as text and tables: files, curves, verdict, calibration."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.curves.interest import interest
from aircolumn.display_units import column_heading, unit
from aircolumn.engine.description.base import required
from aircolumn.engine.description.fitted import CORRELATION, FITTED, Fitted, by_pairs
from aircolumn.engine.description.reference import checked_of
from aircolumn.engine.description.rewrite import rewritten
from aircolumn.engine.description.spread import PLUS_MINUS, VALUE
from aircolumn.engine.description.units import in_trade_units
from aircolumn.measured.atmosphere import OBSERVED, title_of
from aircolumn.measured.calibration import UNKNOWNS, with_values
from aircolumn.measured.like_for_like import ALIKE, CHECKED, CONFIDENCE, DIFFERS, NOT_LOGGED, UNPROVEN
from aircolumn.measured.overlay import FAILURE, TORQUE, Overlay
from aircolumn.measured.pull_to_xarray import COLUMNS, pull_dataset, pull_rows
from aircolumn.measured.range_figures import runs_of, winners
from aircolumn.output.data_files import digits, write_netcdf, write_rows
from aircolumn.output.pull.next_text import next_block, write_next
from aircolumn.output.pull.read_text import AT_THE_WHEELS, left, read_text, statement_line
from aircolumn.output.tables import fitted, grid, listed

if TYPE_CHECKING:
    from aircolumn.measured.calibration import Calibration
    from aircolumn.measured.logs.reading import PullFile
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
        interval = f"+-: {100 * CONFIDENCE:.0f} % interval of the mean of {o.curve.pulls} pulls"
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
    return "\n".join([text, *([f"Prediction off by: {off}"] if off else []), *gaps])


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
            texts.append(f"{name} {100 * there[0]:+.1f} % at the one speed that was read")
        elif there.size:
            texts.append(f"{name} {100 * there.mean():+.1f} % on average, {100 * there.std():.1f} % scatter")
    return ", ".join(texts)


def ranges_text(s: Session) -> str:
    """Means over the range of interest and work over a sweep, measured and predicted."""
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


def verdict_text(s: Session) -> str:
    """Was it like for like, how large must a difference be, and who wins where."""
    v, (a, b) = required(s.verdict), list(s.overlays)
    lines = [f"Like for like? {a} against {b}", check_table(v)]
    lines += verdict_sentences(v)
    predicted, torque = difference(s, "torque_predicted"), unit("torque")
    rows = []
    for k, rpm in enumerate(v.rpm):
        rows.append(
            [
                f"{rpm:.0f}",
                torque.number(v.torque[k], sign="+"),
                torque.number(v.least[k]),
                torque.number(predicted[k], sign="+"),
                "" if v.comparable[k] else "not comparable",
            ]
        )
    lines.append(f"\nTorque of {a} less {b}, {torque.name}")
    lines.append(grid(["rpm", "measured", "must exceed", "predicted", ""], rows))
    lines += [f"  {row}" for row in who_wins(v, (a, b))]
    if not np.isnan(v.least).all():
        lines.append("  All speeds are judged together: the chance of any wrong winner here is 5 %.")
    lines += in_range(s, a, b)
    return "\n".join(lines)


def who_wins(v: Any, names: Sequence[str]) -> list[str]:
    """A line for each run of speeds: who has more torque, or why nobody wins."""
    rows = []
    for start, stop, who in winners(v, names):
        span = f"{start:.0f} rpm" if start == stop else f"{start:.0f} to {stop:.0f} rpm"
        rows.append(f"{span}: {who} has more torque" if who in names else f"{span}: {who}")
    return rows


def in_range(s: Session, a: str, b: str) -> list[str]:
    """Who has more mean torque over the range that matters, and whether that means anything."""
    v = required(s.verdict)
    span = interest(s.description.engine.speeds, v.rpm)
    if span is None or len(v.rpm) < 2:
        return []
    gain, least = (span.mean(v.rpm, x) for x in (v.torque, v.least))
    inside = (v.rpm >= span.start) & (v.rpm <= span.stop)
    torque = unit("torque")
    first, second = (a, b) if gain >= 0.0 else (b, a)
    text = f"Mean torque {span.words}: {first} made {torque.said(abs(gain))} more than {second}"
    if not np.all(v.comparable[inside]):
        return [f"{text}, but not all of this range is comparable"]
    if np.isnan(least):
        return [f"{text}, but without repeated pulls it may mean nothing"]
    if v.returned is not None and abs(gain) < v.returned.session_half_width * s.overlays[a].torque.mean():
        return [f"{text}, which is less than the doubt of the session's drift: no clear difference"]
    # What moves a pull moves all of it, so a mean over speeds is no surer than a single one.
    if abs(gain) > least:
        return [f"{text}. That is a clear win for {first} (at least {torque.number(least)} is needed)"]
    return [f"{text}. No clear difference: at least {torque.number(least)} is needed to be sure"]


def check_table(v: Any) -> str:
    """The checked channels: bands, largest difference, and where they were alike."""
    rows = []
    for channel, check in v.checks.items():
        title, kind, _ = CHECKED[channel]
        shown, places = unit(kind), 1 if kind == "angle" else 2
        band = f"{float(shown.of(check.band)):.3g} {shown.name}"
        states = list(check.states)
        if set(states) == {NOT_LOGGED}:
            rows.append([title, band, "", "", NOT_LOGGED])
            continue
        worst = check.difference[np.nanargmax(np.abs(check.difference))]
        wide = float(shown.of(check.half_width[0]))
        doubt = "-" if np.isnan(wide) else f"{wide:.2g}"
        rows.append([title, band, shown.number(worst, places, "+"), doubt, _states(v.rpm, states)])
    return left(["channel", "band", "largest difference", "+-", "verdict"], rows)


def _states(rpm: np.ndarray, states: Sequence[str]) -> str:
    if len(set(states)) == 1:
        return states[0]
    parts = [f"{s} {a:.0f}-{b:.0f}" for a, b, s in runs_of(rpm, states) if s != ALIKE]
    return "; ".join(parts)


def verdict_sentences(v: Any) -> list[str]:
    """The verdict in words."""
    texts = []
    spans = [f"{a:.0f} to {b:.0f} rpm" for a, b, ok in runs_of(v.rpm, list(v.comparable)) if ok]
    shown = [CHECKED[n][0] for n, c in v.checks.items() if DIFFERS in c.states]
    doubtful = [CHECKED[n][0] for n, c in v.checks.items() if UNPROVEN in c.states]
    missing = [CHECKED[n][0] for n, c in v.checks.items() if set(c.states) == {NOT_LOGGED}]
    if not shown:
        texts.append("No channel clearly differs by more than its band.")
    else:
        where = f"; comparable: {', '.join(spans)}" if spans else "; no speed can be compared"
        texts.append(f"More than the manifold changed: {', '.join(shown)}{where}.")
    if doubtful:
        texts.append(f"{listed(doubtful).capitalize()} may differ too much; repeat the pulls to be sure.")
    if missing:
        texts.append(f"Not logged, so it cannot be shown that they were the same: {', '.join(missing)}.")
    return [*texts, *_repeats(v), *_drift(v)]


def _repeats(v: Any) -> list[str]:
    """How well torque repeats."""
    if v.freedom:
        return [
            f"Torque repeats within {100 * v.repeatability:.2f} % (standard deviation between"
            f" pulls, {v.freedom} degrees of freedom). A difference is real, with"
            f" {100 * CONFIDENCE:.0f} % confidence, only if it exceeds the figure in the table."
        ]
    if v.returned is not None:
        return [
            "Each block holds a single pull, so neither the drift nor the difference has an interval."
            " Repeat every"
            " block at least once: two pulls, the other manifold's two, and two again."
        ]
    return [
        "No pull was repeated, so it cannot be shown that a difference in torque is real. Repeat"
        " each manifold's pull at least three times."
    ]


def _drift(v: Any) -> list[str]:
    """How torque drifted, and what became of it."""
    if v.returned is None and not v.drift:
        return []
    if v.returned is None:
        return [
            f"Torque drifts by {100 * v.drift:+.2f} % per pull; the figure allows for that. Pull"
            " the manifolds in the order A B A to see the drift better."
        ]
    d = v.returned
    wide = "" if np.isnan(d.half_width) else f" +- {100 * d.session_half_width:.2f} %"
    texts = [
        f"One manifold came back at the end: from its first pull to its last torque drifted by"
        f" {100 * d.session:+.2f} %{wide}. The differences below are free of this drift."
    ]
    if np.any(v.masked):
        texts.append(
            "Where a difference is smaller than the doubt of that drift nobody wins: repeat more pulls, or"
            " steady"
            " the test cell."
        )
    return texts


def difference(s: Session, name: str) -> np.ndarray:
    """First manifold less second at the verdict's speeds."""
    rpm = required(s.verdict).rpm
    first, second = (np.interp(rpm, o.curve.rpm, getattr(o, name)) for o in s.overlays.values())
    return first - second


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
        f"+-: joint 95 % intervals. Misfit (chi^2 per degree of freedom) {c.misfit:.2f}"
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
            f"{n} {100 * _rms(x):.2f} -> {100 * _rms(y):.2f} %"
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
