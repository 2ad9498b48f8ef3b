"""The fuel of the engine file, how rich the mixture is, and how the fuel arrives."""

from dataclasses import replace
from typing import Annotated, Any, Literal, Self

from pydantic import BeforeValidator, Field, model_validator

from aircolumn.engine.description.base import FileModel, plain_number, required
from aircolumn.engine.description.units import quantity
from aircolumn.flow.gas.fuels import FUELS, Fuel, like_gasoline

Atoms = Annotated[float, plain_number(0.0, 60.0)]
HeatingValue = Annotated[float, quantity("specific energy", above="10 MJ/kg", at_most="60 MJ/kg")]
LatentHeat = Annotated[float, quantity("specific energy", at_least="0 kJ/kg", at_most="1500 kJ/kg")]

#: Share of the latent heat of liquid fuel that the charge supplies, by delivery. Port: fuel sprayed
#: at the valve lies as a film on warm walls and takes most of its heat from them. Common practice,
#: no source, but for the difference between the two (validation/case_port_to_direct.py).
CHARGE_COOLING = {"premixed": 0.1, "port": 0.1, "direct": 0.9}
#: Beyond these there is soot, or no flame. The air is taken dry: kg for each kmol of its oxygen.
RICHEST, LEANEST, AIR_PER_OXYGEN = 0.5, 2.5, 28.965 / 0.2095
EVAPORATED = 0.6  # share of a carburettor's fuel; common practice, no source


class FuelName(FileModel):
    """A named fuel (gas/fuels.py), or one of the user's own by the atoms in its mean molecule."""

    name: Literal[tuple(FUELS)] | None = Field(  # type: ignore[valid-type]
        None, description="gasoline, e10, e85, ethanol, methanol, methane or propane"
    )
    carbon: Atoms | None = Field(None, description="atoms in a molecule of a fuel of your own")
    hydrogen: Atoms | None = Field(None, description="atoms in a molecule of a fuel of your own")
    oxygen: Atoms = Field(0.0, description="atoms in a molecule of a fuel of your own")

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        own = self.carbon is not None or self.hydrogen is not None
        if own == (self.name is not None):
            raise ValueError("give the fuel's name, or carbon and hydrogen (and oxygen)")
        if own and not (self.carbon and self.hydrogen):
            raise ValueError("carbon and hydrogen must both be given, greater than 0")
        if own and self.oxygen >= 2.0 * required(self.carbon) + 0.5 * required(self.hydrogen):
            raise ValueError("with so much oxygen there is nothing left to burn")
        return self


def _fuel(value: str | dict[str, Any]) -> dict[str, Any]:
    """``fuel: gasoline`` means the named one."""
    return value if isinstance(value, dict) else {"name": value}


class Mixture(FileModel):
    """Fuel and how it arrives: with all the air (premixed: a carburettor, or gas), sprayed at the
    intake valve (port), or into the cylinder (direct).

    evaporated: share of premixed fuel that is vapour from the start and has cooled the air, as far
    as the air can hold it; the rest reaches the cylinder as liquid. There too fuel evaporates only
    until its vapour is saturated (gas/volatility.py). charge_cooling: share of the latent heat of
    what reaches the cylinder as liquid that the charge supplies; walls supply the rest. At the port, where
    it is left out, it follows from what these can give (engine/model/fuel_film.py).
    injection_start (before
    firing top dead centre) and injection_duration: of direct injection; what is due after the
    intake valve has shut is added as it shuts. heating_value and latent_heat: of the fuel, at
    25 degC; the heating value is the lower one, of the liquid if the fuel is one.
    """

    air_fuel_ratio: Annotated[float, plain_number(2.0, 40.0)] | None = Field(
        None, description="by mass (or give relative_air_fuel_ratio)"
    )
    relative_air_fuel_ratio: Annotated[float, plain_number(0.6, 2.0)] | None = Field(
        None, description="lambda: 1 is stoichiometric"
    )
    fuel: Annotated[FuelName, BeforeValidator(_fuel)] = Field(
        FuelName(name="gasoline"), description="name, or composition of one of your own"
    )
    delivery: Literal["premixed", "port", "direct"] = Field(description="how it arrives")
    evaporated: Annotated[float, plain_number(0.0, 1.0)] | None = Field(
        None, description="share of premixed fuel that is vapour from the start, if air can hold it"
    )
    charge_cooling: Annotated[float, plain_number(0.0, 1.0)] | None = Field(
        None, description="share of the latent heat taken from the charge; left out: at the port by a balance"
    )
    film_coefficient: Annotated[
        float, quantity("heat-transfer coefficient", at_least="0 W/m2/K", at_most="20000 W/m2/K")
    ] = Field(1000.0, description="of heat transfer from port wall and valve to the fuel on them")
    airborne: Annotated[float, plain_number(0.0, 1.0)] = Field(
        0.2,
        description="share of fuel sprayed at the port that can evaporate as drops, on the air's heat",
    )
    injection_start: Annotated[float, quantity("angle", at_least="0 deg", at_most="360 deg")] = Field(
        300.0, description="before firing top dead centre, direct injection"
    )
    injection_duration: Annotated[float, quantity("angle", at_least="1 deg", at_most="240 deg")] = Field(
        60.0, description="crank degrees, direct injection"
    )
    heating_value: HeatingValue | None = Field(
        None, description="lower, of the liquid, in place of the fuel's own"
    )
    latent_heat: LatentHeat | None = Field(None, description="of evaporation, in place of the fuel's own")

    @model_validator(mode="after")
    def _complete(self) -> Self:
        if (self.air_fuel_ratio is None) == (self.relative_air_fuel_ratio is None):
            raise ValueError("give either air_fuel_ratio or relative_air_fuel_ratio (lambda)")
        if self.fuel.name is None and None in (self.heating_value, self.latent_heat):
            raise ValueError("a fuel of your own needs heating_value and latent_heat (0 for a gas)")
        if self.air_fuel_ratio is not None:
            self._check_ratio(self.air_fuel_ratio)
        if self.evaporated is not None and self.delivery != "premixed":
            raise ValueError("evaporated goes with delivery: premixed")
        if self.evaporated not in (None, 1.0) and self.burnt.latent_heat == 0.0:
            raise ValueError("a gas has nothing to evaporate: leave evaporated out")
        return self

    def _check_ratio(self, ratio: float) -> None:
        """An air-fuel ratio is only rich or lean for its fuel."""
        relative = ratio / self.stoichiometric_ratio
        if not RICHEST <= relative <= LEANEST:
            raise ValueError(
                f"air_fuel_ratio {ratio:g} is lambda {relative:.2f} with this fuel (stoichiometric:"
                f" {self.stoichiometric_ratio:.1f}); it must be from {RICHEST:g} to {LEANEST:g}"
            )

    @property
    def stoichiometric_ratio(self) -> float:
        """Air over fuel of the stoichiometric mixture, by mass."""
        f = self.burnt
        return f.oxygen_needed * AIR_PER_OXYGEN / f.molar_mass

    @property
    def relative(self) -> float:
        """Lambda."""
        stated = self.relative_air_fuel_ratio
        return required(self.air_fuel_ratio) / self.stoichiometric_ratio if stated is None else stated

    @property
    def burnt(self) -> Fuel:
        """The fuel with what the file says of it."""
        if self.fuel.name is None:
            f = self.fuel
            return like_gasoline(
                required(f.carbon),
                required(f.hydrogen),
                f.oxygen,
                required(self.heating_value),
                required(self.latent_heat),
            )
        fuel = FUELS[self.fuel.name]
        if self.heating_value is not None:
            fuel = replace(fuel, heating_value=self.heating_value)
        if self.latent_heat is not None:
            fuel = replace(fuel, latent_heat=self.latent_heat)
        return fuel

    @property
    def vapour_share(self) -> float:
        """Share of the fuel that comes in through the throttle as vapour."""
        if self.delivery != "premixed":
            return 0.0
        if self.evaporated is not None:
            return self.evaporated
        return EVAPORATED if self.burnt.latent_heat > 0.0 else 1.0

    @property
    def from_charge(self) -> float:
        """Share of the latent heat of liquid fuel that the charge supplies."""
        stated = self.charge_cooling
        return CHARGE_COOLING[self.delivery] if stated is None else stated
