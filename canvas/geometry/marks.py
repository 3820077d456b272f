"""Give every spot of a design its place: a mark, typed in or adjusted from readings, or bare coordinates.

Computes: a function from spot to point that the builders of tubes, solids and panels share.
Units: metres, boat frame.
Source: the survey for marks left to it.
Limits: names have been checked by `canvas.design.names`. Marks count to a micrometre: processors differ in the last
    bits of an adjusted survey, and a mesh over places that so differ may be divided another way.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from canvas.design.schema.base import Vector
from canvas.geometry.surface import Floats
from canvas.jobs.cache import placed
from canvas.survey.marks import Marks

Locate = Callable[[Vector | str], Floats]


def locator(marks: Marks) -> Locate:
    """Return the function that gives a spot of the design its place.

    Parameters
    ----------
    marks : Marks
        All marks of the design.

    Returns
    -------
    callable
        From a mark's name or three coordinates [m] to an array of shape (3,) [m].
    """

    def locate(spot: Vector | str) -> Floats:
        return placed(marks.at(spot)) if isinstance(spot, str) else np.array(spot, dtype=float)

    return locate
