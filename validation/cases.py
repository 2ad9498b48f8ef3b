"""All case modules of this folder."""

from importlib import import_module
from importlib.util import find_spec
from pathlib import Path

NAMES = sorted(p.stem for p in Path(__file__).parent.glob("case_*.py"))


def modules():
    """The case modules in order."""
    return [import_module(f"validation.{name}") for name in NAMES]


def missing(module) -> list[str]:
    """Test extras a case needs that are not installed."""
    return [name for name in getattr(module, "NEEDS", ()) if find_spec(name) is None]


def all_checks():
    """Every check of every case, computed one after the other; says what it leaves out."""
    for module in modules():
        if missing(module):
            print(f"{module.__name__} left out: {', '.join(missing(module))} not installed")
        else:
            yield from module.checks()


def draw_all(folder: Path):
    """One PNG for each case that can draw itself."""
    import matplotlib

    matplotlib.use("Agg")
    import matplotlib.pyplot as plt

    folder.mkdir(exist_ok=True)
    for module in modules():
        if hasattr(module, "draw") and not missing(module):
            fig, axes = plt.subplots(figsize=(7, 4.5), layout="constrained")
            module.draw(axes)
            axes.grid(color="#dddddd", lw=0.6)
            fig.savefig(folder / f"{module.__name__.split('.')[-1]}.png", dpi=130)
            plt.close(fig)
