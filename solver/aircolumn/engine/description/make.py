"""How a pipe was made, and how rough that leaves its wall (equivalent sand roughness, m).

    drawn      0.0015 to 0.01 mm   seamless tube of brass, copper or aluminium, commercially smooth
    steel      0.02 to 0.1 mm      seamless steel tube, new; welded 0.04 to 0.1 mm
    cast       0.12 to 0.26 mm     castings as they come from the sand: asphalted and bare cast iron
    machined   0.0015 to 0.01 mm   as smooth as drawn tube
    printed    0.03 to 0.06 mm     of filament, layers of some 0.2 mm: mean roughness 7 to 8 um, times 6
    printed-powder  0.05 to 0.07 mm   sintered powder: mean roughness 8 to 12 um, times 6
    printed-resin   0.006 to 0.012 mm  cured resin: mean roughness 1 to 2 um, times 6

Handbook values as the library fluids has them (Idelchik; Moody's chart); printed filament from measurements
of printed parts (Sci. Rep. 2025, s41598-025-26253-0) with the usual ratio of sand roughness to mean
roughness (from memory); powder and resin: mean roughness from memory; machined: own choice, no source. Taken
is the geometric mean of each range."""

from typing import Literal

Make = Literal["drawn", "steel", "cast", "machined", "printed", "printed-powder", "printed-resin"]
ROUGHNESS: dict[str, float] = {
    "drawn": 4e-6,
    "steel": 4.5e-5,
    "cast": 1.8e-4,
    "machined": 4e-6,
    "printed": 4.5e-5,
    "printed-powder": 6e-5,
    "printed-resin": 9e-6,
}
