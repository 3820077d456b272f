"""Say where a camera sees a point, and how that changes with camera and point.

Computes: pixels from points before the camera, with slopes by every unknown.
Units: pixels; metres before the camera (x right, y down, z ahead).
Source: pinhole with two radial and two tangential terms: D. C. Brown, Photogrammetric Engineering 32 (1966) 444.
Limits: square pixels; fine for phones, not for fish-eyes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from canvas.geometry.surface import Floats, locked

PARAMETERS = 7


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Camera:
    """One camera at one zoom.

    Attributes
    ----------
    values : (7,) ndarray
        Focal length, middle right and down [px]; k1, k2, p1, p2.
    """

    values: Floats

    def __post_init__(self) -> None:
        object.__setattr__(self, "values", locked(self.values))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Projected:
    """Where points are seen.

    Attributes
    ----------
    spots : (n, 2) ndarray
        [px]
    by_point : (n, 2, 3) ndarray
        Slopes by the point before the camera [px/m].
    by_camera : (n, 2, 7) ndarray
        Slopes by the camera's values.
    """

    spots: Floats
    by_point: Floats
    by_camera: Floats


def project(points: Floats, values: Floats) -> Projected:
    """Return where points before cameras are seen.

    Parameters
    ----------
    points : (n, 3) ndarray
        [m]
    values : (n, 7) ndarray
        Of the camera that sees each.
    """
    z = np.maximum(points[:, 2], 1e-3)
    x, y = points[:, 0] / z, points[:, 1] / z
    f, cx, cy, k1, k2, p1, p2 = values.T
    r2 = x**2 + y**2
    radial, slope = 1 + k1 * r2 + k2 * r2**2, k1 + 2 * k2 * r2
    u = x * radial + 2 * p1 * x * y + p2 * (r2 + 2 * x**2)
    v = y * radial + p1 * (r2 + 2 * y**2) + 2 * p2 * x * y
    ux = radial + 2 * slope * x**2 + 2 * p1 * y + 6 * p2 * x
    uy = 2 * slope * x * y + 2 * p1 * x + 2 * p2 * y
    vy = radial + 2 * slope * y**2 + 6 * p1 * y + 2 * p2 * x
    flat = np.zeros((len(points), 2, 2))
    flat[:, 0, 0], flat[:, 0, 1], flat[:, 1, 0], flat[:, 1, 1] = ux, uy, uy, vy  # d v / d x equals d u / d y
    normalised = np.zeros((len(points), 2, 3))
    normalised[:, 0, 0] = normalised[:, 1, 1] = 1 / z
    normalised[:, 0, 2], normalised[:, 1, 2] = -x / z, -y / z
    camera = np.zeros((len(points), 2, PARAMETERS))
    camera[:, 0, 0], camera[:, 1, 0] = u, v
    camera[:, 0, 1] = camera[:, 1, 2] = 1.0
    camera[:, 0, 3], camera[:, 1, 3] = f * x * r2, f * y * r2
    camera[:, 0, 4], camera[:, 1, 4] = f * x * r2**2, f * y * r2**2
    camera[:, 0, 5], camera[:, 1, 5] = 2 * f * x * y, f * (r2 + 2 * y**2)
    camera[:, 0, 6], camera[:, 1, 6] = f * (r2 + 2 * x**2), 2 * f * x * y
    return Projected(
        spots=np.column_stack([f * u + cx, f * v + cy]),
        by_point=f[:, None, None] * (flat @ normalised),
        by_camera=camera,
    )


def spots_of(points: Floats, values: Floats) -> Floats:
    """Return where points before cameras are seen, without slopes, (..., 2) [px].

    Parameters
    ----------
    points : (..., 3) ndarray
        [m]
    values : (..., 7) ndarray
        Of the camera that sees each.
    """
    z = np.maximum(points[..., 2], 1e-3)
    x, y = points[..., 0] / z, points[..., 1] / z
    f, cx, cy, k1, k2, p1, p2 = np.moveaxis(values, -1, 0)
    r2 = x**2 + y**2
    radial = 1 + k1 * r2 + k2 * r2**2
    u = x * radial + 2 * p1 * x * y + p2 * (r2 + 2 * x**2)
    v = y * radial + p1 * (r2 + 2 * y**2) + 2 * p2 * x * y
    return np.stack([f * u + cx, f * v + cy], axis=-1)


def focal_from_squares(corners: Floats, *, middle: Floats) -> float:
    """Return a first focal length from views of squares [px], the picture's middle taken as the camera's.

    Each view gives two equations in 1/f2: both sides are equally long and at right angles (Z. Zhang, IEEE Trans. PAMI
    22 (2000) 1330, equations 3 and 4).

    Parameters
    ----------
    corners : (n, 4, 2) ndarray
        As in `canvas.asbuilt.targets.Seen` [px].
    middle : (n, 2) ndarray
        [px]
    """
    left, right = [], []
    square = np.array([[-1.0, 1.0], [1.0, 1.0], [1.0, -1.0], [-1.0, -1.0]])
    for spots, centre in zip(corners, middle, strict=True):
        matrix = _homography(square, (spots - centre) / 1000.0)
        a, b = matrix[:, 0], matrix[:, 1]
        scale = np.linalg.norm(a[:2]) * np.linalg.norm(b[:2])
        left += [(a[0] * b[0] + a[1] * b[1]) / scale, (a[0] ** 2 + a[1] ** 2 - b[0] ** 2 - b[1] ** 2) / scale]
        right += [-a[2] * b[2] / scale, (b[2] ** 2 - a[2] ** 2) / scale]
    x, y = np.array(left), np.array(right)
    size = np.abs(x)
    guess = 1.0
    for _ in range(30):  # x / f2 = y, with weights against bad views
        rest = x * guess - y
        weight = 1 / np.maximum(np.abs(rest), np.median(np.abs(rest)) + 1e-9)
        top, bottom = float((weight * x * y).sum()), float((weight * x**2).sum())
        guess = max(top / max(bottom, 1e-12), 1e-3) if size.max() > 0 else 1.0
    return 1000.0 / float(np.sqrt(guess))


def _homography(plane: Floats, spots: Floats) -> Floats:
    rows = []
    for (x, y), (u, v) in zip(plane, spots, strict=True):
        rows.append([x, y, 1, 0, 0, 0, -u * x, -u * y, -u])
        rows.append([0, 0, 0, x, y, 1, -v * x, -v * y, -v])
    matrix: Floats = np.linalg.svd(np.array(rows))[2][-1].reshape(3, 3)
    return matrix
