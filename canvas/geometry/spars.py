"""Build masts and booms as round bars.

Computes: mast and boom, mizzen mast and its boom, each a closed solid.
Units: metres, radians, boat frame.
Source: geometry.
Limits: straight and of one diameter; a boom begins at the mast's aft face; the sails on it are surfaces of their own.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from manifold3d import Manifold

from canvas.design.names import NameProblem
from canvas.design.schema.boat import Boom, Mast
from canvas.design.schema.design import Design
from canvas.geometry.cabin import half_width, roof_height
from canvas.geometry.closed import bar, surface_of
from canvas.geometry.hull import deck_edges
from canvas.geometry.surface import Floats, Surface

SUNK = 0.05  # a mast stands this far into deck or roof [m]


def spar_surfaces(design: Design) -> tuple[Surface, ...]:
    """Return mast, boom, mizzen mast and mizzen boom, as far as there are any, in this order."""
    surfaces = []
    for mast, name, boom_name in _masts(design):
        surfaces.append(surface_of(_mast(design, mast), name=name, kind="solid"))
        if mast.boom is not None:
            ends = boom_axis(mast, mast.boom)
            surfaces.append(surface_of(bar(*ends, width=mast.boom.diameter), name=boom_name, kind="solid"))
    return tuple(surfaces)


def boom_axis(mast: Mast, boom: Boom) -> Floats:
    """Return a boom's middle line, shape (2, 3): at the mast's aft face, and its outer end [m].

    The length is measured level, from the mast's aft face.
    """
    foot = np.array([mast.x + mast.radius, 0.0, boom.height + boom.diameter / 2])
    out = boom.length * np.array([np.cos(boom.angle), np.sin(boom.angle), 0.0])
    return np.array([foot, foot + out + [0.0, 0.0, boom.end_height - boom.height]])


def mast_foot(design: Design, mast: Mast) -> float:
    """Return z of deck or roof where a mast stands; of the aft deck behind the well [m]."""
    x, cabin, cockpit = mast.x, design.cabin, design.cockpit
    deck = max(float(edge.height(np.array([x]))[0]) for edge in deck_edges(design.hull))
    if cabin.front <= x <= 0:
        return max(deck, roof_height(cabin, x=x))
    if x >= cockpit.length:
        return cockpit.aft_deck
    return 0.0 if x > 0 else deck


def _mast(design: Design, mast: Mast) -> Manifold:
    foot = mast_foot(design, mast) - SUNK
    return bar(np.array([mast.x, 0.0, foot]), np.array([mast.x, 0.0, mast.top]), width=2 * mast.radius)


def _masts(design: Design) -> Iterator[tuple[Mast, str, str]]:
    yield design.spars.mast, "mast", "boom"
    if design.spars.mizzen is not None:
        yield design.spars.mizzen, "mizzen mast", "mizzen boom"


def spar_problems(design: Design) -> Iterator[NameProblem]:
    """Yield what makes a spar impossible on a hull that is possible."""
    edges = deck_edges(design.hull)
    stem, transom = max(edge.x[0] for edge in edges), min(edge.x[-1] for edge in edges)
    for mast, _, boom_name in _masts(design):
        path = ("spars", "mast" if mast is design.spars.mast else "mizzen")
        if not stem < mast.x < transom:
            yield NameProblem(
                path=(*path, "x"), code="mast-off-the-boat", found=f"x = {mast.x:.3f} m",
                wanted=f"The deck runs from {stem:.3f} to {transom:.3f} m.",
            )  # fmt: skip
            continue
        foot = mast_foot(design, mast)
        if mast.top <= foot + 0.5:
            yield NameProblem(
                path=(*path, "top"), code="no-mast", found=f"z = {mast.top:.3f} m",
                wanted=f"The masthead is at least 0.5 m above the mast's foot at {foot:.3f} m.",
            )  # fmt: skip
        if mast.boom is not None:
            for key, height in (("height", mast.boom.height), ("end_height", mast.boom.end_height)):
                if height + mast.boom.diameter > mast.top:
                    yield NameProblem(
                        path=(*path, "boom", key), code="boom-above-masthead", found=f"z = {height:.3f} m",
                        wanted=f"The masthead is at {mast.top:.3f} m.",
                    )  # fmt: skip
            yield from _low_boom(design, mast, mast.boom, path=(*path, "boom", "height"), name=boom_name)
    mizzen = design.spars.mizzen
    if mizzen is not None and mizzen.x <= design.spars.mast.x:
        yield NameProblem(
            path=("spars", "mizzen", "x"), code="mizzen-before-mast", found=f"x = {mizzen.x:.3f} m",
            wanted=f"The mizzen stands behind the mast, which is at {design.spars.mast.x:.3f} m.",
        )  # fmt: skip


def _low_boom(
    design: Design, mast: Mast, boom: Boom, *, path: tuple[str | int, ...], name: str
) -> Iterator[NameProblem]:
    """Yield a boom that runs through the deckhouse or the deck."""
    ends = boom_axis(mast, boom)
    line = ends[0] + np.linspace(0, 1, 25)[:, None] * (ends[1] - ends[0])
    under = line[:, 2] - boom.diameter / 2
    for (x, y, _), z in zip(line, under, strict=True):
        over_house = design.cabin.front <= x <= 0 and abs(y) <= half_width(design.cabin, x=float(x))
        top = roof_height(design.cabin, x=float(x), y=float(y)) if over_house else design.hull.waterline
        if z < top:
            what = "the roof" if over_house else "the water"
            yield NameProblem(
                path=path, code="boom-too-low", found=f"the {name} at z = {z:.3f} m over x = {x:.3f} m",
                wanted=f"It clears {what}, which is at {top:.3f} m there.",
            )  # fmt: skip
            return
