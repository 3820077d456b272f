"""Check how much of a day's light canvas keeps off each solar panel.

Computes: the share of the energy of clear days that canvas takes from each solar panel, mean over the passage's legs.
Units: shares 0..1.
Source: clear sky and sun as in canvas/sky/sun.py; Lambert's cosine law; an even sky; project rule for the limit.
Limits: on every heading alike, upright boat; light thrown back from sea and cloth left out; a share of light, not of
    power: a shadow over one cell can cost far more.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from functools import lru_cache

import numpy as np

from canvas.design.schema.boat import Solid
from canvas.design.schema.voyage import Passage
from canvas.design.tables import default_entry
from canvas.fit.ask import Ask
from canvas.fit.near import spread
from canvas.fit.result import CheckResult, Picture, judged
from canvas.geometry.scene import Place
from canvas.geometry.surface import Floats, Surface
from canvas.geometry.triangles import area_vectors
from canvas.jobs.shelf import from_shelf
from canvas.sky.casters import Caster, casters_of, lifted, what_passes
from canvas.sky.direct import traced_bits
from canvas.sky.instants import mean_solar_times
from canvas.sky.sun import clear_sky, sun_directions, sun_positions

KIND = "solar panels"
HEADINGS = 12
SKY = 160  # directions of the sky
SPACING = 0.10  # between points of a panel [m]
YEAR = 2026
WITHOUT_PASSAGE = ((0.3, 3), (0.3, 9))  # latitude [rad] and month where no passage is given


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Light:
    """Directions that light comes from, and how much of a day's comes from each square to it."""

    directions: Floats
    energy: Floats


def examine(ask: Ask) -> list[CheckResult]:
    """Return the share of light lost by each solar panel."""
    known = {surface.name: surface for surface in ask.scene.of_kind("solid")}
    panels = [solid for solid in ask.design.solid if solid.power is not None and solid.name in known]
    return [_one(ask, solid, known[solid.name]) for solid in panels]


def _one(ask: Ask, solid: Solid, surface: Surface) -> CheckResult:
    place, shelf = _upper_side(surface), ask.rigging.shelf
    light = from_shelf(shelf, _light, _legs(ask.design.passage))
    found = from_shelf(shelf, _falling, casters_of(replace(ask.scene, places=(place,))), place, light)
    boat = 1.0 - found.without / found.free
    rule = default_entry("solar_loss")
    watts = f" of {solid.power:.0f} W" if solid.power is not None else ""
    return judged(
        f"solar energy lost, {solid.name}", kind=KIND, value=1.0 - found.here / max(found.without, 1e-9), unit="share",
        limit=rule.value, sense="at most",
        note=f"Canvas's share of the light on the panel{watts}; boat and sails take {100 * boat:.0f} % besides.",
        source=rule.source, picture=Picture(points=place.points),
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Falling:
    """Light on a panel with nothing in the way, without canvas, and as it is, in the same measure."""

    free: float
    without: float
    here: float


def _falling(casters: tuple[Caster, ...], place: Place, light: _Light) -> _Falling:
    bare = place.normals @ light.directions.T
    met = traced_bits(casters, lifted((place,)), light.directions, normals=place.normals)
    shares = np.array([one.light for one in casters])
    falls = np.maximum(bare, 0.0) * light.energy
    fixed = [k for k, one in enumerate(casters) if one.panel is None]
    return _Falling(
        free=float(falls.sum()),
        without=float((falls * what_passes(met[fixed], shares[fixed])).sum()),
        here=float((falls * what_passes(met, shares)).sum()),
    )


def _upper_side(surface: Surface) -> Place:
    """Return points over the faces of a panel that look most upward."""
    corners = surface.vertices[surface.faces]
    normal = area_vectors(corners)
    area = np.linalg.norm(normal, axis=1)
    up = normal[:, 2] / np.maximum(area, 1e-12)
    top = up > up.max() - 0.02
    points, face = spread(corners[top], spacing=SPACING)
    middle = points.mean(axis=0)
    unit = normal[top] / area[top][:, None]
    return Place(name=surface.name, points=middle + 0.98 * (points - middle), normals=unit[face],
                 area=float(area[top].sum()))  # fmt: skip


def _legs(passage: Passage | None) -> tuple[tuple[float, int], ...]:
    if passage is None:
        return WITHOUT_PASSAGE
    return tuple(sorted({((leg.start_latitude + leg.end_latitude) / 2, leg.month) for leg in passage.legs}))


@lru_cache(maxsize=8)
def _light(legs: tuple[tuple[float, int], ...]) -> _Light:
    """Return the light of clear days, beam by hour and heading, and the sky evenly."""
    ways, energies, diffuse = [], [], 0.0
    for latitude, month in legs:
        day = date(YEAR, month, 15)
        sun = sun_positions(mean_solar_times(day, day), latitude=latitude, longitude=0.0)
        sky = clear_sky(sun)
        diffuse += float(sky.diffuse.sum())
        for heading in 2 * np.pi * np.arange(HEADINGS) / HEADINGS:
            ways.append(sun_directions(sun, heading=heading)[sun.up])
            energies.append(sky.beam[sun.up] / HEADINGS)
    number = np.arange(SKY) + 0.5
    height, turn = number / SKY, np.pi * (1 + 5**0.5) * number  # golden spiral over the upper half sphere
    level = np.sqrt(1 - height**2)
    dome = np.c_[level * np.cos(turn), level * np.sin(turn), height]
    ways.append(dome)
    energies.append(np.full(SKY, 2 * diffuse / SKY))  # an even sky of radiance E / pi over 2 pi
    return _Light(directions=np.vstack(ways), energy=np.concatenate(energies))
