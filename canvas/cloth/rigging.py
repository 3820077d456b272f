"""Put the canvas of a set up on the boat: form the panels and gather the scene that rays, rain and wind meet.

Computes: for each set, the formed panels and the `Scene`.
Units: metres, newtons a metre, boat frame.
Source: none.
Limits: a rolled-up window leaves its opening and is itself not there; a roll of cloth is not drawn.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from canvas.cloth.forming import Pretension, form
from canvas.cloth.shape import Formed, PanelShape
from canvas.design.schema.design import Design
from canvas.design.schema.rig import Panel, PanelUp
from canvas.design.tables import Cloth, cloths
from canvas.geometry.model import Model
from canvas.geometry.scene import Scene
from canvas.geometry.surface import Floats, Surface

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


class Rigging:
    """The sets of one boat, each put up when first asked for.

    Parameters
    ----------
    model : Model
        The boat without canvas.
    """

    def __init__(self, model: Model) -> None:
        self.model = model
        self._rigs: dict[str, Rig] = {}

    def rig(self, set_name: str) -> Rig:
        """Return the set put up.

        Raises
        ------
        CouldNot
            When a panel has no shape in balance.
        """
        if set_name not in self._rigs:
            self._rigs[set_name] = self._put_up(set_name)
        return self._rigs[set_name]

    def rigs(self, set_names: Sequence[str]) -> dict[str, Rig]:
        """Return several sets put up, by name, in the order asked."""
        return {name: self.rig(name) for name in set_names}

    def _put_up(self, set_name: str) -> Rig:
        model = self.model
        ups = model.design.panels_up(set_name)
        panels = [model.design.panel_named(up.panel) for up in ups]
        formed = form(
            tuple(model.outlines[up.panel] for up in ups),
            set_name=set_name,
            tensions={panel.name: _pretension(panel, model) for panel in panels},
        )
        known = model.design.cloths()
        canvas = [
            surface
            for up, panel, shape in zip(ups, panels, formed.panels, strict=True)
            for surface in panel_surfaces(shape, panel, up, known=known)
        ]
        scene = Scene(
            set_name=set_name,
            surfaces=(*model.fixed_surfaces(set_name), *canvas),
            places=model.places,
            blade=model.blade,
            water_z=model.design.hull.waterline,
        )
        return Rig(set_name=set_name, formed=formed, scene=scene)


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
