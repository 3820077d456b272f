"""Snap picked points to a scan: onto its surface, or onto the middle line of the tube they were picked on.

Computes: where picked points come to lie, and which of them were snapped.
Units: metres, boat frame.
Source: nearest surface as in `canvas.asbuilt.cloud`; a tube's middle line is the robust mean of scanned points, each
    put in by the radius.
Limits: a pick farther than `SNAP` from the surface, or in a hole, stays where it was picked. Wires are not snapped to.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from canvas.asbuilt.cloud import Cloud, Nearest, nearest_surface
from canvas.geometry.model import Model
from canvas.geometry.surface import Bools, Floats

SNAP = 0.03  # [m] a pick farther than this from the scan's surface stays where it was picked
REACH = 0.03  # [m] of the surface that a pick is snapped to
ALONG = 0.05  # [m] of a tube that the middle line is taken from
LEAST_ROUND = 8
ROBUST_ROUNDS = 4
LEAST_TUBE = 0.015  # [m] thinner is a wire, whose scanned surface says nothing of its middle
LEAST_SUPPORT = 3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spots:
    """Where picked points come to lie.

    Attributes
    ----------
    places : (n, 3) ndarray
        On the surface; on a tube, on its middle line behind it; where they were picked if there is neither [m].
    near : Nearest
        The surface near each.
    on : (n,) ndarray of bool
        Which were snapped.
    """

    places: Floats
    near: Nearest
    on: Bools


def snapped(model: Model, laid: Floats, names: Sequence[str], cloud: Cloud) -> Spots:
    """Return where picked points come to lie on a scan.

    Parameters
    ----------
    model : Model
    laid : (n, 3) ndarray
        Picked points in the boat's axes [m].
    names : sequence of str
    cloud : Cloud
    """
    near = nearest_surface(cloud, laid, reach=REACH)
    on = (np.linalg.norm(near.feet - laid, axis=1) < SNAP) & (near.support >= LEAST_SUPPORT) & (near.distance < SNAP)
    places = np.where(on[:, None], near.feet, laid)
    tree = cKDTree(cloud.points)
    for k, name in enumerate(names):
        tube = tube_at(model, name)
        inside = None if tube is None else _middle_line(tree, cloud, laid[k], tube)
        if inside is not None:
            places[k], on[k] = inside, True
    return Spots(places=places, near=near, on=on)


def tube_at(model: Model, name: str) -> tuple[float, Floats] | None:
    """Return radius [m] and direction (3,) of the thickest tube that a mark lies on."""
    if name not in model.marks.names:
        return None
    spot = model.marks.at(name)
    found = []
    for tube in model.tubes.values():
        run = np.diff(tube.line, axis=0)
        share = np.clip(((spot - tube.line[:-1]) * run).sum(axis=1) / np.maximum((run**2).sum(axis=1), 1e-12), 0.0, 1.0)
        off = np.linalg.norm(tube.line[:-1] + share[:, None] * run - spot, axis=1)
        k = int(np.argmin(off))
        if off[k] < tube.diameter and tube.diameter > LEAST_TUBE:
            found.append((tube.diameter / 2, run[k] / np.linalg.norm(run[k])))
    return max(found, key=lambda one: one[0], default=None)


def _middle_line(tree: cKDTree, cloud: Cloud, pick: Floats, tube: tuple[float, Floats]) -> Floats | None:
    """Return the spot of a tube's middle line beside a pick: the mean of scanned points, each put in by the radius."""
    radius, along = tube
    rows = np.asarray(tree.query_ball_point(pick, ALONG), dtype=np.int64)
    if not len(rows):
        return None
    away = cloud.points[rows] - pick
    across = np.linalg.norm(away - np.outer(away @ along, along), axis=1)
    rows = rows[(across < 4 * radius) & (np.abs(cloud.normals[rows] @ along) < 0.5)]
    if len(rows) < LEAST_ROUND:
        return None
    inner = cloud.points[rows] - radius * cloud.normals[rows]
    inner = inner - np.outer((inner - pick) @ along, along)
    middle = np.median(inner, axis=0)
    for _ in range(ROBUST_ROUNDS):  # what is not the tube itself, such as the deck beside its foot, falls out
        near = np.linalg.norm(inner - middle, axis=1) < 0.6 * radius
        if near.sum() < LEAST_ROUND:
            return None
        middle = np.average(inner[near], axis=0, weights=cloud.areas[rows][near])
    spot: Floats = middle + along * ((pick - middle) @ along)
    return spot if float(np.linalg.norm(spot - pick)) < SNAP + radius else None
