"""Say in which hours of a passage the vane sees the wind, and in which it has wind enough to steer.

Computes: by way of lying, the share of the blade that sees upwind, the share of the wind's speed left at the blade, and
    the wind at the instrument from which the vane steers with this set.
Units: hours; metres a second; radians; shares 0..1.
Source: line of sight after canvas/wind/sector.py; the wake sum after canvas/wind/wake.py. Lowest steering wind =
    steers_from x what the wake sum leaves with the set the vane was sailed with / what it leaves with this one.
Limits: line of sight is a fact, no verdict. The wake sum is rough and cannot show gains; a mean wind, without gusts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from canvas.air.profile import apparent_at
from canvas.cloth.rigging import Rigging
from canvas.study.sailing import Lying
from canvas.wind.sector import sector
from canvas.wind.wake import wake

SEES = 0.5  # share of the blade that must see upwind for an hour in which it sees the wind; project rule, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class VaneHours:
    """What the vane gets in one way of lying.

    Attributes
    ----------
    lying : Lying
    hours : float
    clear_share : float
        Of the blade, that sees upwind: line of sight.
    left : float
        Share of the wind's speed that the wake sum leaves at the blade.
    lowest_aws : float or None
        Wind at the instrument from which the vane steers with this set, by the wake sum; None where none is left [m/s].
    """

    lying: Lying
    hours: float
    clear_share: float
    left: float
    lowest_aws: float | None

    @property
    def sees(self) -> bool:
        """Whether enough of the blade sees upwind."""
        return self.clear_share >= SEES

    @property
    def steers(self) -> bool:
        """Whether the wind is strong enough for the vane, by the wake sum."""
        return self.lowest_aws is not None and self.lying.aws >= self.lowest_aws


def vane_hours(rigging: Rigging, lyings: Sequence[Lying], *, set_name: str, hours: float) -> tuple[VaneHours, ...]:
    """Return what the vane gets in each way of lying.

    Parameters
    ----------
    rigging : Rigging
    lyings : sequence of Lying
    set_name : str
    hours : float
        Of the leg, shared out among them.
    """
    vane = rigging.model.design.vane
    scene, sailed = (rigging.rig(name).scene for name in (set_name, vane.steers_from_with))
    height = float(scene.blade.points[:, 2].mean()) - scene.water_z
    found = []
    for lying in lyings:
        felt = apparent_at(
            lying.felt,
            height=height,
            instrument_height=rigging.model.instrument_height,
            boat_speed=lying.boat_speed,
        )
        angle = float(felt.angle)
        left = float(wake(scene, awa=angle, heel=lying.heel).speed_ratio_free[0])
        known = float(wake(sailed, awa=angle, heel=lying.heel).speed_ratio_free[0])
        found.append(
            VaneHours(
                lying=lying,
                hours=hours * lying.share,
                clear_share=float(sector(scene, awa=angle, heel=lying.heel).clear_share[0]),
                left=left,
                lowest_aws=vane.steers_from * known / left if left > 1e-6 else None,
            )
        )
    return tuple(found)
