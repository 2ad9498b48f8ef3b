"""How soon the live page follows: ``python -m validation.benchmark_live [ENGINE.yaml]``

From a key press on the runner's handle to the drawn coarse curve, 100 times, with the shares of solver,
drawing and all else (reading the file, the socket, the browser); and to curves of the file's accuracy, where
one candidate changed and where all did, with the longest time between two frames meanwhile. Needs the test
extra, Chromium and its driver.
"""

import shutil
import sys
import tempfile
from pathlib import Path
from statistics import median

import pytest
from tests.live.browsing import browser, rests, until
from tests.live.serving import served

DEMO = Path(__file__).resolve().parent.parent / "configs" / "rescue-four.yaml"
MOVES = 100
LENGTH, VOLUME = "intake.runner.length", "intake.plenum.volume"
PRESS = """
const [press, path, wanted, done] = arguments, begun = performance.now(), before = state.version;
const handle = document.querySelector(`[data-path="${path}"]`);
handle.focus();
handle.dispatchEvent(new KeyboardEvent("keydown", { key: press, bubbles: true }));
let last = begun, longest = 0;
(function frame(now) {
  longest = Math.max(longest, now - last);
  last = now;
  const there = told.accuracy === wanted || wanted === "any";
  if (there && state.version > before && told.version === state.version)
    done([performance.now() - begun, told.took, told.drawing, longest]);
  else requestAnimationFrame(frame);
})(begun);
"""


def measured(file):
    """Print the figures of one engine file."""
    with tempfile.TemporaryDirectory() as folder, pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_CACHE_HOME", folder)
        path = Path(shutil.copy(file, folder))
        with served(path) as one, browser() as page:
            page.set_script_timeout(120)
            page.get(one.door.address)
            until(page, "state !== null")
            rests(page)
            page.execute_script("selected = state.names[state.names.length - 1]; showState()")
            keys = ["ArrowRight", "ArrowRight", "ArrowRight", "ArrowLeft", "ArrowLeft"]
            _coarse([page.execute_async_script(PRESS, keys[k % 5], LENGTH, "any") for k in range(MOVES)])
            for name, key in (("one candidate", LENGTH), ("all candidates", VOLUME)):
                _fine(name, [_rested(page, key, press) for press in keys[1:4]])


def _coarse(rows):
    total = sorted(r[0] for r in rows)
    solver, drawing = (100 * median(r[k] / r[0] for r in rows) for k in (1, 2))
    print(
        f"coarse, of {MOVES} moves: median {median(total):.0f} ms, 95th {total[int(0.95 * MOVES)]:.0f} ms;"
        f" solver {solver:.0f} %, drawing {drawing:.0f} %, all else {100 - solver - drawing:.0f} %"
    )


def _rested(page, key, press):
    rests(page)
    return page.execute_async_script(PRESS, press, key, "file")


def _fine(name, rows):
    took = ", ".join(f"{1e-3 * r[0]:.2f} s" for r in rows)
    print(f"file's accuracy, {name}: {took}; longest frame {max(r[3] for r in rows):.0f} ms")


if __name__ == "__main__":
    measured(Path(sys.argv[1]) if len(sys.argv) > 1 else DEMO)
