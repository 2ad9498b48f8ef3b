"""aircolumn: unsteady gas flow of an engine's air column, and the torque curve it makes.

    description = aircolumn.load("engine.yaml")
    data = aircolumn.compare(description)          # xarray, dimensions runner and rpm
    one = aircolumn.curve(description, [3000, 3500])

Pipe flow without an engine: aircolumn.Network. What is named here is public; the rest may change.
"""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from aircolumn.curves.curve import compare, curve
    from aircolumn.description.reader import load
    from aircolumn.duct.geometry import Shape, straight
    from aircolumn.dyno.reading import read_pulls
    from aircolumn.dyno.session import measure
    from aircolumn.ends.openings import end_correction
    from aircolumn.engine.operating_point import operating_point
    from aircolumn.errors import ComputationError, InputError, MarchError, RequestError
    from aircolumn.gas.mixture import perfect_gas, working_gas
    from aircolumn.network.declaration import Network
    from aircolumn.network.declared import GasState, Wall
    from aircolumn.report.reasons import sentences
    from aircolumn.report.tables import map_table
    from aircolumn.study.plan import read_study
    from aircolumn.study.sweep import sweep
    from aircolumn.tuning.explain import beside, explain
    from aircolumn.tuning.filling_account import filling_account
    from aircolumn.tuning.trace import trace
    from aircolumn.tuning.tuning_map import tuning_map, with_length
    from aircolumn.tuning.waves import wave_split

__version__ = "0.1.0"

_WHERE = {
    "load": "description.reader",
    "curve": "curves.curve",
    "compare": "curves.curve",
    "operating_point": "engine.operating_point",
    "filling_account": "tuning.filling_account",
    "explain": "tuning.explain",
    "beside": "tuning.explain",
    "sentences": "report.reasons",
    "trace": "tuning.trace",
    "tuning_map": "tuning.tuning_map",
    "with_length": "tuning.tuning_map",
    "map_table": "report.tables",
    "wave_split": "tuning.waves",
    "read_study": "study.plan",
    "sweep": "study.sweep",
    "read_pulls": "dyno.reading",
    "measure": "dyno.session",
    "Network": "network.declaration",
    "GasState": "network.declared",
    "Wall": "network.declared",
    "Shape": "duct.geometry",
    "straight": "duct.geometry",
    "end_correction": "ends.openings",
    "perfect_gas": "gas.mixture",
    "working_gas": "gas.mixture",
    "InputError": "errors",
    "RequestError": "errors",
    "ComputationError": "errors",
    "MarchError": "errors",
}
__all__ = [
    "ComputationError",
    "GasState",
    "InputError",
    "MarchError",
    "Network",
    "RequestError",
    "Shape",
    "Wall",
    "beside",
    "compare",
    "curve",
    "end_correction",
    "explain",
    "filling_account",
    "load",
    "map_table",
    "measure",
    "operating_point",
    "perfect_gas",
    "read_pulls",
    "read_study",
    "sentences",
    "straight",
    "sweep",
    "trace",
    "tuning_map",
    "wave_split",
    "with_length",
    "working_gas",
]


def __getattr__(name):
    """Load public names on first use: the command line starts faster for it."""
    if name not in _WHERE:
        raise AttributeError(f"module 'aircolumn' has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(f"aircolumn.{_WHERE[name]}"), name)


def __dir__():
    return [*__all__, "__version__"]
