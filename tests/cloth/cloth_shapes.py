"""Meshes, panels and boats' hoops that the tests of cloth share."""

from __future__ import annotations

import numpy as np

from canvas.cloth.membrane import Membrane, rest_shape
from canvas.cloth.triangulate import triangulate
from canvas.geometry.outline import PanelEdge, PanelOutline

X = np.array([1.0, 0.0, 0.0])


def grid(nx, ny, *, length=1.0, width=1.0):
    """Return a rectangle of alternating triangles, x fastest."""
    x, y = np.linspace(0, length, nx + 1), np.linspace(0, width, ny + 1)
    vertices = np.array([[a, b, 0.0] for b in y for a in x])
    faces = []
    for j in range(ny):
        for i in range(nx):
            a = j * (nx + 1) + i
            b, c, d = a + 1, a + nx + 1, a + nx + 2
            faces += [(a, b, d), (a, d, c)] if (i + j) % 2 == 0 else [(a, b, c), (b, d, c)]
    return vertices, np.array(faces)


def tube(around, along, *, height):
    """Return a tube of radius 1 between two rings, closed round, and which vertices are on the rings."""
    angle = 2 * np.pi * np.arange(around) / around
    rows = np.linspace(-height / 2, height / 2, along + 1)
    half = np.pi / around
    vertices = np.array(
        [[np.cos(t + (j % 2) * half), np.sin(t + (j % 2) * half), z] for j, z in enumerate(rows) for t in angle]
    )
    faces = []
    for j in range(along):
        for i in range(around):
            a, b = j * around + i, j * around + (i + 1) % around
            c, d = a + around, b + around
            faces += [(a, b, c), (b, d, c)] if j % 2 == 0 else [(a, b, d), (a, d, c)]
    number = np.arange(len(vertices))
    return vertices, np.array(faces), (number < around) | (number >= along * around)


def disc(around):
    """Return a flat disc of radius 1 and which vertices are on its rim."""
    angle = 2 * np.pi * np.arange(around) / around
    mesh = triangulate(np.stack([np.cos(angle), np.sin(angle)], axis=1), spacing=2 * np.pi / around)
    vertices = np.column_stack([mesh.points, np.zeros(len(mesh.points))])
    return vertices, mesh.faces, np.arange(len(vertices)) < around


def square(count, side):
    """Return a flat square and which vertices are on its rim."""
    along = np.linspace(0, side, count + 1)[:-1]
    zero, full = np.zeros(count), np.full(count, side)
    rim = np.concatenate(
        [
            np.stack([along, zero], 1),
            np.stack([full, along], 1),
            np.stack([side - along, full], 1),
            np.stack([zero, side - along], 1),
        ]
    )
    mesh = triangulate(rim, spacing=side / count)
    vertices = np.column_stack([mesh.points, np.zeros(len(mesh.points))])
    return vertices, mesh.faces, np.arange(len(vertices)) < len(rim)


def isotropic(count, stiffness, nu):
    """Return warp, weft, cross and shear stiffness of an isotropic sheet."""
    plane = stiffness / (1 - nu**2)
    return np.tile([plane, plane, nu * plane, stiffness / 2 / (1 + nu)], (count, 1))


def sheet(vertices, faces, held, *, stiffness, nu=0.0, prestress=None, **more):
    """Return an isotropic membrane at rest where it is."""
    return Membrane(
        faces=faces,
        rest=rest_shape(vertices, faces, np.tile(X, (len(faces), 1))),
        stiffness=isotropic(len(faces), stiffness, nu),
        held=held,
        prestress=None if prestress is None else np.tile(np.asarray(prestress, dtype=float), (len(faces), 1)),
        **more,
    )


def hoop(x, *, width, height, radius=0.15, foot=1.2):
    """Return a bent tube's line across the boat, port to starboard."""
    turn = np.linspace(0, np.pi / 2, 20)
    port = np.stack(
        [
            np.full(20, x),
            -width / 2 + radius - radius * np.cos(turn),
            foot + height - radius + radius * np.sin(turn),
        ],
        axis=1,
    )
    line = np.vstack([[x, -width / 2, foot], port])
    return np.vstack([line, line[::-1] * np.array([1, -1, 1])])


def straight(start, end):
    """Return a straight line."""
    return np.array([start, end], dtype=float)


def roof(fore, aft, *, hollow=0.04, name="roof", **more):
    """Return a panel between two hoops with hollowed free edges, clockwise seen from above."""
    return PanelOutline(
        name=name,
        cloth="acrylic 300",
        edges=(
            PanelEdge(name="fore", line=fore, kind="held"),
            PanelEdge(name="starboard", line=straight(fore[-1], aft[-1]), kind="free", hollow=hollow),
            PanelEdge(name="aft", line=aft[::-1], kind="held"),
            PanelEdge(name="port", line=straight(aft[0], fore[0]), kind="free", hollow=hollow),
        ),
        **more,
    )
