"""Every default of the engine file, as tests/defaults.json keeps them: a changed one changes the
results of every file that relies on it, so none may change unnoticed.

    python -m tests.frozen_defaults        (writes the file anew; say why in CHANGELOG.md)
"""

import json
from pathlib import Path

from aircolumn.engine.description.base import FileModel
from aircolumn.engine.description.reference import parts

FILE = Path(__file__).with_name("defaults.json")


def defaults() -> dict[str, dict[str, object]]:
    """{part: {key: default in SI and degrees}}; parts by the name of their group."""
    return {
        part.__name__: {
            field.alias or name: _plain(field.get_default(call_default_factory=True))
            for name, field in part.model_fields.items()
            if not field.is_required()
        }
        for part in parts()
    }


def _plain(value):
    return value.model_dump(mode="json") if isinstance(value, FileModel) else value


def text() -> str:
    """The file."""
    return json.dumps(defaults(), indent=1, sort_keys=True) + "\n"


if __name__ == "__main__":
    FILE.write_text(text(), encoding="utf-8")
