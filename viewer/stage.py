"""Set the boat on the stage: what the browser draws in three dimensions.

Computes: colours by scheme; what changed since it was last sent: things made anew, or only light, places and points.
Units: metres, boat frame.
Source: colours of canvas/brief/palette.py, chosen to part for the colour-blind.
Limits: the sky is drawn at arm's length of the boat. What is there changes its mesh and is not made anew.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pyvista as pv
from matplotlib.colors import ListedColormap

from canvas.brief.palette import tint
from canvas.geometry.scene import Place, Scene
from canvas.geometry.surface import Bools, Floats, Surface
from viewer.drawn import alike, crosses, drawn_points, groups, joined, path_points, same_places, squares
from viewer.sights import VIEW_ANGLE_DEG

SKY = 5.2  # radius at which the sun is drawn [m]
MIDDLE = np.array([1.3, 0.0, 0.9])  # what the sun goes round [m]
PLACES = ("position", "orientation")
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
    name="night", sky="#120302", water="#1d0604", boat="#662217", solid="#4d170f", tube="#8d3324", sail="#3a120d",
    crew="#7a2a1e", vane="#ff6a4d", sun="#ff7a5c", lit="#ff6f50", shaded="#2a0705",
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

    Attributes
    ----------
    made : bool
        Whether anything was made, unmade or given another mesh or colour since the picture was last sent.
    moved : dict of str to dict
        By thing, what else changed since: ``values`` (bytes, 0..255 of the range of its colours, a face each),
        ``position``, ``orientation`` [deg], ``visible``, ``points`` (bytes of float32).
    """

    def __init__(self, panels: Sequence[str]) -> None:
        self.plotter = pv.Plotter(off_screen=True)
        self.panels = list(panels)
        self.scheme = DAY
        self._shown: dict[str, tuple[Surface, ...]] = {}
        self._path: Floats = np.zeros((0, 3))
        self._places: tuple[Place, ...] = ()
        self._drawn: Bools = np.zeros(0, dtype=bool)
        self._blade: Floats = np.zeros((0, 3))
        self._scene: Scene | None = None
        self._unmade: list[Any] = []
        self._coloured: dict[str, pv.PolyData] = {}
        self.picked: str | None = None
        self.made = True
        self.moved: dict[str, dict[str, Any]] = {}

    def home(self, *, eye: Floats, at: Floats) -> None:
        """Put the camera somewhere."""
        self.plotter.camera.position = tuple(eye)
        self.plotter.camera.focal_point = tuple(at)
        self.plotter.camera.up = (0.0, 0.0, 1.0)
        self.plotter.camera.view_angle = VIEW_ANGLE_DEG
        self.plotter.camera.is_set = True

    def sent(self) -> None:
        """Take note that the browsers have the picture as it is now."""
        self.made = False
        self.moved = {}
        self._unmade.clear()

    def standing(self) -> dict[str, dict[str, Any]]:
        """Return where everything stands that can be moved, hidden and coloured, as `moved` has it."""
        found: dict[str, dict[str, Any]] = {name: {"values": _bytes(mesh)} for name, mesh in self._coloured.items()}
        for name in ("sun", "wind", "path"):
            actor = self.plotter.actors.get(name)
            if actor is not None:
                found[name] = {"visible": bool(actor.visibility)}
                if name == "path":
                    found[name]["points"] = np.asarray(actor.mapper.dataset.points, dtype=np.float32).tobytes()
                else:
                    found[name] |= {key: [float(one) for one in getattr(actor, key)] for key in PLACES}
        return found

    def show(self, scene: Scene) -> None:
        """Show a scene; what is there already and has not changed stays."""
        wanted = groups(scene)
        for key in [key for key in self._shown if key not in wanted]:
            self._unmake(f"s:{key}")
            del self._shown[key]
        for key, surfaces in wanted.items():
            if not alike(surfaces, self._shown.get(key, ())):
                self._add(key, surfaces)
                self._shown[key] = surfaces
        if not same_places(scene.places, self._places):
            self._lay_seats(scene.places)
        if self._scene is None:
            self._pour_water(scene.water_z)
        self._scene = scene
        self.pick(self.picked)

    def dress(self, scheme: Scheme) -> None:
        """Change the colours of everything."""
        self.scheme, self.made = scheme, True
        self.plotter.set_background(scheme.sky)
        for key, surfaces in self._shown.items():
            self.plotter.actors[f"s:{key}"].prop.color = self.colour(surfaces[0])
        for name, colours in (("seats", self._map()), ("blade", self._sight_map())):
            if name in self.plotter.actors:
                self.plotter.actors[name].mapper.lookup_table.apply_cmap(colours, colours.N)
        named = {
            "sun": scheme.sun, "path": scheme.sun, "wind": scheme.tube, "picked": scheme.vane, "pins": scheme.vane,
            "streams": scheme.seen, "over": scheme.over, "water": scheme.water,
        }  # fmt: skip
        for name, colour in named.items():
            if name in self.plotter.actors:
                self.plotter.actors[name].prop.color = colour

    def light(self, points: Floats) -> None:
        """Colour the seats by the light that reaches each sample point."""
        self._paint("seats", points[self._drawn])

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
            self._make("sun", ball, color=self.scheme.sun)
        self._move("sun", position=MIDDLE + SKY * towards)
        self._see("sun", visible=up)
        if np.array_equal(path, self._path):
            return
        self._path = path
        if len(path) > 1:
            spots = path_points(MIDDLE + SKY * path)
            if "path" in self.plotter.actors:
                spots = np.ascontiguousarray(spots, dtype=np.float32)
                self.plotter.actors["path"].mapper.dataset.points = spots
                self.moved.setdefault("path", {})["points"] = spots.tobytes()
            else:
                self._make("path", pv.lines_from_points(spots.astype(np.float32)), color=self.scheme.sun, line_width=2)
        if "path" in self.plotter.actors:
            self._see("path", visible=len(path) > 1)

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
        if "wind" not in self.plotter.actors:
            arrow = pv.Arrow(start=(-1.6, 0, 0), direction=(1, 0, 0), scale=1.2, tip_radius=0.09, shaft_radius=0.03)
            self._make("wind", arrow, color=self.scheme.tube, line_width=3)
        turn = float(np.degrees(np.arctan2(-upwind[1], -upwind[0])))
        self._move("wind", position=blade.mean(axis=0), orientation=np.array([0.0, 0.0, turn]))
        if not np.array_equal(blade, self._blade):
            self._blade = blade
            self._make_coloured("blade", crosses(blade), self._sight_map())
        self._paint("blade", np.repeat(clear.astype(np.float32), 2))

    def streams(self, lines: Sequence[Floats]) -> None:
        """Draw paths of the air; none for none.

        Parameters
        ----------
        lines : sequence of (k, 3) ndarray
            [m]
        """
        drawn = [pv.lines_from_points(line) for line in lines if len(line) > 1]
        mesh = pv.merge(drawn) if len(drawn) > 1 else drawn[0] if drawn else None
        self._make_or_not("streams", mesh, self.scheme.seen)

    def pin(self, points: Floats) -> None:
        """Mark points in the picture; none for none."""
        few = points[:: max(1, len(points) // 60)]
        self._make_or_not("pins", crosses(few, arm=0.05) if len(few) else None, self.scheme.vane)

    def lay_over(self, scene: Scene | None) -> None:
        """Draw the canvas of another set as a net over what is shown; none for None."""
        canvas = scene.of_kind("cloth") if scene is not None else ()
        self._make_or_not("over", joined(canvas) if canvas else None, self.scheme.over, style="wireframe", line_width=1)

    def points_of(self, name: str | None) -> Floats:
        """Return the corners of a surface, or of all surfaces of a panel, that is shown."""
        mine = [one.vertices for one in self.surfaces() if name is not None and name in (one.name, one.panel)]
        return np.vstack(mine) if mine else np.zeros((0, 3))

    def pick(self, name: str | None, *, down: tuple[Surface, ...] = (), only: pv.PolyData | None = None) -> None:
        """Draw one surface, or all of a panel, as a net in a strong colour; none for None.

        Parameters
        ----------
        name : str or None
        down : tuple of Surface
            What to draw where nothing of that name is up.
        only : PolyData, optional
            The part of it that is drawn.
        """
        self.picked = name
        mine = [one for one in self.surfaces() if name is not None and name in (one.name, one.panel)] or list(down)
        net = only if only is not None else joined(mine) if mine else None
        self._make_or_not("picked", net, self.scheme.vane, style="wireframe", line_width=2)

    def surfaces(self) -> tuple[Surface, ...]:
        """Return what is shown, seats, sun and water left out."""
        return tuple(surface for surfaces in self._shown.values() for surface in surfaces)

    def colour(self, surface: Surface) -> str:
        """Return the colour of a surface in the scheme shown."""
        if surface.kind == "cloth":
            name = surface.panel or surface.name
            if self.scheme.cloth:
                at = self.panels.index(name) if name in self.panels else 0
                return self.scheme.cloth[at % len(self.scheme.cloth)]
            return tint(name, names=self.panels).fill
        return str(getattr(self.scheme, surface.kind))

    def _make(self, name: str, mesh: pv.PolyData, **looks: Any) -> None:
        """Make a thing, or give one that is there another mesh; what belongs to it in the browser stays the same."""
        self.made = True
        if name in self.plotter.actors:
            self.plotter.actors[name].mapper.dataset.shallow_copy(mesh)
            return
        looks = {"lighting": False, "pickable": False, **looks}
        self.plotter.add_mesh(mesh, name=name, render=False, **looks)

    def _make_or_not(self, name: str, mesh: pv.PolyData | None, colour: str, **looks: Any) -> None:
        if mesh is None:
            self._unmake(name)
        else:
            self._make(name, mesh, **{"color": colour, "line_width": 3, **looks})

    def _make_coloured(self, name: str, mesh: pv.PolyData, colours: ListedColormap) -> None:
        self._unmake(name)
        mesh.cell_data["light"] = np.zeros(mesh.n_cells, dtype=np.float32)
        self._coloured[name] = mesh
        self._make(
            name, mesh, scalars="light", clim=(0.0, 1.0), cmap=colours, n_colors=colours.N, show_scalar_bar=False,
            copy_mesh=False,
        )  # fmt: skip

    def _unmake(self, name: str) -> None:
        """Take a thing away. It is kept until that is sent: one made meanwhile must not come to have its number."""
        if name in self.plotter.actors:
            self._unmade.append(self.plotter.actors[name])
            self.plotter.remove_actor(name, render=False)
            self.moved.pop(name, None)
            self.made = True

    def _paint(self, name: str, values: Floats) -> None:
        """Colour the faces of a thing by values from 0 to 1."""
        mesh = self._coloured.get(name)
        if mesh is None or len(values) != mesh.n_cells or np.array_equal(mesh.cell_data["light"], values):
            return
        mesh.cell_data["light"][:] = values
        mesh.cell_data.GetArray("light").Modified()
        mesh.Modified()
        self.moved.setdefault(name, {})["values"] = _bytes(mesh)

    def _move(self, name: str, **places: Floats) -> None:
        for key, place in places.items():
            setattr(self.plotter.actors[name], key, tuple(float(one) for one in place))
            self.moved.setdefault(name, {})[key] = [float(one) for one in place]

    def _see(self, name: str, *, visible: bool) -> None:
        actor = self.plotter.actors[name]
        if bool(actor.visibility) == visible:
            return
        actor.visibility = visible
        if visible:
            self.made = True  # what is not seen is not sent: the browsers may not have it
        else:
            self.moved.setdefault(name, {})["visible"] = False

    def _add(self, key: str, surfaces: tuple[Surface, ...]) -> None:
        first = surfaces[0]
        opacity = 0.35 if first.kind == "sail" else 0.55 if first.sight_through > 0 else 1.0
        self._make(
            f"s:{key}", joined(surfaces), color=self.colour(first), opacity=opacity, lighting=True, pickable=True,
            smooth_shading=False, ambient=0.25, diffuse=0.8,
        )  # fmt: skip
        self.plotter.actors[f"s:{key}"].prop.opacity = opacity
        self.plotter.actors[f"s:{key}"].prop.color = self.colour(first)

    def _map(self) -> ListedColormap:
        low, high = (np.array(pv.Color(one).float_rgb) for one in (self.scheme.shaded, self.scheme.lit))
        return ListedColormap([tuple(low + share * (high - low)) for share in np.linspace(0, 1, 5)])

    def _sight_map(self) -> ListedColormap:
        return ListedColormap([pv.Color(one).float_rgb for one in (self.scheme.hid, self.scheme.seen)])

    def _lay_seats(self, places: tuple[Place, ...]) -> None:
        self._places, self._drawn = places, drawn_points(places)
        self._make_coloured("seats", squares(places), self._map())

    def _pour_water(self, height: float) -> None:
        plane = pv.Plane(center=(0, 0, height), direction=(0, 0, 1), i_size=2 * WATER, j_size=2 * WATER)
        self._make("water", plane, color=self.scheme.water, opacity=0.6)


def _bytes(mesh: pv.PolyData) -> bytes:
    """Return the colours of the faces of a mesh, 0..255 of their range."""
    return np.round(255 * np.asarray(mesh.cell_data["light"])).astype(np.uint8).tobytes()
