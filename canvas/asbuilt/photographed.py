"""Hold what is known of printed targets, and what photographs of them say of a boat.

Computes: nothing.
Units: metres, boat frame; pixels.
Source: none.
Limits: none.
"""

from __future__ import annotations

from dataclasses import dataclass

from canvas.design.problems import Problem
from canvas.geometry.surface import Floats, locked
from canvas.survey.marks import Marks
from canvas.survey.readings import Reading


@dataclass(frozen=True, slots=True, kw_only=True)
class Stuck:
    """One printed target and where it is stuck.

    Attributes
    ----------
    number : int
        Printed beside it.
    mark : str
        The mark under its middle; a name of its own where it only ties photographs together.
    size : float
        Of the black square as it should be printed [m].
    behind : float
        How far behind the paper the mark lies [m], such as half the diameter of the tube it is stuck on.
    """

    number: int
    mark: str
    size: float = 0.08
    behind: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """A target that moved while photographs were taken, or whose views do not agree.

    Attributes
    ----------
    number : int
    mark : str
    by : float or None
        [m]
    before, after : str or None
        The photographs between which it moved.
    """

    number: int
    mark: str
    by: float | None
    before: str | None
    after: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Photo:
    """One photograph.

    Attributes
    ----------
    file : str
    targets : int
        Known ones seen in it.
    misfit : float or None
        Root mean square [px]; None where it was not used.
    said : str
        Why it was not used; empty where it was.
    """

    file: str
    targets: int
    misfit: float | None
    said: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Disagreement:
    """A reading that does not agree with photographs and other readings [m]."""

    reading: Reading
    name: str
    residual: float
    standardised: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Photographed:
    """What photographs say of a boat.

    Attributes
    ----------
    marks : Marks
        Of targets and readings, with their joint covariance.
    views : (n,) ndarray of int
        Photographs that each mark's target is seen in.
    photos : tuple of Photo
    moved : tuple of Moved
    disagreements : tuple of Disagreement
    focal : (cameras,) ndarray
        [px]
    stretch, stretch_sd : float
        Printed size over what was asked, less one; how well it was known beforehand.
    pixel_sd : float
        Of one coordinate of a corner [px].
    problems : tuple of Problem
    """

    marks: Marks
    views: Floats
    photos: tuple[Photo, ...]
    moved: tuple[Moved, ...]
    disagreements: tuple[Disagreement, ...]
    focal: Floats
    stretch: float
    pixel_sd: float
    problems: tuple[Problem, ...]

    def __post_init__(self) -> None:
        object.__setattr__(self, "focal", locked(self.focal))
        object.__setattr__(self, "views", locked(self.views))
