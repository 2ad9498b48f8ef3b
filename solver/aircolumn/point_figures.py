"""The figures of an operating point, each said once: what it is called, its unit, how it is shown and where.

Datasets, NetCDF and CSV files, JSON, the tables on the screen, the page and ``--units`` take them from here.
A further figure is a line here and its value in engine/model/figures.py.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Figure:
    """unit: SI; kind: of quantity, which says the unit that is shown (display_units.py); meaning: in words;
    heading: above a column; column: its place in the table of a curve (0: only if asked for); compared:
    whether it stands in the tables of several runners."""

    unit: str
    kind: str
    meaning: str
    heading: str
    column: int = 0
    compared: bool = False

    @property
    def attributes(self) -> dict[str, str]:
        """Those of its variable in a Dataset."""
        return {"units": self.unit, "long_name": self.meaning}


#: By name, in the order in which results are written.
FIGURES = {
    "ve": Figure("1", "share", "trapped fresh air over swept volume at ambient density", "VE", 1, True),
    "ve_delivered": Figure(
        "1", "share", "fresh air through the intake valve over the same reference", "VE delivered", 12
    ),
    "ve_plenum": Figure(
        "1", "share", "trapped fresh air over swept volume of fresh air at plenum state", "VE (plenum)"
    ),
    "ve_spread": Figure(
        "1", "share", "largest less smallest VE of the cylinders computed, over their mean", "VE spread"
    ),
    "torque": Figure("N m", "torque", "brake torque of the engine", "torque", 2, True),
    "power": Figure("W", "power", "brake power of the engine", "power", 3, True),
    "bmep": Figure("Pa", "mean pressure", "brake mean effective pressure", "BMEP", 6),
    "imep": Figure(
        "Pa", "mean pressure", "net indicated mean effective pressure (all four strokes)", "IMEP", 7
    ),
    "pmep": Figure(
        "Pa", "mean pressure", "pumping mean effective pressure, positive when it costs work", "PMEP", 8
    ),
    "fmep": Figure("Pa", "mean pressure", "friction mean effective pressure", "FMEP", 9),
    "residual": Figure("1", "share", "burned share of the charge at intake-valve closing", "residual", 10),
    "lost_in_overlap": Figure(
        "1", "share", "share of the delivered air that leaves through the exhaust valve", "lost in overlap"
    ),
    "blow_by": Figure("1", "share", "share of the charge that leaks past the rings", "blow-by"),
    "peak_pressure": Figure("Pa", "mean pressure", "highest cylinder pressure", "peak pressure", 15),
    "air_flow": Figure("kg/s", "air flow", "air through all intake valves", "air"),
    "fuel_flow": Figure("kg/s", "air flow", "fuel for all cylinders", "fuel"),
    "bsfc": Figure("kg/J", "fuel per work", "fuel flow over brake power", "BSFC", 14),
    "charge_temperature": Figure(
        "K", "temperature", "cylinder temperature at intake-valve closing", "charge"
    ),
    "ca50": Figure("deg", "angle", "crank angle after top dead centre at which half is burned", "CA50"),
    "inlet_mach": Figure(
        "1", "number", "highest Mach number ahead of the plenum over the cycle", "inlet Mach"
    ),
    "plenum_pressure": Figure("Pa", "pressure", "time-mean plenum pressure", "plenum", 13),
    "plenum_temperature": Figure(
        "K",
        "temperature",
        "temperature of the gas in the plenum, of its mean pressure and density",
        "plenum air",
    ),
    "wall_heat": Figure("J", "energy", "heat to the cylinder walls per cycle and cylinder", "wall heat"),
    "cycles": Figure("1", "count", "cycles marched until they repeated (full mesh)", "cycles", 16),
    "cylinders_computed": Figure(
        "1", "count", "cylinders computed; if 1, the others repeat it in their turn", "cylinders"
    ),
    "alternation": Figure(
        "1",
        "number",
        "relative difference in trapped air between the cycles of a period, 0 if each repeats",
        "alternation",
    ),
    "mass_error": Figure("1", "number", "mass ledger: what is missing, over the air delivered", "mass error"),
    "energy_error": Figure(
        "1", "number", "energy ledger: what is missing, over the fuel's energy", "energy error"
    ),
    "periodicity": Figure(
        "1",
        "number",
        "change of everything held in the network over the last cycle, over the air delivered",
        "periodicity",
    ),
}
#: What is made of figures for a curve, and shown beside them.
DERIVED = {
    "torque_corrected": Figure("N m", "torque", "brake torque at a standard atmosphere", "corrected", 4),
    "power_corrected": Figure("W", "power", "brake power at a standard atmosphere", "corrected", 5),
    "ve_cylinder": Figure("1", "share", "VE of each cylinder computed", "VE"),
    "ve_uncertainty": Figure(
        "1", "share", "numerical uncertainty of VE, relative (grid convergence index)", "VE +-"
    ),
    "asked": Figure("1", "count", "1: asked for, 0: added between", "asked"),
}
SHOWN = {**FIGURES, **DERIVED}


def curve_columns() -> list[str]:
    """The figures of a curve's table, in their order there."""
    shown = [name for name, f in SHOWN.items() if f.column]
    return sorted(shown, key=lambda name: SHOWN[name].column)


def compared() -> list[str]:
    """The figures of the tables of several runners."""
    return [name for name, f in FIGURES.items() if f.compared]
