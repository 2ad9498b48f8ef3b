"""Spoiled input files by the thousand: engine, study, data and schedule files with something wrong
in them, from a seed. Whatever comes of one must be a result or a message of ours.

    python -m tests.spoiled engines 10000 77      (kind, how many, first seed)

prints what was neither, what took long, and the memory. Kinds: engines, commands, studies, pulls,
schedules.
"""

import copy
import datetime
import random
import re
import resource
import sys
import tempfile
import traceback
from collections import Counter
from contextlib import redirect_stderr, redirect_stdout
from io import StringIO
from pathlib import Path
from time import process_time

import yaml
from tests import made_up
from tests.conftest import ROOT
from tests.machine import allowed

from aircolumn.cli import main
from aircolumn.engine.description.area_schedule import read_area_schedule
from aircolumn.engine.description.reader import load
from aircolumn.errors import ComputationError, InputError, RequestError
from aircolumn.measured.session import measure
from aircolumn.output.check.text import check_text
from aircolumn.output.pull.text import session_text
from aircolumn.output.pull.text import write_pull_tables as write_pull
from aircolumn.questions.answer import answer_text, plot_answer
from aircolumn.questions.answer import write_study_tables as write_study
from aircolumn.questions.read import read_study
from aircolumn.questions.session import answer
from aircolumn.study.executors import Cores

CONFIGS = ROOT / "configs"
DEMO = CONFIGS / "rescue-four.yaml"
TOLD = InputError, RequestError, ComputationError
MOST_POINTS = 300  # of a study that is run
FOREIGN = "Input should", "validation error", "Traceback", "object at 0x", "pydantic"
LONG, LARGE = 5.0, 0.7  # s of CPU for a file (tests/machine.py); GB beyond what the program itself needs

STRANGE = [
    None,
    "",
    " ",
    [],
    {},
    [[]],
    [{}],
    True,
    False,
    0,
    -1,
    1,
    3.7,
    1e308,
    -1e-308,
    float("nan"),
    float("inf"),
    2**70,
    10**400,
    "430",
    "430 mm",
    "-430 mm",
    "0 mm",
    "430 mmm",
    "430 9**9**9",
    "430 mm*10**99",
    "4 %",
    "50 Hz",
    "1 kWh",
    "20 delta_degC",
    "nan mm",
    "inf mm",
    "1e999 mm",
    "1,5 mm",
    "430mm",
    "4 3 0 mm",
    "430 µm",
    "٤٣٠ mm",
    "\x1b[31mred",
    "a\nb",
    "a\tb",
    "\0",
    "\ud800",
    "$x_$",
    "=1+1",
    "@cmd",
    "'",
    '"',
    "<b>",
    "../../etc/passwd",
    "/dev/zero",
    "a\0b",
    "x" * 3000,
    "1 " + 3000 * " " + "x",
    "nan",
    "best",
    "single",
    "manifold",
    "single ",
    "yes",
    "~",
    "!!int ''",
    datetime.date(2020, 1, 1),
    b"raw",
    ["1 mm", "2 mm"],
    ["2 mm", "1 mm", "x"],
    list(range(2000)),
    {"from": "1 mm"},
    {"to": "1 mm"},
    {"from": "1 mm", "to": "x"},
    {"a": {"b": {"c": {}}}},
]
TAGS = [
    "!!timestamp foo",
    "!!bool foo",
    "!!int ''",
    "!!float ''",
    "!!binary '!'",
    "!!set {a}",
    "!!omap [a]",
    "!!python/name:os.system",
    "&a [*a]",
    "*none",
    "0x" + "f" * 5000,
    "<<: 1",
    '"\\ud800"',
    '"\\e[31m"',
    "? [a]\n: 1",
    "|\n  text\n",
    "1_000",
    "0o17",
    "1:30:00",
]

NAMES = [
    "$a_b$",
    "$",
    "=1+1",
    "_short",
    "a, b; c",
    "Größe µ",
    "x" * 39,
    "-5",
    "{}",
    "%d",
    "<b>",
    "\\alpha",
    "a^b",
    "nan",
    "'",
    '"q"',
    "a:b",
    "#1",
    "e1",
    "long long name with spaces",
]

STUDY_BASES = [
    "vary: {intake.runner.length: {from: 300 mm, to: 500 mm, steps: 3}}\n",
    "vary: {intake.runner.length: [300 mm, 400 mm], intake.runner.bore.to: [40 mm, 41 mm]}\n",
    "cases:\n  - {name: a, intake.runner.length: 300 mm}\n  - {intake.runner.length: 400 mm}\n",
    "vary: {intake.runner.length: {from: 300 mm, to: 500 mm}}\nsample: {count: 4, seed: 1}\n",
    "vary: {intake.runner.length: {from: 300 mm, to: 500 mm}}\n"
    "search: {evaluations: 10, limits: [{at: 3000 rpm, at_least: 100 N m}]}\n",
    "vary: {intake.runner.length: {from: 300 mm, to: 500 mm}, intake.valve.closes_abdc:"
    " {from: 40 deg, to: 48 deg}}\nsensitivity: {count: 8, aim: {of: torque, at: 3000 rpm}}\n",
    "vary: {intake.runner.bore: {plus_minus: 0.4 mm}}\ntolerance: {count: 4}\n",
]
SPEEDS = "speeds: [2500 rpm, 3000 rpm, 4000 rpm]\n"
SCHEDULE = "# a shape\ndistance [mm],area [mm2]\n0,1662\n100,1600\n\n430,1385\n"


def places(data, path=()):
    """Every path into nested data."""
    yield path
    items = data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    for key, value in items:
        yield from places(value, (*path, key))


def at(data, path):
    for key in path:
        data = data[key]
    return data


HUGE = (2**70, 10**400)
NUMBER = re.compile(r"-?\d+(\.\d+)?")


def scaled(value, rng):
    """A value, or all values of a group, with other numbers."""
    if isinstance(value, dict):
        return {k: scaled(v, rng) for k, v in value.items()}
    if isinstance(value, list):
        return [scaled(v, rng) for v in value]
    if isinstance(value, bool) or not isinstance(value, (str, int, float)) or value in HUGE:
        return value
    factor = rng.choice((0.0, 0.1, 0.5, 0.9, 0.99, 1.01, 1.1, 2.0, 3.0, 10.0))
    if isinstance(value, str):
        return NUMBER.sub(lambda found: f"{factor * float(found[0]):g}", value, count=1)
    return type(value)(round(factor * value) if isinstance(value, int) else factor * value)


def restructured(data, rng):
    """Nested data with something moved, missing, doubled or strange in it."""
    data = copy.deepcopy(data)
    for _ in range(rng.choice((1, 1, 1, 2, 3, 6))):
        path = rng.choice([p for p in places(data) if p])
        parent, key = at(data, path[:-1]), path[-1]
        what = rng.randrange(16)
        if what >= 6:
            parent[key] = scaled(parent[key], rng)
        elif what == 0:
            parent[key] = rng.choice(STRANGE)
        elif what == 1:
            del parent[key]
        elif what == 2 and isinstance(parent, dict):
            letters = list(str(key))
            letters.insert(rng.randrange(len(letters) + 1), rng.choice("aeio_. \x1b=\n"))
            parent["".join(letters)] = parent.pop(key)
        elif what == 3:
            parent[key] = copy.deepcopy(at(data, rng.choice(list(places(data)))))
        elif what == 4:
            parent[key] = [copy.deepcopy(parent[key])] * rng.choice((1, 2, 5))
        else:
            parent[key] = {str(rng.choice(STRANGE[:12])): parent[key]}
        if not data:
            break
    return data


def respelt(text: str, rng) -> bytes:
    """Text with lines or characters changed."""
    lines = text.split("\n")
    for _ in range(rng.choice((1, 1, 2, 5))):
        k = rng.randrange(len(lines))
        what = rng.randrange(7)
        if what == 0:
            del lines[k]
        elif what == 1:
            lines.insert(k, lines[rng.randrange(len(lines))])
        elif what == 2:
            lines[k] = " " * rng.randrange(5) + lines[k]
        elif what == 3:
            colon = rng.choice((": ", ":", ":\t", " : ", ": - "))
            lines[k] = lines[k].replace(":", colon) + rng.choice(("", " #", ",", "}", "]", '"', "'"))
        elif what == 4:
            head, colon, _ = lines[k].partition(":")
            lines[k] = f"{head}{colon} {rng.choice(TAGS)}"
        elif what == 5:
            lines[k] = lines[k][: rng.randrange(len(lines[k]) + 1)]
        else:
            lines[k] = "".join(rng.sample(lines[k], len(lines[k])))
        if not lines:
            break
    raw = bytearray("\n".join(lines).encode("utf-8", "surrogatepass"))
    if rng.random() < 0.15 and raw:
        for _ in range(rng.randrange(1, 5)):
            raw[rng.randrange(len(raw))] = rng.randrange(256)
    return bytes(raw)


def as_yaml(data) -> str:
    try:
        return yaml.dump(data, Dumper=yaml.SafeDumper, sort_keys=False, allow_unicode=True)
    except (yaml.YAMLError, ValueError):  # an integer of 400 digits
        return yaml.dump(str(data)[:1000])


def spoiled_yaml(text: str, rng) -> bytes:
    """A YAML file with something wrong in it."""
    if rng.random() < 0.8:
        text = as_yaml(restructured(yaml.safe_load(text), rng))
        if rng.random() < 0.85:
            return text.encode("utf-8", "surrogatepass")
    return respelt(text, rng)


class Campaign:
    """Files of one kind in a folder of their own; what comes of each."""

    def __init__(self, folder: Path):
        self.folder = folder
        self.bases = [p.read_text() for p in sorted(CONFIGS.glob("*.yaml")) if not p.name.startswith("study")]
        lines = (CONFIGS / "invented-pulls-long.csv").read_text().split("\n")
        self.pull = "\n".join(lines[:90])

    def engines(self, rng) -> str:
        """An engine file: read, and what follows from it."""
        path = self.folder / "engine.yaml"
        path.write_bytes(spoiled_yaml(rng.choice(self.bases), rng))
        return check_text(load(path))

    def commands(self, rng) -> str:
        """A command on an engine file with few changes, and awkward names in it: all it writes."""
        data = yaml.safe_load(rng.choice(self.bases))
        if rng.random() < 0.5:
            data["title"] = rng.choice(NAMES)
        if rng.random() < 0.5 and len(data.get("runners", ())) > 1:
            data["runners"][rng.choice(NAMES)] = data["runners"].pop(rng.choice([*data["runners"]]))
            data.pop("switchable", None)
        if rng.random() < 0.7:
            data = restructured(data, rng)
        path = self.folder / "engine.yaml"
        path.write_text(as_yaml(data))
        name = rng.choice(("compare", "curve", "explain", "account", "map", "check", "trace"))
        more = ["--rpm", "3000"] if name == "trace" else ["--rpm", "2500", "3000", "4000"]
        more += ["--steps", "2"] if name == "map" else []
        said = StringIO()
        with redirect_stdout(said), redirect_stderr(said):
            code = main(
                [
                    name,
                    str(path),
                    *(more if name != "check" else []),
                    "--out",
                    str(self.folder / f"c{rng.random()}"),
                ]
            )
        if code:
            raise RequestError(said.getvalue())
        return said.getvalue()

    def schedules(self, rng) -> str:
        """An area schedule."""
        path = self.folder / "shape.csv"
        path.write_bytes(respelt(SCHEDULE, rng))
        return str(read_area_schedule(path))

    def studies(self, rng) -> str:
        """A study: planned, computed on the made-up engine, printed and written."""
        path, out = self.folder / "study.yaml", self.folder / f"o{rng.random()}"
        path.write_bytes(spoiled_yaml(f"engine: {DEMO}\n{SPEEDS}{rng.choice(STUDY_BASES)}", rng))
        plan = read_study(path)
        if plan.study.cases is not None or plan.study.vary:
            counts = plan.grid_shape()
            many = 1 if counts is None else max(1, len(counts)) * max(counts or (1,)) ** len(counts)
            size = getattr(plan.study.sample, "count", 0) + many
            if size * len(plan.speeds) > MOST_POINTS:
                return "large"
        if plan.study.search and plan.study.search.evaluations * len(plan.speeds) > MOST_POINTS:
            return "large"
        for one in (plan.study.sensitivity, plan.study.tolerance):
            if one is not None and one.count * 8 * len(plan.speeds) > MOST_POINTS:
                return "large"
        found = answer(plan, out, Cores(1))
        write_study(plan, found, out, {})
        if rng.random() < 0.1:
            plot_answer(plan, found, out)
        return answer_text(plan, found)

    def pulls(self, rng) -> str:
        """A data file: read, corrected, compared with a made-up prediction, written."""
        path, out = self.folder / "data.csv", self.folder / "pull"
        text = self.pull
        if rng.random() < 0.5:
            rows = [r.split(",") for r in text.split("\n")]
            for _ in range(rng.choice((1, 3, 30))):
                row = rng.choice(rows)
                row[rng.randrange(len(row))] = str(rng.choice(STRANGE[:60]))[:400]
            text = "\n".join(",".join(r) for r in rows)
        path.write_bytes(respelt(text, rng))
        out.mkdir(exist_ok=True)
        files = {"long": path}
        if rng.random() < 0.3:  # two manifolds
            files["short"] = self.folder / "other.csv"
            files["short"].write_bytes(respelt(self.pull, rng))
        session = measure(load(DEMO), files, "j1349")
        write_pull(session, out)
        return session_text(session)


def outcome(campaign, kind: str, seed: int):
    """(what came of one file: "result", "message", or a traceback; s of CPU)."""
    start = process_time()
    try:
        getattr(campaign, kind)(random.Random(f"{kind} {seed}"))
        said = "result"
    except TOLD as error:
        text = str(error)
        said = "message"
        if not text or not text.replace("\n", "").isprintable():
            said = f"a message that cannot be printed: {text!r}"
        if any(words in text for words in FOREIGN):
            said = f"not our words: {text[:300]}"
    except Exception:
        said = traceback.format_exc()
    return said, process_time() - start


def run(kind: str, count: int, first: int = 0) -> tuple[Counter, list[str]]:
    """(how many ended how, what should not have been) of ``count`` files of a kind."""
    ended: Counter = Counter()
    wrong, before = [], peak()
    with tempfile.TemporaryDirectory() as name, made_up.in_place():
        campaign = Campaign(Path(name))
        for seed in range(first, first + count):
            said, took = outcome(campaign, kind, seed)
            ended[said if said in ("result", "message") else "neither"] += 1
            if said not in ("result", "message"):
                wrong.append(f"{kind} {seed}: {said}")
            if took > LONG and took > allowed(LONG):
                wrong.append(f"{kind} {seed}: {took:.1f} s")
    if peak() - before > LARGE:
        wrong.append(f"{peak():.2f} GB")
    return ended, wrong


def peak() -> float:
    """Largest memory of this process so far, GB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6  # kB on Linux


if __name__ == "__main__":
    ended, wrong = run(sys.argv[1], *map(int, sys.argv[2:]))
    last = Counter(w.strip().split("\n")[-1][:110] for w in wrong)
    print("\n\n".join(wrong[:12]))
    print(dict(ended), f"peak {peak():.2f} GB")
    for text, count in last.most_common(25):
        print(count, text)
