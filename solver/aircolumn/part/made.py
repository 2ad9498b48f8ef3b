"""What a part consists of, made once: solids, pieces, air, and how far they agree with what is computed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from aircolumn.engine.description.pipes import Runner
from aircolumn.engine.model.piping import pipe_shape
from aircolumn.errors import RequestError
from aircolumn.part.pieces import Piece, pieces_of, whole_piece
from aircolumn.part.plenum import plenum_solids
from aircolumn.part.runner import RunnerPart, Solids, runner_part
from aircolumn.part.sweep import MM

if TYPE_CHECKING:
    from manifold3d import Manifold

    from aircolumn.engine.description.engine_file import Engine

MISSING = "shapes need more libraries: pip install 'aircolumn[part]'"
Kind = Literal["runner", "bank", "manifold"]
RUNNER: Kind = "runner"
BANK: Kind = "bank"
MANIFOLD: Kind = "manifold"


@dataclass(frozen=True, eq=False)
class Made:
    """kind: one of runner, bank, manifold; part: its runners; pieces: its solids from the mouths on, mm; air:
    the column that is computed, of one runner; mouth: the same with the bellmouth in front; note: why several
    runners are not in pieces."""

    kind: Kind
    runner: Runner
    part: RunnerPart
    pieces: list[Piece]
    air: Manifold
    mouth: Manifold
    note: str = ""

    @property
    def computed_volume(self) -> float:
        """Of the air column, as the flow is computed, m3."""
        return pipe_shape(self.runner).volume()

    @property
    def air_volume(self) -> float:
        """Of the mesh of the air column, m3."""
        return self.air.volume() / MM**3

    @property
    def material(self) -> float:
        """Of all pieces, m3."""
        return sum(piece.solid.volume() for piece in self.pieces) / MM**3

    @property
    def mass(self) -> float | None:
        """Of all pieces, kg; None where the file does not say of what density they are."""
        density = self.part.part.density
        return None if density is None else density * self.material


def check_extra() -> None:
    """Raise RequestError if the libraries of shapes are missing."""
    try:
        import manifold3d  # noqa: F401
        import trimesh  # noqa: F401
    except ImportError:
        raise RequestError(MISSING) from None


def make(engine: Engine, kind: Kind, count: int) -> Made:
    """The part of an engine: one runner, a bank of ``count``, or with the plenum. Raises RequestError."""
    check_extra()
    part = runner_part(engine, 1 if kind == RUNNER else count)
    plenum = plenum_solids(part, engine) if kind == MANIFOLD else None
    note = ""
    try:
        pieces = pieces_of(part, plenum)
    except RequestError as error:
        if kind == RUNNER:
            raise
        pieces, note = [whole_piece(part, plenum)], f"In one piece: {error}."
    air = part.air()
    mouth = air if not part.lip else Solids([air, part.flared_air()]).whole()
    return Made(kind, engine.intake.runner, part, pieces, air, mouth, note)
