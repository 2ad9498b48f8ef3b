"""Files made to cost, by the thousand, from a seed: written from the published list of keys
(``aircolumn schema``), not from the code that reads them. They multiply, nest and repeat what the
keys allow: long lists, aliases of aliases, cylinders times candidates times sections, schedules
named again and again, studies of many keys and cases, data files of many lines, columns and pulls.

    python -m tests.costly engines 10000 77      (kind, how many, first seed)

Whatever comes of one must be a result or a message of ours within LONG seconds of CPU and LARGE
gigabytes. Kinds: engines, studies, pulls.
"""

import copy
import json
import random
import re
import signal
import sys
import tempfile
import traceback
import warnings
from collections import Counter
from contextlib import redirect_stdout
from io import StringIO
from pathlib import Path
from time import process_time

import yaml
from tests.conftest import ROOT
from tests.machine import allowed
from tests.spoiled import FOREIGN, LONG, TOLD, as_yaml, at, peak, places

from aircolumn.cli import main
from aircolumn.engine.description.reader import load
from aircolumn.measured.logs.reading import read_pulls
from aircolumn.output.check.text import check_text
from aircolumn.questions.read import read_study

LARGE, CUT = 1.0, 20.0  # GB; s of CPU after which a file is given up
BASES = [
    yaml.safe_load((ROOT / "configs" / f"{name}.yaml").read_text())
    for name in ("rescue-four", "classroom-single")
]
PIECE = {"length": "9 mm", "bore": "40 mm"}
COUNTS = (1, 1, 2, 3, 8, 40, 300, 3000)
SIZES = re.compile(r"(at least|greater than|at most) (-?[\d.e+-]+) ([^;\]]+?)(?= and|;|\]|$)")
ODD = (
    "0 mm",
    "1e-300 mm",
    "1e300 mm",
    "1e-9 mm",
    "nan",
    ".inf",
    "1:30",
    "1:1:1:1",
    "1_000",
    "0x10",
    "430 m^m",
    "4e2 mm",
    "true",
    "~",
    "9" * 400,
    "x" * 5000,
    "ü" * 50,
    "a.b.c",
    "²",
)


def keys() -> dict:
    """The schema that ``aircolumn schema`` prints."""
    said = StringIO()
    with redirect_stdout(said):
        main(["schema"])
    return json.loads(said.getvalue())


class Writer:
    """Values for any part of the schema."""

    def __init__(self, schema: dict, rng):
        self.schema, self.rng = schema, rng

    def value(self, about: dict, depth=0):
        """Something the schema allows here, or nearly so."""
        rng = self.rng
        if rng.random() < 0.01:
            return rng.choice(ODD)
        if "$ref" in about:
            return self.value(self.schema["$defs"][about["$ref"].split("/")[-1]], depth)
        if "anyOf" in about:
            kinds = [k for k in about["anyOf"] if k.get("type") != "null"] or about["anyOf"]
            return self.value({**rng.choice(kinds), "description": about.get("description", "")}, depth)
        if "enum" in about:
            return rng.choice(about["enum"])
        kind = about.get("type")
        if kind == "object":
            return self.group(about, depth)
        if kind == "array":
            item = self.value(about.get("items", {}), depth + 1)
            return [copy.copy(item) for _ in range(rng.choice(COUNTS[:6]))]
        if kind == "boolean":
            return rng.random() < 0.5
        if kind in ("number", "integer"):
            low, high = about.get("minimum", 0), about.get("maximum", 10)
            found = rng.choice((low, high, rng.uniform(low, high)))
            return int(found) if kind == "integer" else found
        return self.quantity(about.get("description", ""))

    def group(self, about: dict, depth):
        """A group with the keys it needs and some that it may have."""
        known, rng = about.get("properties", {}), self.rng
        if not known:
            return {str(k): {} for k in range(rng.choice(COUNTS[:6]))}
        chosen = [k for k in known if k in about.get("required", ()) or rng.random() < 0.3]
        return {k: self.value(known[k], depth + 1) for k in chosen} if depth < 8 else {}

    def quantity(self, said: str) -> str:
        """A size within the limits its description states, or at one of them."""
        limits = [(float(n), unit.strip()) for _, n, unit in SIZES.findall(said)]
        if not limits:
            return self.rng.choice(("a", "rescue", "430 mm", "s.csv"))
        low, high = limits[0], limits[-1]
        if low[1] == high[1] and self.rng.random() < 0.8:
            return f"{self.rng.uniform(low[0], high[0]):.6g} {low[1]}"
        return f"{self.rng.choice((low, high))[0]:g} {self.rng.choice((low, high))[1]}"


def multiplied(data: dict, writer: Writer):
    """Data with something in it many times over; returns lines to be put in front as they are."""
    rng = writer.rng
    for _ in range(rng.choice((1, 1, 2, 3))):
        path = rng.choice([p for p in places(data) if p])
        parent, key, n = at(data, path[:-1]), path[-1], rng.choice(COUNTS)
        what = rng.randrange(9)
        if what == 0 and isinstance(parent[key], list):
            parent[key] = [copy.copy(v) for v in parent[key] * n][:9000]
        elif what == 1 and isinstance(parent[key], dict):
            parent[key]["by_cylinder"] = {k: {} for k in range(1, n + 1)}
        elif what == 2:
            shape = rng.choice(
                (
                    {"length": "300 mm"},
                    {"area_schedule": "s.csv"},
                    {},
                    {"sections": [dict(PIECE) for _ in range(9)]},
                )
            )
            data["runners"] = {f"r{k}": dict(shape) for k in range(n)}
        elif what == 3:
            piece = {"length": f"{400 / n:.6f} mm", "bore": "41 mm"}
            runner = data.get("intake", {}).get("runner") if isinstance(data.get("intake"), dict) else 0
            if isinstance(runner, dict):
                for name in ("length", "bore", "area_schedule"):
                    runner.pop(name, None)
                runner["sections"] = [dict(piece) for _ in range(n)]
        elif what == 4 and isinstance(parent[key], dict):
            for name in ("length", "bore", "sections"):
                parent[key].pop(name, None)
            parent[key]["area_schedule"] = "s.csv"
        elif what == 5:
            for _ in range(min(n, 60)):
                parent[key] = {"a": parent[key]} if rng.random() < 0.5 else [parent[key]]
        elif what == 6 and isinstance(parent, dict):
            parent.update({f"{key}{k}": parent[key] for k in range(n)})
        elif what == 7:
            parent[key] = rng.choice(ODD) * rng.choice((1, 1, 20))
        else:
            data["switchable"] = {f"s{k}": ["short", "long"] for k in range(n)}
    return laughing(rng) if rng.random() < 0.1 else ""


def laughing(rng) -> str:
    """Aliases of aliases."""
    width, depth = rng.randrange(2, 12), rng.randrange(1, 12)
    lines = [f"z0: &z0 [{', '.join(['1'] * width)}]"]
    lines += [f"z{k}: &z{k} [{', '.join([f'*z{k - 1}'] * width)}]" for k in range(1, depth)]
    return "\n".join(lines) + "\n"


class Campaign:
    """Files of one kind in a folder of their own."""

    def __init__(self, folder: Path):
        self.folder, self.schema = folder, keys()
        self.start = 0.0  # s of CPU, when the program begins

    def engine(self, rng) -> Path:
        """An engine file and the schedule it may name."""
        writer, data = Writer(self.schema, rng), copy.deepcopy(rng.choice(BASES))
        for name in rng.sample(list(self.schema["properties"]), rng.randrange(3)):
            data[name] = writer.value(self.schema["properties"][name])
        front = multiplied(data, writer)
        n = rng.choice((2, 20, 500, 1990, 2500))
        rows = "".join(f"{0.2 * k:.1f},{1600 - 0.1 * k:.1f}\n" for k in range(n))
        (self.folder / "s.csv").write_text(f"distance [mm],area [mm2]\n{rows}")
        path = self.folder / "engine.yaml"
        path.write_text(front + as_yaml(data), encoding="utf-8")
        return path

    def engines(self, rng):
        """Read, and what follows from it."""
        path = self.engine(rng)
        self.start = process_time()
        return check_text(load(path))

    def studies(self, rng):
        """Planned."""
        self.engine(rng)
        known = list(dotted(self.schema, self.schema["properties"]))
        many = rng.choice((1, 1, 1, 1, 1, 1, 1, 2, 2, 3, 10, 39, 45, 1000))
        names = [*rng.sample(known, min(many, len(known))), *(f"k{k}" for k in range(many - 200))]
        names[0] = "intake.runner.length" if rng.random() < 0.8 else names[0]
        steps = rng.choice((2, 3, 10, 400, 9000))
        span = {"from": "300 mm", "to": "500 mm", "steps": steps}
        spans = (
            span,
            ["300 mm", "400 mm"],
            [f"{300 + k} mm" for k in range(steps)],
            span,
            {"from": 1, "to": 2, "steps": steps},
            {"plus_minus": "1 mm"},
            {"from": ".inf", "to": "1e400"},
        )

        study: dict = {
            "engine": "engine.yaml",
            "speeds": rng.choice((["3000 rpm"], {"step": "5 rpm"})),
        }
        if rng.random() < 0.2:
            rows = [{"intake.runner.length": f"{300 + k} mm"} for k in range(rng.choice(COUNTS))]
            study["cases"] = rows
        else:
            study["vary"] = {name: rng.choice(spans) for name in names}
            if rng.random() < 0.7:
                study["vary"][names[0]] = span
        asked = {
            "sample": {"count": rng.choice((4, 1000, 200000))},
            "sensitivity": {"count": rng.choice((8, 65536))},
            "search": {},
            "tolerance": {},
        }
        for word, more in asked.items():
            if rng.random() < 0.1:
                study[word] = more
        path = self.folder / "study.yaml"
        path.write_text(as_yaml(study), encoding="utf-8")
        if rng.random() < 0.9:  # of a sound engine
            (self.folder / "engine.yaml").write_text(as_yaml(rng.choice(BASES)), encoding="utf-8")
        self.start = process_time()
        plan = read_study(path)
        return f"{len(plan.rows) if not plan.study.search else 0}"

    def pulls(self, rng):
        """A data file, read."""
        path = self.folder / "d.csv"
        path.write_text(data_file(rng), encoding="utf-8")
        self.start = process_time()
        return str(len(read_pulls(path).pulls))


def dotted(schema, properties, before="", depth=0):
    """Every key as a study names it."""
    for name, about in properties.items():
        yield before + name
        for part in (about, *about.get("anyOf", ())):
            if "$ref" in part and depth < 3:
                inner = schema["$defs"][part["$ref"].split("/")[-1]].get("properties", {})
                yield from dotted(schema, inner, f"{before}{name}.", depth + 1)


def data_file(rng) -> str:
    """Headings and rows, too many of something."""
    separator = rng.choice(",;\t|")
    columns = [
        "rpm",
        "torque [N m]",
        *rng.sample(["pull", "time [s]", "oil [degC]", "AFR", "barometer [kPa]", "x", "power [kW]"], 2),
    ]
    columns += [f"c{k}" for k in range(rng.choice((0, 0, 3, 60, 290, 320)))]
    rows = rng.choice((0, 3, 30, 3000, 60000, 199_000, 201_000))
    rows = min(rows, 9_900_000 // (4 * len(columns) + 8))
    period, cell = rng.choice((3, 40, 4000)), rng.choice(("1.5", "x", "", "1,5", "7" * 30, '"1"'))
    numbers = (f"{2000 + 10 * (k % period)}" for k in range(rows))
    rest = separator.join([cell] * (len(columns) - 2))
    lines = [separator.join((n, "200", rest)) for n in numbers]
    head = separator.join(columns)
    if rng.random() < 0.2:
        every = rng.choice((3, 5, 1000))
        lines = [x for k in range(0, len(lines), every) for x in (head, *lines[k : k + every])]
    above = [
        rng.choice(("# note", "note", "a,b;c", "x" * 300, "")) for _ in range(rng.choice((0, 2, 150, 3000)))
    ]
    return "\n".join((*above, head, *lines))[: rng.choice((10**9, 10**9, 12_000_000))]


class Endless(BaseException):
    """A file took too long."""


def _cut(*_):
    raise Endless


def run(kind: str, count: int, first: int = 0) -> tuple[Counter, list[str], float]:
    """(how many ended how, what should not have been, the longest s of CPU) of ``count`` files."""
    ended: Counter = Counter()
    wrong, longest, before, cut = [], 0.0, peak(), allowed(CUT)
    signal.signal(signal.SIGPROF, _cut)
    with tempfile.TemporaryDirectory() as name:
        campaign = Campaign(Path(name))
        for seed in range(first, first + count):
            campaign.start = process_time()
            signal.setitimer(signal.ITIMER_PROF, cut)
            said = _outcome(campaign, kind, seed)
            signal.setitimer(signal.ITIMER_PROF, 0.0)
            took = process_time() - campaign.start
            longest = max(longest, took)
            ended[said if said in ("result", "message") else "neither"] += 1
            if said not in ("result", "message"):
                wrong.append(f"{kind} {seed}: {said}")
            if took > LONG and took > allowed(LONG):
                wrong.append(f"{kind} {seed}: {took:.1f} s")
            if peak() > max(before, LARGE):
                before = peak()
                wrong.append(f"{kind} {seed}: {before:.2f} GB")
    return ended, wrong, longest


def _outcome(campaign, kind, seed) -> str:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", RuntimeWarning)
            getattr(campaign, kind)(random.Random(f"costly {kind} {seed}"))
    except TOLD as error:
        foreign = [w for w in (*FOREIGN, "function-") if w in str(error)]
        return f"not our words: {str(error)[:300]}" if foreign else "message"
    except Endless:
        return f"over {CUT:.0f} s"
    except Exception:
        return traceback.format_exc()
    return "result"


if __name__ == "__main__":
    ended, wrong, longest = run(sys.argv[1], *map(int, sys.argv[2:]))
    print("\n\n".join(w[-1500:] for w in wrong[:12]))
    print(dict(ended), f"slowest {longest:.2f} s, peak {peak():.2f} GB, {len(wrong)} wrong")
