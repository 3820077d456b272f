"""Set the boat on the stage: what the browser draws in three dimensions.

Computes: pyvista meshes of surfaces, seats, sun and its path; colours by scheme.
Units: metres, boat frame.
Source: colours of canvas/brief/palette.py, chosen to part for the colour-blind.
Limits: seats are drawn as one small square for each sample point; the sky is drawn at arm's length of the boat.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pyvista as pv
from matplotlib.colors import ListedColormap

from canvas.brief.palette import tint
from canvas.geometry.scene import Place, Scene
from canvas.geometry.surface import Bools, Floats, Surface

SEAT_LIFT = 0.012  # squares are drawn this much above what they lie on [m]
SKY = 5.2  # radius at which the sun is drawn [m]
MIDDLE = np.array([1.3, 0.0, 0.9])  # what the camera turns about [m]
EYE = np.array([8.6, 5.2, 4.6])  # where it stands at first [m]
WATER = 16.0  # half length of the water drawn [m]


@dataclass(frozen=True, slots=True, kw_only=True)
class Scheme:
    """Colours of the stage."""

    name: str
    sky: str
    water: str
    boat: str
    solid: str
    tube: str
    sail: str
    crew: str
    vane: str
    sun: str
    lit: str
    shaded: str
    seen: str
    hid: str
    over: str
    cloth: tuple[str, ...] = ()


DAY = Scheme(
    name="day", sky="#f4f7f8", water="#cfdfe4", boat="#f6f4ee", solid="#c9c9c4", tube="#5c6670", sail="#ffffff",
    crew="#8d8577", vane="#c22a12", sun="#f5b400", lit="#ffd23f", shaded="#1f4e79",
    seen="#0b7a75", hid="#3a2a20", over="#8a1c7c",
)  # fmt: skip
NIGHT = Scheme(
    name="night", sky="#120302", water="#1d0604", boat="#4a1710", solid="#3a100b", tube="#7a2a1e", sail="#3a120d",
    crew="#5c1e15", vane="#ff6a4d", sun="#ff7a5c", lit="#ff6f50", shaded="#2a0705",
    seen="#ffc2b0", hid="#7a1408", over="#ffb199",
    cloth=("#8a2f22", "#6d2218", "#9c3b2c", "#7b2a1f"),
)  # fmt: skip
SCHEMES = {scheme.name: scheme for scheme in (DAY, NIGHT)}


class Stage:
    """The three-dimensional picture.

    Parameters
    ----------
    panels : sequence of str
        All panels of the design, for their tints.
    """

    def __init__(self, panels: Sequence[str]) -> None:
        self.plotter = pv.Plotter(off_screen=True)
        self.panels = list(panels)
        self.scheme = DAY
        self._shown: dict[str, tuple[Surface, ...]] = {}
        self._path: Floats = np.zeros((0, 3))
        self._seats: pv.PolyData | None = None
        self._places: tuple[Place, ...] = ()
        self._scene: Scene | None = None
        self.picked: str | None = None
        self.home()

    def home(self, *, eye: Floats = EYE, at: Floats = MIDDLE) -> None:
        """Put the camera somewhere."""
        self.plotter.camera.position = tuple(eye)
        self.plotter.camera.focal_point = tuple(at)
        self.plotter.camera.up = (0.0, 0.0, 1.0)
        self.plotter.camera.view_angle = 25.0
        self.plotter.camera.is_set = True

    def show(self, scene: Scene) -> None:
        """Show a scene; what is there already and has not changed stays."""
        wanted = groups(scene)
        for key, old in list(self._shown.items()):
            if not alike(wanted.get(key, ()), old):
                self.plotter.remove_actor(f"s:{key}", render=False)
                del self._shown[key]
        for key, surfaces in wanted.items():
            if key not in self._shown:
                self._add(key, surfaces)
                self._shown[key] = surfaces
        if not _same_places(scene.places, self._places):
            self._lay_seats(scene.places)
        if self._scene is None:
            self._pour_water(scene.water_z)
        self._scene = scene
        self.pick(self.picked)

    def dress(self, scheme: Scheme) -> None:
        """Change the colours of everything."""
        self.scheme = scheme
        self.plotter.set_background(scheme.sky)
        for key, surfaces in self._shown.items():
            self.plotter.actors[f"s:{key}"].prop.color = self.colour(surfaces[0])
        if "water" in self.plotter.actors:
            self.plotter.actors["water"].prop.color = scheme.water
        if self._seats is not None:
            self.plotter.actors["seats"].mapper.lookup_table.apply_cmap(self._map(), 5)
        named = {
            "sun": scheme.sun, "path": scheme.sun, "wind": scheme.tube, "blade seen": scheme.seen,
            "blade hid": scheme.hid, "picked": scheme.vane, "pins": scheme.vane, "streams": scheme.seen,
            "over": scheme.over,
        }  # fmt: skip
        for name, colour in named.items():
            if name in self.plotter.actors:
                self.plotter.actors[name].prop.color = colour

    def light(self, points: Floats) -> None:
        """Colour the seats by the light that reaches each sample point."""
        if self._seats is not None:
            self._seats.cell_data["light"][:] = points
            self._seats.cell_data.GetArray("light").Modified()
            self._seats.Modified()

    def sun(self, towards: Floats, *, up: bool, path: Floats) -> None:
        """Draw the sun and its path of the day.

        Parameters
        ----------
        towards : (3,) ndarray
            Unit vector to the sun, boat frame.
        up : bool
            Whether it is above the horizon.
        path : (n, 3) ndarray
            Unit vectors over the day.
        """
        if "sun" not in self.plotter.actors:
            ball = pv.Sphere(radius=0.22, theta_resolution=18, phi_resolution=12)
            self.plotter.add_mesh(ball, color=self.scheme.sun, lighting=False, name="sun", render=False, pickable=False)
        self.plotter.actors["sun"].position = tuple(MIDDLE + SKY * towards)
        self.plotter.actors["sun"].visibility = up
        if np.array_equal(path, self._path):
            return
        self._path = path
        self.plotter.remove_actor("path", render=False)
        if len(path) > 1:
            line = pv.lines_from_points(MIDDLE + SKY * path)
            self.plotter.add_mesh(
                line, color=self.scheme.sun, line_width=2, lighting=False, name="path", render=False, pickable=False
            )

    def copy_camera(self, other: Stage) -> None:
        """Stand where the camera of another stage stands."""
        self.plotter.camera.DeepCopy(other.plotter.camera)
        self.plotter.camera.is_set = True

    def wind(self, upwind: Floats, blade: Floats, clear: Bools) -> None:
        """Draw the apparent wind as an arrow to the blade, and the blade's points by whether the wind sees them.

        Parameters
        ----------
        upwind : (3,) ndarray
            Unit vector to where it comes from, boat frame.
        blade : (n, 3) ndarray
            Points of the blade [m].
        clear : (n,) ndarray of bool
        """
        middle = blade.mean(axis=0)
        if "wind" not in self.plotter.actors:
            arrow = pv.Arrow(start=(-1.6, 0, 0), direction=(1, 0, 0), scale=1.2, tip_radius=0.09, shaft_radius=0.03)
            self._add_quiet(arrow, "wind", self.scheme.tube)
        turn = np.degrees(np.arctan2(-upwind[1], -upwind[0]))
        self.plotter.actors["wind"].position = tuple(middle)
        self.plotter.actors["wind"].orientation = (0.0, 0.0, float(turn))
        for name, which, colour in (("blade seen", clear, self.scheme.seen), ("blade hid", ~clear, self.scheme.hid)):
            self.plotter.remove_actor(name, render=False)
            if which.any():
                self._add_quiet(crosses(blade[which]), name, colour)

    def streams(self, lines: Sequence[Floats]) -> None:
        """Draw paths of the air; none for none.

        Parameters
        ----------
        lines : sequence of (k, 3) ndarray
            [m]
        """
        self.plotter.remove_actor("streams", render=False)
        drawn = [pv.lines_from_points(line) for line in lines if len(line) > 1]
        if drawn:
            self._add_quiet(pv.merge(drawn) if len(drawn) > 1 else drawn[0], "streams", self.scheme.seen)

    def pin(self, points: Floats) -> None:
        """Mark points in the picture; none for none."""
        self.plotter.remove_actor("pins", render=False)
        if len(points):
            self._add_quiet(crosses(points[:: max(1, len(points) // 60)], arm=0.05), "pins", self.scheme.vane)

    def lay_over(self, scene: Scene | None) -> None:
        """Draw the canvas of another set as a net over what is shown; none for None."""
        self.plotter.remove_actor("over", render=False)
        canvas = scene.of_kind("cloth") if scene is not None else ()
        if canvas:
            self.plotter.add_mesh(
                joined(canvas), color=self.scheme.over, style="wireframe", line_width=1, lighting=False, name="over",
                render=False, pickable=False,
            )  # fmt: skip

    def points_of(self, name: str | None) -> Floats:
        """Return the corners of a surface, or of all surfaces of a panel, that is shown."""
        mine = [one.vertices for one in self.surfaces() if name is not None and name in (one.name, one.panel)]
        return np.vstack(mine) if mine else np.zeros((0, 3))

    def _add_quiet(self, mesh: pv.PolyData, name: str, colour: str) -> None:
        self.plotter.add_mesh(mesh, color=colour, lighting=False, name=name, render=False, pickable=False, line_width=3)

    def pick(self, name: str | None, *, down: tuple[Surface, ...] = ()) -> None:
        """Draw one surface, or all of a panel, as a net in a strong colour; none for None.

        Parameters
        ----------
        name : str or None
        down : tuple of Surface
            What to draw where nothing of that name is up.
        """
        self.picked = name
        self.plotter.remove_actor("picked", render=False)
        mine = [one for one in self.surfaces() if name is not None and name in (one.name, one.panel)] or list(down)
        if mine:
            self.plotter.add_mesh(
                joined(mine), color=self.scheme.vane, style="wireframe", line_width=2, lighting=False, name="picked",
                render=False, pickable=False,
            )  # fmt: skip

    def surfaces(self) -> tuple[Surface, ...]:
        """Return what is shown, seats, sun and water left out."""
        return tuple(surface for surfaces in self._shown.values() for surface in surfaces)

    def _add(self, key: str, surfaces: tuple[Surface, ...]) -> None:
        first = surfaces[0]
        opacity = 0.35 if first.kind == "sail" else 0.55 if first.sight_through > 0 else 1.0
        self.plotter.add_mesh(
            joined(surfaces), color=self.colour(first), name=f"s:{key}", render=False, opacity=opacity,
            smooth_shading=False, ambient=0.25, diffuse=0.8,
        )  # fmt: skip

    def colour(self, surface: Surface) -> str:
        """Return the colour of a surface in the scheme shown."""
        if surface.kind == "cloth":
            name = surface.panel or surface.name
            if self.scheme.cloth:
                at = self.panels.index(name) if name in self.panels else 0
                return self.scheme.cloth[at % len(self.scheme.cloth)]
            return tint(name, names=self.panels).fill
        return str(getattr(self.scheme, surface.kind))

    def _map(self) -> ListedColormap:
        low, high = (np.array(pv.Color(one).float_rgb) for one in (self.scheme.shaded, self.scheme.lit))
        return ListedColormap([tuple(low + share * (high - low)) for share in np.linspace(0, 1, 5)])

    def _lay_seats(self, places: tuple[Place, ...]) -> None:
        self._places = places
        corners, faces = squares(places)
        mesh = pv.PolyData.from_regular_faces(corners, faces)
        mesh.cell_data["light"] = np.zeros(len(faces), dtype=np.float32)
        self._seats = mesh
        self.plotter.add_mesh(
            mesh, scalars="light", clim=(0.0, 1.0), cmap=self._map(), n_colors=5, lighting=False, name="seats",
            show_scalar_bar=False, render=False, copy_mesh=False,
        )  # fmt: skip

    def _pour_water(self, height: float) -> None:
        plane = pv.Plane(center=(0, 0, height), direction=(0, 0, 1), i_size=2 * WATER, j_size=2 * WATER)
        self.plotter.add_mesh(
            plane, color=self.scheme.water, name="water", lighting=False, render=False, pickable=False, opacity=0.6
        )


def crosses(points: Floats, *, arm: float = 0.018) -> pv.PolyData:
    """Return a small upright diamond at each point, seen from both sides."""
    ring = arm * np.array([[1, 0, 0], [0, 0, 1], [-1, 0, 0], [0, 0, -1], [0, 1, 0], [0, 0, 1], [0, -1, 0], [0, 0, -1]])
    corners = (points[:, None, :] + ring).reshape(-1, 3)
    return pv.PolyData.from_regular_faces(corners, np.arange(len(corners)).reshape(-1, 4))


def groups(scene: Scene) -> dict[str, tuple[Surface, ...]]:
    """Return what is drawn as one thing each: every sheet of cloth by itself, all else by what it is."""
    found: dict[str, tuple[Surface, ...]] = {}
    for surface in scene.surfaces:
        key = surface.name if surface.kind == "cloth" else f"all {surface.kind}"
        found[key] = (*found.get(key, ()), surface)
    return found


def joined(surfaces: Sequence[Surface]) -> pv.PolyData:
    """Return several surfaces as one mesh."""
    offsets = np.cumsum([0, *(len(one.vertices) for one in surfaces)])
    faces = [one.faces + offset for one, offset in zip(surfaces, offsets, strict=False)]
    return pv.PolyData.from_regular_faces(np.vstack([one.vertices for one in surfaces]), np.vstack(faces))


def alike(new: tuple[Surface, ...], old: tuple[Surface, ...]) -> bool:
    """Return whether two groups are drawn alike."""
    return len(new) == len(old) and all(
        a is b or (a.panel == b.panel and np.array_equal(a.vertices, b.vertices) and np.array_equal(a.faces, b.faces))
        for a, b in zip(new, old, strict=True)
    )


def _same_places(new: tuple[Place, ...], old: tuple[Place, ...]) -> bool:
    return len(new) == len(old) and all(
        a is b or (a.area == b.area and np.array_equal(a.points, b.points)) for a, b in zip(new, old, strict=True)
    )


def squares(places: Sequence[Place]) -> tuple[Floats, Floats]:
    """Return one level square for each sample point, of the area that it stands for; heads get none of their own.

    Returns
    -------
    corners : (4n, 3) ndarray
    faces : (n, 4) ndarray of int
    """
    blocks = []
    for place in places:
        drawn = not place.name.endswith(", heads")
        half = 0.6 * np.sqrt(place.area / len(place.points)) if drawn else 0.0
        ring = half * np.array([[-1, -1, 0], [1, -1, 0], [1, 1, 0], [-1, 1, 0]])
        blocks.append((place.points + SEAT_LIFT * place.normals)[:, None, :] + ring)
    corners = np.concatenate(blocks).reshape(-1, 3)
    return corners, np.arange(len(corners)).reshape(-1, 4)
