"""Put the canvas of a set up on the boat: form or hang the panels, gather the scene that rays, rain and wind meet.

Computes: for each set, the panels as they hang and the `Scene`. A panel is formed once, in the set it is cut in, with
    the panels cut there, mated to those cut in earlier sets; in any other company it is solved as elastic cloth. A
    panel that was measured on board is taken as measured, and what runs along its edges is formed to it.
Units: metres, newtons a metre, boat frame.
Source: canvas/cloth/forming.py and canvas/cloth/setting.py.
Limits: a rolled-up window leaves its opening and is itself not there; a roll of cloth is not drawn.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from canvas.cloth.given import NotMeshed, Pretension, Stiffness
from canvas.cloth.partners import loose_groups, neighbours, supporters
from canvas.cloth.shape import Formed, PanelShape
from canvas.design.problems import DesignError
from canvas.design.schema.design import Design
from canvas.design.schema.rig import Panel, PanelUp
from canvas.design.tables import Cloth, cloths
from canvas.geometry.fixed import Fixed, fixed_of
from canvas.geometry.model import Model
from canvas.geometry.outline import PanelOutline
from canvas.geometry.scene import Scene
from canvas.geometry.surface import Floats, Surface, locked
from canvas.jobs.cache import key_of
from canvas.jobs.shelf import Derived, Shelf, from_shelf, values_of

MEASURED_CLOTH = "acrylic 300"  # taken for existing canvas of which no cloth is said


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rig:
    """One set put up.

    Attributes
    ----------
    set_name : str
    formed : Formed
        The panels as they hang.
    scene : Scene
        All that rays, rain and wind meet.
    """

    set_name: str
    formed: Formed
    scene: Scene


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Measured:
    """A panel as it came out.

    Attributes
    ----------
    shape : PanelShape
    spots : (s, 3) ndarray
        Where it was measured [m].
    sd : (s,) ndarray
        How well each spot is known, along the largest axis [m].
    """

    shape: PanelShape
    spots: Floats
    sd: Floats

    def __post_init__(self) -> None:
        object.__setattr__(self, "spots", locked(self.spots))
        object.__setattr__(self, "sd", locked(self.sd))


class Rigging:
    """The sets of one boat, each put up when first asked for.

    Parameters
    ----------
    model : Model
        The boat without canvas.
    measured : mapping of str to Measured, optional
        Panels as they came out, by name, in place of what forming would give; see `canvas.asbuilt.built`.
    shelf : Shelf, optional
        Where slow results are kept for the next call of the program; what asks much of this boat uses it too.
    """

    def __init__(
        self, model: Model, *, measured: Mapping[str, Measured] | None = None, shelf: Shelf | None = None
    ) -> None:
        self.model = model
        self.shelf = shelf
        self.measured = dict(measured or {})
        self._rigs: dict[str, Rig] = {}
        self._cut: dict[str, dict[str, PanelShape]] = {}
        self._fixed: dict[str, Fixed] = {}

    def rig(self, set_name: str) -> Rig:
        """Return the set put up.

        Raises
        ------
        DesignError
            When lines in a panel cross, so that no cloth fills it.
        CouldNot
            When a panel has no shape in balance.
        """
        if set_name not in self._rigs:
            self._rigs[set_name] = self._put_up(set_name)
        return self._rigs[set_name]

    def whole(self) -> Derived[Rigging]:
        """Return the boat with all its sets, for its shelf: known by its design's text and the mesh files it names."""
        if self.shelf is None:
            return Derived(of=(), make=lambda: self)
        source = self.model.source
        files = [solid.file for solid in source.design.solid if solid.file]
        meshes = [(name, hashlib.sha256((source.folder / name).read_bytes()).hexdigest()) for name in files]
        measured = [(name, one.shape.vertices) for name, one in self.measured.items()]
        return Derived(of=(source.text, meshes, measured), make=lambda: self)

    def rigs(self, set_names: Sequence[str]) -> dict[str, Rig]:
        """Return several sets put up, by name, in the order asked."""
        return {name: self.rig(name) for name in set_names}

    def _put_up(self, set_name: str) -> Rig:
        model = self.model
        ups = model.design.panels_up(set_name)
        panels = [model.design.panel_named(up.panel) for up in ups]
        formed = self._hung(set_name, ups)
        known = model.design.cloths()
        canvas = [
            surface
            for up, panel, shape in zip(ups, panels, formed.panels, strict=True)
            for surface in panel_surfaces(shape, panel, up, known=known)
        ]
        scene = Scene(
            set_name=set_name,
            surfaces=(*self.fixed(set_name).surfaces(model), *canvas),
            places=model.places,
            blade=model.blade,
            water_z=model.design.hull.waterline,
        )
        return Rig(set_name=set_name, formed=formed, scene=scene)

    def fixed(self, set_name: str) -> Fixed:
        """Return all that is not canvas in a set."""
        if set_name not in self._fixed:
            other = next(iter(self._fixed.values()), None)
            self._fixed[set_name] = fixed_of(self.model, set_name, other=other)
        return self._fixed[set_name]

    def cut_shape(self, panel: str) -> PanelShape:
        """Return a panel as it is cut: as formed in its home set."""
        return self._cut_in(self._home(panel))[panel]

    def open_zips(self, set_name: str) -> dict[str, float]:
        """Return the share of each zip that is open in a set, by ``panel: edge``."""
        opened = _opened(self.model, self.model.design.panels_up(set_name))
        return {f"{name}: {edge}": share for name, (edge, share) in opened.items()}

    def with_measured(self, measured: Measured) -> Rigging:
        """Return the same boat with one panel as it came out."""
        other = Rigging(self.model, measured={**self.measured, measured.shape.name: measured}, shelf=self.shelf)
        other.take_over(self)
        return other

    def take_over(self, other: Rigging) -> None:
        """Take over what is fixed and the panels cut in those sets where nothing differs that shapes them.

        Parameters
        ----------
        other : Rigging
            Of the same boat before or after a change, or of another variant of it.
        """
        for set_name, shapes in other._cut.items():
            if set_name in self.model.design.set_names() and self._cut_key(set_name) == other._cut_key(set_name):
                self._cut.setdefault(set_name, shapes)
        for set_name, fixed in other._fixed.items():
            if set_name in self.model.design.set_names() and fixed.holds_for(self.model):
                self._fixed.setdefault(set_name, fixed)

    def _cut_key(self, set_name: str) -> str:
        """Return a key of all that shapes the panels cut in a set."""
        names = [up.panel for up in self.model.design.panels_up(set_name)]
        order = self.model.design.set_names()
        homes = [self._home(name) for name in names]
        earlier = {home for home in homes if order.index(home) < order.index(set_name)}
        return key_of(
            homes,
            [values_of(self.model.outlines[name]) for name in names],
            [values_of(_pretension(self.model.design.panel_named(name), self.model)) for name in names],
            [(name, self.measured[name].shape.vertices) for name in names if name in self.measured],
            [self._cut_key(home) for home in order if home in earlier],
        )

    def _home(self, panel: str) -> str:
        design = self.model.design
        return design.home_set(design.panel_named(panel)) or ""

    def _cut_in(self, set_name: str) -> dict[str, PanelShape]:
        """Return the panels cut in a set, as formed there, mated to those cut in earlier sets."""
        if set_name in self._cut:
            return self._cut[set_name]
        model = self.model
        order = model.design.set_names()
        names = [up.panel for up in model.design.panels_up(set_name)]
        here = [name for name in names if self._home(name) == set_name]
        before = [name for name in names if order.index(self._home(name)) < order.index(set_name)]
        outlines = tuple(model.outlines[name] for name in names if name in here or name in before)
        tensions = {name: _pretension(model.design.panel_named(name), model) for name in here}
        cut = {name: self._cut_in(self._home(name))[name] for name in before}
        formed = self._formed(outlines, set_name=set_name, tensions=tensions, cut=cut)
        measured = [name for name in here if name in self.measured]
        came_out = {name: replace(self.measured[name].shape, set_name=set_name) for name in measured}
        if came_out:
            moved = _along_any(model.design, set(came_out), among=here)
            stay = {name: formed.panel(name) for name in here if name not in moved}
            formed = self._formed(outlines, set_name=set_name, tensions=tensions, cut={**cut, **stay, **came_out})
        self._cut[set_name] = {name: formed.panel(name) for name in here}
        return self._cut[set_name]

    def _formed(
        self,
        outlines: tuple[PanelOutline, ...],
        *,
        set_name: str,
        tensions: Mapping[str, Pretension],
        cut: Mapping[str, PanelShape],
    ) -> Formed:
        try:
            return from_shelf(self.shelf, _form, outlines, set_name=set_name, tensions=tensions, cut=cut)
        except NotMeshed as gap:
            path = ("panel", [panel.name for panel in self.model.design.panel].index(gap.panel))
            problem = self.model.source.problem(path, code="impossible-panel", found=gap.found, wanted=gap.wanted)
            raise DesignError([problem]) from gap

    def _hung(self, set_name: str, ups: Sequence[PanelUp]) -> Formed:
        """Return the panels of a set as they hang: as formed where nothing differs from the set they are cut in."""
        model = self.model
        outlines = tuple(model.outlines[up.panel] for up in ups)
        shapes = tuple(self._cut_in(self._home(up.panel))[up.panel] for up in ups)
        opened = _opened(model, ups)
        hanging = {}
        for group in loose_groups(outlines):
            mine = tuple(shapes[n] for n in group)
            if self._as_cut(outlines, group, set_name) and not any(shape.name in opened for shape in mine):
                hanging.update({shape.name: replace(shape, set_name=set_name) for shape in mine})
                continue
            near = sorted({*group, *supporters(outlines, group)})
            found = from_shelf(
                self.shelf,
                _put_up,
                tuple(shapes[n] for n in near),
                tuple(outlines[n] for n in near),
                set_name=set_name,
                cloths=_stiffnesses(model),
                open_zips={f"{name}: {edge}": share for name, (edge, share) in opened.items()},
                still=[name for name in self.measured if self._home(name) == set_name and name not in opened],
            )
            hanging.update({outlines[n].name: found.panel(outlines[n].name) for n in group})
        return Formed(set_name=set_name, panels=tuple(hanging[up.panel] for up in ups))

    def _as_cut(self, outlines: tuple[PanelOutline, ...], group: list[int], set_name: str) -> bool:
        """Return whether panels have the company in a set in which they were formed."""
        homes = {self._home(outlines[n].name) for n in group}
        if len(homes) > 1:
            return False
        home = homes.pop()
        if home == set_name:
            return True
        names = [up.panel for up in self.model.design.panels_up(home)]
        there = tuple(self.model.outlines[name] for name in names)
        same = [names.index(outlines[n].name) for n in group]
        return neighbours(outlines, group) == neighbours(there, same)


def panel_surfaces(
    shape: PanelShape, panel: Panel, up: PanelUp, *, known: Mapping[str, Cloth] | None = None
) -> tuple[Surface, ...]:
    """Return the surfaces of one panel that is up: its cloth, and each insert that is not rolled up.

    Parameters
    ----------
    shape : PanelShape
    panel : Panel
        Of the design.
    up : PanelUp
        Its state in the set.
    known : mapping of str to Cloth
        The design's cloths by name; the program's where absent.
    """
    table = known if known is not None else cloths()
    surfaces = []
    for zone, zone_name in enumerate(shape.zone_names):
        insert = panel.inserts[zone - 1] if zone else None
        if insert is not None and insert.rolls_up and up.window == "rolled up":
            continue
        cloth = table[insert.cloth if insert is not None else panel.cloth or MEASURED_CLOTH]
        faces = shape.faces[shape.zone == zone]
        used, renumbered = np.unique(faces, return_inverse=True)
        surfaces.append(
            Surface(
                name=panel.name if zone == 0 else f"{panel.name}: {zone_name}",
                kind="cloth",
                vertices=shape.vertices[used],
                faces=renumbered.reshape(faces.shape),
                closed=False,
                panel=panel.name,
                light_through=cloth.light_through,
                uv_through=cloth.uv_through,
                rain_through=cloth.rain_through,
                sight_through=cloth.sight_through,
                wind_loss=cloth.wind_loss,
            )
        )
    return tuple(surfaces)


def _form(
    outlines: tuple[PanelOutline, ...],
    *,
    set_name: str,
    tensions: Mapping[str, Pretension],
    cut: Mapping[str, PanelShape],
) -> Formed:
    """Return `form`, loaded where cloth is not kept already."""
    from canvas.cloth.forming import form

    return form(outlines, set_name=set_name, tensions=tensions, cut=cut)


def _put_up(
    shapes: tuple[PanelShape, ...],
    outlines: tuple[PanelOutline, ...],
    *,
    set_name: str,
    cloths: Mapping[str, Stiffness],
    open_zips: Mapping[str, float],
    still: Sequence[str],
) -> Formed:
    """Return `put_up`, loaded where cloth is not kept already."""
    from canvas.cloth.setting import put_up

    return put_up(shapes, outlines, set_name=set_name, cloths=cloths, open_zips=open_zips, still=still)


def _along_any(design: Design, measured: set[str], *, among: Sequence[str]) -> set[str]:
    """Return the panels that run along an edge of the measured ones, or along one that does."""
    moved = set(measured)
    while True:
        more = {
            name
            for name in among
            if name not in moved and any(edge.along in moved for edge in design.panel_named(name).edges)
        }
        if not more:
            return moved
        moved |= more


def _opened(model: Model, ups: Sequence[PanelUp]) -> dict[str, tuple[str, float]]:
    """Return by panel the edge whose zip is open and the share of it that is."""
    opened = {}
    for up in ups:
        edges = [edge for edge in model.outlines[up.panel].edges if edge.finish.startswith("zip")]
        edge = next((edge for edge in edges if up.zip_edge in (None, edge.name)), None)
        if up.zip > 0 and edge is not None:
            opened[up.panel] = (edge.name, float(up.zip))
    return opened


def _stiffnesses(model: Model) -> dict[str, Stiffness]:
    known = {name: Stiffness.of(cloth) for name, cloth in model.design.cloths().items()}
    return {**known, "": known[MEASURED_CLOTH]}


def _pretension(panel: Panel, model: Model) -> Pretension:
    return Pretension(warp=panel.warp_tension, weft=panel.weft_tension, direction=_warp_direction(panel, model))


def _warp_direction(panel: Panel, model: Model) -> Floats | None:
    if panel.warp == "fore and aft":
        return None
    if panel.warp == "athwart":
        return np.array([0.0, 1.0, 0.0])
    first = model.outlines[panel.name].edges[0].line
    chord: Floats = first[-1] - first[0]
    return chord / np.linalg.norm(chord)


def new_panels(design: Design) -> tuple[Panel, ...]:
    """Return the panels that are to be made."""
    return tuple(panel for panel in design.panel if not panel.existing)
