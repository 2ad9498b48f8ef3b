"""Meshes of air columns from STL and 3MF files, checked before anything is read off them."""

from __future__ import annotations

import warnings
import zipfile
import zlib
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from aircolumn.engine.description.text_file import wrong
from aircolumn.engine.description.units import unit_factor
from aircolumn.errors import InputError, RequestError

if TYPE_CHECKING:
    from trimesh import Trimesh

KINDS = (".stl", ".3mf")
LARGEST = 120_000_000  # bytes
LARGEST_UNPACKED = 500_000_000  # bytes, of a 3MF file; of its model: by what it counts
MOST_FACES, FEW = 2_500_000, 10_000
MOST_ELEMENTS = 500_000  # of a 3MF file: its reader holds some 1 kB for each
BLOCK = 1 << 20  # bytes
#: Units of 3MF files (3MF Core Specification) as the engine file writes them.
OF_3MF = {
    "micron": "um",
    "millimeter": "mm",
    "centimeter": "cm",
    "inch": "in",
    "foot": "ft",
    "meter": "m",
    "millimeters": "mm",
    "inches": "in",
    "meters": "m",
}


def read_mesh(path: Path, unit: str | None) -> Trimesh:
    """A closed mesh in metres.

    Parameters
    ----------
    path : Path
        STL or 3MF.
    unit : str or None
        Of length, as the engine file writes it. An STL file does not say; a 3MF file does.

    Returns
    -------
    trimesh.Trimesh

    Raises
    ------
    InputError
        If the file is no such mesh, too large, open, or several bodies.
    RequestError
        If the unit is missing or none.
    """
    if path.suffix.lower() not in KINDS:
        raise wrong(path, f"a mesh in one of {', '.join(KINDS)} is expected")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of the library, about files that are then refused
        mesh, own = _loaded(path)
    unit = unit or own
    if unit is None:
        raise RequestError(f"{path.name} does not say its unit of length; give it: --unit mm (or in, cm, m)")
    factor = unit_factor(unit, "length")
    if factor is None:
        raise RequestError(f"--unit {unit[:20]}: not a unit of length; use mm, cm, m or in")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        mesh.apply_scale(factor[0])
        _check(path, mesh)
    return mesh


def _loaded(path: Path) -> tuple[Trimesh, str | None]:
    import trimesh

    try:
        size = path.stat().st_size
    except OSError as error:
        raise wrong(path, f"cannot be read: {error.strerror}") from None
    if size > LARGEST:
        raise wrong(
            path, f"{size / 1e6:.0f} MB; at most {LARGEST / 1e6:.0f} MB are read: export it less finely"
        )
    if path.suffix.lower() == ".3mf":
        _check_package(path)
    try:
        scene = trimesh.load_scene(path, file_type=path.suffix[1:].lower())
        mesh = scene.to_mesh()
    except Exception as error:  # whatever the reader of the library meets
        raise wrong(path, f"no mesh can be read from it ({type(error).__name__})") from None
    if not isinstance(mesh, trimesh.Trimesh) or len(mesh.faces) == 0:
        raise wrong(path, "it holds no triangles")
    if len(mesh.faces) > MOST_FACES:
        raise wrong(
            path, f"{len(mesh.faces)} triangles; at most {MOST_FACES} are read: export it less finely"
        )
    if not np.all(np.isfinite(mesh.vertices)):
        raise wrong(path, "it has corners that are no numbers")
    units = scene.units if path.suffix.lower() == ".3mf" else None
    return mesh, OF_3MF.get(str(units).lower()) if units else None


def _check_package(path: Path) -> None:
    """What a 3MF file unpacks to, before it is: its size as the package says (no more is ever unpacked), then
    how many triangles, corners and other elements there are. Raises InputError."""
    try:
        with zipfile.ZipFile(path) as package:
            size = sum(entry.file_size for entry in package.infolist())
            if size > LARGEST_UNPACKED:
                most = LARGEST_UNPACKED / 1e6
                raise wrong(path, f"{size / 1e6:.0f} MB unpacked; at most {most:.0f} MB are read")
            models = [n for n in package.namelist() if n.lower().endswith(".model")]
            counts = [_elements(package, name) for name in models]
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError, RuntimeError, zlib.error) as error:
        if isinstance(error, InputError):
            raise
        raise wrong(path, f"no mesh can be read from it ({type(error).__name__})") from None
    faces, corners, parts, every = (sum(c) for c in zip(*counts, strict=True)) if counts else (0, 0, 0, 0)
    copies = 2 ** min(parts, 40) if parts > 1 else 1  # parts may be made of parts
    if faces * copies > MOST_FACES:
        raise wrong(
            path, f"{faces} triangles in {parts} parts; at most {MOST_FACES} are read, all copies counted"
        )
    if corners > 3 * faces + FEW or every > 2 * (faces + corners) + FEW:
        raise wrong(path, f"it holds {corners} corners and {every} elements for {faces} triangles: no mesh")
    if every > MOST_ELEMENTS:
        raise wrong(
            path,
            f"{faces} triangles and {corners} corners; at most {MOST_ELEMENTS} in all are read from 3MF:"
            " export it less finely, or as STL",
        )


def _elements(package: zipfile.ZipFile, name: str) -> tuple[int, int, int, int]:
    """(triangles, vertices, components, all elements) of a model, counted as it is unpacked."""
    marks = (b"<triangle ", b"<vertex ", b"<component ", b"<")
    found, rest = [0] * len(marks), b""
    with package.open(name) as file:
        while block := file.read(BLOCK):
            text = rest + block
            cut = max(text.rfind(b"<"), 0)
            rest, text = text[cut:][:BLOCK], text[:cut]
            found = [n + text.count(mark) for n, mark in zip(found, marks, strict=True)]
    return tuple(found)  # type: ignore[return-value]


def _check(path: Path, mesh: Trimesh) -> None:
    """Closed, one body, outwards. Raises InputError."""
    import trimesh

    mesh.merge_vertices()
    mesh.update_faces(mesh.nondegenerate_faces())
    if len(mesh.faces) == 0:
        raise wrong(path, "it holds no triangles of any size; is the unit right?")
    if not mesh.is_watertight:
        count = np.bincount(mesh.edges_unique_inverse)
        bad = np.flatnonzero(count != 2)
        place = 1e3 * mesh.vertices[mesh.edges_unique[bad[0]]].mean(axis=0)
        said = ", ".join(f"{v:.1f}" for v in place)
        raise wrong(
            path,
            f"the mesh is not closed: {len(bad)} edges do not have two faces, the first near ({said}) mm;"
            " close it where it was drawn",
        )
    bodies = (
        trimesh.graph.connected_component_labels(mesh.face_adjacency, node_count=len(mesh.faces)).max() + 1
    )
    if bodies > 1:
        raise wrong(path, f"it holds {bodies} bodies; an air column is one, without holes in it")
    if not mesh.is_winding_consistent:
        mesh.fix_normals()
    if mesh.volume < 0.0:
        mesh.invert()
