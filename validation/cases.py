"""All case modules of this folder."""

from importlib import import_module
from pathlib import Path

NAMES = sorted(p.stem for p in Path(__file__).parent.glob("case_*.py"))


def modules():
    """The case modules in order."""
    return [import_module(f"validation.{name}") for name in NAMES]


def all_checks():
    """Every check of every case, computed one after the other."""
    for module in modules():
        yield from module.checks()


def draw_all(folder: Path):
    """One PNG for each case that can draw itself."""
    import matplotlib

    matplotlib.use("Agg")
    import matplotlib.pyplot as plt

    folder.mkdir(exist_ok=True)
    for module in modules():
        if hasattr(module, "draw"):
            fig, axes = plt.subplots(figsize=(7, 4.5), layout="constrained")
            module.draw(axes)
            axes.grid(color="#dddddd", lw=0.6)
            fig.savefig(folder / f"{module.__name__.split('.')[-1]}.png", dpi=130)
            plt.close(fig)
