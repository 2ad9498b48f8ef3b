# The public names, each where it stands: read by type checkers, and by __init__.py.

from .curves.curve import compare, curve
from .curves.tuning.explain import beside, explain
from .curves.tuning.filling_account import filling_account
from .curves.tuning.trace import trace
from .curves.tuning.tuning_map import tuning_map, with_length
from .curves.tuning.waves import wave_split
from .engine.description.reader import load
from .engine.model.operating_point import operating_point
from .errors import ComputationError, InputError, MarchError, RequestError
from .flow.duct.geometry import Shape, straight
from .flow.ends.openings import end_correction
from .flow.gas.mixture import perfect_gas, working_gas
from .flow.network.items import GasState, Wall
from .flow.network.network import Network
from .measured.invented_pulls import DynoCell, invent_pulls
from .measured.logs.reading import read_pulls
from .measured.session import measure
from .measured.traces.invented_traces import invent_traces
from .measured.traces.session import measure_traces
from .output.explain.sentences import sentences
from .output.map.text import map_table
from .questions.read import read_study
from .questions.sweep.sweep import sweep
from .study.bands.session import how_sure

__version__: str

__all__ = [
    "ComputationError",
    "DynoCell",
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
    "how_sure",
    "invent_pulls",
    "invent_traces",
    "load",
    "map_table",
    "measure",
    "measure_traces",
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
