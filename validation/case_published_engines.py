"""Three engines with two runner lengths against what is published of them.

- A 3.2-litre V6 of 1998: its maker's service manual changes over from 835 to 465 mm between 3700
  and 3900 rpm with no step in torque, so the curves must cross there: within 15 % of 3800.
- A 998 cc four of 2007 with funnels of 140 and 65 mm: changes over at 10 400 rpm (maker's launch
  material): within 20 %.
- A mild 6.0-litre V8 (common practice, no source): 762 mm puts the hump near 3500 rpm (8 %) at 1.07
  to 1.15 times the peak torque of a conventional runner (about 270 mm), and crosses it below 5000.

Much of their geometry is guessed (published/*.yaml, marked there); ``published_engines.py`` varies
the guesses and prints what follows. The V8 has a collector for each bank, as such engines have, on
a two-plane crankshaft, so that a bank does not fire evenly. Its hump is missed and reported so: it
has two of nearly one height, 649 N m at 2800 and 636 N m at 3450 rpm. Without collectors the upper
one stands lower (628 N m); were the cylinders of each collector to fire evenly, it would be the
higher one (642 against 637 N m). What lies behind the collectors, which nobody states, decides
between the two as well; if the 762 mm are to include the port in the head, both lie 10 % higher.
"""

import numpy as np

from validation.check import Check
from validation.published_engines import found

MAKER, PRACTICE = "maker's literature", "common practice, no source"


def checks():
    """Crossings, the hump and its height."""
    v6, four, v8 = (found(n) for n in ("v6-two-lengths", "four-with-funnels", "mild-v8"))
    ratio = v8.long_peak / v8.short_peak
    return [
        Check("3.2-litre V6", "runners cross, rpm", 3800.0, v6.crossing, 0.15, MAKER),
        Check("998 cc four", "funnels cross, rpm", 10400.0, four.crossing, 0.20, MAKER),
        Check("6.0-litre V8", "peak torque, long over other", 1.11, ratio, 0.04, PRACTICE, "absolute"),
        Check("6.0-litre V8", "runners cross, rpm", 5000.0, v8.crossing, 0.0, PRACTICE, "at most"),
        Check(
            "6.0-litre V8", "hump of the long runner, rpm", 3500.0, v8.long_rpm, 0.08, PRACTICE, "reported"
        ),
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
