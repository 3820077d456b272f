"""Flat parts sewn and hung from where they lie: a barrel between two arcs comes back, and wrong parts do not."""

from __future__ import annotations

import numpy as np
import pytest

from canvas.cloth.material import SLACK
from canvas.cloth.sewing import FlatPart, Hold, Seam, sew
from tests.cloth.cloth_shapes import grid

RADIUS, HALF, LENGTH = 0.8, np.pi / 3, 1.6
ALONG, ACROSS = 16, 10
SHRUNK = 0.004  # parts are cut smaller by this, so that they are taut when set up


def row(number):
    """Return the vertices of one row along the barrel."""
    return np.arange(number * (ALONG + 1), (number + 1) * (ALONG + 1))


def barrel(*, scale=1.0, longer=0.0, turned=False, astray=None):
    """Sew two strips along the crown and hang them between arcs; return vertices, true places and strains."""
    vertices, faces = grid(ALONG, ACROSS, length=LENGTH, width=RADIUS * HALF)
    flat = vertices[:, :2] * (1 - SHRUNK) * scale
    stretched = flat * np.array([1 + longer / LENGTH, 1.0])
    stuff = np.tile([150e3, 90e3, 9e3, 5e3], (len(faces), 1))
    warp = np.array([0.0, 1.0] if turned else [1.0, 0.0])
    parts = (
        FlatPart(name="port", points=flat, faces=faces, warp=np.array([1.0, 0.0]), stiffness=stuff),
        FlatPart(name="starboard", points=stretched if longer else flat, faces=faces, warp=warp, stiffness=stuff),
    )
    angles = vertices[:, 1] / RADIUS
    true = [
        np.stack([vertices[:, 0], RADIUS * np.sin(angle), RADIUS * np.cos(angle)], axis=1)
        for angle in (angles - HALF, angles)
    ]
    ends = np.flatnonzero((vertices[:, 0] < 1e-9) | (vertices[:, 0] > LENGTH - 1e-9))
    holds = (
        Hold(part=0, vertices=np.union1d(ends, row(0)), places=true[0][np.union1d(ends, row(0))]),
        Hold(part=1, vertices=np.union1d(ends, row(ACROSS)), places=true[1][np.union1d(ends, row(ACROSS))]),
    )
    seam = Seam(first=0, second=1, chain=row(ACROSS), onto=row(0))
    return sew(parts, seams=(seam,), holds=holds, astray=astray), np.concatenate(true)


@pytest.mark.analytic
def test_barrel_comes_back_from_its_flat_parts():
    sewn, true = barrel()
    miss = np.linalg.norm(np.concatenate(sewn.vertices) - true, axis=1)
    assert np.sqrt((miss**2).mean()) <= 5e-3
    assert miss.max() <= 15e-3
    assert not any((state == SLACK).any() for state in sewn.state)
    strain = np.concatenate(sewn.strain)
    assert abs(strain[:, 0].mean() - SHRUNK) <= 2e-3


@pytest.mark.property
def test_end_does_not_depend_on_the_start():
    one, _ = barrel()
    two, _ = barrel(astray=np.array([0.0, 0.03, 0.04]))
    apart = np.concatenate(two.vertices) - np.concatenate(one.vertices)
    assert np.abs(apart).max() <= 1e-3


@pytest.mark.property
def test_parts_cut_wrong_do_not_pass():
    def figures(**wrong):
        sewn, true = barrel(**wrong)
        miss = np.linalg.norm(np.concatenate(sewn.vertices) - true, axis=1)
        slack = np.concatenate(sewn.state) == SLACK
        return np.sqrt((miss**2).mean()), np.concatenate(sewn.strain)[:, 0].mean(), slack.mean()

    rms, strain, _ = figures(scale=0.99)
    assert rms > 5e-3
    assert strain - SHRUNK > 2e-3
    _, strain, _ = figures(scale=1.005)
    assert abs(strain - SHRUNK) > 2e-3


@pytest.mark.property
def test_longer_seam_side_and_turned_grain_change_the_stress():
    def pull(**wrong):
        sewn, _ = barrel(**wrong)
        half = len(sewn.loaded.stress) // 2
        return sewn.loaded.stress[half:, :2].mean(axis=0)

    right = pull()
    assert pull(longer=5e-3)[0] < 0.5 * right[0]
    assert pull(turned=True)[1] < 0.75 * right[0]
