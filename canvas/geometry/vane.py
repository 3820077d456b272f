"""Place the wind vane's air blade: the points it feels the wind at, and the blade as drawn.

Computes: points of equal area over the blade, leaned to three angles that stand for equal parts of its swing; a
    plate.
Units: metres, radians, boat frame.
Source: geometry. A tilted axis lies fore and aft through the blade's foot with its forward end up by the tilt, so
    that the blade loses incidence as it leans; an upright axis runs up the blade's middle.
Limits: every lean within two thirds of the swing counts alike; the gear below the foot is a solid of the design's
    own.
"""

from __future__ import annotations

import numpy as np

from canvas.design.schema.boat import Vane
from canvas.design.schema.design import Design
from canvas.geometry.closed import box, surface_of
from canvas.geometry.scene import Blade
from canvas.geometry.surface import Floats, Surface

LEANS = 3
ACROSS, ALONG = 5, 20  # points over the blade at each lean
THICK = 0.010  # as drawn [m]


def blade_of(design: Design) -> Blade:
    """Return the air blade."""
    vane = design.vane
    x = vane.width * ((np.arange(ACROSS) + 0.5) / ACROSS - 0.5)
    z = vane.height * (np.arange(ALONG) + 0.5) / ALONG
    flat = np.stack([np.repeat(x, ALONG), np.zeros(ACROSS * ALONG), np.tile(z, ACROSS)], axis=1)
    leans = vane.swing * (2 * np.arange(LEANS) + 1 - LEANS) / LEANS  # middles of equal parts of the swing
    foot = np.array(vane.foot)
    points = np.vstack([foot + flat @ leaned(vane, angle=float(angle)).T for angle in leans])
    return Blade(points=points, foot=foot, height=vane.height, width=vane.width)


def leaned(vane: Vane, *, angle: float) -> Floats:
    """Return the rotation of a blade about its axis, shape (3, 3); positive: the top to starboard.

    Parameters
    ----------
    vane : Vane
    angle : float
        [rad]
    """
    upright = vane.axis == "upright"
    axis = np.array([0.0, 0.0, 1.0] if upright else [-np.cos(vane.axis_tilt), 0.0, np.sin(vane.axis_tilt)])
    cross = np.array([[0.0, -axis[2], axis[1]], [axis[2], 0.0, -axis[0]], [-axis[1], axis[0], 0.0]])
    rotation: Floats = np.eye(3) + np.sin(angle) * cross + (1 - np.cos(angle)) * cross @ cross  # Rodrigues
    return rotation


def vane_surface(design: Design) -> Surface:
    """Return the blade as drawn: a thin closed plate, upright and in line with the boat."""
    vane = design.vane
    middle = np.array(vane.foot) + np.array([0.0, 0.0, vane.height / 2])
    return surface_of(box((vane.width, THICK, vane.height), middle=middle), name="air blade", kind="vane")
