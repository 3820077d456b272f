"""Build the wheel, its binnacle, or the tiller.

Computes: a wheel as a ring of few facets, the binnacle as an upright oval bar, the tiller as a round bar amidships.
Units: metres, radians, boat frame.
Source: geometry.
Limits: no spokes, no compass, no guard (that is a tube); the tiller lies amidships, its sweep is for clearances.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from manifold3d import Manifold

from canvas.design.names import NameProblem
from canvas.design.schema.boat import Tiller, Wheel
from canvas.design.schema.design import Design
from canvas.geometry.closed import bar, solid_of, surface_of
from canvas.geometry.cockpit import sole_height
from canvas.geometry.surface import Floats, Surface

AROUND = 24  # facets round the wheel
RIM_SIDES = 6  # of the rim's section
TILLER = 0.045  # diameter [m]; common practice, no source


def steering_surfaces(design: Design) -> tuple[Surface, ...]:
    """Return wheels, binnacle and tiller, as far as there are any, in this order."""
    steering = design.steering
    several = len(steering.wheels) > 1
    surfaces = [
        surface_of(_wheel(wheel), name=f"wheel {number}" if several else "wheel", kind="solid")
        for number, wheel in enumerate(steering.wheels, start=1)
    ]
    if steering.binnacle is not None:
        foot = np.array(steering.binnacle.at)
        head = foot + np.array([0.0, 0.0, steering.binnacle.height])
        pedestal = bar(foot, head, width=steering.binnacle.width, depth=steering.binnacle.depth)
        surfaces.append(surface_of(pedestal, name="binnacle", kind="solid"))
    if steering.tiller is not None:
        surfaces.append(surface_of(bar(*tiller_axis(steering.tiller), width=TILLER), name="tiller", kind="solid"))
    return tuple(surfaces)


def tiller_axis(tiller: Tiller, *, angle: float = 0.0) -> Floats:
    """Return the tiller's middle line, shape (2, 3): at the rudder head, and its free end [m].

    Parameters
    ----------
    tiller : Tiller
    angle : float
        Off the centreline, positive: free end to starboard [rad].
    """
    rise = tiller.end_height - tiller.head[2]
    level = np.sqrt(tiller.length**2 - rise**2)
    head = np.array(tiller.head)
    reach = np.array([-level * np.cos(angle), level * np.sin(angle), rise])
    return np.array([head, head + reach])


def _wheel(wheel: Wheel) -> Manifold:
    """Return a ring about a fore-and-aft axle, its rim of equal area; `diameter` is over the rim."""
    turn = 2 * np.pi * np.arange(AROUND) / AROUND
    section = 2 * np.pi * np.arange(RIM_SIDES) / RIM_SIDES
    thick = wheel.rim / 2 * np.sqrt(2 * np.pi / (RIM_SIDES * np.sin(2 * np.pi / RIM_SIDES)))
    middle = (wheel.diameter - wheel.rim) / 2
    out = middle + thick * np.cos(section)
    rings = np.stack(
        [
            np.broadcast_to(thick * np.sin(section), (AROUND, RIM_SIDES)),
            np.outer(np.cos(turn), out),
            np.outer(np.sin(turn), out),
        ],
        axis=2,
    )
    here = np.arange(AROUND * RIM_SIDES).reshape(AROUND, RIM_SIDES)
    ahead, beside = np.roll(here, -1, axis=0), np.roll(here, -1, axis=1)
    across = np.roll(ahead, -1, axis=1)
    halves = [(here, ahead, across), (here, across, beside)]
    faces = np.vstack([np.stack([corner.ravel() for corner in half], axis=1) for half in halves])
    return solid_of(rings.reshape(-1, 3) + np.array(wheel.at), faces)


def steering_problems(design: Design) -> Iterator[NameProblem]:
    """Yield what makes the steering impossible."""
    steering = design.steering
    if not steering.wheels and steering.tiller is None:
        yield NameProblem(
            path=("steering",), code="no-steering", found="neither a wheel nor a tiller",
            wanted="Give `wheels` or `tiller`.",
        )  # fmt: skip
    for index, wheel in enumerate(steering.wheels):
        if wheel.rim >= wheel.diameter / 2:
            yield NameProblem(
                path=("steering", "wheels", index, "rim"), code="no-size", found=f"a rim of {wheel.rim:.3f} m",
                wanted="The rim's tube is thinner than half the wheel's radius.",
            )  # fmt: skip
        sole = sole_height(design, x=wheel.at[0])
        if wheel.at[2] - wheel.diameter / 2 < sole:
            yield NameProblem(
                path=("steering", "wheels", index, "at"), code="wheel-through-sole",
                found=f"a wheel that reaches down to z = {wheel.at[2] - wheel.diameter / 2:.3f} m",
                wanted=f"The sole is at {sole:.3f} m there; `at` is the hub.",
            )  # fmt: skip
    tiller = steering.tiller
    if tiller is not None and abs(tiller.end_height - tiller.head[2]) >= 0.95 * tiller.length:
        yield NameProblem(
            path=("steering", "tiller", "end_height"), code="tiller-too-short",
            found=f"a rise of {tiller.end_height - tiller.head[2]:.3f} m on a length of {tiller.length:.3f} m",
            wanted="The tiller is longer than the height between its ends.",
        )  # fmt: skip
