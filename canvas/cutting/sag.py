"""Say how far flat cloth sags between its seams where the shape asked for is curved both ways.

Computes: the mean Gaussian curvature of a piece from its angle defects, and from it w^2/(8 R) across its widest place.
Units: metres.
Source: discrete Gauss-Bonnet; for gores of a sphere w^2/(8 R) exactly, R = 1/sqrt(K).
Limits: a mean over the piece; cloth curved one way does not sag. Stretch takes some of it up.
"""

from __future__ import annotations

import math

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from canvas.cutting.piece import Piece
from canvas.cutting.rest import outline_edges
from canvas.cutting.split import outline_loop
from canvas.geometry.surface import Floats

STATIONS = 33


def flat_sag(piece: Piece, uv: Floats) -> float:
    """Return how far the flat piece stays off the formed one midway between its sides. [m].

    Parameters
    ----------
    piece : Piece
    uv : (n, 2) ndarray
        The piece laid flat, seams along +u. [m]
    """
    width = widest(shapely.make_valid(Polygon(uv[outline_loop(piece.faces)])))
    return width**2 * math.sqrt(abs(gaussian_curvature(piece))) / 8


def gaussian_curvature(piece: Piece) -> float:
    """Return the mean Gaussian curvature of a piece: angle defects of its inner vertices over their area. [1/m2]."""
    corner = piece.vertices[piece.faces]
    sides = np.roll(corner, -1, axis=1) - corner
    back = np.roll(corner, 1, axis=1) - corner
    cross = np.linalg.norm(np.cross(sides, back), axis=2)
    angle = np.arctan2(cross, np.sum(sides * back, axis=2))
    count = len(piece.vertices)
    defect = 2 * np.pi - np.bincount(piece.faces.ravel(), angle.ravel(), count)
    area = np.bincount(piece.faces.ravel(), np.repeat(cross[:, 0] / 6, 3), count)
    inner = np.setdiff1d(np.unique(piece.faces), outline_edges(piece.faces)[:, 0])
    return float(defect[inner].sum() / area[inner].sum()) if len(inner) else 0.0


def widest(outline: Polygon) -> float:
    """Return the longest stretch across the warp inside an outline. [m]."""
    low_x, low_y, high_x, high_y = outline.bounds
    stations = low_x + (high_x - low_x) * (np.arange(STATIONS) + 0.5) / STATIONS
    lines = [LineString([(x, low_y - 1), (x, high_y + 1)]) for x in stations]
    met = shapely.intersection(outline, lines)
    return max(float(part.length) for piece in met for part in getattr(piece, "geoms", [piece]))
