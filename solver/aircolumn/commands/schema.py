"""``schema``: the keys of the engine file and the figures of results, for editors and for readers."""

import json
from dataclasses import dataclass
from typing import Any

from aircolumn.commands import options
from aircolumn.commands.options import switch
from aircolumn.commands.results import Answer
from aircolumn.engine.description.reference import schema
from aircolumn.output.key_reference import figures_text, keys_text


@dataclass(frozen=True)
class Request(options.Arguments):
    """What ``schema`` is asked: what to print instead of the schema of engine files."""

    keys: bool = switch("print the key reference (Markdown) instead")
    figures: bool = switch("print the reference of figures (Markdown) instead")
    answers: bool = switch("print the JSON schema of what --json prints")


def run(request: Request) -> Answer[dict[str, Any]]:
    """The JSON schema, or the reference."""
    from aircolumn.commands.answer_schema import answer_schema  # loads all commands

    make = answer_schema if request.answers else schema
    text = json.dumps(make(), indent=1)
    if request.keys or request.figures:
        text = keys_text() if request.keys else figures_text()
    return Answer([text], wrap=False, result=make)
