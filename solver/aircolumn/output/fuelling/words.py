"""Loads, and what filling is referred to, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from aircolumn.display_units import counted, unit
from aircolumn.fuelling.filling import WORDS

if TYPE_CHECKING:
    from aircolumn.fuelling.at_load import AtLoad

CAUTION = (
    "A predicted table is a start on a dynamometer with a wide-band probe, not a calibration: a lean mixture"
    " at load breaks engines. Begin rich, come up to load in steps, and watch the mixture. Knock is not"
    " predicted, and nothing is said about ignition."
)


def load_kind(at: AtLoad) -> str:
    """The kind of quantity of the loads."""
    return "share" if at.by_opening else "pressure"


def load_words(at: AtLoad, load: float) -> str:
    """A load with its unit."""
    return unit(load_kind(at)).said(load)


def load_heading(at: AtLoad) -> str:
    """What the loads are, with their unit."""
    return f"{what_loads_are(at)}, {unit(load_kind(at)).name}"


def what_loads_are(at: AtLoad) -> str:
    """The loads' name."""
    return "throttle opening" if at.by_opening else "manifold pressure"


def referred_words(referred_to: str) -> str:
    """What filling is."""
    return f"all air that is drawn in, over what {WORDS[referred_to]} would fill"


def size_words(at: AtLoad) -> str:
    """How many cells."""
    loads = "throttle opening" if at.by_opening else "manifold pressure"
    return f"{counted(len(at.rpm), 'speed')} x {counted(len(at.loads), loads)}"
