"""Shaded views of solids from three sides, to look at before anything is made."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.collections import PolyCollection

from aircolumn.display_units import unit
from aircolumn.output import SHORT, STYLES
from aircolumn.output.part.files import as_mesh
from aircolumn.output.plots import figure, save

if TYPE_CHECKING:
    from manifold3d import Manifold

#: What is seen: title, axis across, axis up, and from which side of the third.
VIEWS = (
    ("from the front (along x)", 1, 2, 1.0),
    ("from the side (along y)", 0, 2, -1.0),
    ("from above", 0, 1, 1.0),
)
AXES = "xyz"
LIGHT = np.array([0.35, 0.5, 0.79])
FLATTER = 0.15  # mm, by which a surface may be simplified for the picture
FAINTEST = 0.35  # of the colour, on faces that look away from the light


def plot_views(solids: Sequence[Manifold], title: str, base: Path) -> list[Path]:
    """``base``.png and .svg: the solids in one picture, each in a colour of its own."""
    parts = [as_mesh(solid.simplify(FLATTER)) for solid in solids]
    corners = np.concatenate([mesh.triangles for mesh in parts])
    normals = np.concatenate([mesh.face_normals for mesh in parts])
    which = np.concatenate([np.full(len(mesh.faces), k) for k, mesh in enumerate(parts)])
    with figure(1, 3, figsize=(14.0, 6.0), sharex=False) as (fig, panels):
        for panel, view in zip(panels, VIEWS, strict=True):
            _draw(panel, corners, normals, which, view)
        fig.suptitle(title)
        pieces = "Pieces as they stand together, each in its own colour. " if len(parts) > 1 else ""
        fig.supxlabel(f"{pieces}{SHORT}", fontsize=8.5, color="#444444")
        return save(fig, base)


def _draw(panel: Any, corners: np.ndarray, normals: np.ndarray, which: np.ndarray, view: tuple) -> None:
    """The faces that look at us, from far to near."""
    name, across, up, side = view
    third = 3 - across - up
    seen = side * normals[:, third] > 0.0
    order = np.argsort(side * corners[seen][:, :, third].mean(axis=1))
    faces, looks = corners[seen][order], normals[seen][order]
    light = np.abs(looks[:, [across, up, third]]) @ LIGHT
    shade = (FAINTEST + (1.0 - FAINTEST) * np.clip(light, 0.0, 1.0))[:, None]
    colours = np.array([_lighter(STYLES[k % len(STYLES)]["color"]) for k in which[seen][order]])
    size = unit("length")
    flat = size.of(1e-3 * faces[:, :, [across, up]])
    panel.add_collection(
        PolyCollection(flat, facecolors=shade * colours, edgecolors="face", linewidths=0.3, rasterized=True)
    )
    panel.autoscale_view()
    panel.set_aspect("equal")
    panel.set(title=name, xlabel=f"{AXES[across]}, {size.name}", ylabel=f"{AXES[up]}, {size.name}")


def _lighter(colour: str) -> np.ndarray:
    """A colour that leaves room for shade."""
    rgb = np.array([int(colour[k : k + 2], 16) for k in (1, 3, 5)]) / 255.0
    return 0.45 + 0.55 * rgb
