"""Plot air speed on upright planes through the vane's blade, over what the planes cut of the boat and canvas.

Computes: figures, and the lines in which meshes meet a plane; the same numbers give the same bytes.
Units: metres; speeds as shares of the undisturbed wind at the blade.
Source: matplotlib; the cut of a triangle by a plane is a straight line between two of its sides.
Limits: mean speed only; white, and said so, inside bodies and where no air was worked out.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.figure import Figure

from canvas.brief.figures import PAGE, Room, laid_out, styled
from canvas.brief.markup import sided
from canvas.brief.palette import INK, SERIES
from canvas.geometry.scene import Scene
from canvas.geometry.surface import Floats

if TYPE_CHECKING:
    from canvas.brief.answer import Answer
    from canvas.wind.flow.outcome import Outcome, Slice

FULL = 1.4  # speed at the end of the colours
STEPS = 15
AXIS = "way along the plane from the blade [m]\ncanvas vermilion, blade olive"
WHITE = "; white: bodies, or not worked out"


def slices(told: Outcome, scene: Scene, *, title: str = "", width: float = PAGE) -> Figure:
    """Return air speed on the two planes through the blade, with the wind and across it.

    Parameters
    ----------
    told : Outcome
    scene : Scene
        The boat and canvas that stood in the wind.
    title : str
        Set and wind angle, said above.
    width : float
        On paper [m].
    """
    with styled():
        room = Room(
            left=0.011, right=0.004, top=0.010, bottom=0.016, across=0.0, down=0.014, plot=0.5 * (width - 0.015)
        )
        figure, plots = laid_out(width=width, rows=2, columns=1, room=room)
        for axes, part, said in zip(plots, (told.along, told.across), ("with the wind", "across it"), strict=True):
            along, height = _axes(part)
            colours = axes.contourf(
                along, height, np.clip(part.speed, 0.0, FULL), levels=np.linspace(0.0, FULL, STEPS), cmap="viridis"
            )
            for surface in scene.surfaces:
                for line in cut_by(surface.vertices[surface.faces], part):
                    colour = SERIES[2] if surface.kind == "cloth" else INK
                    axes.plot(line[:, 0], line[:, 1], color=colour, linewidth=1.2 if surface.kind == "cloth" else 0.7)
            blade = _on(scene.blade.points, part)
            axes.plot([blade[:, 0].mean()] * 2, [blade[:, 1].min(), blade[:, 1].max()], color=SERIES[5], linewidth=2.4)
            axes.set_aspect("equal")
            axes.set_xlim(along.min(), along.max())
            axes.set_ylim(height.min(), height.max())
            axes.set_title(f"{title}, {said}" if title else said)
            axes.set_ylabel("height [m]")
            axes.figure.colorbar(colours, ax=axes, shrink=0.8, label="speed over free wind")
        unknown = any(np.isnan(part.speed).any() for part in (told.along, told.across))
        plots[-1].set_xlabel(AXIS + WHITE if unknown else AXIS)
    return figure


def air_slices(answer: Answer) -> Iterator[tuple[tuple[str, str], str, Figure]]:
    """Yield the words of a file's name, the title and the figure of each set and angle that an answer by flow kept."""
    for name, found in answer.results.items():
        for awa, told in found.outcomes.items():
            title = f"{name}, wind at {sided(np.degrees(awa))}°"
            slot = f"{np.degrees(awa):+04.0f}".replace("+", "starboard ").replace("-", "port ")
            figure = slices(told, answer.rigging.rig(name).scene, title=title)
            yield (name, slot), f"Air speed through the blade: {title}", figure


def _axes(part: Slice) -> tuple[Floats, Floats]:
    """Return the way along a plane from its middle, and height over the sole, of its points."""
    flat = _on(part.points.reshape(-1, 3), part)
    return flat[: part.points.shape[1], 0], flat[:: part.points.shape[1], 1]


def _on(points: Floats, part: Slice) -> Floats:
    """Return points of the boat frame as way along a plane and height (n, 2)."""
    first, middle = _frame(part)
    return np.stack([(points - middle) @ first, points[:, 2]], axis=1)


def _frame(part: Slice) -> tuple[Floats, Floats]:
    rows, columns, _ = part.points.shape
    way = part.points[0, -1] - part.points[0, 0]
    return way / np.linalg.norm(way), part.points[rows // 2, columns // 2]


def cut_by(corners: Floats, part: Slice) -> Sequence[Floats]:
    """Return the lines (2, 2) in which triangles (`corners`, (n, 3, 3)) meet the upright plane of a slice [m]."""
    first, middle = _frame(part)
    normal = np.cross(first, [0.0, 0.0, 1.0])
    off = (corners - middle) @ (normal / np.linalg.norm(normal))
    found = []
    for triangle, away in zip(corners, off, strict=True):
        if away.min() > 0.0 or away.max() < 0.0:
            continue
        ends = [
            triangle[i] + away[i] / (away[i] - away[j]) * (triangle[j] - triangle[i])
            for i, j in ((0, 1), (1, 2), (2, 0))
            if away[i] * away[j] < 0.0
        ]
        if len(ends) == 2:
            found.append(_on(np.array(ends), part))
    return found
