"""aircolumn: unsteady gas flow of an engine's air column, and the torque curve it makes.

    description = aircolumn.load("engine.yaml")
    data = aircolumn.compare(description)          # xarray, dimensions runner and rpm
    one = aircolumn.curve(description, [3000, 3500])

Pipe flow without an engine: aircolumn.Network. What is named here is public; the rest may change.
"""

import lazy_loader

__version__ = "0.2.0"
# Each name is loaded when it is first used: the command line starts faster for it.
__getattr__, _public, __all__ = lazy_loader.attach_stub(__name__, __file__)


def __dir__() -> list[str]:
    return [*_public(), "__version__"]
