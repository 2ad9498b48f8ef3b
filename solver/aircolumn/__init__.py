"""aircolumn: unsteady gas flow of an engine's air column, and the torque curve it makes.

    description = aircolumn.load("engine.yaml")
    data = aircolumn.compare(description)          # xarray, dimensions runner and rpm
    one = aircolumn.curve(description, [3000, 3500])

Pipe flow without an engine: aircolumn.Network.
"""

__version__ = "0.1.0"

_WHERE = {
    "load": "aircolumn.description.reader",
    "curve": "aircolumn.curves",
    "compare": "aircolumn.curves",
    "operating_point": "aircolumn.cycle",
    "read_study": "aircolumn.study.plan",
    "sweep": "aircolumn.study.sweep",
    "read_pulls": "aircolumn.dyno.reading",
    "measure": "aircolumn.dyno.session",
    "Network": "aircolumn.network",
    "Shape": "aircolumn.duct.geometry",
    "straight": "aircolumn.duct.geometry",
    "perfect_gas": "aircolumn.gas.mixture",
    "working_gas": "aircolumn.gas.mixture",
    "InputError": "aircolumn.errors",
    "ComputationError": "aircolumn.errors",
}
__all__ = sorted(_WHERE)


def __getattr__(name):
    """Load public names on first use: the command line starts faster for it."""
    if name not in _WHERE:
        raise AttributeError(f"module 'aircolumn' has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(_WHERE[name]), name)
