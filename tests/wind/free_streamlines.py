"""Potential flow round a disc across the wind with still air of one pressure behind it, within a free sheet.

Units: the disc's radius, the wind and its dynamic pressure are 1; x runs downwind from the disc. The wake's pressure is
-sigma (sigma is its pressure number), so the air has the speed sqrt(1 + sigma) along the sheet.

Method: the disc's face and the sheet are vortex rings, as strong as the air is fast along them, for behind them it is
still. No air passes where the stream function is zero: it is held so in the middle of every straight panel. Unknown are
the strengths on the disc, the sheet's slope (a polynomial that begins along the disc and ends along the wind) and its
length. At the disc's edge the strengths of disc and sheet are the same. The wake has one of two ends:

- closed: the sheet meets the image of disc and sheet (Riabouchinsky);
- open: from the sheet's end a cylinder goes on downwind, along which the pressure rises to the wind's (Roshko).

Source: Brennen, Cavitation and Bubble Dynamics, 1995, chapter 8, for both; Lamb, Hydrodynamics, article 161, for rings.

Limits: steady, no viscosity; sigma is put in, 0.2 to 0.6; of use ahead of a disc, for behind it a real wake mixes.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.polynomial.chebyshev import chebvander
from numpy.typing import NDArray
from scipy.optimize import least_squares
from scipy.special import ellipe, ellipk, roots_legendre

Array = NDArray[np.float64]
POINTS, WEIGHTS = roots_legendre(4)


def stream(x: Array, r: Array, ring_x: Array, ring_r: Array) -> Array:
    """Return the stream function at (x, r) of vortex rings of strength 1."""
    m = 4 * r * ring_r / ((r + ring_r) ** 2 + (x - ring_x) ** 2)
    k = np.sqrt(m)
    return np.sqrt(r * ring_r) / (2 * np.pi) * ((2 / k - k) * ellipk(m) - 2 / k * ellipe(m))


@dataclass
class Panels:
    """Panels from one end to the next, the strength of each, and where a mirror stands, if one does."""

    x: Array
    r: Array
    mirror: float | None = None
    strength: Array | float = 1.0

    def middle(self) -> tuple[Array, Array]:
        return (self.x[1:] + self.x[:-1]) / 2, (self.r[1:] + self.r[:-1]) / 2

    def rings(self, *, image: bool) -> Iterator[tuple[Array, Array, Array]]:
        """Yield x, r and share in each panel's strength of rings in place of the panels, or of their image."""
        x, r = self.middle()
        for point, weight in zip(POINTS / 2, WEIGHTS / 2, strict=True):
            here = x + point * np.diff(self.x)
            length = np.hypot(np.diff(self.x), np.diff(self.r))
            yield 2 * self.mirror - here if image else here, r + point * np.diff(self.r), weight * length

    def influence(self) -> Array:
        """Return the stream function in the middle of each panel (rows) of each at strength 1 (columns)."""
        x, r = (part[:, None] for part in self.middle())
        found = sum(share * stream(x, r, *ring) for *ring, share in self.rings(image=False))
        length = np.hypot(np.diff(self.x), np.diff(self.r))
        np.fill_diagonal(found, r[:, 0] * length / (2 * np.pi) * (np.log(16 * r[:, 0] / length) - 1))
        if self.mirror is not None:
            found += sum(share * stream(x, r, *ring) for *ring, share in self.rings(image=True))
        return found

    def ahead(self, distance: float) -> float:
        """Return the speed on the axis at so many radii ahead of the disc."""
        images = (False,) if self.mirror is None else (False, True)
        rings = [ring for image in images for ring in self.rings(image=image)]
        slowed = (self.strength * share * r**2 / 2 / np.hypot(x + distance, r) ** 3 for x, r, share in rings)
        return 1.0 - float(sum(part.sum() for part in slowed))


def disc_alone(panels: int = 40) -> Panels:
    """Return the flow round a disc with no wake: strengths are of its face and back together."""
    found = Panels(np.zeros(panels + 1), np.sin(np.linspace(0, np.pi / 2, panels + 1)))
    found.strength = np.linalg.solve(found.influence(), found.middle()[1] ** 2 / 2)
    return found


def disc_with_wake(
    sigma: float, *, closed: bool, disc: int = 20, sheet: int = 30, terms: int = 8
) -> tuple[Panels, float, float]:
    """Return the flow's panels, its drag coefficient, and the radius to which the wake widens."""
    speed, edge = np.sqrt(1 + sigma), np.sin(np.linspace(0, np.pi / 2, disc + 1))
    turn = np.linspace(0, np.pi / 2 if closed else np.pi, sheet + 1)
    steps = -np.diff(np.cos(turn)) / (1 - np.cos(turn[-1]))
    along = (turn[1:] + turn[:-1])[:, None] / 2 / turn[-1]
    bends = along * (1 - along) * chebvander(2 * along[:, 0] - 1, terms - 1)
    rising = 0 if closed else 30  # panels of the cylinder of unknown strength, over 15 radii; beyond, it is the wind's
    near, far = 15 * np.linspace(0, 1, rising + 1)[1:] ** 2, 15 + np.cumsum(0.7 * 1.25 ** np.arange(20))
    cylinder = np.array([]) if closed else np.concatenate([near, far])
    unknown = np.r_[:disc, disc + sheet : disc + sheet + rising]

    def flow(shape: Array) -> tuple[Panels, Array]:
        slope = np.pi / 2 * (1 - along[:, 0]) + bends @ shape[:-1]
        x = np.concatenate([np.zeros(disc + 1), np.cumsum(shape[-1] * steps * np.cos(slope))])
        r = np.concatenate([edge, 1 + np.cumsum(shape[-1] * steps * np.sin(slope))])
        end = np.full(cylinder.size, r[-1])
        panels = Panels(np.append(x, x[-1] + cylinder), np.append(r, end), x[-1] if closed else None)
        strength = np.repeat([0.0, speed, 0.0, 1.0], [disc, sheet, rising, cylinder.size - rising])
        matrix, wind = panels.influence(), panels.middle()[1] ** 2 / 2
        strength[unknown] = np.linalg.solve(matrix[np.ix_(unknown, unknown)], (wind - matrix @ strength)[unknown])
        panels.strength = strength
        passing = (wind - matrix @ strength)[disc : disc + sheet]
        at_edge = np.dot([3, -10, 15], strength[disc - 3 : disc]) / 8
        return panels, np.append(passing, at_edge - speed)

    start = np.concatenate([[-1.3], np.zeros(terms - 1), [(1.25 if closed else 0.9) / sigma]])
    panels, missed = flow(least_squares(lambda shape: flow(shape)[1], start, method="lm").x)
    assert np.abs(missed).max() < 0.001
    drag = np.sum((1 + sigma - panels.strength[:disc] ** 2) * np.diff(edge**2))
    return panels, float(drag), float(panels.r[disc + sheet])
