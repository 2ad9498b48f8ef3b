"""The rows of a run as a table, as JSON and as JUnit XML, and what they come to."""

import json
import math
from collections import Counter
from dataclasses import asdict, dataclass, field
from pathlib import Path
from xml.etree import ElementTree

from aircolumn.display_units import counted
from validation.check import Check

KNOWN = Path(__file__).parent / "known_misses.txt"
WIDE = 46  # of a quantity; a longer one has a line of its own


@dataclass(frozen=True)
class Result:
    """The rows of one case, and the seconds they took; or why it was left out."""

    case: str
    rows: list[Check] = field(default_factory=list)
    why: str = ""
    seconds: float = 0.0


def head() -> str:
    """The heading of the table."""
    return (
        f"{'case':22s} {'quantity':{WIDE}s} {'reference':>13s} {'computed':>13s} {'error':>9s}"
        f" {'tolerance':>9s}  source"
    )


def status(check: Check) -> str:
    """What a row comes to: "passed", "missed" (told, and no failure) or "outside"."""
    if not check.passed:
        return "outside"
    return "missed" if check.missed else "passed"


def line(check: Check) -> str:
    """A row of the table. Bounds have no error to show."""
    bound = check.kind in ("at most", "at least")
    error = "" if bound and status(check) == "passed" else f"{check.error:.1e}"
    tolerance = check.kind if bound else f"{check.tolerance:.1e}"
    said = check.quantity
    if len(said) > WIDE:
        said += f"\n{'':{22 + 1 + WIDE}s}"
    mark = {"outside": "   <-- outside", "missed": "   (missed)", "passed": ""}[status(check)]
    return (
        f"{check.case:22s} {said:{WIDE}s} {check.reference:13.6g} {check.computed:13.6g}"
        f" {error:>9s} {tolerance:>9s}  {check.source}{mark}"
    )


def _count(results, what: str) -> int:
    return sum(status(row) == what for r in results for row in r.rows)


def known_misses() -> set[tuple[str, str]]:
    """(case, quantity) of the rows that are known to be missed, from known_misses.txt."""
    lines = KNOWN.read_text(encoding="utf-8").splitlines()
    pairs = (line.partition(":") for line in lines if line.strip() and not line.startswith("#"))
    return {(case.strip(), quantity.strip()) for case, _, quantity in pairs}


def unlisted(results) -> list[str]:
    """What differs from the list of known misses: rows that are missed and not on it, and rows on it, of the
    cases that were run, that hold by now."""
    missed = {(r.case, row.quantity) for r in results for row in r.rows if status(row) == "missed"}
    run, known = {r.case for r in results if not r.why}, known_misses()
    stale = {pair for pair in known - missed if pair[0] in run}
    return [f"{c}: {q} is missed" for c, q in sorted(missed - known)] + [
        f"{c}: {q} is no longer missed: take it off {KNOWN.name}" for c, q in sorted(stale)
    ]


def failed(results, strict: bool) -> bool:
    """Whether the run failed; ``strict``: a miss that is not on the list of known ones, a row on it that
    holds by now, and a case left out count, too."""
    more = unlisted(results) or any(r.why for r in results)
    return bool(_count(results, "outside") or (strict and more))


def closing_line(results) -> str:
    """How many rows held, and what did not."""
    left_out = [r for r in results if r.why]
    rows, run = sum(len(r.rows) for r in results), len(results) - len(left_out)
    outside, missed = (_count(results, what) for what in ("outside", "missed"))
    said = (
        f"{counted(rows, 'row')} of {counted(run, 'case')}: {outside} outside the tolerance,"
        f" {missed} reported as missed;"
        f" {counted(len(left_out), 'case')} left out"
    )
    return said + "".join(f"\n  {r.case}: {r.why}" for r in left_out)


def as_json(results) -> str:
    """All rows, by case. What is not finite is null."""
    cases = [
        {
            "case": r.case,
            "left_out": r.why or None,
            "seconds": round(r.seconds, 3),
            "rows": [
                {**_finite(asdict(row)), "error": _number(row.error), "status": status(row)} for row in r.rows
            ],
        }
        for r in results
    ]
    return json.dumps({"summary": closing_line(results).split("\n")[0], "cases": cases}, indent=1)


def _finite(row: dict) -> dict:
    return {k: _number(v) if isinstance(v, float) else v for k, v in row.items()}


def _number(value) -> float | None:
    return float(value) if math.isfinite(value) else None


def as_junit(results, strict: bool) -> str:
    """A test suite for each case, a test for each row (the format that CI servers read)."""
    root = ElementTree.Element("testsuites", name="validation")
    known = known_misses()
    for r in results:
        suite = ElementTree.SubElement(
            root, "testsuite", name=r.case, tests=str(len(r.rows) or 1), time=f"{r.seconds:.3f}"
        )
        often = Counter(row.quantity for row in r.rows)
        for row in r.rows:
            name = row.quantity if often[row.quantity] == 1 else f"{row.quantity} ({row.source})"
            test = ElementTree.SubElement(suite, "testcase", classname=r.case, name=name)
            said = f"{row.computed:g} against {row.reference:g}, error {row.error:.2g} ({row.source})"
            listed = (r.case, row.quantity) in known
            if status(row) == "outside" or (strict and status(row) == "missed" and not listed):
                ElementTree.SubElement(test, "failure", message=said)
            elif status(row) == "missed":
                ElementTree.SubElement(test, "skipped", message=f"missed: {said}")
        if r.why:
            test = ElementTree.SubElement(suite, "testcase", classname=r.case, name="left out")
            ElementTree.SubElement(test, "failure" if strict else "skipped", message=r.why)
    ElementTree.indent(root)
    return ElementTree.tostring(root, encoding="unicode", xml_declaration=True) + "\n"
