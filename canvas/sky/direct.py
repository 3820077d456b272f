"""Trace the light on each place from single directions, with no map between.

Computes: by place, the share of its area lit from a direction with limits, the light that falls on it, and how much
    each panel keeps off, by itself and alone.
Units: metres, boat frame; shares 0..1.
Source: any-hit rays (canvas/geometry/rays.py).
Limits: a point sun, so no penumbra (the sun's half degree blurs an edge by 9 mm a metre).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from canvas.geometry.panorama import GRAZING
from canvas.geometry.rays import Tracer
from canvas.geometry.scene import Scene
from canvas.geometry.surface import Bools, Floats
from canvas.sky.casters import Caster, Through, casters_of, lifted, normals_of, what_passes
from canvas.sky.dome import ENOUGH, EVEN, ONE_POINT, PlaceLight
from canvas.sky.samples import group_means, groups_of, slices_of, standard_error


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Traced:
    """Light on each place from some directions, and what each panel does.

    Attributes
    ----------
    light : PlaceLight
    panels : tuple of str
        The panels of the scene, in its order.
    keeps_off : (k, p, m) ndarray
        Share of each place's area that a panel would shade were it up by itself with the boat bare.
    only_it : (k, p, m) ndarray
        Share that turns sunlit when this panel alone is taken down.
    """

    light: PlaceLight
    panels: tuple[str, ...]
    keeps_off: Floats
    only_it: Floats


def traced_light(scene: Scene, directions: npt.ArrayLike, *, through: Through = "light") -> PlaceLight:
    """Trace the light on each place of a scene.

    Parameters
    ----------
    scene : Scene
    directions : array_like, shape (m, 3)
        Towards the light, boat frame.
    through : str
        What has to pass: ``light``, ``uv``, ``rain`` or ``sight``.
    """
    rays = _rays(scene, directions)
    return _place_light(scene, rays.lit(rays.casters, through), rays.cosine)


def traced_panels(scene: Scene, directions: npt.ArrayLike) -> Traced:
    """Trace the light on each place from `directions`, and what each panel does; arguments as in `traced_light`."""
    rays = _rays(scene, directions)
    panels = tuple(dict.fromkeys(caster.panel for caster in rays.casters if caster.panel is not None))
    now, open_deck = rays.lit(rays.casters), rays.lit([one for one in rays.casters if one.panel is None])
    rows = slices_of(scene.places)

    def by_place(values: Floats) -> Floats:
        return np.stack([values[where].mean(axis=0) for where in rows])

    alone = [by_place(open_deck - rays.lit([c for c in rays.casters if c.panel in (None, one)])) for one in panels]
    only = [by_place(rays.lit([c for c in rays.casters if c.panel != one]) - now) for one in panels]
    shape = (0, len(rows), now.shape[1])
    return Traced(
        light=_place_light(scene, now, rays.cosine),
        panels=panels,
        keeps_off=np.stack(alone) if panels else np.zeros(shape),
        only_it=np.stack(only) if panels else np.zeros(shape),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Rays:
    """What stands in the way of the rays on a scene's places.

    Attributes
    ----------
    casters : tuple of Caster, length s
    met : (s, n, m) ndarray of bool
    cosine : (n, m) ndarray
        Between each ray and the place's normal.
    """

    casters: tuple[Caster, ...]
    met: Bools
    cosine: Floats

    def lit(self, casters: Sequence[Caster], through: Through = "light") -> Floats:
        """Return what some casters let through, (n, m)."""
        keep = [k for k, one in enumerate(self.casters) if one in casters]
        shares = np.array([self.casters[k].passes(through) for k in keep])
        return np.asarray(what_passes(self.met[keep], shares) * (self.cosine > GRAZING))


def _rays(scene: Scene, directions: npt.ArrayLike) -> _Rays:
    towards = np.atleast_2d(np.asarray(directions, dtype=float))
    towards = towards / np.linalg.norm(towards, axis=1, keepdims=True)
    casters = casters_of(scene)
    normals = normals_of(scene.places)
    met = traced_bits(casters, lifted(scene.places), towards, normals=normals)
    return _Rays(casters=casters, met=met, cosine=normals @ towards.T)


def traced_bits(casters: tuple[Caster, ...], points: Floats, directions: Floats, *, normals: Floats) -> Bools:
    """Return whether each caster stands in the way of each ray, (s, n, m); behind the first (solid) none is.

    Parameters
    ----------
    casters : tuple of Caster, length s
        The solid one first.
    points : (n, 3) ndarray
        [m]
    directions : (m, 3) ndarray
        Unit vectors, boat frame.
    normals : (n, 3) ndarray
        Of the areas that the points lie on; into them nothing is traced.
    """
    rays = _Asked(points, directions, normals)
    solid, *rest = (_stopped(caster.tracer(), rays) for caster in casters)
    return np.stack([solid, *(one & ~solid for one in rest)])


class _Asked:
    """Rays that are asked about: the same where all numbers are."""

    def __init__(self, points: Floats, directions: Floats, normals: Floats) -> None:
        self.points, self.directions, self.normals = points, directions, normals
        self._numbers = b"".join(part.tobytes() for part in (points, directions, normals))

    def __eq__(self, other: object) -> bool:
        """Return whether all numbers are the same."""
        return isinstance(other, _Asked) and self._numbers == other._numbers

    def __hash__(self) -> int:
        """Return the same for the same rays."""
        return hash(self._numbers)


@lru_cache(maxsize=64)  # in set after set the same things stand in the same rays on those aboard
def _stopped(tracer: Tracer, rays: _Asked) -> Bools:
    met = tracer.occluded_grid(rays.points, rays.directions, normals=rays.normals)
    met.setflags(write=False)
    return met


def _place_light(scene: Scene, lit: Floats, cosine: Floats) -> PlaceLight:
    shares, margins, fluxes = [], [], []
    for place, where in zip(scene.places, slices_of(scene.places), strict=True):
        one = lit[where]
        means = group_means(one, groups_of([place]))
        error = EVEN * standard_error(means)
        shares.append(means[-1])
        margins.append(ENOUGH * error + ONE_POINT / len(one))
        fluxes.append((one * np.maximum(cosine[where], 0.0)).mean(axis=0))
    share, margin = np.stack(shares), np.stack(margins)
    return PlaceLight(
        names=tuple(place.name for place in scene.places),
        lit=share,
        low=np.clip(share - margin, 0.0, 1.0),
        high=np.clip(share + margin, 0.0, 1.0),
        flux=np.stack(fluxes),
    )
