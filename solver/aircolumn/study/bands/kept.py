"""Bands that were computed before, as they are kept beside their results: what they say, and of which engine
file."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from aircolumn.sources import solver_version

if TYPE_CHECKING:
    from aircolumn.engine.description.reader import Description
    from aircolumn.study.bands.session import HowSure

NAME = "bands.json"


@dataclass(frozen=True)
class KeptBands:
    """Bands in short.

    of: digest of what they were computed from; asked, cases: engines asked for and found; rpm: speeds,
    rev/min; against: the runner that the others are set against; choice: the best; doubt: share of engines in
    which another is; settle, after: what would best settle it ("": nothing), and the doubt left; outdated:
    whether the file has changed since.
    """

    of: str
    asked: int
    cases: int
    rpm: list[float]
    against: str
    choice: str
    doubt: float
    settle: str
    after: float
    outdated: bool = False


def file_digest(description: Description) -> str:
    """What bands of a file rest on: its candidates, as it states them, and the solver."""
    data = {name: one.data for name, one in description.candidates.items()}
    text = json.dumps([data, solver_version()], sort_keys=True, default=str)
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def bands_in_short(found: HowSure, description: Description) -> KeptBands:
    """What was found, in short."""
    v, best = found.verdict, found.next.worth[:1]
    return KeptBands(
        file_digest(description),
        len(v.means) + len(found.curves.lost),
        len(v.means),
        v.rpm.tolist(),
        v.base,
        v.choice,
        1.0 - v.best[v.choice],
        best[0].settle if best else "",
        best[0].after if best else 0.0,
    )


def keep_bands(found: HowSure, description: Description, folder: Path) -> None:
    """Write what was found into a folder of results."""
    kept = bands_in_short(found, description)
    text = json.dumps({k: x for k, x in asdict(kept).items() if k != "outdated"}, indent=1)
    (folder / NAME).write_text(f"{text}\n", encoding="utf-8")


def kept_bands(description: Description, folder: Path) -> KeptBands | None:
    """The bands in a folder of results; None if there are none that can be read."""
    try:
        found = KeptBands(**json.loads((folder / NAME).read_text(encoding="utf-8")))
        return KeptBands(**{**asdict(found), "outdated": found.of != file_digest(description)})
    except (OSError, ValueError, TypeError, RecursionError):
        return None
