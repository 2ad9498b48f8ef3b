"""``schema``: the keys of the engine file, for editors and for readers."""

import json

from aircolumn.engine.description.reference import schema
from aircolumn.output.key_reference import keys_text


def arguments(parser):
    """Declare --keys: print the reference instead of the JSON schema."""
    parser.add_argument("--keys", action="store_true", help="print the key reference (Markdown) instead")


def run(args):
    """Print."""
    print(keys_text() if args.keys else json.dumps(schema(), indent=1))
