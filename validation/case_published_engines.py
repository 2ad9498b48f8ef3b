"""Three engines with two runner lengths against what is published of them.

- A 3.2-litre V6 of 1998: its maker's service manual changes over from 835 to 465 mm between 3700
  and 3900 rpm with no step in torque, so the curves must cross there: within 15 % of 3800.
- A 998 cc four of 2007 with funnels of 140 and 65 mm: changes over at 10 400 rpm (maker's launch
  material): the long funnels must lead on average over the 1000 rpm below, the short ones over the
  1000 rpm above, and the one give way to the other within 5 % of it. (The curves cross five times, so
  that some crossing is always near says nothing.)
- A mild 6.0-litre V8: 762 mm puts the hump at 2825 rpm (8 %) by the rule of an owners' club for such
  runners, speed in rev/min = 6195 (720 - cam duration in deg) / length in inches, at 264 deg (a maker's
  engine of 1960 with 30 in: "tunes at 2800 rpm, 10 % torque gain", Hot Rod, July 1960), at 1.07 to 1.15
  times the peak torque of a conventional runner of about 270 mm, and crosses it below 5000 rpm
  (both common practice, no source).

Much of their geometry is guessed (published/*.yaml, marked there); ``published_engines.py`` varies
the guesses and prints what follows. The V8 has a collector for each bank, as such engines have, on
a two-plane crankshaft, so that a bank does not fire evenly. It has two humps, 628 N m at 2750 and
615 N m at 3500 rpm; what lies behind the collectors, which nobody states, decides between them.
"""

import numpy as np

from validation.check import Check
from validation.published_engines import found, gives_way, lead

MAKER, PRACTICE = "maker's literature", "common practice, no source"
RULE = "owners' club rule; Hot Rod, July 1960"
CHANGE = 10400.0  # rev/min


def checks():
    """Crossings, the hump and its height."""
    v6, v8 = (found(n) for n in ("v6-two-lengths", "mild-v8"))
    ratio = v8.long_peak / v8.short_peak
    four, below, above = "four-with-funnels", (9400.0, CHANGE), (CHANGE, 11400.0)
    mean = "long funnels over short, mean torque"
    return [
        Check("3.2-litre V6", "runners cross, rpm", 3800.0, v6.crossing, 0.15, MAKER),
        Check("998 cc four", f"{mean} to 10 400 rpm", 1.0, lead(four, *below), 0.0, MAKER, "at least"),
        Check("998 cc four", f"{mean} from 10 400 rpm", 1.0, lead(four, *above), 0.0, MAKER, "at most"),
        Check("998 cc four", "long give way, rpm", CHANGE, gives_way(four, CHANGE), 0.05, MAKER),
        Check("6.0-litre V8", "peak torque, long over other", 1.11, ratio, 0.04, PRACTICE, "absolute"),
        Check("6.0-litre V8", "runners cross, rpm", 5000.0, v8.crossing, 0.0, PRACTICE, "at most"),
        Check("6.0-litre V8", "hump of the long runner, rpm", 2825.0, v8.long_rpm, 0.08, RULE),
    ]


def draw(axes):
    """Torque of both runners of the V8."""
    from aircolumn import compare, load
    from validation.published_engines import FOLDER

    data = compare(load(FOLDER / "mild-v8.yaml"))
    for name, style in zip(data.runner.values, ("k-o", "k--s"), strict=True):
        axes.plot(data.rpm, data.torque.sel(runner=name), style, mfc="none", ms=4, label=str(name))
    axes.axvspan(0.92 * 3500, 1.08 * 3500, color="#eeeeee", label="hump, common practice")
    axes.set(
        xlabel="engine speed, rev/min",
        ylabel="torque, N m",
        title="Mild 6.0-litre V8",
        ylim=(0, 1.1 * float(np.nanmax(data.torque))),
    )
    axes.legend()
