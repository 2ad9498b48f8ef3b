"""What is understood of logs' headings, as text and as a mapping to keep."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import yaml

from aircolumn.measured.columns import NAMES, Understood, mapping
from aircolumn.output.tables import grid


def columns_text(files: Sequence[Understood]) -> str:
    """A table for each file, what is missing in it, and how to keep the mapping."""
    blocks = [_file_text(found) for found in files]
    blocks.append(
        "The mapping is written to pull-columns.yaml. Correct it where it is wrong, and name it in the engine"
        " file: 'pull: {columns: pull-columns.yaml}'; it holds for every log of the same test cell."
    )
    return "\n\n".join(blocks)


def _file_text(found: Understood) -> str:
    rows = []
    for k, h in enumerate(found.headings):
        example = found.example[k] if k < len(found.example) else ""
        read = NAMES[h.channel] if h.channel else "not used"
        rows.append([h.heading, example[:12], read, h.unit, h.doubt])
    lines = [
        f"{found.path.name}: headings in line {found.line}",
        grid(["heading", "first", "read as", "unit", "doubt"], rows),
    ]
    for channel, near in found.missing.items():
        must = " (needed)" if channel in ("rpm", "torque") else ""
        guess = f"; is it '{near}'?" if near else ""
        lines.append(f"missing: {NAMES[channel]}{must}{guess}")
    lines.append(
        "can be read" if found.usable else "cannot be read yet: say what is missing under pull.columns"
    )
    return "\n".join(lines)


def mapping_file(files: Sequence[Understood]) -> str:
    """The mapping of the first file as YAML, what is missing as comments."""
    first = files[0]
    text = f"# Columns of {first.path.name}, as aircolumn reads them.\n"
    text += yaml.safe_dump({"columns": mapping(first)}, sort_keys=False, allow_unicode=True)
    for channel, near in first.missing.items():
        text += f"#  {channel}: {{name: {near or '...'}, unit: ...}}\n"
    return text


def plain_columns(files: Sequence[Understood]) -> dict[str, Any]:
    """As plain data."""
    return {
        "logs": {
            found.path.name: {
                "usable": found.usable,
                "headings": [
                    {"heading": h.heading, "channel": h.channel, "unit": h.unit, "doubt": h.doubt}
                    for h in found.headings
                ],
                "missing": found.missing,
            }
            for found in files
        }
    }
