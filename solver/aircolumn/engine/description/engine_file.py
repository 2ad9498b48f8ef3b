"""The engine file's keys, their kinds and their limits. Values are SI once checked.

Angles stay in degrees and speeds in rev/min, as the trade writes them.
"""

from math import pi
from typing import Any, Literal, Self

from pydantic import Field, model_validator

from aircolumn.engine.description.base import FileModel, PerCylinder, required
from aircolumn.engine.description.bottom_end import Cylinders, Friction, Rings
from aircolumn.engine.description.combustion import Combustion, CylinderWalls
from aircolumn.engine.description.computing import Numerics, Speeds
from aircolumn.engine.description.exhaust import Exhaust
from aircolumn.engine.description.fuelling import Fuelling
from aircolumn.engine.description.intake import Intake
from aircolumn.engine.description.measured import Measured
from aircolumn.engine.description.mixture import Mixture
from aircolumn.engine.description.part import Part
from aircolumn.engine.description.space import SpaceForRunners
from aircolumn.engine.description.traces import Traces
from aircolumn.engine.description.valves import Cam

CELLS, CELLS_FOR = (0.012, 0.020), 450e-6  # m, m3
Installation = Literal["open", "test-stand", "vehicle"]
SAME_LENGTH, SAME_ANGLE = 1e-4, 0.5  # m, deg: smaller differences of cylinders do not count


class Engine(FileModel):
    """An engine as its file describes it (block: the file's section ``engine``).

    model: ``single`` computes one cylinder and lets the others repeat it, ``manifold`` computes
    all; left out, it is single wherever that gives the manifold's answer.
    """

    title: str = Field("", description="shown on tables and plots")
    model: Literal["single", "manifold"] | None = Field(
        None,
        description="single: one cylinder stands for all; manifold: all are computed; left "
        "out: single where that gives the same answer",
    )
    installation: Installation | None = Field(
        None,
        description="where it runs: brings inlet and back pressure that are not stated (`check` lists them)",
    )
    rating: Literal["j1349", "j607", "din70020", "iso1585"] | None = Field(
        None,
        description="standard by which figures are compared: its reference air, in place of intake.ambient",
    )
    block: Cylinders = Field(alias="engine", description="the bottom end")
    cam: Cam | None = Field(None, description="for valves that give a duration only")
    intake: Intake = Field(description="from the air to the cylinder")
    exhaust: Exhaust = Field(description="from the cylinder to the air")
    mixture: Mixture = Field(description="fuel, and how it arrives")
    combustion: Combustion = Field(Combustion(), description="when and how fast the charge burns")
    cylinder_walls: CylinderWalls = Field(CylinderWalls(), description="heat the cylinder loses")
    rings: Rings = Field(Rings(), description="what leaks past the piston")
    friction: Friction = Field(Friction(), description="friction mean effective pressure")
    speeds: Speeds = Field(Speeds(), description="engine speeds to compute, and the range that matters")
    numerics: Numerics = Field(
        Numerics(), description="mesh and step; the defaults are what results are checked at"
    )
    pull: Measured = Field(Measured(), description="how to read measured pulls")
    traces: Traces = Field(Traces(), description="how to read pressures against crank angle or time")
    part: Part = Field(Part(), description="how the runner is to be made, for its solid and drawing")
    fuelling: Fuelling = Field(Fuelling(), description="what the control unit's table is about")
    space: SpaceForRunners | None = Field(None, description="what runners must fit in, and keep clear of")

    @model_validator(mode="after")
    def _lobes(self) -> Self:
        for valve, name in ((self.intake.valve, "centreline_atdc"), (self.exhaust.valve, "centreline_btdc")):
            placed = valve.duration is None or getattr(valve, name) is not None
            if not placed and self.cam is None:
                raise ValueError(f"a duration needs {name}, or cam.lobe_separation for both valves")
        return self

    @property
    def cells(self) -> tuple[float, float]:
        """Target lengths of cells in intake and exhaust, m: those of ``numerics``, or its ``cell_scale``
        times the usual length: CELLS for a cylinder of CELLS_FOR and more, in proportion to its size
        (cube root) for a smaller one."""
        e, n = self.block, self.numerics
        swept = 0.25 * pi * e.bore**2 * e.stroke
        scale = (n.cell_scale or 1.0) * min(1.0, (swept / CELLS_FOR) ** (1.0 / 3.0))
        intake, exhaust = (scale * c for c in CELLS)
        return n.intake_cell or intake, n.exhaust_cell or exhaust

    @property
    def of_each(self) -> dict[tuple[str, str], PerCylinder]:
        """The parts that every cylinder has, by their place in the file."""
        i, x = self.intake, self.exhaust
        return {
            ("intake", "runner"): i.runner,
            ("intake", "port"): i.port,
            ("intake", "valve"): i.valve,
            ("exhaust", "port"): x.port,
            ("exhaust", "primary"): x.primary,
            ("exhaust", "valve"): x.valve,
        }

    def of_cylinder(self, number: int) -> "Engine":
        """The engine with the parts of cylinder ``number`` (1, 2, ...) as those of all."""
        own: dict[str, dict] = {"intake": {}, "exhaust": {}}
        for (side, name), part in self.of_each.items():
            own[side][name] = part.of_cylinder(number)
        return self.changed(
            intake=self.intake.changed(**own["intake"]),
            exhaust=self.exhaust.changed(**own["exhaust"]),
        )

    @property
    def why_cylinders_differ(self) -> str:
        """What makes the cylinders differ, so that one cannot stand for all; "" if nothing does."""
        if self.exhaust.collector is not None:
            return "exhaust.collector"
        if self.intake.log is not None and self.block.cylinders > 1:
            return "intake.plenum.log"
        if self.exhaust.silencer is not None and self.block.cylinders > 1:
            return "exhaust.silencer"  # they share it, and what swings in it
        for path, part in self.of_each.items():
            if part.by_cylinder:
                return ".".join((*path, "by_cylinder"))
            lengths = getattr(part, "lengths", None) or [0.0]
            if max(lengths) - min(lengths) > SAME_LENGTH:
                return ".".join((*path, "lengths"))
        angles = self.block.firing_angles
        even = 720.0 / self.block.cylinders
        uneven = angles and any(abs(a - k * even) > SAME_ANGLE for k, a in enumerate(angles))
        return "engine.firing_angles" if uneven else ""

    @property
    def computes_every_cylinder(self) -> bool:
        """Whether all cylinders are computed."""
        return self.model == "manifold" or (self.model is None and bool(self.why_cylinders_differ))

    @property
    def has_echoes(self) -> bool:
        """Whether one cylinder is computed and the others repeat it at the plenum."""
        several = self.block.cylinders > 1
        return several and not self.computes_every_cylinder and self.intake.plenum is not None

    def with_intake(self, **changes: Any) -> "Engine":
        """The engine with some keys of its intake changed."""
        return self.changed(intake=self.intake.changed(**changes))

    def intake_events(self) -> tuple[float, float]:
        """Opening and closing of the intake valve in degrees, 0 = firing top dead centre."""
        v = self.intake.valve
        if v.duration is None:
            return 360.0 - required(v.opens_btdc), 540.0 + required(v.closes_abdc)
        centre = v.centreline_atdc
        if centre is None:
            cam = required(self.cam)
            centre = cam.lobe_separation - cam.advance
        return v._around(360.0 + centre)

    def exhaust_events(self) -> tuple[float, float]:
        """Opening and closing of the exhaust valve in degrees, 0 = firing top dead centre."""
        v = self.exhaust.valve
        if v.duration is None:
            return 180.0 - required(v.opens_bbdc), 360.0 + required(v.closes_atdc)
        centre = v.centreline_btdc
        if centre is None:
            cam = required(self.cam)
            centre = cam.lobe_separation + cam.advance
        return v._around(360.0 - centre)


#: What a computed point does not depend on (keys of Engine).
NOT_COMPUTED = ("title", "speeds", "pull", "traces", "space", "part", "fuelling")


def computed_part(engine: Engine) -> dict:
    """All of an engine that its points depend on, plain."""
    return engine.model_dump(mode="json", exclude=set(NOT_COMPUTED))
