"""What takes long to find and comes out the same every time, kept by the program for its next command."""

import hashlib
import json
from collections.abc import Callable
from typing import Any

from aircolumn import process
from aircolumn.flow.compiled.cache import kept_in
from aircolumn.flow.compiled.kept import read, write
from aircolumn.sources import solver_version


def remembered(name: str, depends_on: Any, find: Callable[[], dict]) -> dict:
    """What ``find`` gives, as plain data, or gave before for the same ``depends_on`` (plain data too) and the
    same solver. A script that imports aircolumn finds it anew."""
    if not process.as_program:
        return find()
    text = json.dumps([solver_version(), depends_on], sort_keys=True)
    place = kept_in() / f"{name}-{hashlib.sha256(text.encode()).hexdigest()[:32]}"
    data = read(place)
    if data is None:
        data = json.dumps(find()).encode()
        write(place, data)
    return json.loads(data)
