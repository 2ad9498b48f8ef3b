"""What is understood of logs' headings, as text and as a mapping to keep."""

from __future__ import annotations

from collections.abc import Sequence

import yaml

from aircolumn.measured.logs.columns import NAMES, Understood, mapping
from aircolumn.measured.logs.days import in_order
from aircolumn.output.pull.read_text import AT_THE_WHEELS, omissions_text, pulls_text
from aircolumn.output.tables import grid


def columns_text(files: Sequence[Understood]) -> str:
    """A table for each file, what is missing in it, and how to keep the mapping."""
    blocks = [_file_text(found) for found in files]
    blocks += [_order(files)] if sum(f.reading is not None for f in files) > 1 else []
    blocks.append(
        "The mapping is written to pull-columns.yaml. Correct it where it is wrong, and name it in the engine"
        " file: 'pull: {columns: pull-columns.yaml}'; it holds for every log of the same test cell."
    )
    return "\n\n".join(blocks)


def _order(files: Sequence[Understood]) -> str:
    """The pulls of all files in the order in which they were run."""
    read = in_order([f.reading for f in files if f.reading is not None])
    pulls = sorted((p.order, f.path.name, k) for f in read for k, p in enumerate(f.pulls, 1))
    return f"Pulls in the order in which they were run: {', '.join(f'{name} {k}' for _, name, k in pulls)}."


def _file_text(found: Understood) -> str:
    rows = []
    for k, h in enumerate(found.headings):
        example = found.example[k] if k < len(found.example) else ""
        read = NAMES[h.channel] if h.channel else "not used"
        rows.append([h.heading, example[:12], read, h.unit, h.doubt])
    lines = [
        f"{found.path.name}: headings in line {found.line}",
        grid(["heading", "first", "read as", "unit", ""], rows),
    ]
    for channel, near in found.missing.items():
        must = " (needed)" if channel in ("rpm", "torque") else ""
        guess = f"; is it '{near}'?" if near else ""
        lines.append(f"missing: {NAMES[channel]}{must}{guess}")
    lines.append(
        "This file can be read."
        if found.usable
        else f"This file cannot be read yet: {found.refused or 'say what is missing under pull.columns'}"
    )
    if found.reading is not None:
        r = found.reading
        lines += [
            f"{r.statement.why[0].upper()}{r.statement.why[1:]}.",
            *([AT_THE_WHEELS] if r.wheel else []),
        ]
        lines += [pulls_text(r), *(f"- {text}" for text in r.remarks), *omissions_text(r.omitted)]
    return "\n".join(lines)


def mapping_file(files: Sequence[Understood]) -> str:
    """The mapping of the first file as YAML, what is missing as comments."""
    first = files[0]
    text = f"# Columns of {first.path.name}, as aircolumn reads them.\n"
    text += yaml.safe_dump({"columns": mapping(first)}, sort_keys=False, allow_unicode=True)
    for channel, near in first.missing.items():
        text += f"#  {channel}: {{name: {near or '...'}, unit: ...}}\n"
    return text
