"""The inlet ahead of the plenum: what a restrictor passes, loses and wins back; its resonance.

- Slow flow through a restrictor loses what its source says: the nozzle's 0.04 and the cone's K
  (Crane TP-410; computed by the library ``fluids``) of the throat's dynamic head, and the head with
  which it leaves.
- However low the pressure behind, no more passes than the throat's choked flow (NACA Report 1135,
  eq. 99: A p0 / sqrt(T0) x 0.040418 for air); a rounded nozzle passes at least 97 % of it (common
  practice: coefficients of 0.97 to 0.99).
- A filter loses its stated pressure at its stated flow.
- Pipe, airbox, pipe and plenum have two low frequencies. Rigid columns between springs (closed
  form; two degrees of freedom): q1' = -A1 p1 / (rho L1), q2' = A2 (p1 - p2) / (rho L2),
  p1' = rho a^2 (q1 - q2) / V1, p2' = rho a^2 q2 / V2. With the pipes' own compressibility the
  frequencies are the roots of tan-equations (transfer matrices; Munjal 1987), 1 to 4 % lower.
"""

import numpy as np
from scipy.optimize import brentq

from aircolumn import GasState, Network, perfect_gas, straight
from aircolumn.engine.description.inlet import Filter, Restrictor
from aircolumn.engine.model.inlet import filter_area, restrictor_piping
from validation.check import Check, frequency_of
from validation.gas_constants import A0, GAMMA, P0, T0, R

NEEDS = ("fluids",)
RHO0 = P0 / (R * T0)
RESTRICTOR = Restrictor.model_validate(
    {"throat": "20 mm", "bore": "46 mm", "nozzle_length": "40 mm", "diffuser_length": "200 mm"}
)
THROAT = 0.25 * np.pi * 0.020**2
CHOKED = 0.0404184 * THROAT * P0 / np.sqrt(T0)  # kg/s; for gamma 1.4, R 287.05
L1, L2, V1, V2, D = 0.35, 0.25, 4e-3, 3e-3, 0.045


def settled(behind: float, seconds: float = 0.15, cells: int = 60):
    """(mass flow kg/s, largest Mach number) through the restrictor into gas at ``behind`` Pa."""
    net = Network(perfect_gas(GAMMA, R))
    net.reservoir("air", P0, T0)
    net.reservoir("plenum", behind, T0)
    piping = restrictor_piping(RESTRICTOR)
    net.duct("inlet", piping.shape, cells, GasState(pressure=P0, temperature=T0), piping.wall())
    net.opening("inlet", "left", "air")
    net.opening("inlet", "right", "plenum")
    run = net.ready()
    run.march(0.8 * seconds)
    # The mean: a shock that stands in the diffuser hops from cell to cell, and what lies behind it swings.
    record = run.march(0.2 * seconds, probes={"end": ("inlet", float(piping.shape.length))})
    end, area = record.probes["end"], float(piping.shape.area(piping.shape.length))
    flow = np.trapezoid(end.rho * end.u * area, record.time) / (record.time[-1] - record.time[0])
    nodes, d = run.nodes, run.ducts["inlet"]
    return float(flow), float(np.max(nodes.u[d.nodes] / nodes.a[d.nodes]))


def lost_heads(drop: float = 400.0) -> float:
    """Total pressure lost in slow flow over the throat's dynamic head, exit head included."""
    flow, _ = settled(P0 - drop, 0.7)
    return drop / (0.5 * flow**2 / (RHO0 * THROAT**2))


def heads_of_the_source() -> float:
    """The same from handbook formulas."""
    from fluids.fittings import diffuser_conical

    cone = diffuser_conical(Di1=0.020, Di2=0.046, l=0.200, method="Crane")
    return 0.04 + cone + (0.020 / 0.046) ** 4


def filter_flow() -> float:
    """Flow, g/s, through a filter at the pressure drop it is stated for (2 % of ambient)."""
    element = Filter.model_validate({"pressure_drop": "2 kPa", "flow": "90 g/s"})
    net = Network(perfect_gas(GAMMA, R))
    net.reservoir("air", P0, T0)
    net.reservoir("plenum", P0 - 2000.0, T0)
    net.duct("pipe", straight(0.1, 0.2), 10, GasState(pressure=P0, temperature=T0))
    net.restriction("pipe", "left", "air", filter_area(element, RHO0))
    net.opening("pipe", "right", "plenum")
    run = net.ready()
    run.march(0.2)
    nodes, at = run.nodes, run.ducts["pipe"].nodes[-1]
    return float(1e3 * nodes.rho[at] * nodes.u[at] * 0.25 * np.pi * 0.2**2)


def lumped() -> np.ndarray:
    """Both frequencies, Hz, and the plenum's over the airbox's pressure in each mode."""
    area = 0.25 * np.pi * D**2
    m1, m2, k1, k2 = L1 / area, L2 / area, A0**2 / V1, A0**2 / V2
    values, modes = np.linalg.eig(np.array([[k1 / m1 + k1 / m2, -k1 / m2], [-k2 / m2, k2 / m2]]))
    order = values.argsort()
    return np.array([np.sqrt(values[order]) / (2 * np.pi), (modes[1] / modes[0])[order]])


def exact() -> list[float]:
    """The same with compressible columns: roots of the matched impedances."""
    area = 0.25 * np.pi * D**2

    def mismatch(f):
        k = 2 * np.pi * f / A0
        # open end; pipe 1; airbox; pipe 2; plenum. p and q rho a / A, real by symmetry of phases
        p, q = 0.0, 1.0
        for length, volume in ((L1, V1), (L2, V2)):
            p, q = (
                p * np.cos(k * length) + q * np.sin(k * length),
                (q * np.cos(k * length) - p * np.sin(k * length)),
            )
            q -= p * k * volume / area
        return q

    return [brentq(mismatch, 0.9 * f, 1.02 * f) for f in lumped()[0]]


def ringing(mode: int, amplitude: float = 0.005) -> float:
    """Frequency, Hz, of the marched inlet let go in one of its modes."""
    (frequency, ratio) = lumped()[:, mode]
    one, two = amplitude / max(1.0, abs(ratio)), amplitude * ratio / max(1.0, abs(ratio))

    def state(first, last, length):
        def pressure(x):
            return P0 * (1.0 + first + (last - first) * x / length)

        return GasState(pressure=pressure, temperature=lambda x: warm(pressure(x) / P0 - 1.0))

    def warm(share):
        return T0 * (1.0 + share) ** ((GAMMA - 1) / GAMMA)

    net = Network(perfect_gas(GAMMA, R))
    net.reservoir("air", P0, T0)
    net.vessel("airbox", V1, P0 * (1 + one), warm(one))
    net.vessel("plenum", V2, P0 * (1 + two), warm(two))
    net.duct("first", straight(L1, D), 40, state(0.0, one, L1))
    net.duct("second", straight(L2, D), 30, state(one, two, L2))
    for end in (
        ("first", "left", "air"),
        ("first", "right", "airbox"),
        ("second", "left", "airbox"),
        ("second", "right", "plenum"),
    ):
        net.opening(*end)
    record = net.ready().march(8.0 / frequency, probes={})
    return frequency_of(record.time, record.volumes["plenum"].p, frequency)


def checks():
    """Losses, choking, filter, resonance."""
    crane = "Crane TP-410 (fluids)"
    rows = [
        Check(
            "restrictor",
            "slow flow: heads of the throat lost",
            heads_of_the_source(),
            lost_heads(),
            0.03,
            crane,
        )
    ]
    for share in (0.85, 0.7, 0.4):
        flow, mach = settled(share * P0)
        label = f"{100 * share:.0f} % of ambient behind: flow over choked"
        naca = "NACA Report 1135, eq. 99"
        rows += [
            Check("restrictor", label, 1.0, flow / CHOKED, 0, naca, "at most"),
            Check("restrictor", label, 0.97, flow / CHOKED, 0, naca, "at least"),
            Check("restrictor", "its Mach number", 1.0, mach, 0, naca, "at least"),
        ]
    rows.append(Check("filter", "2 kPa: g/s", 90.0, filter_flow(), 0.02, "as stated"))
    stiff = lumped()[0]
    for k, f in enumerate(exact()):
        rows.append(
            Check(
                "inlet and plenum",
                f"frequency {k + 1}, Hz",
                f,
                ringing(k),
                0.005,
                "transfer matrices (closed form)",
            )
        )
        rows.append(
            Check(
                "inlet and plenum",
                f"frequency {k + 1}, rigid columns, Hz",
                stiff[k],
                f,
                0.05,
                "two degrees of freedom (closed form)",
            )
        )
    return rows


def draw(axes):
    """Flow against the pressure behind."""
    behind = np.linspace(0.4, 0.995, 15)
    flow = [settled(b * P0)[0] / CHOKED for b in behind]
    axes.plot(behind, flow, "o-", mfc="none", label="computed")
    axes.axhline(1.0, color="k", ls=":", label="choked (NACA 1135)")
    axes.set(
        xlabel="pressure behind / ambient",
        ylabel="flow / choked flow",
        ylim=(0.0, 1.05),
        title="20 mm restrictor with diffuser",
    )
    axes.legend()
