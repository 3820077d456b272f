"""Measure a variant in a fraction of a second, well enough to rank it.

Computes: of one set, shade and dryness of seats and helm by direct rays from few points; what the vane sees and, by the
    wake sum, keeps of the wind; new cloth; height under it.
Units: shares 0..1; ratios; square metres; metres.
Source: canvas/sky/direct.py, canvas/sky/drops.py, canvas/wind/sector.py, canvas/wind/wake.py.
Limits: every eighth sample point, suns at three heights all round, one wind and one size of drop: differences under
    some 2 % of shade are noise. The wake sum cannot show gains. Upright, no roll.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np

from canvas.air.attitude import way_to
from canvas.air.profile import profile_ratio
from canvas.air.wind import KNOT, wind_from
from canvas.cloth.rigging import Rigging
from canvas.cloth.shape import Formed
from canvas.design.schema.design import BARE, Design
from canvas.geometry.scene import Place, Scene
from canvas.geometry.surface import Floats
from canvas.jobs.cache import key_of
from canvas.sky.direct import traced_light
from canvas.sky.drops import drops
from canvas.wind.sector import sector
from canvas.wind.wake import wake

COVERED = ("port seat", "starboard seat", "helm")
EVERY = 8  # of the sample points
SUN_ALTITUDES_DEG = (30.0, 50.0, 70.0)
ROUND = 12  # suns at each height, and winds
RAIN_AWS, RAIN_RATE, RAIN_HEIGHT = 20.0 * KNOT, 10.0, 2.0  # at the instrument [m/s]; [mm/h]; [m]
COURSES_DEG = (60.0, 90.0, 120.0, 150.0, 180.0)  # apparent wind angles beside close-hauled, both sides

MOST_KNOWN = 64
_KNOWN: dict[str, Floats] = {}


@dataclass(frozen=True, slots=True, kw_only=True)
class Measures:
    """One variant of one set in a few numbers.

    Attributes
    ----------
    shade_share : float
        Of seats and helm, mean over suns at 30, 50 and 70 deg all round.
    dry_share : float
        Of seats and helm, mean over rain from all round at 20 kn.
    clear_share : float
        Of the blade, least over courses: line of sight.
    speed_ratio : float
        Set over bare, least over courses: wake sum, rough.
    cloth_m2 : float
        Of new panels that are up.
    headroom_m : float or None
        Least height of new cloth over the seats and the helm; None where none hangs over them.
    """

    shade_share: float
    dry_share: float
    clear_share: float
    speed_ratio: float
    cloth_m2: float
    headroom_m: float | None

    def named(self, name: str) -> float | None:
        """Return a measure by name."""
        value: float | None = getattr(self, name)
        return value


MEASURES = tuple(one.name for one in fields(Measures))
NOTICED = {  # least differences that mean anything: noise of the shares and the wake sum, a tape's play; project rule
    "shade_share": 0.02, "dry_share": 0.02, "clear_share": 0.02, "speed_ratio": 0.02, "cloth_m2": 0.05,
    "headroom_m": 0.02,
}  # fmt: skip
BETTER_MORE = {name: name != "cloth_m2" for name in MEASURES}


def measure(rigging: Rigging, set_name: str) -> Measures:
    """Return the measures of one set.

    Raises
    ------
    CouldNot
        When a panel has no shape in balance.
    """
    rig = rigging.rig(set_name)
    design = rigging.model.design
    seats = tuple(_thinned(place) for place in rig.scene.places if place.name in COVERED)
    scene = replace(rig.scene, places=seats)
    angles = courses(design)
    left, bare = _left(rig.scene, angles), _left(rigging.rig(BARE).scene, angles)
    return Measures(
        shade_share=shade_share(scene),
        dry_share=dry_share(scene, instrument_height=rigging.model.instrument_height),
        clear_share=float(sector(rig.scene, awa=angles).clear_share.min()),
        speed_ratio=float((left / np.maximum(bare, 1e-9)).min()),
        cloth_m2=new_cloth(rig.formed, design),
        headroom_m=headroom(rig.scene, design),
    )


def courses(design: Design) -> Floats:
    """Return the apparent wind angles (k,) that a vane is judged at, both sides [rad]."""
    ahead = [design.sailing.close_hauled_awa, *np.radians(COURSES_DEG)]
    return np.array([*ahead, *(-angle for angle in ahead[:-1])])


def _left(scene: Scene, angles: Floats) -> Floats:
    """Return what the wake sum leaves at the blade, kept for scenes that come again: the bare boat of each variant."""
    surfaces = [part for one in scene.surfaces for part in (one.kind, one.wind_loss, one.vertices, one.faces)]
    key = key_of(angles, scene.water_z, scene.blade.points, surfaces)
    if key not in _KNOWN:
        if len(_KNOWN) >= MOST_KNOWN:
            _KNOWN.clear()
        _KNOWN[key] = wake(scene, awa=angles).speed_ratio_free
    return _KNOWN[key]


def shade_share(scene: Scene) -> float:
    """Return the share in shade of the scene's places by area, mean over suns all round."""
    bearing = np.tile(2.0 * np.pi * np.arange(ROUND) / ROUND, len(SUN_ALTITUDES_DEG))
    high = np.repeat(np.radians(SUN_ALTITUDES_DEG), ROUND)
    return 1.0 - _mean_lit(scene, traced_light(scene, way_to(bearing, high)).lit)


def dry_share(scene: Scene, *, instrument_height: float) -> float:
    """Return the share of the places' area that no rain reaches, mean over all winds; `instrument_height` in [m]."""
    rain = drops(RAIN_RATE)
    fall = float(np.sum(rain.share * rain.speed))
    wind = RAIN_AWS * float(profile_ratio(RAIN_HEIGHT, reference=instrument_height))
    towards = wind * wind_from(2.0 * np.pi * np.arange(ROUND) / ROUND) + np.array([0.0, 0.0, fall])
    return 1.0 - _mean_lit(scene, traced_light(scene, towards, through="rain").lit)


def _mean_lit(scene: Scene, lit: Floats) -> float:
    areas = np.array([place.area for place in scene.places])
    return float((lit.mean(axis=1) * areas).sum() / areas.sum())


def _thinned(place: Place) -> Place:
    return replace(place, points=place.points[::EVERY], normals=place.normals[::EVERY])


def new_cloth(formed: Formed, design: Design) -> float:
    """Return the area of the new panels of a set as they hang [m2]."""
    new = {panel.name for panel in design.panel if not panel.existing}
    return sum((shape.area() for shape in formed.panels if shape.name in new), start=0.0)


def headroom(scene: Scene, design: Design) -> float | None:
    """Return the least height of new cloth over the seats and the helm [m]; None where none hangs over them."""
    new = {panel.name for panel in design.panel if not panel.existing}
    cloth = [one.vertices for one in scene.of_kind("cloth") if one.panel in new]
    if not cloth:
        return None
    vertices = np.vstack(cloth)
    heights = [_over(place, vertices) for place in scene.places if place.name in COVERED]
    known: Sequence[float] = [height for height in heights if height is not None]
    return min(known) if known else None


def _over(place: Place, vertices: Floats) -> float | None:
    low, high = place.points.min(axis=0), place.points.max(axis=0)
    above = vertices[((vertices[:, :2] >= low[:2]) & (vertices[:, :2] <= high[:2])).all(axis=1)]
    above = above[above[:, 2] > low[2]]
    return float(above[:, 2].min() - low[2]) if len(above) else None
