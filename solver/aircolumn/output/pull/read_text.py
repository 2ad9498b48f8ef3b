"""What was read of a log, in words: how torque is stated, columns, pulls, what was left out."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.display_units import counted

if TYPE_CHECKING:
    from aircolumn.measured.logs.pull_file import Omission, PullFile

MOST_RANGES = 6  # of lines, shown for one reason
AT_THE_WHEELS = (
    "Torque was measured at the wheels: what driveline and tyres take is in it. Its level cannot be"
    " compared with"
    " the prediction; the ratio of two manifolds can, if gear, tyres and their pressure were the same"
)


def statement_line(name: str, file: PullFile) -> str:
    """The first line of every answer: how torque is stated, and why."""
    return f"{name}: {file.statement.why}."


def read_text(file: PullFile, remarks: Sequence[str]) -> str:
    """Columns, remarks, and what was left out: rows first, single cells folded."""
    cells = [
        [c, taken.heading or "(no heading)", taken.unit or "-", taken.how]
        for c, taken in file.columns.items()
    ]
    lines = [left(["channel", "column", "unit", "found"], cells)]
    if file.unused:
        why = [f"{heading} ({why})" if why else heading for heading, why in file.unused.items()]
        lines.append(f"not used: {', '.join(why)}")
    lines += [f"- {r}" for r in remarks]
    return "\n".join([*lines, *omissions_text(file.omitted)])


def omissions_text(omitted: Sequence[Omission]) -> list[str]:
    """Rows left out by reason, as ranges of lines; then how many single cells, by column."""
    rows = [o for o in omitted if o.whole_row]
    cells = [o for o in omitted if not o.whole_row]
    if not omitted:
        return []
    count = sum(max(o.last - o.line, 0) + 1 for o in rows)
    texts = [f"left out: {counted(count, 'row')}, {counted(len(cells), 'single cell')}"]
    for reason in dict.fromkeys(o.reason for o in rows):
        texts.append(f"  {_lines([o for o in rows if o.reason == reason])}: {reason}")
    columns = [re.split(r": (?:'|stands)", o.reason)[0] for o in cells]
    for column in dict.fromkeys(columns):
        own = [o for o, c in zip(cells, columns, strict=True) if c == column]
        first = f"line {own[0].line}: {own[0].reason}"
        texts.append(f"  {first}" + (f"; and {len(own) - 1} more in this column" if len(own) > 1 else ""))
    if len(cells) > 1:
        texts.append("  every one of them is in omitted.csv")
    return texts


def _lines(rows: Sequence[Omission]) -> str:
    shown = [o.lines for o in rows[:MOST_RANGES]]
    more = len(rows) - len(shown)
    text = ", ".join([shown[0], *(s.removeprefix("lines ").removeprefix("line ") for s in shown[1:])])
    if len(shown) > 1:
        text = text.replace("line ", "lines ", 1) if text.startswith("line ") else text
    return f"{text} and {more} more ranges" if more > 0 else text


def pulls_text(file: PullFile) -> str:
    """Each pull: its lines, rows, speeds, and highest torque as read."""
    rows = []
    for k, p in enumerate(file.pulls, 1):
        rpm, torque = p.readings["rpm"], p.readings["torque"]
        best = int(np.nanargmax(torque))
        rows.append(
            [
                str(k),
                f"{int(p.lines[0])} to {int(p.lines[-1])}",
                str(len(p.lines)),
                f"{rpm.min():.0f} to {rpm.max():.0f} rpm",
                f"{torque[best]:.1f} N m at {rpm[best]:.0f} rpm",
            ]
        )
    return left(["pull", "lines", "rows", "speeds", "highest torque as read"], rows)


def left(headings: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Left-aligned text table."""
    table = [headings, *rows]
    widths = [max(len(r[k]) for r in table) for k in range(len(headings))]
    return "\n".join(
        "  " + "  ".join(c.ljust(w) for c, w in zip(r, widths, strict=True)).rstrip() for r in table
    )
