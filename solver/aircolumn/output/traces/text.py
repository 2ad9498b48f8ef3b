"""Measured traces beside the model's, in words and as a CSV file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.display_units import counted, percent, said_place, unit
from aircolumn.measured.traces.alone import ENOUGH, UNEVEN, meaning_of
from aircolumn.measured.traces.causes import BURN, GAIN, PEG, cause_of
from aircolumn.measured.traces.cycles import AT
from aircolumn.measured.traces.heat_release import SHARES
from aircolumn.output.data_files import digits, write_rows
from aircolumn.output.tables import fitted, grid

if TYPE_CHECKING:
    from aircolumn.engine.description.traces import TraceChannel
    from aircolumn.measured.traces.alone import Explained
    from aircolumn.measured.traces.fit import TraceFit
    from aircolumn.measured.traces.session import OfCylinder, TraceSession


#: decimals beyond those of the unit, by kind, where a fit is finer than a curve
FINER = {"length": 1, "angle": 2, "temperature difference": 1, "number": 2, "pressure": 2}
MORE_LOST = 1.35  # times what the model loses with valves shut
FAINT = 0.05  # of the strongest harmonic
MOST_UNEVEN = 6.0  # deg
OPPOSITE = {"longer": "shorter", "warmer": "cooler", "later": "earlier"}
AS_WELL = 0.05  # of the difference: a second cause that explains hardly less
ALONE = 0.05  # of the difference: a cause that explains less by itself is not named in a sentence
#: what a cause says of the engine, in a sentence
POINTS_TO = {
    "length": "the column's length",
    "temperature": "the speed of sound, and so the temperature in the runner",
    "timing": "valve timing",
    "damping": "damping in the runner",
    "discharge": "how well the valve flows",
    "heat": "heat lost in the cylinder",
    "leak": "a leak past the rings",
    "compression": "the compression ratio",
    "tdc": "top dead centre of the file",
    PEG: "levels (pegging)",
    GAIN: "the gain of",
    UNEVEN: "speed that changes within a turn",
}


def traces_text(s: TraceSession) -> str:
    """What was read, how far it is off, what that points to, and what was fitted."""
    if s.angle_first:
        return "\n".join([*_read_lines(s), *_angle_first(s)])
    blocks = [
        "\n".join(_read_lines(s)),
        _channel_table(s),
        "\n".join(_cylinder_lines(s)),
        *_harmonic_tables(s),
        "\n".join(_wave_lines(s)),
        "\n".join(_explained_lines(s)),
    ]
    if s.fit is not None:
        blocks.append(_fit_text(s, s.fit))
    return "\n\n".join(b for b in blocks if b)


def _read_lines(s: TraceSession) -> list[str]:
    speeds = s.cycles.rpm
    lines = [
        f"{s.path.name}: {counted(s.cycles.count, 'cycle')}, {counted(len(s.channels), 'channel')},"
        f" {speeds.mean():.0f} rpm"
        + (f" (+- {speeds.std(ddof=1):.1f} from cycle to cycle)" if np.ptp(speeds) > 0.0 else "")
    ]
    lines += [f"not used: {name}: {why}" for name, why in s.unused.items()]
    if s.cycles.turned and not s.angle_first:
        lines.append(_turned(s))
    kpa = unit("pressure")
    for name, (added, spread) in s.levels.items():
        way = s.channels[name].pegged.to
        about = f" +- {kpa.said(spread, 2)} from cycle to cycle" if spread else ""
        lines.append(f"{name}: {kpa.said(added, 2, '+')} added ({way}){about}")
    centre = s.dead_centre
    if centre is not None:
        lines.append(
            f"motored: by its loss angle of {centre.loss:.2f} deg the file's angles are"
            f" {centre.offset:+.2f} deg too late (+- {centre.plus_minus:.2f} deg):"
            f" top_dead_centre: {s.top_dead_centre + centre.offset:.2f} deg"
        )
        mine, model = centre.losses
        if mine > MORE_LOST * model > 0.0:
            lines.append(
                "from 90 deg before to 90 deg after top dead centre the pressure loses"
                f" {percent(mine, '.1f')}, in the model {percent(model, '.1f')}: more heat or leak than it"
                " has, so the loss angle may be as many times as large"
            )
    return lines


def _turned(s: TraceSession) -> str:
    """Why angles were turned by 360 deg."""
    if any(c.place == "cylinder" for c in s.channels.values()):
        return (
            "angles were turned by 360 deg: the cylinder's pressure is highest about 360 deg of the file, so"
            " its 0 is top dead centre of gas exchange"
        )
    return "angles were turned by 360 deg: the model's pressures are nearer then; a mark cannot tell"


def _angle_first(s: TraceSession) -> list[str]:
    """What to do where the file's angles are far off."""
    stated = s.top_dead_centre + (s.offset or 0.0)
    lines = [""]
    if s.fired_offset is not None:
        lines.append(
            f"fired: by its compression the file's angles are about {s.fired_offset[0]:+.0f} deg too late (+-"
            f" {s.fired_offset[1]:.0f} deg); a motored trace tells it better"
        )
    lines.append("Nothing is compared before the angle is right. Write into the engine file, and run again:")
    return [*lines, f"  traces: {{top_dead_centre: {stated:.2f} deg}}"]


def _place(channel: TraceChannel) -> str:
    if channel.distance is not None:
        return f"runner, {said_place(channel.distance)} from its mouth"
    return {"port": "port, at the valve", "exhaust": "exhaust, at the valve"}.get(
        channel.place, channel.place
    )


def _channel_table(s: TraceSession) -> str:
    kpa = unit("pressure")
    noise = s.cycles.spread.mean(axis=1)
    swing = s.cycles.mean.std(axis=1)
    rows = [
        [
            name,
            _place(c),
            kpa.number(swing[k], 2),
            kpa.number(noise[k], 2),
            kpa.number(s.rms_whole[name], 2),
            kpa.number(s.rms[name], 2),
        ]
        for k, (name, c) in enumerate(s.channels.items())
    ]
    heads = ["channel", "where", "swings", "spread of cycles", "off the model", "without combustion"]
    if all(s.rms[n] == s.rms_whole[n] for n in s.channels):
        heads, rows = heads[:-1], [row[:-1] for row in rows]
    return f"Standard deviations, {kpa.name}\n" + fitted(heads, rows)


def _harmonic_tables(s: TraceSession) -> list[str]:
    kpa = unit("pressure")
    heads = ["harmonic (swings per cycle)", f"measured {kpa.name}", f"model {kpa.name}", "lag, deg"]
    tables = []
    for name, found in s.harmonics.items():
        if s.channels[name].place == "cylinder":
            continue
        least = FAINT * max(h.measured for h in found)  # below it a phase is noise
        rows = [
            [
                str(h.number),
                kpa.number(h.measured, 2),
                kpa.number(h.model, 2),
                f"{h.later:+z.1f}" if min(h.measured, h.model) > least else "",
            ]
            for h in found
        ]
        tables.append(f"{name}: harmonics of the cycle\n{grid(heads, rows)}")
    return tables


def _wave_lines(s: TraceSession) -> list[str]:
    lines = []
    for name, r in s.ringing.items():
        measured, model = (1e3 * v for v in r.back)
        lines.append(
            f"{name}: rings at {r.measured:.1f} Hz while the valve is shut, the model at {r.model:.1f} Hz"
            f" ({percent((r.measured / r.model - 1.0), '+.1f')}); there and back {measured:.2f} ms, the model"
            f" {model:.2f} ms"
        )
    if s.air_flow is not None:
        flow = unit("air flow")
        off = 100.0 * (s.model.air_flow / s.air_flow - 1.0)
        said = f"mean air flow {flow.said(s.air_flow, 2)}, the model {flow.said(s.model.air_flow, 2)}"
        lines.append(f"{said} ({off:+.1f} %)")
    return lines


def _explained_lines(s: TraceSession) -> list[str]:
    if not s.explained:
        return ["Nothing that was tried explains the difference: it is noise, or something else."]
    likely = [e for e in s.explained if _plausible(e)]
    lines = [
        _first(likely),
        "Each tried by itself, share of the difference it explains:",
    ]
    for one in likely:
        lines.append(f"  {percent(one.share, '3.0f')}  {_points_to(one.cause)}{_amount(one)}")
    beyond = [_points_to(one.cause) for one in s.explained if not _plausible(one)]
    if beyond:
        lines.append(f"By itself it would have to be further off than is plausible: {', '.join(beyond)}.")
    if s.cycles.marks_at is not None:
        lines.append(
            "The angle is that of one mark a turn, taken as even in between. The speed of an engine with few"
            " cylinders changes by 1 to 3 % within a turn, and the angle is wrong by as many degrees: log a"
            " toothed wheel or an encoder."
        )
    return lines


def _first(likely: list[Explained]) -> str:
    """What is most likely wrong."""
    if not likely or likely[0].share < ALONE:
        return "No single cause that is plausible explains more than 5 % of the difference."
    first, *others = likely
    said = f"{_points_to(first.cause)}: that alone explains {percent(first.share, '.0f')} of it"
    if first.share >= ENOUGH:
        as_well = [_points_to(e.cause) for e in others if e.share > first.share - AS_WELL]
        more = f" So does {' or '.join(as_well)}, nearly as well." if as_well else ""
        return f"The difference points to {said}.{more}"
    more = "Several things are off, or it is another engine."
    return f"No single cause explains the difference. First comes {said}. {more}"


def _points_to(name: str) -> str:
    kind, _, channel = name.partition(" ")
    return f"{POINTS_TO[kind]} {channel}".rstrip()


def _amount(one: Explained) -> str:
    """By how much, where that is one figure."""
    if one.cause == PEG:
        return ""
    if one.cause == UNEVEN:
        return f": angles wrong by up to {one.value:.1f} deg"
    return f": {_directed(meaning_of(one.cause), _said(one.cause, one.value))}"


def _directed(meaning: str, said: str) -> str:
    """ "walls warmer by", "-41 K": "walls cooler by 41 K"."""
    number, opposite = said.lstrip("+"), next((w for w in OPPOSITE if f"{w} by" in meaning), None)
    if not number.startswith("-") or opposite is None:
        return f"{meaning} {said}"
    return f"{meaning.replace(opposite, OPPOSITE[opposite])} {number[1:]}"


def _plausible(one: Explained) -> bool:
    if one.cause == UNEVEN:
        return one.value <= MOST_UNEVEN
    cause = cause_of(one.cause)
    return one.cause == PEG or abs(one.value - cause.neutral) <= cause.plausible


def _said(name: str, value: float, sign: str = "") -> str:
    kind = cause_of(name).kind
    one = unit(kind)
    return one.said(value, one.decimals + FINER.get(kind, 0), sign)


def _cylinder_lines(s: TraceSession) -> list[str]:
    """Mean pressures, peaks, slopes and burn of the cylinder."""
    if s.cylinder is None:
        return []
    found = s.cylinder.indicated
    mean, kpa = unit("mean pressure"), unit("pressure")
    varies = ""
    if found.variation is not None and not s.motored:
        varies = f", varying by {percent(found.variation, '.1f')} (standard deviation)"
    peak, at = found.peak, found.peak_angle
    spread = f" +- {percent(peak.std(ddof=1) / peak.mean(), '.1f')}" if peak.size > 1 else ""
    lines = [
        f"IMEP {mean.said(found.imep.mean())}{varies}; compression and expansion alone"
        f" {mean.said(found.gross.mean())}",
        f"peak {kpa.said(peak.mean(), 0)}{spread} at {at.mean():.1f} deg",
        f"p V^n: compression n {found.exponents[0]:.3f}, the model {found.exponents_due[0]:.3f}; expansion"
        f" {found.exponents[1]:.3f}, the model {found.exponents_due[1]:.3f}",
    ]
    return lines + _burn_lines(s, s.cylinder)


def _burn_lines(s: TraceSession, cylinder: OfCylinder) -> list[str]:
    release, burn = cylinder.release, s.burn or cylinder.burn
    if release is None or burn is None:
        return [f"no burn is shown: {cylinder.why_not}"] if cylinder.why_not else []
    shares = ", ".join(f"{100 * share:.0f}" for share in SHARES)
    mine, model = (", ".join(f"{a:.1f}" for a in of) for of in (release.angles.mean(axis=0), release.due))
    heat = unit("energy")
    lines = [
        f"burned {shares} % at {mine} deg, the model {model}",
        f"heat released in a cycle {heat.said(release.heat.mean(), 0)}, the model"
        f" {heat.said(release.heat_due, 0)}",
    ]
    scatter = "" if burn.ca50_scatter is None else f", ca50_scatter: {burn.ca50_scatter:.1f} deg"
    keys = f"ca50: {burn.ca50:.1f} deg, duration_10_90: {burn.duration_10_90:.1f} deg"
    way = "fitted" if s.burn is not None else f"for the engine file (--fit {BURN})"
    return [*lines, f"{way}: combustion: {{{keys}, reference_speed: {s.rpm:.0f} rpm{scatter}}}"]


def _fit_text(s: TraceSession, fit: TraceFit) -> str:
    rows = []
    for name, value in fit.values.items():
        cause, meaning = cause_of(name), meaning_of(name)
        doubt = f"not determined: {cause.settle}" if name in fit.undetermined else ""
        doubt = doubt or ("not plausible" if name in fit.implausible else "")
        rows.append([name, meaning, _said(name, value), f"+- {_said(name, fit.half_widths[name])}", doubt])
    text = "Fitted, with 95 % intervals of the noise alone\n"
    heads = ["cause", "meaning", "value", "interval", "doubt"]
    if not fit.undetermined + fit.implausible:
        heads, rows = heads[:-1], [row[:-1] for row in rows]
    text += fitted(heads, rows)
    kpa = unit("pressure")
    after = []
    for name, before in fit.before.items():
        held = " (held out)" if name in s.held else ""
        after.append(f"{name}{held} {kpa.number(before, 2)} -> {kpa.number(fit.after[name], 2)}")
    strong = _strong(fit)
    if fit.doubtful:
        strong.append(f"no engine file is written (--anyway writes one): {fit.doubtful}")
    lines = [f"off the model, {kpa.name}: {'; '.join(after)}"]
    worse = [n for n in s.held if fit.after[n] > fit.before[n]]
    if worse:
        lines.append(f"{', '.join(worse)} fits worse than before: what was fitted is not the cause")
    if fit.left:
        lines.append(
            f"what is left of {', '.join(fit.left)} is more than noise: something else is wrong as well, so"
            " the intervals are too narrow"
        )
    return "\n".join([text, *lines, *strong])


def _strong(fit: TraceFit) -> list[str]:
    """Pairs that go together."""
    names = list(fit.values)
    pairs = [
        (abs(float(fit.correlation[i, j])), names[i], names[j])
        for i in range(len(names))
        for j in range(i)
        if abs(fit.correlation[i, j]) > 0.9
    ]
    pairs.sort(reverse=True)
    return [f"{one} and {other} go together (correlation {r:.2f})" for r, one, other in pairs]


def write_traces(session: TraceSession, path: Path) -> None:
    """Over crank angle, 0 at firing top dead centre."""
    kpa = unit("pressure")
    columns = {"angle [deg]": AT}
    for k, name in enumerate(session.cycles.names):
        columns[f"{name} mean [{kpa.name}]"] = kpa.of(session.cycles.mean[k])
        columns[f"{name} spread [{kpa.name}]"] = kpa.factor * session.cycles.spread[k]
        columns[f"{name} model [{kpa.name}]"] = kpa.of(session.model.signals[k])
        if session.fitted is not None:
            columns[f"{name} fitted [{kpa.name}]"] = kpa.of(session.fitted[k])
    rows = zip(*columns.values(), strict=True)
    write_rows(path, list(columns), ([digits(v, 8) for v in row] for row in rows))
