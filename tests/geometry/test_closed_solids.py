"""Hold the boat's solids to being closed, outward and what their parts add up to, on 200 boats drawn at random."""

from __future__ import annotations

from functools import cache
from itertools import chain, pairwise
from pathlib import Path

import numpy as np
import pytest
from manifold3d import Manifold

from canvas.design.reading import read_design
from canvas.design.schema.design import Design
from canvas.geometry.boat import Part, boat_surfaces, hull_parts, solid_problems
from canvas.geometry.closed import edge_manifold, inside, surface_of, volume
from canvas.geometry.surface import Surface
from tests.geometry.drawn_boats import drawn_boats

EXAMPLES = Path(__file__).parents[2] / "examples"
BOATS = 200
POINTS = 200
VOLUME_SHARE = 1e-6  # 0.1 % is asked; booleans in double precision keep far more
RAYS = np.array([[0.5773, 0.3101, 0.7552], [-0.2113, 0.8841, 0.4167], [0.1371, -0.4229, 0.8958]])


@cache
def _boats() -> tuple[Design, ...]:
    return tuple(drawn_boats(BOATS, seed=20240917))


@cache
def _all_surfaces() -> tuple[tuple[Surface, ...], ...]:
    return tuple(_surfaces(design) for design in _boats())


@cache
def _all_parts() -> tuple[tuple[Part, ...], ...]:
    return tuple(hull_parts(design) for design in _boats())


def _hulls() -> tuple[Surface, ...]:
    return tuple(surfaces[0] for surfaces in _all_surfaces())


def _surfaces(design: Design) -> tuple[Surface, ...]:
    return boat_surfaces(design, at=lambda spot: np.array(spot, dtype=float))


@pytest.mark.property
def test_every_solid_of_200_drawn_boats_is_edge_manifold_and_outward() -> None:
    for surface in chain.from_iterable(_all_surfaces()):
        assert surface.closed
        assert edge_manifold(surface.faces), surface.name
        assert volume(surface.vertices, surface.faces) > 0, surface.name
        assert len(np.unique(surface.faces)) == len(surface.vertices), surface.name


@pytest.mark.property
def test_volume_is_that_of_the_parts_by_inclusion_and_exclusion() -> None:
    for parts, hull in zip(_all_parts(), _hulls(), strict=True):
        expected = sum(sign * solid.volume() for sign, solid in _terms(parts))
        assert volume(hull.vertices, hull.faces) == pytest.approx(expected, rel=VOLUME_SHARE)


def _terms(parts: tuple[Part, ...]) -> list[tuple[int, Manifold]]:
    """Return the signed intersections whose volumes add up to the whole.

    With the indicator of all before it as f and the part's as p, adding gives f + p - f p and cutting f - f p.
    """
    terms: list[tuple[int, Manifold]] = []
    for part in parts:
        common = [(-sign, shared) for sign, solid in terms if not (shared := solid ^ part.solid).is_empty()]
        terms += common + ([(1, part.solid)] if part.does == "adds" else [])
    return terms


@pytest.mark.property
def test_three_rays_agree_on_inside_and_so_do_the_parts() -> None:
    rng = np.random.default_rng(7)
    shares = []
    for design, parts, hull in zip(_boats(), _all_parts(), _hulls(), strict=True):
        points = _points(rng, design, hull)
        crossings = [_crossings(hull, points, direction=ray) for ray in RAYS]
        assert all(np.array_equal(a % 2, b % 2) for a, b in pairwise(crossings))
        member = np.zeros(len(points), dtype=bool)
        for part in parts:
            within = _crossings(surface_of(part.solid, name=part.name, kind="boat"), points, direction=RAYS[0]) % 2 == 1
            member = member | within if part.does == "adds" else member & ~within
        assert np.array_equal(crossings[0] % 2 == 1, member)
        shares.append(member.mean())
    assert 0.2 < np.mean(shares) < 0.8  # the points test both answers


def _points(rng: np.random.Generator, design: Design, hull: Surface) -> np.ndarray:
    """Return half of the points all round the hull, half round the cockpit."""
    low, high = hull.vertices.min(axis=0) - 0.1, hull.vertices.max(axis=0) + 0.1
    wide = max(design.cockpit.port.seat_outer, design.cockpit.starboard.seat_outer) + 0.3
    near = np.array([[-0.6, -wide, -0.2], [design.cockpit.length + 0.3, wide, 1.4]])
    return np.vstack([rng.uniform(low, high, (POINTS // 2, 3)), rng.uniform(*near, (POINTS // 2, 3))])


def _crossings(surface: Surface, points: np.ndarray, *, direction: np.ndarray) -> np.ndarray:
    """Return how often a ray from each point crosses the surface (T. Moeller and B. Trumbore, 1997)."""
    first, one, two = (surface.vertices[surface.faces[:, corner]] for corner in range(3))
    one, two = one - first, two - first
    sideways, upright, normal = np.cross(direction, two), np.cross(one, direction), np.cross(one, two)
    scale = np.einsum("mi,mi->m", one, sideways)
    level = np.abs(scale) < 1e-14  # a face along the ray is crossed by none
    scale = np.where(level, 1.0, scale)
    u, v, far = ((points @ axis.T - np.einsum("mi,mi->m", first, axis)) / scale for axis in (sideways, upright, normal))
    return ((u >= 0) & (v >= 0) & (u + v <= 1) & (far > 0) & ~level).sum(axis=1)


@pytest.mark.property
def test_the_same_boat_has_the_same_vertices_in_the_same_order() -> None:
    for design, hull in list(zip(_boats(), _hulls(), strict=True))[::20]:
        again = _surfaces(design)[0]
        assert again.vertices.tobytes() == hull.vertices.tobytes()
        assert again.faces.tobytes() == hull.faces.tobytes()


@pytest.mark.property
@pytest.mark.parametrize("which", range(0, BOATS, 20))
def test_the_mirrored_boat_is_the_mirror_of_the_boat(which: int) -> None:
    design, hull = _boats()[which], _hulls()[which]
    mirrored = _surfaces(_mirrored(design))[0]
    assert volume(mirrored.vertices, mirrored.faces) == pytest.approx(volume(hull.vertices, hull.faces), rel=1e-9)
    points = _points(np.random.default_rng(which), design, hull)
    assert np.array_equal(inside(hull, points), inside(mirrored, points * [1, -1, 1]))


def _mirrored(design: Design) -> Design:
    hull, cockpit, cabin = design.hull, design.cockpit, design.cabin
    other = hull.deck_edge_port or [(x, -y, z) for x, y, z in hull.deck_edge]
    way = cabin.companionway
    return design.model_copy(
        update={
            "hull": hull.model_copy(
                update={
                    "deck_edge": [(x, -y, z) for x, y, z in other],
                    "deck_edge_port": [(x, -y, z) for x, y, z in hull.deck_edge],
                }
            ),
            "cockpit": cockpit.model_copy(update={"port": cockpit.starboard, "starboard": cockpit.port}),
            "cabin": cabin.model_copy(update={"companionway": way.model_copy(update={"offset": -way.offset})}),
        }
    )


@pytest.mark.property
@pytest.mark.parametrize("name", ["marrowgrass", "oddfellow", "lantern-hill"])
def test_the_examples_are_closed_and_possible(name: str) -> None:
    design = read_design(EXAMPLES / f"{name}.toml").design
    assert solid_problems(design, folder=EXAMPLES) == []
    for surface in boat_surfaces(design, at=lambda spot: np.array(spot, dtype=float), folder=EXAMPLES):
        assert edge_manifold(surface.faces), surface.name
        assert volume(surface.vertices, surface.faces) > 0, surface.name
