"""Do the tests notice a wrong line? Seeded faults, one at a time, each in a copy of the project.

    python -m tests.mutants --count 60                 a sample over all modules but the kernels
    python -m tests.mutants --since main               every fault in the lines changed since then
    python -m tests.mutants --only report/tables.py    every fault in one file

A fault swaps an operator or a comparison, changes a number, turns a condition round, takes min for
max, or drops a statement. It is noticed if a test of its module (TESTS) fails or does not end. What
survives is printed with its place: a test is missing there, or the fault has no effect. Looks
(colours, sizes, places of labels) are left alone, and so are kernels: the validation watches those
(validation/mutations.py). Exit code 1 if less than --least of the faults were noticed.
"""

import argparse
import ast
import io
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile
import tokenize
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from queue import Queue

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "solver" / "aircolumn"
PATIENCE = 240.0  # s a mutant's tests may take

#: module or folder: its tests, quick ones first
TESTS = {
    "cli.py": "commands wrong_input readme",
    "commands": "written_curves written_check known_waves written_pull readme commands wrong_input"
    " gaps",
    "commands/study.py": "written_study study",
    "curves": "written_curves gaps commands engine",
    "curves/summary.py": "summary written_curves",
    "curves/uncertainty.py": "uncertainty written_curves",
    "cylinder/flow_bench.py": "engine_as_built written_check",
    "cylinder/friction.py": "point_by_hand",
    "cylinder/valve_area.py": "cylinder written_check engine_as_built",
    "cylinder/valve_lift.py": "cylinder written_check engine_as_built",
    "description": "defaults area_schedule summary written_check wrong_input engine_as_built study",
    "duct/geometry.py": "division tuning_map area_schedule duct",
    "dyno": "pull_reading written_pull written_check calibration pull",
    "dyno/atmosphere.py": "atmosphere written_check written_curves written_pull",
    "engine": "point_by_hand written_check engine manifold engine_as_built wall_balance",
    "engine/repetition.py": "point_by_hand engine part_throttle",
    "engine/figures.py": "point_by_hand gaps engine",
    "network": "duct division point_by_hand compiled engine",
    "report/atmosphere_report.py": "written_check",
    "report/check.py": "written_check",
    "report/explain_report.py": "known_waves explain",
    "report/files.py": "written_curves known_waves written_pull written_study wrong_input commands",
    "report/plots.py": "written_curves",
    "report/pull_plots.py": "written_pull",
    "report/pull_report.py": "written_pull pull",
    "report/study_plots.py": "written_study study",
    "report/study_report.py": "written_study study",
    "report/tables.py": "written_curves written_check written_pull",
    "report/trace_plots.py": "known_waves",
    "study": "written_study study",
    "tuning/explain.py": "known_waves explain",
    "tuning/filling_account.py": "written_curves engine_as_built",
    "tuning/rules.py": "tuning_map written_check",
    "tuning/trace.py": "known_waves waves point_by_hand explain",
    "tuning/tuning_map.py": "written_curves tuning_map",
    "tuning/waves.py": "waves known_waves",
}
#: Decide on the way to an answer, not on the answer.
ON_THE_WAY = {"engine/plenum_balance.py", "engine/start.py"}
_HOLDS_KERNELS = re.compile(r"^@(kernel|routine|small|inlined|entry)\b", re.MULTILINE)

SWAPS = {
    ast.Add: "-", ast.Sub: "+", ast.Mult: "/", ast.Div: "*", ast.Pow: "*", ast.Mod: "*",
    ast.FloorDiv: "*", ast.Lt: ">=", ast.LtE: "<", ast.Gt: "<=", ast.GtE: ">", ast.Eq: "!=",
    ast.NotEq: "==", ast.In: "not in", ast.NotIn: "in", ast.Is: "is not", ast.IsNot: "is",
    ast.And: "or", ast.Or: "and", ast.BitAnd: "|", ast.BitOr: "&",
}  # fmt: skip
NAMES = {"min": "max", "max": "min", "any": "all", "all": "any", "argmin": "argmax",
         "argmax": "argmin", "nanargmax": "nanargmin", "nanargmin": "nanargmax",
         "minimum": "maximum", "maximum": "minimum", "floor": "ceil", "ceil": "floor",
         "mean": "sum", "sorted": "list", "first": "last", "last": "first"}  # fmt: skip
#: Arguments and constants that only decide on looks.
LOOKS = {
    "alpha", "arrowprops", "bbox_to_anchor", "capsize", "cmap", "color", "colors", "dpi",
    "edgecolor", "elinewidth", "facecolor", "figsize", "fillstyle", "fmt", "fontsize", "foreground",
    "frameon", "framealpha", "ha", "height_ratios", "initial_indent", "labelcolor", "layout",
    "levels", "linestyle", "linewidth", "linewidths", "loc", "LOOK", "look", "margins", "marker",
    "markeredgecolor", "markersize", "MEASURED", "ncols", "newline", "pad", "path_effects",
    "rasterized", "rotation", "s", "set_xticks", "set_ylim", "strict", "style", "STYLES",
    "textcoords", "title_fontsize", "va", "width", "x", "xytext", "y", "zorder",
}  # fmt: skip


@dataclass(frozen=True)
class Mutant:
    """A fault: characters from start to stop of a file replaced by text."""

    file: Path
    line: int
    start: int
    stop: int
    text: str
    was: str

    def __str__(self):
        place = self.file.relative_to(PACKAGE)
        return f"{place}:{self.line}: {' '.join(self.was.split())} -> {self.text}"

    def applied(self, source: str) -> str:
        """The file with the fault in it."""
        return source[: self.start] + self.text + source[self.stop :]


class _Finder(ast.NodeVisitor):
    """All faults of one file."""

    def __init__(self, file: Path):
        self.file, self.source = file, file.read_text()
        starts = [0]
        for line in self.source.splitlines(keepends=True):
            starts.append(starts[-1] + len(line.encode()))
        self.bytes, self.starts = self.source.encode(), starts
        self.found: list[Mutant] = []
        self.visit(ast.parse(self.source))
        self._look_into_strings()

    def _place(self, line, column) -> int:
        return len(self.bytes[: self.starts[line - 1] + column].decode())

    def _span(self, node) -> tuple[int, int]:
        return (self._place(node.lineno, node.col_offset),
                self._place(node.end_lineno, node.end_col_offset))  # fmt: skip

    def _add(self, node, start, stop, text, was=None):
        was = was or self.source[start:stop]
        mutant = Mutant(self.file, node.lineno, start, stop, text, was)
        try:
            ast.parse(mutant.applied(self.source))
        except SyntaxError:
            return
        self.found.append(mutant)

    def _between(self, node, left, right, operator):
        """Swap the operator that stands between two operands."""
        start, stop = self._span(left)[1], self._span(right)[0]
        gap = self.source[start:stop]
        sign = re.search(r"\*\*|//|<=|>=|==|!=|not in|is not|[-+*/%<>&|]|\b(in|is|and|or)\b", gap)
        new = SWAPS.get(type(operator))
        if sign and new:
            was = self.source[self._span(left)[0] : self._span(right)[1]]
            self._add(node, start + sign.start(), start + sign.end(), new, was)

    # what is not touched

    def visit_JoinedStr(self, node):
        """See _look_into_strings: the parser knows the places inside an f-string only from Python
        3.12 on."""

    def visit_FunctionDef(self, node):
        for part in node.body:
            self.visit(part)

    def visit_ClassDef(self, node):
        for part in node.body:
            self.visit(part)

    def visit_AnnAssign(self, node):
        if node.value is not None:
            self.visit(node.value)

    def visit_Import(self, node):
        pass

    visit_ImportFrom = visit_Import

    def visit_keyword(self, node):
        if node.arg not in LOOKS:
            self.generic_visit(node)

    def visit_Assign(self, node):
        names = {t.id for t in node.targets if isinstance(t, ast.Name)}
        if not names & LOOKS:
            self._drop(node)
            self.generic_visit(node)

    # faults

    def _look_into_strings(self):
        """Values and their formats inside f-strings; the words around them stay."""
        for start, stop in _format_strings(self.source):
            for first, last, spec in _fields(self.source, start, stop):
                # The same text at the same place, alone and in brackets, for the parser.
                blank = re.sub(r"[^\n]", " ", self.source[1:first])
                try:
                    tree = ast.parse(f"({blank}{self.source[first:last]})", mode="eval")
                except SyntaxError:
                    continue
                self.visit(tree.body)
                self._change_format(last, spec)

    def _change_format(self, start, spec):
        """One digit more after the point, or another sign."""
        line = self.source.count("\n", 0, start) + 1
        for found in re.finditer(r"\.(\d)", self.source[start:spec]):
            at = start + found.start(1)
            text = str(int(found[1]) + 1)
            self.found.append(Mutant(self.file, line, at, at + 1, text, self.source[start:spec]))

    def _drop(self, node):
        plain = isinstance(node, ast.Expr | ast.AugAssign) or (
            isinstance(node, ast.Assign) and not isinstance(node.targets[0], ast.Name | ast.Tuple)
        )
        if plain:
            self._add(node, *self._span(node), "pass")

    def visit_AugAssign(self, node):
        self._drop(node)
        self.generic_visit(node)

    def visit_Expr(self, node):
        if isinstance(node.value, ast.Constant):  # a docstring
            return
        called = getattr(getattr(node.value, "func", None), "attr", "")
        if called not in LOOKS:
            self._drop(node)
            self.generic_visit(node)

    def visit_BinOp(self, node):
        if not any(_is_text(part) for part in (node.left, node.right)):
            self._between(node, node.left, node.right, node.op)
        self.generic_visit(node)

    def visit_Compare(self, node):
        for left, operator, right in zip(
            [node.left, *node.comparators], node.ops, node.comparators, strict=False
        ):
            self._between(node, left, right, operator)
        self.generic_visit(node)

    def visit_BoolOp(self, node):
        for left, right in zip(node.values, node.values[1:], strict=False):
            self._between(node, left, right, node.op)
        self.generic_visit(node)

    def visit_UnaryOp(self, node):
        if isinstance(node.op, ast.USub | ast.Not):
            start, stop = self._span(node)
            self._add(node, start, self._span(node.operand)[0], "", self.source[start:stop])
        self.generic_visit(node)

    def visit_If(self, node):
        self._turn_round(node.test)
        self.generic_visit(node)

    def visit_IfExp(self, node):
        self._turn_round(node.test)
        self.generic_visit(node)

    def _turn_round(self, test):
        start, stop = self._span(test)
        self._add(test, start, stop, f"(not ({self.source[start:stop]}))")

    def visit_Constant(self, node):
        start, stop = self._span(node)
        if isinstance(node.value, bool):
            self._add(node, start, stop, str(not node.value))
        elif isinstance(node.value, int):
            self._add(node, start, stop, str(node.value + 1))
        elif isinstance(node.value, str) and (spec := re.fullmatch(r"\{:\.(\d)f\}", node.value)):
            self._add(node, start, stop, f'"{{:.{int(spec[1]) + 1}f}}"')
        elif isinstance(node.value, float):
            self._add(node, start, stop, repr(1.1 * node.value if node.value else 1.0))

    def visit_Name(self, node):
        if node.id in NAMES and isinstance(node.ctx, ast.Load):
            self._add(node, *self._span(node), NAMES[node.id])

    def visit_Attribute(self, node):
        if node.attr in NAMES:
            _, stop = self._span(node)
            was = self.source[self._span(node)[0] : stop]
            self._add(node, stop - len(node.attr), stop, NAMES[node.attr], was)
        self.generic_visit(node)


def _is_text(node) -> bool:
    return isinstance(node, ast.JoinedStr) or isinstance(getattr(node, "value", None), str)


def _format_strings(source):
    """(start, stop) of every f-string literal."""
    starts = [0]
    for line in source.splitlines(keepends=True):
        starts.append(starts[-1] + len(line))
    begin = 0
    for token in tokenize.generate_tokens(io.StringIO(source).readline):
        at = starts[token.start[0] - 1] + token.start[1]
        end = starts[token.end[0] - 1] + token.end[1]
        kind = tokenize.tok_name[token.type]
        if kind == "STRING" and "f" in re.match(r"\w*", token.string)[0].lower():
            yield at, end
        elif kind == "FSTRING_START":
            begin = at
        elif kind == "FSTRING_END":
            yield begin, end


def _fields(source, start, stop):
    """(first and last place of the value, end of its format) of the fields of an f-string."""
    k = source.index("{", start) if "{" in source[start:stop] else stop
    while k < stop:
        if source[k] != "{" or source[k + 1] == "{":
            k += 1 + (source[k : k + 2] == "{{")
            continue
        depth, last, end = 0, None, k
        for end in range(k + 1, stop):
            c = source[end]
            if last is None and depth == 0 and (c == ":" or source[end : end + 2] == "!r"):
                last = end
            if c == "}" and depth == 0:
                break
            depth += (c in "([{") - (c in ")]}")
        yield k + 1, end if last is None else last, end
        k = end + 1


def tests_of(file: Path) -> list[str]:
    """The test files of a module, or none if it is not looked at."""
    place = file.relative_to(PACKAGE).as_posix()
    names = TESTS.get(place) or TESTS.get(place.split("/")[0], "")
    return [f"tests/test_{name}.py" for name in names.split()]


def watched() -> list[Path]:
    """The modules that are looked at."""
    return [f for f in sorted(PACKAGE.rglob("*.py"))
            if tests_of(f) and not _HOLDS_KERNELS.search(f.read_text())
            and f.relative_to(PACKAGE).as_posix() not in ON_THE_WAY]  # fmt: skip


def changed_lines(since: str) -> dict[Path, set[int]]:
    """Lines of each module that differ from a revision."""
    command = ["git", "diff", "-U0", since, "--", str(PACKAGE)]
    text = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True).stdout
    lines, file = {}, None
    for row in text.splitlines():
        if row.startswith("+++ "):
            file = ROOT / row[6:]
        elif hunk := re.match(r"@@ -\S+ \+(\d+)(?:,(\d+))? @@", row):
            first, count = int(hunk[1]), int(hunk[2] or 1)
            lines.setdefault(file, set()).update(range(first, first + count))
    return lines


def _within(file: Path, places) -> bool:
    """Whether a module is one of ``places`` or lies in one."""
    place = file.relative_to(PACKAGE)
    return any(place.is_relative_to(p) for p in places)


def chosen(arguments) -> list[Mutant]:
    """The faults asked for; a sample takes as many from each module as it can."""
    files = watched()
    if arguments.only:
        files = [f for f in files if _within(f, arguments.only)]
    rng = random.Random(arguments.seed)
    found = {f: _Finder(f).found for f in files}
    if arguments.since:
        lines = changed_lines(arguments.since)
        found = {f: [m for m in ms if m.line in lines.get(f, ())] for f, ms in found.items()}
    for mutants in found.values():
        rng.shuffle(mutants)
    most = arguments.count or sum(map(len, found.values()))
    rounds = max(map(len, found.values()), default=0)
    order = [ms[k] for k in range(rounds) for ms in found.values() if k < len(ms)]
    return order[:most]


def copy_of_the_project(folder: Path) -> Path:
    """What the tests need, without what they do not."""
    copy = folder / "copy"
    copy.mkdir(parents=True)
    for name in ("solver", "tests", "validation", "configs", "notebooks"):
        shutil.copytree(ROOT / name, copy / name, ignore=shutil.ignore_patterns("*.egg-info"))
    for name in ("pyproject.toml", "README.md"):
        shutil.copy(ROOT / name, copy)
    return copy


def noticed(mutant: Mutant, copy: Path) -> bool:
    """Whether a test fails with the fault in a copy of the project."""
    target = copy / mutant.file.relative_to(ROOT)
    source = mutant.file.read_text()
    target.write_text(mutant.applied(source))
    environment = {**os.environ, "PYTHONPATH": str(copy / "solver"), "PYTHONDONTWRITEBYTECODE": "1"}
    command = [sys.executable, "-m", "pytest", "-q", "-x", "-p", "no:cacheprovider",
               *tests_of(mutant.file)]  # fmt: skip
    try:
        done = subprocess.run(command, cwd=copy, env=environment, capture_output=True,
                              timeout=PATIENCE, start_new_session=True)  # fmt: skip
        return done.returncode != 0
    except subprocess.TimeoutExpired:
        return True
    finally:
        target.write_text(source)


def campaign(mutants: list[Mutant], workers: int) -> list[Mutant]:
    """Try all; prints each survivor as it is found and the score of each module; the survivors."""
    survivors, done = [], {}
    with tempfile.TemporaryDirectory() as scratch, ThreadPoolExecutor(workers) as pool:
        copies = Queue()
        for k in range(workers):
            copies.put(copy_of_the_project(Path(scratch) / str(k)))

        def judge(mutant):
            copy = copies.get()
            try:
                return mutant, noticed(mutant, copy)
            finally:
                copies.put(copy)

        for mutant, red in pool.map(judge, mutants):
            tally = done.setdefault(mutant.file, [0, 0])
            tally[0] += red
            tally[1] += 1
            if not red:
                survivors.append(mutant)
                print(f"survived  {mutant}", flush=True)
    for file, (red, total) in sorted(done.items()):
        print(f"{red:4d} of {total:4d} noticed  {file.relative_to(PACKAGE)}")
    return survivors


def main() -> int:
    """The command line."""
    parser = argparse.ArgumentParser(description="Do the tests notice a wrong line?")
    parser.add_argument("--count", type=int, help="how many faults (default: all)")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--since", metavar="REV", help="only in lines changed since a revision")
    parser.add_argument("--only", nargs="+", metavar="PLACE", help="only these files or folders")
    parser.add_argument("--least", type=float, default=0.9, help="share to be noticed")
    parser.add_argument("--workers", type=int, default=os.cpu_count())
    arguments = parser.parse_args()
    mutants = chosen(arguments)
    if not mutants:
        print("no fault to try there")
        return 0
    survivors = campaign(mutants, arguments.workers)
    share = 1.0 - len(survivors) / len(mutants)
    print(f"{len(mutants) - len(survivors)} of {len(mutants)} faults noticed ({100 * share:.1f} %)")
    return 0 if share >= arguments.least else 1


if __name__ == "__main__":
    sys.exit(main())
