"""Build the boat of a design once: marks, tubes, solids, panel outlines, places, blade.

Computes: the `Model` that every set's scene is made from, or every problem with the geometry.
Units: metres, boat frame.
Source: none.
Limits: canvas is outlined here and formed in `canvas.cloth`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from canvas.design.names import NameProblem
from canvas.design.problems import DesignError
from canvas.design.reading import Source
from canvas.design.schema.design import Design
from canvas.geometry.boat import boat_surfaces, solid_problems
from canvas.geometry.checks import geometry_problems
from canvas.geometry.crew import sitting_head
from canvas.geometry.marks import Locate, locator
from canvas.geometry.outline import PanelOutline
from canvas.geometry.panels import resolve_panels
from canvas.geometry.places import places_of, settled_on
from canvas.geometry.scene import Blade, Place
from canvas.geometry.surface import Surface
from canvas.geometry.tubes import TubeLine, tube_line, tube_surface
from canvas.geometry.vane import blade_of
from canvas.survey.from_design import marks_of
from canvas.survey.marks import Marks


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Model:
    """One boat, built, before any canvas is formed.

    Attributes
    ----------
    source : Source
        The design and where it came from.
    marks : Marks
    at : callable
        From spot to point.
    tubes : mapping of str to TubeLine
    tube_meshes : tuple of Surface
        The same tubes as thin closed meshes, in the order of the file.
    outlines : mapping of str to PanelOutline
        In the order of the file.
    places : tuple of Place
    blade : Blade
    """

    source: Source
    marks: Marks
    at: Locate
    tubes: Mapping[str, TubeLine]
    tube_meshes: tuple[Surface, ...]
    outlines: Mapping[str, PanelOutline]
    places: tuple[Place, ...]
    blade: Blade

    @property
    def design(self) -> Design:
        """The design as read."""
        return self.source.design

    @property
    def instrument_height(self) -> float:
        """Height of the wind instrument above the water [m]: the mast top where the design does not say."""
        design = self.design
        return design.instrument.height or design.spars.mast.top - design.hull.waterline


def build_model(source: Source) -> Model:
    """Build the boat of a design.

    Raises
    ------
    DesignError
        With every problem of geometry: solids that cannot be, tubes that cannot be bent or cross, panels that do not
        close, marks inside the cabin, readings that do not fix the marks.
    """
    design = source.design
    issues: list[NameProblem] = list(solid_problems(design, folder=source.folder))
    marks = marks_of(source)
    at = locator(marks)
    tubes: dict[str, TubeLine] = {}
    for index, tube in enumerate(design.tube):
        try:
            tubes[tube.name] = tube_line(tube, at=at)
        except ValueError as error:
            issues.append(
                NameProblem(
                    path=("tube", index), code="impossible-tube", found="a tube that cannot be bent", wanted=str(error)
                )
            )
    outlines = resolve_panels(design, tubes=tubes, at=at)
    issues += outlines.problems
    issues += geometry_problems(design, tubes=tubes, marks=marks)
    if issues:
        raise DesignError(
            [source.problem(issue.path, code=issue.code, found=issue.found, wanted=issue.wanted) for issue in issues]
        )
    places = places_of(design, heads=sitting_head(design), at=at)
    if any(solid.in_place_of_boat for solid in design.solid):
        places = settled_on(places, boat_surfaces(design, at=at, folder=source.folder)[0])
    return Model(
        source=source,
        marks=marks,
        at=at,
        tubes=tubes,
        tube_meshes=tuple(tube_surface(tube) for tube in tubes.values()),
        outlines=outlines.by_name,
        places=places,
        blade=blade_of(design),
    )
