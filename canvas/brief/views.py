"""Draw a scene to scale from above, from starboard and from astern.

Computes: a `Drawing`: canvas tinted by panel over the boat's visible lines, what canvas veils dashed, what is behind
    something solid left out; tubes, crew, the vane's blade, the water, key dimensions, a scale bar, names.
Units: metres; paper in metres too.
Source: parallel projection with exact hidden lines, see `canvas.brief.projection`.
Limits: sails are outlines only; what lies outside the frame round the cockpit is cut off. Where something solid stands
    before canvas the tint ends within a cell of `CELL`; lines are exact.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import shapely

from canvas.brief.dimensions import scale_bar
from canvas.brief.drawing import MM, Area, Drawing, Item, Pen, Stroke, Words, drawing_of
from canvas.brief.frame import Frame, Sheet, sheet_for
from canvas.brief.keylengths import key_dimensions
from canvas.brief.known import Standings
from canvas.brief.labels import Name, named
from canvas.brief.palette import BOAT, CREW, INK, QUIET, SOLID, VANE, WATER, tint
from canvas.brief.projection import (
    LOOKS,
    Lines,
    Look,
    Seen,
    Sight,
    ViewName,
    clipped,
    feature_lines,
    joined,
    loops,
    outline,
    polyline,
)
from canvas.brief.spots import Spot, spot_items
from canvas.geometry.rays import tracer_of
from canvas.geometry.scene import Scene
from canvas.geometry.surface import Bools, Floats, Ints, Surface
from canvas.geometry.tubes import TubeLine

CELL = 0.012  # of the picture that says what stands before what [m]
FAR = 60.0  # from the eye to the boat [m]
PLAIN = ("wheel", "binnacle", "mast", "mizzen", "boom", "mizzen boom", "tiller")  # need no name beside them
VEILED = (0.9 * MM, 0.7 * MM)
TITLES = {"plan": "from above", "profile": "from starboard", "aft": "from astern"}


class Drafter:
    """Draws the scenes of one boat; what does not change between them is worked out once.

    Parameters
    ----------
    frame : Frame
        What is drawn; the same for all sets, so that pictures can be laid over each other.
    sheet : Sheet
        Scale, units and letters.
    tubes : mapping of str to TubeLine
        Middle lines, drawn as thick as the tubes are.
    panels : sequence of str
        All panels of the design, in its order, which decides their tints.
    """

    def __init__(self, *, frame: Frame, sheet: Sheet, tubes: Mapping[str, TubeLine], panels: Sequence[str]) -> None:
        self.frame, self.sheet, self.tubes, self.panels = frame, sheet, tubes, tuple(panels)
        self._outlines: dict[tuple[ViewName, bytes], shapely.Geometry] = {}
        self._depths: dict[tuple[ViewName, tuple[bytes, ...]], tuple[Floats, Ints]] = {}
        self._features: dict[tuple[ViewName, bytes], Lines] = {}
        self._shown: dict[tuple[ViewName, tuple[bytes, ...]], dict[str, shapely.Geometry]] = {}

    def view(
        self, scene: Scene, name: ViewName, *, spots: Sequence[Spot] = (), standings: Standings | None = None
    ) -> Drawing:
        """Return one view of a scene.

        Parameters
        ----------
        scene : Scene
        name : str
            ``plan``, ``profile`` or ``aft``.
        spots : sequence of Spot
        standings : Standings or None
            With them every dimension says how it is known.
        """
        view = _View(scene, LOOKS[name], self, spots=spots)
        items = [*view.water(), *view.solids(), *view.canvas_areas(), *view.sails(), *view.lines(), *view.tubes()]
        sheet = self.sheet
        if sheet.dimensions:
            items += key_dimensions(
                scene, look=view.look, window=view.window, sheet_scale=sheet.scale, units=sheet.units, size=sheet.text,
                standings=standings,
            )  # fmt: skip
        items += view.furniture(items)
        return drawing_of(f"{scene.set_name}, {TITLES[name]}, 1:{sheet.scale}", items)

    def closer(self, points: Floats, *, paper: float) -> Drafter:
        """Return a drafter of what lies round some points, (n, 3) [m], without dimensions, on a width of paper [m]."""
        frame = self.frame.round(points)
        sheet = sheet_for(frame, paper=paper, units=self.sheet.units, text=self.sheet.text, dimensions=False)
        return Drafter(frame=frame, sheet=sheet, tubes=self.tubes, panels=self.panels)

    def outline(self, surface: Surface, look: Look) -> shapely.Geometry:
        """Return the area a surface covers inside the frame."""
        key = (look.name, surface.vertices.tobytes())
        if key not in self._outlines:
            self._outlines[key] = shapely.intersection(outline(surface, look), shapely.box(*self.frame.window(look)))
        return self._outlines[key]

    def depths(self, surfaces: Sequence[Surface], look: Look) -> tuple[Floats, Ints]:
        """Return by cell, (rows, columns), how far from the eye the nearest surface is [m], and which; -1 for none."""
        key = (look.name, tuple(surface.vertices.tobytes() for surface in surfaces))
        if key not in self._depths:
            self._depths[key] = _depths(surfaces, look, self.cells(look))
        return self._depths[key]

    def features(self, surface: Surface, look: Look) -> Lines:
        """Return the feature lines of a surface."""
        key = (look.name, surface.vertices.tobytes())
        if key not in self._features:
            self._features[key] = feature_lines(surface, look)
        return self._features[key]

    def shown(self, surfaces: Sequence[Surface], look: Look) -> dict[str, shapely.Geometry]:
        """Return the part of each solid's area that nothing solid stands before, by name."""
        key = (look.name, tuple(surface.vertices.tobytes() for surface in surfaces))
        if key not in self._shown:
            owner, cells = self.depths(surfaces, look)[1], self.cells(look)
            areas: dict[str, shapely.Geometry] = {}
            for index, surface in enumerate(surfaces):
                shape, mine = self.outline(surface, look), owner == index
                whole = surface.kind == "boat" or mine.sum() * CELL**2 > 0.97 * shape.area
                areas[surface.name] = shape if whole else _kept(shape, mine, cells)
            self._shown[key] = areas
        return self._shown[key]

    def cells(self, look: Look) -> Floats:
        """Return the middles of the cells of the picture, (rows, columns, 2) [m]."""
        low_x, low_y, high_x, high_y = self.frame.window(look)
        right = np.arange(low_x + CELL / 2, high_x, CELL)
        up = np.arange(low_y + CELL / 2, high_y, CELL)
        return np.stack(np.meshgrid(right, up), axis=-1)


def _depths(surfaces: Sequence[Surface], look: Look, cells: Floats) -> tuple[Floats, Ints]:
    far, owner = np.full(cells.shape[:2], np.inf), np.full(cells.shape[:2], -1, dtype=np.int64)
    if not surfaces:
        return far, owner
    spots = look.flat(np.vstack([surface.vertices for surface in surfaces]))
    near = np.all((cells > spots.min(axis=0) - CELL) & (cells < spots.max(axis=0) + CELL), axis=-1)
    flat = cells[near]
    starts = flat[:, :1] * look.right + flat[:, 1:] * look.up + FAR * look.eye
    face, distance = tracer_of(*surfaces).first_hit(starts, np.broadcast_to(-look.eye, starts.shape))
    ends = np.cumsum([len(surface.faces) for surface in surfaces])
    far[near] = distance
    owner[near] = np.where(face < 0, -1, np.searchsorted(ends, face, side="right"))
    return far, owner


class _View:
    """One view in the making: what is shared between its layers."""

    def __init__(self, scene: Scene, look: Look, drafter: Drafter, *, spots: Sequence[Spot]) -> None:
        self.spots = [spot for spot in spots if drafter.frame.holds(spot.at)]
        self.scene, self.look, self.drafter, self.sheet = scene, look, drafter, drafter.sheet
        self.window = drafter.frame.window(look)
        self.solid = [s for s in scene.surfaces if s.kind in ("boat", "solid", "crew", "vane")]
        self.canvas = [s for s in scene.surfaces if s.kind == "cloth"]
        self.sight = Sight(look, solid=self.solid, canvas=self.canvas)
        self.areas = {s.name: drafter.outline(s, look) for s in (*self.solid, *self.canvas)}
        self.cells = drafter.cells(look)
        self.depth, self.owner = drafter.depths(self.solid, look)
        self.shown = drafter.shown(self.solid, look)

    def paper(self, points: Floats) -> Floats:
        """Return places on the paper of places in the view [m]."""
        return points / self.sheet.scale

    def area(self, shape: shapely.Geometry, **style: object) -> list[Item]:
        """Return an area on the paper, nothing for an empty one."""
        rings = tuple(self.paper(ring) for ring in loops(shapely.simplify(shape, 0.05 * MM * self.sheet.scale)))
        return [Area(loops=rings, **style)] if rings else []  # type: ignore[arg-type]

    def stroke(self, pieces: Floats, pen: Pen) -> list[Item]:
        """Return stretches of the view as strokes."""
        lines = clipped(joined(pieces, simpler=0.03 * MM * self.sheet.scale), self.window)
        return [Stroke(lines=tuple(self.paper(line) for line in lines), pen=pen)] if lines else []

    def water(self) -> list[Item]:
        """Return the water below its line."""
        if self.look.name == "plan":
            return []
        low_x, low_y, high_x, _ = self.window
        top = self.scene.water_z
        items = self.area(shapely.box(low_x, low_y, high_x, top), fill=WATER, opacity=0.14)
        line = self.paper(np.array([[low_x, top], [high_x, top]]))
        return [*items, Stroke(lines=(line,), pen=Pen(colour=WATER, width=0.35 * MM))]

    def solids(self) -> list[Item]:
        """Return the areas of boat, solids, crew and blade, as far as they are seen."""
        items: list[Item] = []
        fills = {"boat": BOAT, "solid": SOLID, "crew": CREW, "vane": VANE}
        for surface in sorted(self.solid, key=lambda s: (s.kind != "boat", float((s.vertices @ self.look.eye).mean()))):
            items += self.area(self.shown[surface.name], fill=fills[surface.kind])
        return items

    def canvas_areas(self) -> list[Item]:
        """Return the tinted areas of canvas, farthest first."""
        items: list[Item] = []
        for surface in sorted(self.canvas, key=lambda s: float((s.vertices @ self.look.eye).mean())):
            depth, _ = self.drafter.depths([surface], self.look)
            covered = (self.depth < depth - 0.01) & np.isfinite(depth)
            shape = self.areas[surface.name]
            if covered.any():
                shape = _kept(shape, np.isfinite(depth) & ~covered, self.cells)
            window = surface.name != surface.panel
            colours = tint(surface.panel or "", names=self.drafter.panels)
            items += self.area(shape, fill="#ffffff" if window else colours.fill, opacity=0.6 if window else 0.72)
        return items

    def sails(self) -> list[Item]:
        """Return the sails' outlines."""
        rims = [shapely.boundary(outline(sail, self.look)) for sail in self.scene.of_kind("sail")]
        parts = [np.asarray(part.coords) for rim in rims for part in shapely.get_parts(rim)]
        lines = clipped(parts, self.window)
        pen = Pen(colour="#8a8a8a", width=0.2 * MM, dash=(2.4 * MM, 0.8 * MM, 0.4 * MM, 0.8 * MM))
        return [Stroke(lines=tuple(self.paper(line) for line in lines), pen=pen)] if lines else []

    def lines(self) -> list[Item]:
        """Return the feature lines of everything that has an area."""
        fixed = [self.sight.split(self.drafter.features(surface, self.look)) for surface in self.solid]
        items = self.stroke(_stack(fixed, "veiled"), Pen(colour=QUIET, width=0.14 * MM, dash=VEILED))
        items += self.stroke(_stack(fixed, "seen"), Pen(colour=INK, width=0.2 * MM))
        for surface in self.canvas:
            seen = self.sight.split(self.drafter.features(surface, self.look))
            colour = tint(surface.panel or "", names=self.drafter.panels).line
            items += self.stroke(seen.veiled, Pen(colour=colour, width=0.18 * MM, dash=VEILED))
            items += self.stroke(seen.seen, Pen(colour=colour, width=0.38 * MM))
        return items

    def tubes(self) -> list[Item]:
        """Return tubes and wires as lines, as thick as they are."""
        items: list[Item] = []
        for tube in self.drafter.tubes.values():
            seen = self.sight.split(polyline(tube.line))
            width = max(tube.diameter / self.sheet.scale, 0.3 * MM)
            items += self.stroke(seen.veiled, Pen(colour="#444444", width=0.22 * MM, dash=VEILED))
            if tube.kind == "wire":
                items += self.stroke(seen.seen, Pen(colour="#222222", width=0.3 * MM))
                continue
            rim = self.stroke(seen.seen, Pen(colour="#333333", width=width))
            inner = Pen(colour="#e3e3e3", width=max(width - 0.3 * MM, 0.08 * MM))
            items += [*rim, *(Stroke(lines=one.lines, pen=inner) for one in rim if isinstance(one, Stroke))]
        return items

    def furniture(self, drawn: Sequence[Item]) -> list[Item]:
        """Return the names, the forward arrow and the scale bar."""
        words = [shapely.Polygon(item.corners()) for item in drawn if isinstance(item, Words)]
        low_x, low_y, high_x, high_y = (edge / self.sheet.scale for edge in self.window)
        size = self.sheet.text
        below = min([low_y, *(box.bounds[1] for box in words)]) - 3.2 * size
        items: list[Item] = [*scale_bar(self.sheet.scale, at=(low_x, below), units=self.sheet.units, size=size)]
        if self.look.name != "plan" and self.sheet.dimensions:
            note = "heights of blade and canvas top over the sole, of the sole over the water"
            spot = np.array([low_x, below - 1.5 * size])
            items.append(Words(at=spot, text=note, size=0.75 * size, anchor="start", colour=QUIET))
        side = "starboard" if self.look.name == "aft" else "bow"
        title = f"{TITLES[self.look.name].capitalize()}, {side} to the right"
        above = np.array([low_x, high_y + 3.4 * size])
        items.append(Words(at=above, text=title, size=size, anchor="start", bold=True))
        blade = self._on_paper("vane")
        dots = [shapely.Point(self.paper(self.look.flat(spot.at))) for spot in self.spots]
        keep_off = [*words, blade.buffer(0.5 * MM), *(dot.buffer(0.8 * MM) for dot in dots)]
        room = shapely.box(low_x, low_y, high_x, high_y + 2.4 * size)
        items += spot_items(self.spots, look=self.look, scale=self.sheet.scale)
        return [*items, *named(self._names(), within=room, avoid=keep_off)]

    def _names(self) -> list[Name]:
        size = self.sheet.text
        names = [
            Name(text=spot.text, area=shapely.Point(self.paper(self.look.flat(spot.at))), size=size, bold=True)
            for spot in self.spots
        ]
        if self.spots:  # what is marked matters more than what anyone sees
            return names
        for panel in dict.fromkeys(surface.panel for surface in self.canvas):
            if panel is not None:
                parts = [self.areas[s.name] for s in self.canvas if s.panel == panel]
                colour = tint(panel, names=self.drafter.panels).line
                shape = self._scaled(shapely.union_all(parts))
                if not shape.is_empty:
                    names.append(Name(text=panel, area=shape, colour=colour, size=size, bold=True))
        blade = self._on_paper("vane")
        if not blade.is_empty:
            names.append(Name(text="vane blade", area=blade, colour=VANE, size=size, bold=True))
        if self.look.name != "plan":
            spot = np.array([self.window[0] + 0.25, self.scene.water_z]) / self.sheet.scale
            names.append(Name(text="water", area=shapely.Point(spot), colour=WATER, size=0.85 * size))
        for surface in self.solid:
            shape = self.shown[surface.name]
            if surface.kind in ("solid", "crew") and surface.name not in PLAIN and shape.area > 0.02:
                names.append(
                    Name(
                        text=surface.name.removeprefix("crew "),
                        area=self._scaled(shape),
                        colour="#333333",
                        size=0.8 * size,
                    )
                )
        return names

    def _on_paper(self, kind: str) -> shapely.Geometry:
        return self._scaled(shapely.union_all([self.areas[s.name] for s in self.solid if s.kind == kind]))

    def _scaled(self, shape: shapely.Geometry) -> shapely.Geometry:
        return shapely.transform(shape, self.paper)


def _kept(shape: shapely.Geometry, mask: Bools, cells: Floats) -> shapely.Geometry:
    """Return the part of a shape that lies in the cells of a mask, to within a cell."""
    steps = np.diff(np.pad(mask.astype(np.int8), ((0, 0), (1, 1))), axis=1)
    row, start = np.nonzero(steps == 1)
    stop = np.nonzero(steps == -1)[1] - 1
    if not len(row):
        return shapely.Polygon()
    low, high = cells[row, start] - 0.55 * CELL, cells[row, stop] + 0.55 * CELL
    runs = shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1])
    rough = shapely.simplify(shapely.union_all(runs), 1.1 * CELL).buffer(0.5 * CELL, join_style="mitre")
    return shapely.intersection(rough, shape)


def _stack(parts: Sequence[Seen], which: str) -> Floats:
    return np.vstack([getattr(part, which) for part in parts]) if parts else np.zeros((0, 2, 2))
