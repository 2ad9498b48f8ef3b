"""``schema``: the keys of the engine file, for editors and for readers."""

import json
from argparse import ArgumentParser
from dataclasses import dataclass

from aircolumn.commands.results import Answer
from aircolumn.engine.description.reference import schema
from aircolumn.output.key_reference import keys_text


@dataclass(frozen=True)
class Request:
    """--keys."""

    keys: bool


def arguments(parser: ArgumentParser) -> None:
    """--keys: print the reference instead of the JSON schema."""
    parser.add_argument("--keys", action="store_true", help="print the key reference (Markdown) instead")


def run(request: Request) -> Answer:
    """The JSON schema, or the reference."""
    return Answer([keys_text() if request.keys else json.dumps(schema(), indent=1)], wrap=False)
