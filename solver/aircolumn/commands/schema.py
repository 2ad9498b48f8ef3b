"""``schema``: the keys of the engine file and the figures of results, for editors and for readers."""

import json
from argparse import ArgumentParser
from dataclasses import dataclass
from typing import Any

from aircolumn.commands.results import Answer
from aircolumn.engine.description.reference import schema
from aircolumn.output.key_reference import figures_text, keys_text


@dataclass(frozen=True)
class Request:
    """--keys, --figures, --answers."""

    keys: bool
    figures: bool
    answers: bool


def arguments(parser: ArgumentParser) -> None:
    """--keys, --figures, --answers: what to print instead of the schema of engine files."""
    parser.add_argument("--keys", action="store_true", help="print the key reference (Markdown) instead")
    parser.add_argument(
        "--figures", action="store_true", help="print the reference of figures (Markdown) instead"
    )
    parser.add_argument("--answers", action="store_true", help="print the JSON schema of what --json prints")


def run(request: Request) -> Answer[dict[str, Any]]:
    """The JSON schema, or the reference."""
    from aircolumn.commands.answer_schema import answer_schema  # loads all commands

    make = answer_schema if request.answers else schema
    text = json.dumps(make(), indent=1)
    if request.keys or request.figures:
        text = keys_text() if request.keys else figures_text()
    return Answer([text], wrap=False, result=make)
