"""What leaves a junction through one of its legs: the pressure it begins with, by its speed.

p: the pressure of all that enters the junction; U: the speed of that along the leg (junction.py).

- A pipe, where u < U and the flow widens, meets the momentum along its axis with p on all of its
  bore, which is Borda-Carnot's law at any Mach number:

    p - p_j = rho_j u (u - U)

  Where it narrows (u > U) the pressure on the wall is not known. There the loss that the same law
  has at low speed, (u - U)^2 rho / 2, is taken off the stagnation pressure p_U that speed U has at
  p: no flow gains any. Both meet at u = U with one slope.
- A mouth in a wall, of entry loss K and area A in a duct of area A_c, loses K of the head in it as
  from a vessel (mouth_and_throat.entered), and what turns off by delta brings or costs a part of the head
  it had in the duct (Gardel, Bulletin technique de la Suisse romande 83, 1957, from memory; his
  sharp-edged mouth, K = 0.4, is replaced by the mouth's own). At low speed

    p - p_j = (1 + K - c (A/A_c)^2) rho u^2 / 2,   c = 1.3 (1 - tan(delta/2)), at most 1:

  no more than the head that was there is won back.

All are steady laws, with the density of what flows in the leg. The flow begins sonic at most; it
then has the pressure of its law, whatever comes back in the leg.
"""

from math import sqrt

from aircolumn.flow.compiled.decorators import inlined
from aircolumn.flow.ends.mouth_and_throat import entered, to_rest

PIPE = -1.0  # in place of a mouth's loss
MOST_STEPS = 8  # of Newton's search for the speed
CLOSE = 1e-6  # of the speed of sound: what is left after the step is of its square


@inlined
def root(square, linear, constant):
    """Positive root of square w^2 + linear w = constant > 0."""
    s = sqrt(linear * linear + 4.0 * square * constant)
    return 2.0 * constant / (linear + s) if linear > 0.0 else (s - linear) / (2.0 * square)


@inlined
def widening(rt0, per_cp_r, along, w):
    """p_j / p, and its slope over speed, of what goes on into a pipe at w <= U: momentum."""
    rt = rt0 - 0.5 * per_cp_r * w * w
    x = w * (w - along) / rt
    share = 1.0 / (1.0 + x)
    return share, -share * share * (2.0 * w - along + x * per_cp_r * w) / rt


@inlined
def with_total(rt0, per_cp_r, along):
    """What narrowing wants to know of the stream along the leg, and does not change with w: U, what
    comes against it, R T and stagnation pressure over pressure at speed U."""
    u = max(along, 0.0)
    rt_u = rt0 - 0.5 * per_cp_r * u * u
    total = to_rest(1.0 - rt_u / rt0, 1.0 / per_cp_r)
    return u, max(-along, 0.0), rt_u, total


@inlined
def narrowing(rt0, per_cp_r, stream, w):
    """p_j / p, and its slope over speed, of what goes on into a pipe at w > U. The
    quadratic for s = p_j / p of

        p_j t^(-cp/R) + rho_j (w - U rho_U/rho_j)^2 / 2 = p_U,   t = T/T0 at speed w

    (the loss is that of equal density); against a stream that comes from the other side (U < 0)
    momentum rho_j w |U| is lost besides. stream: see with_total.
    """
    u, against, rt_u, total = stream
    rt = rt0 - 0.5 * per_cp_r * w * w
    fall = to_rest(1.0 - rt / rt0, 1.0 / per_cp_r)
    x = w * (0.5 * w + against) / rt
    square, slope_square = fall + x, (fall * w + w + against + x * per_cp_r * w) / rt
    if u == 0.0:  # nothing comes along: no quadratic
        share = 1.0 / square
        return share, -share * share * slope_square
    linear, slope_linear = total + w * u / rt_u, u / rt_u
    constant = 0.5 * (u / rt_u) ** 2 * rt
    slope_constant = -0.5 * (u / rt_u) ** 2 * per_cp_r * w
    twice = sqrt(max(linear * linear - 4.0 * square * constant, 0.01))
    share = 0.5 * (linear + twice) / square
    return share, -(share * (slope_square * share - slope_linear) + slope_constant) / twice


@inlined
def law(loss, p, mixture, push, stream, part, w):
    """Pressure, and its slope over speed, of what leaves the junction at speed ``w``. push: see
    junction.streams; part: the leg's area over what enters the junction, m2 s/kg: rho w times it is
    the part that goes on."""
    rt0, per_cp_r = mixture[0], mixture[1]
    along, turned, rise = push
    if loss != PIPE:
        return entered(p, rt0, per_cp_r, loss, turned, w)
    if w <= along:
        share, slope = widening(rt0, per_cp_r, along, w)
    else:
        share, slope = narrowing(rt0, per_cp_r, stream, w)
    per_rt = 1.0 / (rt0 - 0.5 * per_cp_r * w * w)
    if rise > 0.0 and p * share * part * w * per_rt < 1.0:  # a part turns off
        y = rise * part * per_rt
        times, p = 1.0 + share * y * w, p + rise
        slope_times = slope * y * w + share * y * (1.0 + per_cp_r * w * w * per_rt)
        return p * share / times, p * (slope - share * slope_times / times) / times
    return p * share, p * slope


@inlined
def speed_of(loss, invariant, impedance, p, mixture, push, part):
    """Inward speed in a leg, and its pressure there: the wave value + z w meets the leg's law. By
    Newton, from the flow that keeps its density (not from the speed found before: the search for p
    would then chase its own rounding)."""
    along, turned, rise = push
    rho = p / mixture[0]
    if p + rise <= invariant:
        return 0.0, invariant
    stream = with_total(mixture[0], mixture[1], along) if loss == PIPE else (0.0, 0.0, 1.0, 1.0)
    if loss == PIPE:
        w = root(rho, impedance - rho * along + rise * part * rho, p + rise - invariant)
    else:
        w = root(0.5 * rho * max(1.0 + loss - turned, 0.0) + 1e-12 * impedance, impedance, p - invariant)
    sonic = mixture[2]
    w = min(w, sonic)
    for _ in range(MOST_STEPS):
        begins, slope = law(loss, p, mixture, push, stream, part, w)
        step = (invariant + impedance * w - begins) / max(impedance - slope, 0.1 * impedance)
        w = min(max(w - step, 0.0), sonic)
        if abs(step) < CLOSE * sonic:
            break
    if w == sonic:
        begins, _ = law(loss, p, mixture, push, stream, part, sonic)
        return sonic, max(begins, invariant + impedance * sonic)
    return w, invariant + impedance * w
