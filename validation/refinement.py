"""Refinement of the smooth cases: mean error against cells, and the order observed between meshes,
for both members of the duct family."""

import numpy as np

from validation import case_entropy_wave, case_simple_wave, case_tapered_pulse
from validation.cases import missing

MESHES = (20, 40, 80, 160)


def studies() -> dict:
    """{study: error(cells, conservative)} of the smooth cases."""
    found = {
        "simple wave, density": case_simple_wave.error,
        "entropy wave, density": lambda n, c: case_entropy_wave.errors(n, conservative=c)[0],
        "entropy wave, burned share": lambda n, c: case_entropy_wave.errors(n, conservative=c)[1],
    }
    if not missing(case_tapered_pulse):
        x, exact = case_tapered_pulse.reference()
        found["tapered pulse, pressure"] = lambda n, c: case_tapered_pulse.error(
            case_tapered_pulse.march(n, c).profile("cone"), x, exact
        )
    return found


def table() -> str:
    """Errors and orders as text."""
    lines = [f"{'refinement':28s}{'member':14s}" + "".join(f"{n:>10d}" for n in MESHES) + "   order"]
    for name, error in studies().items():
        for conservative, member in ((True, "conservative"), (False, "mesh")):
            errors = np.array([error(n, conservative) for n in MESHES])
            orders = np.log2(errors[:-1] / errors[1:])
            figures = "".join(f"{e:10.1e}" for e in errors)
            listed = " ".join(f"{o:.2f}" for o in orders)
            lines.append(f"{name:28s}{member:14s}{figures}   {listed}")
    return "\n".join(lines)
