"""How an engine answers to a change: the hump moves the way the trade knows.

- Later intake closing and a wider runner move the VE peak up the range: common practice, no source.
- Runner tuning: from a short runner to one four times as long the peak moves as the speed of a neck and a
  volume does, within 6 %; K is on average from 2.0 to 2.5 (Engelman, ASME 73-WA/DGP-2, 1973, from memory).
  Single peaks scatter by a tenth about the rule, as the order of the wave changes.
- A longer exhaust primary moves its own effect (VE less the mean over the primaries) down the
  range: common practice, no source.
- Hotter air costs torque about as the standards' temperature exponents say: 0.5 on what the piston
  does (SAE J1349 on the indicated 1.18 of it, so 0.59 of the brake torque), 0.6 (ISO 1585); both
  from memory. Here the walls keep their temperature, so a band of 0.4 to 0.8 is asked.
"""

import numpy as np

from aircolumn.engine.model.geometry import geometry_of
from aircolumn.engine.model.piping import intake_piping
from aircolumn.engine.rules_of_thumb import mean_neck, neck_and_volume_speed
from validation.check import Check
from validation.engine_sweeps import RPM, SWEEPS, figures, long, peak_speed, sweep

SOUND = 343.2  # m/s at 20 degC
SHORTEST = 0.15  # m, of the runners
TRADE = "common practice, no source"


def peaks(name) -> list[float]:
    """Peak speeds of a sweep."""
    return [peak_speed(row) for row in sweep(name)]


def rule_factors() -> dict[float, float]:
    """K of the neck-and-volume rule that would give the computed peak, by runner length, m."""
    swept = SWEEPS["runner length, mm"][1]
    rows = [*figures([long(SHORTEST)]), *sweep("runner length, mm")]
    found = {}
    for length, row in zip((SHORTEST, *swept), rows, strict=True):
        engine = long(length)
        neck = mean_neck(intake_piping(engine).shape)
        ratio = engine.block.compression_ratio
        displaced = geometry_of(engine).swept
        rule = neck_and_volume_speed(1.0, neck, displaced, ratio, SOUND, 1.0)
        found[length] = rule / peak_speed(row)
    return found


def exhaust_effect() -> list[float]:
    """Speed above 3500 rpm at which each primary helps most beside the others."""
    ve = sweep("exhaust primary, mm")
    effect = np.where(RPM >= 3500.0, ve - ve.mean(axis=0), -1.0)
    return [float(RPM[k]) for k in effect.argmax(axis=1)]


def temperature_exponent() -> float:
    """n of torque ~ T^-n, mean torque over the range."""
    torque = sweep("air temperature, K").mean(axis=1)
    kelvin = SWEEPS["air temperature, K"][1]
    return float(-np.polyfit(np.log(kelvin), np.log(torque), 1)[0])


def checks():
    """Order of the peaks, K, the exponent."""
    rows = []

    def rising(name, speeds, unit="smallest step of the peak, rpm"):
        step = float(np.min(np.diff(speeds)))
        rows.append(Check("engine response", f"{name}: {unit}", 1.0, step, 0, TRADE, "at least"))

    rising("later intake closing", peaks("intake closing, deg ABDC"))
    rising("wider runner", peaks("bore of runner and port, mm"))
    rising("shorter runner", peaks("runner length, mm")[::-1])
    rising("shorter exhaust primary", exhaust_effect()[::-1])
    source = "Engelman 1973 (from memory)"
    found = rule_factors()
    mean, ends = float(np.mean(list(found.values()))), found[max(found)] / found[min(found)]
    label = "Helmholtz (neck and volume), mean K of five runners"
    rows.append(Check("engine response", label, 2.0, mean, 0, source, "at least"))
    rows.append(Check("engine response", label, 2.5, mean, 0, source, "at most"))
    label = f"Helmholtz (neck and volume), {1e3 * min(found):.0f} to {1e3 * max(found):.0f} mm: shift"
    rows.append(Check("engine response", label, 1.0, ends, 0.06, source, "absolute"))
    label = "torque ~ T^-n: n"
    rows.append(
        Check(
            "engine response",
            label,
            0.6,
            temperature_exponent(),
            0.2,
            "SAE J1349, ISO 1585 (from memory)",
            "absolute",
        )
    )
    return rows


def draw(axes):
    """VE against speed for later intake closing."""
    draw_sweep(axes, "intake closing, deg ABDC")


def draw_sweep(axes, name):
    """One sweep as curves over speed."""
    _, values, form, figure = SWEEPS[name]
    scale = 1e3 if name.endswith("mm") else 1.0
    lines = ("-", "--", "-.", ":")
    for value, row, line in zip(values, sweep(name), lines, strict=False):
        axes.plot(RPM, row, line, label=form.format(scale * value))
    unit = "VE, ambient reference" if figure == "ve" else "torque, N m"
    axes.set(xlabel="speed, rev/min", ylabel=unit)
    axes.legend(title=name, fontsize=8, title_fontsize=8)
