"""What an engine file may leave out of fuel, burning, heat and friction, and how far off what is then assumed
can plausibly be."""

from __future__ import annotations

from typing import TYPE_CHECKING

from aircolumn.engine.uncertain.row import MEMORY, PRACTICE, LeftOut
from aircolumn.engine.uncertain.unsure import ABOVE, PLUS, TIMES

if TYPE_CHECKING:
    from aircolumn.engine.description.engine_file import Engine


def _direct(engine: Engine) -> bool:
    return engine.mixture.delivery == "direct"


def _liquid(engine: Engine) -> bool:
    return engine.mixture.burnt.latent_heat > 0.0


CHARGE = (
    LeftOut(
        ("mixture.heating_value",),
        0.012,
        TIMES,
        f"gasoline blends by their heats of formation differ by 1 %, certified ones by less, {MEMORY}",
        "ask the supplier for the fuel's lower heating value",
        lambda e: e.mixture.burnt.heating_value,
    ),
    LeftOut(
        ("mixture.latent_heat",),
        0.1,
        TIMES,
        f"tables of gasoline differ by 10 %, {MEMORY}",
        "ask the supplier for the fuel's latent heat",
        lambda e: e.mixture.burnt.latent_heat,
        _liquid,
    ),
    LeftOut(
        ("mixture.charge_cooling",),
        2.0,
        TIMES,
        f"{PRACTICE} (guide: what the level rests on)",
        "measure the charge temperature at the port",
        lambda e: e.mixture.from_charge,
        lambda e: _liquid(e) and e.mixture.delivery == "premixed",
    ),
    LeftOut(
        ("mixture.airborne",),
        1.0,
        TIMES,
        f"drops differ fivefold in size; {PRACTICE}",
        "measure the charge temperature at the port",
        when=lambda e: _liquid(e) and e.mixture.delivery == "port" and e.mixture.charge_cooling is None,
    ),
    LeftOut(
        ("mixture.film_coefficient",),
        1.5,
        TIMES,
        f"films differ sixfold in thickness; {PRACTICE}",
        "measure the charge temperature at the port",
        when=lambda e: _liquid(e) and e.mixture.delivery == "port" and e.mixture.charge_cooling is None,
    ),
    LeftOut(
        ("mixture.charge_cooling",),
        0.1,
        PLUS,
        PRACTICE,
        "measure the charge temperature at the port",
        lambda e: e.mixture.from_charge,
        lambda e: _liquid(e) and _direct(e),
    ),
    LeftOut(
        ("mixture.evaporated",),
        0.3,
        PLUS,
        PRACTICE,
        "measure the temperature of the mixture in the plenum",
        lambda e: e.mixture.vapour_share,
        lambda e: e.mixture.delivery == "premixed" and _liquid(e),
    ),
    LeftOut(
        ("mixture.injection_start",), "30 deg", PLUS, PRACTICE, "read the start of injection", when=_direct
    ),
    LeftOut(
        ("mixture.injection_duration",), "20 deg", PLUS, PRACTICE, "read the time of injection", when=_direct
    ),
    LeftOut(
        ("combustion.ca50",),
        "6 deg",
        ABOVE,
        f"best torque lies at 8 to 10 deg: Heywood, ch. 9, {MEMORY}; knock of pump fuel sets it later,"
        " nothing earlier",
        "measure the cylinder pressure",
        when=lambda e: not isinstance(e.combustion.ca50, str),
    ),
    LeftOut(
        ("combustion.duration_10_90",),
        "6 deg",
        PLUS,
        f"20 to 30 deg are usual, {MEMORY}",
        "measure the cylinder pressure",
    ),
    LeftOut(
        ("combustion.ca50_scatter",),
        "2 deg",
        PLUS,
        f"cycles of sound engines at full load scatter by 2 to 5 deg, {MEMORY}",
        "measure the cylinder pressure of 50 cycles or more",
    ),
    LeftOut(
        ("combustion.speed_exponent",),
        0.2,
        PLUS,
        f"burning takes 1.3 to 2 times the angle at four times the speed: Heywood, section 9.3, {MEMORY}",
        "measure the cylinder pressure at two speeds",
    ),
    LeftOut(("combustion.form",), 0.4, PLUS, PRACTICE, "measure the cylinder pressure"),
    LeftOut(
        ("combustion.efficiency",),
        0.012,
        PLUS,
        f"oil films, deposits and quenching keep 1 to 2 % of the fuel of warm engines: SAE 932708, {MEMORY}",
        "measure the exhaust gas composition",
    ),
    LeftOut(
        ("cylinder_walls.factor",),
        0.25,
        TIMES,
        f"constants of one law differ by as much from engine to engine, {MEMORY}",
        "measure the heat to the coolant, or the torque of a known engine (pull --fit)",
    ),
    LeftOut(
        ("cylinder_walls.exchange_factor",),
        1.0,
        TIMES,
        "Woschni's constants for gas exchange are little tested (guide: what the level rests on)",
        "log the air flow",
    ),
    *(
        LeftOut(
            (f"cylinder_walls.{part}",),
            wide,
            PLUS,
            f"gasoline engines at full load have {common}: Heywood, ch. 12, {MEMORY}",
            settle,
        )
        for part, wide, common, settle in (
            ("head", "40 K", "150 to 250 degC", "measure the temperature of the head"),
            ("piston", "50 K", "200 to 300 degC", "measure the temperature of the piston"),
            ("liner", "30 K", "100 to 180 degC", "measure the coolant temperature"),
        )
    ),
    LeftOut(
        ("rings.crevice_volume",),
        1.0,
        TIMES,
        f"1 to 3 % of the clearance volume are usual: Heywood, section 11.4.3, {MEMORY}",
        "measure the volume between piston, rings and liner",
        lambda e: e.rings.crevices(e.block.clearance),
    ),
    LeftOut(
        ("rings.leak_area",),
        1.0,
        TIMES,
        f"blow-by of half to two per cent of the charge is usual, {MEMORY}",
        "measure the blow-by",
        lambda e: e.rings.area(e.block.bore),
    ),
    *(
        LeftOut(
            (f"friction.{part}",),
            wide,
            PLUS,
            f"motored losses of engines of one size differ by a fifth: Heywood, ch. 13, {MEMORY}",
            "motor the engine on the dyno",
        )
        for part, wide in (
            ("constant", "20 kPa"),
            ("peak_pressure", 0.002),
            ("speed", "0.02 bar*s/m"),
            ("speed_squared", "0.0004 bar*s^2/m^2"),
        )
    ),
)
