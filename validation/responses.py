"""All sweeps of engine_sweeps as one picture: ``python -m validation.responses``."""

from pathlib import Path

import matplotlib

matplotlib.use("Agg")
import matplotlib.pyplot as plt

from validation import case_mach_index
from validation.case_engine_response import draw_sweep
from validation.engine_sweeps import SWEEPS


def main():
    """Draw validation/figures/responses.png."""
    fig, axes = plt.subplots(2, 3, figsize=(15, 8.5), layout="constrained")
    for panel, name in zip(axes.flat, SWEEPS, strict=False):
        draw_sweep(panel, name)
        panel.grid(color="#dddddd", lw=0.6)
    case_mach_index.draw(axes.flat[-1])
    axes.flat[-1].grid(color="#dddddd", lw=0.6)
    fig.suptitle("Classroom engine (invented) drawing from open air, one thing varied at a time")
    target = Path(__file__).parent / "figures" / "responses.png"
    target.parent.mkdir(exist_ok=True)
    fig.savefig(target, dpi=110)
    print(target)


if __name__ == "__main__":
    main()
