"""Measured pulls dropped on the page, laid over the curve of a candidate."""

from __future__ import annotations

import base64
import binascii
import re
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from aircolumn.errors import InputError, RequestError
from aircolumn.measured.atmosphere import Atmosphere, factor, title_of
from aircolumn.measured.session import measure
from aircolumn.output.pull.read_text import statement_line
from aircolumn.output.pull.text import file_text, off_text

if TYPE_CHECKING:
    from aircolumn.engine.description.reader import Description

LARGEST_PULL = 2_000_000  # bytes
UNUSUAL = re.compile(r"[^A-Za-z0-9._ -]")


def laid_over(description: Description, name: str, file: str, content: str) -> dict[str, Any]:
    """A pull of candidate ``name``, as points in the air of the engine file.

    Parameters
    ----------
    description : Description
    name : str
        Candidate that was measured.
    file : str
        What the file is called.
    content : str
        Its bytes in base64.

    Returns
    -------
    dict
        name; rpm; torque and half-width of its interval, N m (null where there is none); said: how it was
        read, and how far the prediction is off; more: columns, and what was left out.

    Raises
    ------
    RequestError, ComputationError
        For files that cannot be used, points that fail.
    """
    try:
        raw = base64.b64decode(content, validate=True)
    except binascii.Error:
        raise RequestError(f"{file[:60]} did not arrive whole") from None
    if len(raw) > LARGEST_PULL:
        raise RequestError(f"{file[:60]}: {len(raw)} bytes; at most {LARGEST_PULL} bytes are taken here")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / (UNUSUAL.sub("_", Path(file).name)[-60:].lstrip(".") or "pulls.csv")
        path.write_bytes(raw)
        try:
            session = measure(description, {name: path})
        except InputError as error:
            raise RequestError(str(error).replace(str(path), path.name)) from None
    found, air = session.overlays[name], description.engine.intake.ambient
    here = factor(session.standard, Atmosphere(air.pressure, air.temperature, air.humidity))
    shown = f"Points are shown in the air of the engine file, by {title_of(session.standard)}."
    off = f"Predicted minus measured: {off_text(found)}."
    return {
        "name": name,
        "rpm": found.curve.rpm.tolist(),
        "torque": _plain(found.torque / here),
        "half": _plain(found.torque_half_width / here),
        "said": [statement_line(name, session.files[name]), off, shown],
        "more": file_text(name, session.files[name], found).replace(str(path), path.name),
    }


def _plain(values: np.ndarray) -> list[float | None]:
    return [float(v) if np.isfinite(v) else None for v in np.asarray(values, dtype=float)]
