"""Faults that can be planted in a source file: swapped operators and comparisons, changed numbers
and formats, conditions turned round, min for max, dropped statements."""

import ast
import io
import re
import tokenize
from dataclasses import dataclass
from pathlib import Path

SWAPS = {
    ast.Add: "-",
    ast.Sub: "+",
    ast.Mult: "/",
    ast.Div: "*",
    ast.Pow: "*",
    ast.Mod: "*",
    ast.FloorDiv: "*",
    ast.Lt: ">=",
    ast.LtE: "<",
    ast.Gt: "<=",
    ast.GtE: ">",
    ast.Eq: "!=",
    ast.NotEq: "==",
    ast.In: "not in",
    ast.NotIn: "in",
    ast.Is: "is not",
    ast.IsNot: "is",
    ast.And: "or",
    ast.Or: "and",
    ast.BitAnd: "|",
    ast.BitOr: "&",
}
NAMES = {
    "min": "max",
    "max": "min",
    "any": "all",
    "all": "any",
    "argmin": "argmax",
    "argmax": "argmin",
    "nanargmax": "nanargmin",
    "nanargmin": "nanargmax",
    "minimum": "maximum",
    "maximum": "minimum",
    "floor": "ceil",
    "ceil": "floor",
    "mean": "sum",
    "sorted": "list",
    "first": "last",
    "last": "first",
}
#: Arguments and constants that only decide on looks.
LOOKS = {
    "alpha",
    "arrowprops",
    "bbox_to_anchor",
    "capsize",
    "cmap",
    "color",
    "colors",
    "dpi",
    "edgecolor",
    "elinewidth",
    "facecolor",
    "figsize",
    "fillstyle",
    "fmt",
    "fontsize",
    "foreground",
    "frameon",
    "framealpha",
    "ha",
    "height_ratios",
    "initial_indent",
    "labelcolor",
    "layout",
    "levels",
    "linestyle",
    "linewidth",
    "linewidths",
    "loc",
    "LOOK",
    "look",
    "margins",
    "marker",
    "markeredgecolor",
    "markersize",
    "MEASURED",
    "ncols",
    "newline",
    "pad",
    "path_effects",
    "rasterized",
    "rotation",
    "s",
    "set_xticks",
    "set_ylim",
    "strict",
    "style",
    "STYLES",
    "textcoords",
    "title_fontsize",
    "va",
    "width",
    "x",
    "xytext",
    "y",
    "zorder",
}


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
        return f"{self.file.name}:{self.line}: {' '.join(self.was.split())} -> {self.text}"

    def applied(self, source: str) -> str:
        """The file with the fault in it."""
        return source[: self.start] + self.text + source[self.stop :]


class Finder(ast.NodeVisitor):
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
        return (self._place(node.lineno, node.col_offset), self._place(node.end_lineno, node.end_col_offset))

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
