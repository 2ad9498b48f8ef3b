"""``schema``: the keys of the engine file, for editors and for readers."""

import json
from argparse import ArgumentParser
from dataclasses import dataclass

from aircolumn.commands.results import Answer
from aircolumn.engine.description.reference import schema
from aircolumn.output.answer_schema import answer_schema
from aircolumn.output.key_reference import keys_text


@dataclass(frozen=True)
class Request:
    """--keys."""

    keys: bool
    answers: bool


def arguments(parser: ArgumentParser) -> None:
    """--keys: print the reference instead of the JSON schema."""
    parser.add_argument("--keys", action="store_true", help="print the key reference (Markdown) instead")
    parser.add_argument("--answers", action="store_true", help="print the JSON schema of what --json prints")


def run(request: Request) -> Answer:
    """The JSON schema, or the reference."""
    make = answer_schema if request.answers else schema
    text = keys_text() if request.keys else json.dumps(make(), indent=1)
    return Answer([text], wrap=False, result=make)
