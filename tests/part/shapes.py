"""Runners of known shape, and their meshes as files."""

import numpy as np
import pytest

from aircolumn.part.sweep import tube
from aircolumn.space.centre_line import bent_line
from aircolumn.space.cross_section import CrossSection
from aircolumn.space.passage import Passage

STRAIGHT = bent_line([[0, 0, 0], [0, 0.4, 0]], [])
BENT = bent_line([[0, 0, 0], [0, 0.2, 0], [0.1, 0.2, 0], [0.1, 0.2, 0.3]], [0.06, 0.04])
ROUND, TAPER = ((0.042, 0.042, 0.021),) * 2, ((0.046, 0.046, 0.023), (0.042, 0.042, 0.021))
OVAL = (0.052, 0.032, 0.016), (0.044, 0.030, 0.015)
PORT = (0.044, 0.044, 0.022), (0.052, 0.030, 0.003)
KINDS = {
    "straight": (STRAIGHT, ROUND),
    "bent": (BENT, TAPER),
    "oval tapered": (BENT, OVAL),
    "port to round": (BENT, PORT),
}


def passage(kind):
    line, sides = KINDS[kind]
    return Passage(line, np.array([0.0, line.length]), CrossSection(*np.array(sides).T))


def as_file(solid, path):
    """A solid as an STL or 3MF file, mm."""
    trimesh = pytest.importorskip("trimesh")
    mesh = solid.to_mesh()
    corners = np.asarray(mesh.vert_properties)[:, :3]
    trimesh.Trimesh(corners, np.asarray(mesh.tri_verts)).export(path)
    return path


def air_file(kind, path):
    one = passage(kind)
    return as_file(tube(one, 0.0, one.length), path)
