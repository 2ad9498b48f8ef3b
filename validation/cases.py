"""All case modules of this folder."""

from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from time import monotonic

from validation.results import Result

NAMES = sorted(p.stem for p in Path(__file__).parent.glob("case_*.py"))


def modules(names=NAMES):
    """The case modules in order."""
    return [import_module(f"validation.{name}") for name in names]


def missing(module) -> list[str]:
    """Test extras a case needs that are not installed."""
    return [name for name in getattr(module, "NEEDS", ()) if find_spec(name) is None]


def ran(names=NAMES):
    """Yield the Result of each case, computed one after the other."""
    for name in names:
        module, start = import_module(f"validation.{name}"), monotonic()
        short = name.removeprefix("case_")
        if lacking := missing(module):
            yield Result(short, why=f"{', '.join(lacking)} not installed")
        else:
            rows = list(module.checks())
            yield Result(short, rows, seconds=monotonic() - start)


def all_checks():
    """Every check of every case that can be run."""
    return (row for result in ran() for row in result.rows)


def draw_all(folder: Path, names=NAMES):
    """One PNG for each case that can draw itself."""
    import matplotlib

    matplotlib.use("Agg")
    import matplotlib.pyplot as plt

    folder.mkdir(parents=True, exist_ok=True)
    for module in modules(names):
        if hasattr(module, "draw") and not missing(module):
            fig, axes = plt.subplots(figsize=(7, 4.5), layout="constrained")
            module.draw(axes)
            axes.grid(color="#dddddd", lw=0.6)
            fig.savefig(folder / f"{module.__name__.split('.')[-1]}.png", dpi=130)
            plt.close(fig)
