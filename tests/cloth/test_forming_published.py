"""Forming against minimal surfaces, force-density nets and scalloped edges."""

from __future__ import annotations

import numpy as np
import pytest

from canvas.cloth.banded import Links
from canvas.cloth.net import Cable, Rod, Tensioned
from canvas.cloth.tensioned import balance
from tests.cloth.cloth_shapes import grid, tube

TENSION = 50.0


def value(rows, case, quantity, which=""):
    """Return one value of the table."""
    found = [r["value"] for r in rows if r["case"] == case and r["quantity"] == quantity and which in r["parameters"]]
    assert len(found) == 1
    return found[0]


def film(around, height):
    """Return a soap film of even tension between two rings of radius 1."""
    vertices, faces, held = tube(around, around // 4, height=height)
    net = Tensioned(
        vertices=vertices,
        faces=faces,
        held=held,
        stress=np.full((len(faces), 2), TENSION),
        warp=np.tile([0.0, 0.0, 1.0], (len(faces), 1)),
    )
    found = balance(net)
    waist = np.abs(vertices[:, 2]) < 1e-9
    return found, float(np.linalg.norm(found.vertices[waist, :2], axis=1).mean()), faces


@pytest.mark.published
@pytest.mark.parametrize("height", [0.5, 1.0, 1.2])
def test_catenoid(published, height):
    table = published("cloth/form_finding")
    found, radius, faces = film(48, height)
    share = table.tolerance("value")
    case = f"catenoid_{height}"
    wanted = value(table.rows, case, "waist_radius")
    assert abs(radius - wanted) <= share * wanted
    corner = found.vertices[faces]
    area = np.linalg.norm(np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]), axis=1).sum() / 2
    assert abs(area - value(table.rows, case, "area")) <= share * area
    assert np.abs(found.stress[:, :2] - TENSION).max() <= 0.02 * TENSION
    assert np.abs(found.stress[:, 2]).max() <= 0.02 * TENSION


@pytest.mark.analytic
def test_catenoid_error_falls_with_the_mesh():
    exact = 0.8483379
    errors = [abs(film(around, 1.0)[1] - exact) for around in (24, 48, 96)]
    assert errors[0] > 2.5 * errors[1] > 6.25 * errors[2]


@pytest.mark.published
def test_hyperbolic_paraboloid_by_equal_force_densities(published):
    table = published("cloth/form_finding")
    vertices, faces = grid(12, 8, length=3.0, width=2.0)
    x, y = vertices[:, 0] / 3, vertices[:, 1] / 2
    held = (x < 1e-9) | (x > 1 - 1e-9) | (y < 1e-9) | (y > 1 - 1e-9)
    vertices[held, 2] = (0.6 * (x * (1 - y) + y * (1 - x)))[held]
    pairs = [(a, a + 1) for a in range(len(vertices)) if (a + 1) % 13] + [
        (a, a + 13) for a in range(len(vertices) - 13)
    ]
    system = Links(np.array(pairs), held)
    still = np.zeros_like(vertices)
    found = system.solve(np.full(len(pairs), 7.0), vertices, extra=np.zeros(len(vertices)), load=still)
    share = table.tolerance("value")
    for quantity, where in (("centre_height", (1.5, 1.0)), ("height", (0.75, 0.5))):
        wanted = value(table.rows, "hypar1", quantity)
        at = int(np.argmin(np.linalg.norm(found[:, :2] - where, axis=1)))
        assert np.linalg.norm(found[at, :2] - where) < 1e-9
        assert abs(found[at, 2] - wanted) <= share * wanted
    corner = found[faces]
    area = np.linalg.norm(np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]), axis=1).sum() / 2
    assert abs(area - value(table.rows, "hypar1", "area")) <= share * area


@pytest.mark.published
def test_one_free_node(published):
    table = published("cloth/form_finding")
    share = table.tolerance("value")
    corners = np.array([[-1, -1, 0], [1, -1, 0], [1, 1, 0], [-1, 1, 0], [0, 0, 0]], dtype=float)
    held = np.arange(5) < 4
    links = np.array([[0, 4], [1, 4], [2, 4], [3, 4]])
    load = np.zeros((5, 3))
    load[4, 2] = -20.0
    found = Links(links, held).solve(np.full(4, 50.0), corners, extra=np.zeros(5), load=load)
    wanted = value(table.rows, "fdm_single", "node_height")
    assert abs(found[4, 2] - wanted) <= share * abs(wanted)
    force = value(table.rows, "fdm_single", "cable_force")
    assert abs(50.0 * np.linalg.norm(found[4] - found[0]) - force) <= share * force
    corners = np.array([[0, 0, 0], [1, 0, 0], [1, 1, 1], [0, 1, 0], [0, 0, 0]], dtype=float)
    weights = np.array([1.0, 2.0, 3.0, 4.0])
    found = Links(links, held).solve(weights, corners, extra=np.zeros(5), load=np.zeros((5, 3)))
    for axis, quantity in enumerate("xyz"):
        wanted = value(table.rows, "fdm_weighted", quantity)
        assert abs(found[4, axis] - wanted) <= share * wanted


@pytest.mark.published
def test_scalloped_edge(published):
    table = published("cloth/form_finding")
    share = table.tolerance("value")
    vertices, faces = grid(40, 16, length=2.5, width=1.0)
    free = (vertices[:, 1] < 1e-9) & (vertices[:, 0] > 1e-9) & (vertices[:, 0] < 2.5 - 1e-9)
    sides = (vertices[:, 0] < 1e-9) | (vertices[:, 0] > 2.5 - 1e-9) | (vertices[:, 1] > 1 - 1e-9)
    reach = 0.6 * vertices[:, 0] * (2.5 - vertices[:, 0]) / 2.5**2
    vertices[:, 1] += np.where(sides, 0.0, reach * (1 - vertices[:, 1]))
    cable = Cable(name="edge", vertices=np.arange(41), force=2000.0, hollow=0.15)
    net = Tensioned(
        vertices=vertices,
        faces=faces,
        held=~free & sides,
        stress=np.full((len(faces), 2), 400.0),
        warp=np.tile([1.0, 0.0, 0.0], (len(faces), 1)),
        cables=(cable,),
    )
    found = balance(net)
    assert abs(found.hollows[0] - 0.15) <= 2e-3 * 0.15 + 2e-4
    force = value(table.rows, "edge_arc", "rope_force")
    assert abs(found.cable_forces[0] - force) <= share * force
    length = np.linalg.norm(np.diff(found.vertices[:41], axis=0), axis=1).sum()
    assert abs(length - value(table.rows, "edge_arc", "rope_length")) <= 0.1 * share * length


@pytest.mark.analytic
def test_rod_bends_as_a_beam():
    vertices, faces = grid(10, 40, length=0.5, width=2.0)
    right = np.flatnonzero(vertices[:, 0] > 0.5 - 1e-9)
    held = (vertices[:, 0] < 1e-9) | (vertices[:, 1] < 1e-9) | (vertices[:, 1] > 2 - 1e-9)
    net = Tensioned(
        vertices=vertices,
        faces=faces,
        held=held,
        stress=np.tile([60.0, 60.0], (len(faces), 1)),
        warp=np.tile([1.0, 0.0, 0.0], (len(faces), 1)),
        rods=(Rod(vertices=right, bending=700.0),),
    )
    found = balance(net)
    bow = 0.5 - found.vertices[right, 0].min()
    assert bow == pytest.approx(5 * 60 * 2.0**4 / (384 * 700.0), rel=0.01)
