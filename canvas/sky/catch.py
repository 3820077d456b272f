"""Say what rain a tank could take from the canvas.

Computes: for each filler, the place from which most water can be led to it downhill, litres an hour, length of hose.
Units: metres, litres an hour.
Source: drips by canvas/sky/drips.py.
Limits: in calm, the boat upright; a straight hose; the first water washes salt off and is let go. A filler whose name
    speaks of fuel takes none.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from canvas.geometry.surface import Floats, locked
from canvas.sky.drips import Drips

FALL = 0.05  # least fall of a hose, over its level length
FUEL = ("fuel", "diesel", "petrol", "paraffin", "kerosene")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Catch:
    """Rain led to a filler.

    Attributes
    ----------
    filler : str
    surface : str or None
        The canvas it runs from; None where no water leaves canvas above the filler.
    spot : (3,) ndarray or None
        Where to fix the hose [m].
    litres : float
        [l/h]
    hose : float or None
        [m]
    """

    filler: str
    surface: str | None
    spot: Floats | None
    litres: float
    hose: float | None


def catches(found: Drips, fillers: Mapping[str, Floats]) -> tuple[Catch, ...]:
    """Return what each filler could take; those for fuel are left out.

    Parameters
    ----------
    found : Drips
        Of the canvas in calm.
    fillers : mapping of str to (3,) ndarray
        Where they are [m].
    """
    made = []
    for name, at in fillers.items():
        if any(word in name.lower() for word in FUEL):
            continue
        away = found.spot - at
        level = np.linalg.norm(away[:, :2], axis=1)
        fits = away[:, 2] > FALL * level
        if not fits.any():
            made.append(Catch(filler=name, surface=None, spot=None, litres=0.0, hose=None))
            continue
        best = int(np.argmax(np.where(fits, found.litres, -1.0)))
        made.append(
            Catch(
                filler=name, surface=found.spot_surface[best], spot=locked(found.spot[best]),
                litres=float(found.litres[best]), hose=float(np.linalg.norm(away[best])),
            )
        )  # fmt: skip
    return tuple(made)
