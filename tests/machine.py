"""How slow this machine is, so that limits in seconds hold on any.

Limits are stated in seconds of a machine that runs LOOP in REFERENCE seconds of CPU (one on which a warm
``compare`` of the demo takes 4.6 s); a slower machine, or a busy one, has as much longer.
"""

from time import process_time

REFERENCE = 0.078  # s
LOOP = 1_350_000


def loop() -> float:
    """Seconds of CPU that a loop of usual Python takes now."""
    start, found = process_time(), {}
    for k in range(LOOP):
        found[k & 1023] = 0.5 * k + len(found)
    return process_time() - start


def allowed(seconds: float) -> float:
    """What a limit in seconds of the reference machine is here and now."""
    return seconds * max(1.0, min(loop() for _ in range(3)) / REFERENCE)
