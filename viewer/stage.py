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
from canvas.geometry.surface import Floats, Surface

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
    cloth: tuple[str, ...] = ()


DAY = Scheme(
    name="day", sky="#f4f7f8", water="#cfdfe4", boat="#f6f4ee", solid="#c9c9c4", tube="#5c6670", sail="#ffffff",
    crew="#8d8577", vane="#c22a12", sun="#f5b400", lit="#ffd23f", shaded="#1f4e79",
)  # fmt: skip
NIGHT = Scheme(
    name="night", sky="#120302", water="#1d0604", boat="#4a1710", solid="#3a100b", tube="#7a2a1e", sail="#3a120d",
    crew="#5c1e15", vane="#ff6a4d", sun="#ff7a5c", lit="#ff6f50", shaded="#2a0705",
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
        self._shown: dict[str, Surface] = {}
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
        self.plotter.camera.view_angle = 32.0
        self.plotter.camera.is_set = True

    def show(self, scene: Scene) -> None:
        """Show a scene; surfaces that are there already and have not changed stay."""
        wanted = {surface.name: surface for surface in scene.surfaces}
        for name, old in list(self._shown.items()):
            if not same(wanted.get(name), old):
                self.plotter.remove_actor(f"s:{name}", render=False)
                del self._shown[name]
        for name, surface in wanted.items():
            if name not in self._shown:
                self._add(surface)
                self._shown[name] = surface
        if scene.places is not self._places:
            self._lay_seats(scene.places)
        if self._scene is None:
            self._pour_water(scene.water_z)
        self._scene = scene

    def dress(self, scheme: Scheme) -> None:
        """Change the colours of everything."""
        self.scheme = scheme
        self.plotter.set_background(scheme.sky)
        for name, surface in self._shown.items():
            self.plotter.actors[f"s:{name}"].prop.color = self.colour(surface)
        if "water" in self.plotter.actors:
            self.plotter.actors["water"].prop.color = scheme.water
        if self._seats is not None:
            self.plotter.actors["seats"].mapper.lookup_table.apply_cmap(self._map(), 5)
        for name in ("sun", "path"):
            if name in self.plotter.actors:
                self.plotter.actors[name].prop.color = scheme.sun

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
        middle = MIDDLE + SKY * towards
        if "sun" not in self.plotter.actors:
            ball = pv.Sphere(radius=0.22, theta_resolution=18, phi_resolution=12)
            self.plotter.add_mesh(ball, color=self.scheme.sun, lighting=False, name="sun", render=False, pickable=False)
        self.plotter.actors["sun"].position = tuple(middle)
        self.plotter.actors["sun"].visibility = up
        if len(path) > 1:
            line = pv.lines_from_points(MIDDLE + SKY * path)
            self.plotter.add_mesh(
                line, color=self.scheme.sun, line_width=2, lighting=False, name="path", render=False, pickable=False
            )
        elif "path" in self.plotter.actors:
            self.plotter.remove_actor("path", render=False)

    def pick(self, name: str | None) -> None:
        """Draw the outline of one surface's part in a strong colour, none for None."""
        self.picked = name
        for key, surface in self._shown.items():
            prop = self.plotter.actors[f"s:{key}"].prop
            mine = name is not None and name in (key, surface.panel)
            prop.show_edges = mine
            prop.edge_color = self.scheme.vane

    def surfaces(self) -> tuple[Surface, ...]:
        """Return what is shown, seats, sun and water left out."""
        return tuple(self._shown.values())

    def _add(self, surface: Surface) -> None:
        mesh = pv.PolyData.from_regular_faces(np.array(surface.vertices), np.array(surface.faces))
        opacity = 0.35 if surface.kind == "sail" else 0.55 if surface.sight_through > 0 else 1.0
        self.plotter.add_mesh(
            mesh, color=self.colour(surface), name=f"s:{surface.name}", render=False, opacity=opacity,
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


def same(new: Surface | None, old: Surface) -> bool:
    """Return whether two surfaces are drawn alike."""
    return new is not None and (
        new is old
        or (
            new.panel == old.panel
            and np.array_equal(new.vertices, old.vertices)
            and np.array_equal(new.faces, old.faces)
        )
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
