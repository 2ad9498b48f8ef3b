"""What stands between the open air and the throttle, in the order in which the air meets it."""

from typing import Annotated, Self

from pydantic import Field, model_validator

from aircolumn.engine.description.base import FileModel, plain_number
from aircolumn.engine.description.pipes import Entry, Pipe
from aircolumn.engine.description.quantities import Bore, Length, Volume
from aircolumn.engine.description.units import quantity


class InletPipe(Pipe):
    """A pipe of the inlet; the entry is that of a pipe that begins in the open air or an airbox."""

    entry: Entry = Field(Entry(), description="its mouth, where it begins in the open or in an airbox")


class Filter(FileModel):
    """Loses ``pressure_drop`` at the mass flow ``flow`` of outside air, and with the flow squared;
    as makers state it."""

    pressure_drop: Annotated[float, quantity("pressure", above="0 Pa", at_most="20 kPa")] = Field(
        description="at the flow stated"
    )
    flow: Annotated[float, quantity("mass flow", above="0 g/s", at_most="5 kg/s")] = Field(
        description="at which it loses that"
    )


class Airbox(FileModel):
    """A volume in which the air comes to rest."""

    volume: Volume = Field(description="inside")


class Restrictor(FileModel):
    """A nozzle, a throat, and a diffuser that wins pressure back.

    bore: in front and behind. Losses are counted on the dynamic head in the throat:
    nozzle_loss, and diffuser_loss (left out: that of a cone, engine/model/inlet.py).
    """

    throat: Bore = Field(description="narrowest bore")
    bore: Bore = Field(description="in front and behind")
    nozzle_length: Length = Field(description="from the bore to the throat")
    throat_length: Annotated[float, quantity("length", at_least="0 mm", at_most="200 mm")] = Field(
        0.0, description="of the narrowest bore"
    )
    diffuser_length: Length = Field(description="from the throat to the bore")
    nozzle_loss: Annotated[float, plain_number(0.0, 1.0)] = Field(
        0.04, description="share of the throat's dynamic head"
    )
    diffuser_loss: Annotated[float, plain_number(0.0, 1.0)] | None = Field(
        None,
        description="share of the throat's dynamic head; left out: that of a cone (Crane TP-410)",
    )

    @property
    def sections(self) -> list[tuple[float, float, float]]:
        """(length, first bore, last bore) of nozzle, throat and diffuser, m."""
        return [
            (self.nozzle_length, self.bore, self.throat),
            (self.throat_length, self.throat, self.throat),
            (self.diffuser_length, self.throat, self.bore),
        ]

    @model_validator(mode="after")
    def _narrow(self) -> Self:
        if self.throat >= self.bore:
            raise ValueError("the throat of a restrictor must be narrower than its bore")
        return self


class InletElement(FileModel):
    """One of the four."""

    pipe: InletPipe | None = Field(None, description="a pipe")
    filter: Filter | None = Field(None, description="a filter")
    airbox: Airbox | None = Field(None, description="a volume in which the air comes to rest")
    restrictor: Restrictor | None = Field(None, description="nozzle, throat and diffuser")

    @model_validator(mode="after")
    def _one(self) -> Self:
        if sum(v is not None for v in (self.pipe, self.filter, self.airbox, self.restrictor)) != 1:
            raise ValueError("one of pipe, filter, airbox, restrictor is expected at each place")
        return self

    @property
    def is_duct(self) -> bool:
        """Whether the air flows on through a bore."""
        return self.pipe is not None or self.restrictor is not None


def check_order(elements: list[InletElement]) -> None:
    """Raise ValueError for an order that cannot be built."""
    for k, one in enumerate(elements):
        before = elements[k - 1] if k else None
        if one.filter is not None and before is not None and before.filter is not None:
            raise ValueError("two filters stand one behind the other: state them as one")
        if one.airbox is not None and (before is None or before.airbox is not None):
            raise ValueError("an airbox needs a pipe, a restrictor or a filter in front of it")
        follows = elements[k + 1] if k + 1 < len(elements) else None
        inside = before is not None and before.is_duct and follows is not None and follows.is_duct
        if one.filter is not None and inside:
            raise ValueError("a filter between two pipes needs an airbox beside it")
        if one.pipe is not None and one.pipe.first_bore is None and not (before and before.is_duct):
            raise ValueError("the bore of a pipe that nothing leads to needs 'from' and 'to'")


Inlet = Annotated[list[InletElement], Field(min_length=1, max_length=20)]
