"""Which torque a log holds: of several columns one, at the engine, and how it is stated."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import pi

import numpy as np

from aircolumn.display_units import percent
from aircolumn.engine.description.measured import Measured, Wheel
from aircolumn.engine.description.text_file import wrong_line
from aircolumn.measured.atmosphere import Atmosphere
from aircolumn.measured.logs.choose import POWER_GAP, Rivals, chosen_column, power_over_torque
from aircolumn.measured.logs.guess import NO_UNIT, UNKNOWN, LogColumn, check_unit
from aircolumn.measured.logs.log_table import LogTable
from aircolumn.measured.logs.preamble import Above
from aircolumn.measured.logs.pull_file import PullFile, UsedColumn
from aircolumn.measured.logs.statement import USUAL_HUMIDITY, Evidence, Statement, Untold, statement
from aircolumn.measured.logs.units_by_figures import with_units

PER_CENT = 50.0  # a factor of correction above is in per cent


def used(
    table: LogTable, found: Sequence[LogColumn], cells: dict[int, np.ndarray], above: Above, result: PullFile
) -> tuple[dict[str, np.ndarray], Evidence]:
    """(readings by channel, what is said of torque). Of several columns one is used."""
    readings: dict[str, np.ndarray] = {}
    told = with_units(found, cells)
    for c, before in zip(told, found, strict=True):
        if before.unit == UNKNOWN and c.unit != UNKNOWN:
            result.remarks.append(f"'{c.heading}' names no unit: by its figures it is in {c.unit}")
        elif c.unit == UNKNOWN and c.channel == "barometer":
            result.unused[c.heading] = NO_UNIT
    found = [c for c in told if c.heading not in result.unused]
    by_channel: dict[str, list[LogColumn]] = {}
    for c in found:
        by_channel.setdefault(c.channel, []).append(c)
    taken: dict[str, LogColumn] = {}
    over = None
    for channel, columns in by_channel.items():
        try:
            chosen = chosen_column(columns, cells) if channel in ("torque", "power", "rpm") else None
        except Rivals as error:
            raise wrong_line(table.path, table.heading_line, channel, str(error)) from None
        one = columns[0] if chosen is None else chosen.column
        check_unit(table, one)
        over = chosen.corrected_over if chosen is not None and channel == "torque" else over
        taken[channel], readings[channel] = one, cells[one.number]
        result.columns[channel] = UsedColumn(one.heading, one.unit, one.how)
        result.unused.update({c.heading: f"'{one.heading}' is used" for c in columns if c is not one})
    count = len(readings["rpm"])
    for channel, (value, line, unit) in above.values.items():
        if channel not in readings:
            readings[channel] = np.full(count, value)
            result.columns[channel] = UsedColumn(f"line {line}", unit, "above")
    result.wheel = (taken.get("torque") or taken["power"]).said.wheel
    if "correction" in readings and np.nanmedian(readings["correction"]) > PER_CENT:
        readings["correction"] = 0.01 * readings["correction"]
    alike = _complete(readings, taken, table, result)
    return readings, _evidence(taken, above, over, alike)


def at_the_engine(readings: dict[str, np.ndarray], wheel: Wheel | None, result: PullFile) -> None:
    """Torque at the engine from that at the wheels: gear ratio and losses as stated."""
    result.wheel = result.wheel or wheel is not None
    if not result.wheel:
        return
    ratio, losses = (1.0, None) if wheel is None else (wheel.ratio, wheel.losses)
    readings["torque"] = readings["torque"] / (ratio * (1.0 - (losses or 0.0)))
    result.level_known = losses is not None
    taken = f"losses of {percent(losses, '.3g')} as stated" if losses is not None else "no losses"
    result.remarks.append(f"torque at the wheels: divided by a ratio of {ratio:g}, {taken} taken off")


def _through_a_gear(readings: dict[str, np.ndarray], share: float, result: PullFile) -> bool:
    """Whether torque was read at the wheels, after the gears: power over torque times engine speed is then
    one over their ratio in every row. Torque is taken from power."""
    if not result.wheel or not 0.02 < share < 0.9:
        return False
    omega = readings["rpm"] * pi / 30.0
    with np.errstate(divide="ignore", invalid="ignore"):
        each = readings["power"] / (readings["torque"] * omega)
    if np.nanstd(each) > 0.02 * share:
        return False
    readings["torque"] = readings["power"] / omega
    result.remarks.append(
        f"torque at the wheels is {1.0 / share:.3g} times power over engine speed: a gear, taken out"
    )
    return True


def _complete(
    readings: dict[str, np.ndarray], used: dict[str, LogColumn], table: LogTable, result: PullFile
) -> float | None:
    """Torque from power where it was not logged. Returns power over torque times speed (None: not both),
    which is 1 or a factor of correction; else a unit is wrong: InputError."""
    if "power" not in readings:
        return None
    omega = readings["rpm"] * pi / 30.0
    if "torque" not in readings:
        readings["torque"] = readings["power"] / omega
        result.remarks.append("torque from power and speed")
        return None
    share = power_over_torque(readings["power"], readings["torque"], readings["rpm"])
    if _through_a_gear(readings, share, result):
        return None
    factors = readings.get("correction")
    known = [] if factors is None else [float(np.nanmedian(factors))]
    as_factor = any(
        abs(share / f - 1.0) < POWER_GAP / 4 or abs(share * f - 1.0) < POWER_GAP / 4 for f in known
    )
    differ = used["power"].said.corrected != used["torque"].said.corrected and 0.75 < share < 1.35
    if abs(share - 1.0) > POWER_GAP and not as_factor and not differ:
        raise wrong_line(
            table.path,
            table.heading_line,
            "power",
            f"power is {share:.3f} times torque x speed: one of the units must be wrong"
            f" (torque taken as {result.columns['torque'].unit}, power as"
            f" {result.columns['power'].unit})",
        )
    missing = np.isnan(readings["torque"])
    readings["torque"] = np.where(missing, readings["power"] / omega / share, readings["torque"])
    return share


def _evidence(used: dict[str, LogColumn], above: Above, over: float | None, share: float | None) -> Evidence:
    """What columns and lines say of how torque is stated; the weather and the factors come later."""
    torque, power, factor = used.get("torque") or used["power"], used.get("power"), used.get("correction")
    where, said = f"the column '{torque.heading}'", torque.said
    standard = said.standard or (factor.said.standard if factor else "")
    if said.observed or said.corrected:
        return Evidence(said.corrected, said.observed, standard, where)
    if over is not None and abs(over - 1.0) > 5e-4:
        return Evidence(says_observed=True, where=f"the corrected column beside it, {over:.4f} times as high")
    if over is not None:
        return Evidence(
            says_corrected=True, standard=standard, where="the corrected column with the same figures"
        )
    if power is not None and share is not None and power.said.corrected and power is not torque:
        at = f"the column '{power.heading}'"
        if abs(share - 1.0) > 0.004:
            return Evidence(says_observed=True, where=f"{at}, {share:.4f} times torque x speed")
        return Evidence(says_corrected=True, standard=power.said.standard or standard, where=at)
    if power is not None and share is not None and factor is not None and abs(share - 1.0) > 0.004:
        return Evidence(
            says_observed=share > 1.0,
            says_corrected=share < 1.0,
            standard=standard,
            where=f"power, {share:.4f} times torque x speed",
        )
    if above.line:
        at = f"line {above.line} ('{above.text}')"
        return Evidence(above.said.corrected, above.said.observed, above.said.standard or standard, at)
    return Evidence(standard=standard, where=f"the column '{factor.heading}'" if factor else "")


def how_stated(
    table: LogTable, readings: dict[str, np.ndarray], e: Evidence, notes: Measured, result: PullFile
) -> Statement:
    """How torque is stated. Raises InputError if the log speaks of a correction that cannot be told."""
    air, humid = _weather(readings, notes)
    factor = result.columns.get("correction")
    column = "no column" if factor is None else "the factor in " + factor.heading
    if factor is not None and factor.how != "above":
        column = f"the column '{factor.heading}'"
    evidence = replace(e, factors=readings.get("correction"), column=column, air=air, humid=humid)
    try:
        return statement(evidence, notes.stated_of(table.path))
    except Untold as error:
        raise wrong_line(table.path, table.heading_line, "torque", str(error)) from None


def _weather(readings: dict[str, np.ndarray], notes: Measured) -> tuple[Atmosphere | None, bool]:
    """(air of the rows as logged or stated, whether humidity is known); None without pressure and
    temperature."""

    def of(channel: str, stated: float | None) -> np.ndarray | None:
        logged = readings.get(channel)
        if logged is not None and np.isfinite(logged).any():
            return np.where(np.isnan(logged), np.nanmedian(logged), logged)
        return None if stated is None else np.full(len(readings["rpm"]), stated)

    pressure, temperature = of("barometer", notes.barometer), of("inlet_air", notes.inlet_air)
    humidity = of("humidity", notes.humidity)
    if pressure is None or temperature is None:
        return None, False
    known = humidity is not None
    return Atmosphere(
        pressure, temperature, humidity if known else np.full(len(pressure), USUAL_HUMIDITY)
    ), known
