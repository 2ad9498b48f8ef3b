"""What surrounds a pipe whose file says nothing of its wall.

The wall then finds its own temperature (model/wall_balance.py) between the gas in it and what is around it:

    port              coolant at 90 degC; film of the coolant and iron or aluminium between, in the exhaust
                      with some of the wall not cooled
    runner, log       air under a bonnet, and what comes along the wall from the head (a fin of aluminium
                      4 mm thick takes its foot's temperature for some 60 mm)
    inlet             outside air warmed by the engine
    primary, ...      natural convection, and radiation of oxidised steel at 850 K

Common practice, no source; spreads: engine/uncertain/parts_left_out.py.
"""

from aircolumn.engine.description.pipes import Pipe, Surroundings

_ZERO = 273.15
#: Place of a pipe: temperature around it, K, and coefficient on its inner area, W/(m2 K).
AROUND = {
    "intake.inlet": (_ZERO + 40.0, 15.0),
    "intake.plenum.log": (_ZERO + 60.0, 30.0),
    "intake.runner": (_ZERO + 70.0, 60.0),
    "intake.port": (_ZERO + 90.0, 3000.0),
    "exhaust.port": (_ZERO + 90.0, 1500.0),
    "exhaust.primary": (_ZERO + 60.0, 80.0),
    "exhaust.collector": (_ZERO + 60.0, 60.0),
    "exhaust.merge": (_ZERO + 60.0, 60.0),
}


def surround(pipe: Pipe | None, place: str) -> None:
    """Give a pipe of a place the usual surroundings, if its file says nothing of its wall."""
    if pipe is None or pipe.heat_factor == 0.0:
        return
    if pipe.wall_temperature is None and pipe.surroundings is None:
        temperature, coefficient = AROUND[place]
        around = Surroundings.model_construct(temperature=temperature, coefficient=coefficient)
        pipe.__dict__["surroundings"] = around  # not stated, so not in model_fields_set
