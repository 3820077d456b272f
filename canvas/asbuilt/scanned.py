"""Take a scan into a design: marks snapped to its surface, what differs from the design, and the solid it makes.

Computes: places of picked marks with their joint covariance; distances between them against the tape's; how far other
    marks lie off the scan; the closed solid.
Units: metres, boat frame.
Source: `canvas.asbuilt.frame`, `canvas.asbuilt.cloud`, `canvas.asbuilt.solidify`; a difference is named past three of
    its standard deviations and a centimetre (common practice, no source).
Limits: a mark on a tube is taken to the tube's middle line, half its diameter behind the scanned surface. A mark that
    floats free of any surface can be picked, but not snapped.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from manifold3d import Manifold
from scipy.spatial import cKDTree

from canvas.asbuilt.cloud import Cloud, cloud_of
from canvas.asbuilt.frame import Distance, Frame, Ties, lay_scan
from canvas.asbuilt.picked import Picked
from canvas.asbuilt.scanfile import Scan
from canvas.asbuilt.snapping import SNAP, Spots, snapped
from canvas.asbuilt.solidify import solid_from
from canvas.cloth.rigging import Rigging
from canvas.design.problems import DesignError, Problem, nearest
from canvas.design.schema.design import BARE
from canvas.geometry.model import Model
from canvas.geometry.surface import Floats
from canvas.survey.from_design import survey_of
from canvas.survey.marks import Marks
from canvas.survey.readings import Tape, describe

MARGIN = 0.35  # [m] kept round the cockpit and the marks
OFF = 3.0  # standard deviations
LEAST = 0.01  # [m] differences smaller than this are not named
HELD_SD = 0.001  # [m] of marks taken as known
ROUGH_SD = 0.02  # [m] of coordinates that were only typed
SURFACE_SD = 0.4  # of the picking error, left across the surface by snapping to it; no source
ROUNDS = 2
LEAST_POINTS = 100
ANOTHER = 0.25  # [m] half of the known points farther off than this: not this boat, or names mixed up
SPACING = 0.01  # [m] between points kept of the scan


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """One thing that scan and design say differently.

    Attributes
    ----------
    name : str
        Such as ``winch_port`` or ``tape a to b``.
    against : {"mark", "tape", "surface"}
    off : float
        [m] Distance between the two places; scan less tape; mark off the scan's surface.
    sd : float
        [m]
    named : bool
        Whether it is more than chance.
    """

    name: str
    against: str
    off: float
    sd: float
    named: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scanned:
    """What a scan says of a boat.

    Attributes
    ----------
    frame : Frame
    marks : Marks
        The picked marks of the design, with their joint covariance.
    snapped : tuple of bool
        Whether each was snapped to the surface.
    differences : tuple of Difference
    solid : Manifold or None
    low, high : (3,) ndarray
        Corners of the box that was kept [m].
    points : int
        Of the scan, kept.
    triangles : int
        Of the scan, in its file.
    problems : tuple of Problem
        Warnings and notes.
    """

    frame: Frame
    marks: Marks
    snapped: tuple[bool, ...]
    differences: tuple[Difference, ...]
    solid: Manifold | None
    low: Floats
    high: Floats
    points: int
    triangles: int
    problems: tuple[Problem, ...]


def take_scan(
    rigging: Rigging,
    scan: Scan,
    picked: Picked,
    *,
    distances: Sequence[Distance] = (),
    hold: Sequence[str] | None = None,
    up: Floats | None = None,
    pick_sd: float = 0.005,
    cell: float | None = 0.02,
) -> Scanned:
    """Return what a scan says of a boat.

    Parameters
    ----------
    rigging : Rigging
    scan : Scan
    picked : Picked
    distances : sequence of Distance
        Between picked points.
    hold : sequence of str, optional
        Picked marks whose coordinates lay the scan; those the survey holds, or else all that have coordinates.
    up : (3,) ndarray, optional
        In the scan's axes, the boat lying at rest; what the file's format says where absent.
    pick_sd : float
        [m] How well a point is picked, each way.
    cell : float or None
        Of the solid [m]; None makes none.

    Raises
    ------
    DesignError
        When names are unknown or the scan cannot be laid.
    CouldNot
        When no solid comes of it.
    """
    model = rigging.model
    _check_names(picked, distances, hold, scan)
    known, known_sd = _known(model, picked, hold, scan)
    upward = up if up is not None else None if scan.up is None else np.eye(3)["xyz".index(scan.up)]
    ties = Ties(
        known=known, known_sd=known_sd,
        on={name: face for name, face in zip(picked.names, picked.on, strict=True) if face is not None},
        water_z=model.design.hull.waterline, distances=tuple(distances), up=upward, pick_sd=pick_sd,
    )  # fmt: skip
    laid = _laid(model, scan, picked, ties, spacing=min(SPACING, cell or SPACING))
    frame, cloud = laid.frame, laid.cloud
    marks, on, problems = _marks(model, frame, laid.spots, picked, pick_sd=pick_sd, file=scan.file)
    return Scanned(
        frame=frame, marks=marks, snapped=on, differences=_differences(model, marks, cloud, known),
        solid=None if cell is None else _solid(rigging, cloud, laid.low, laid.high, cell), low=laid.low, high=laid.high,
        points=len(cloud.points), triangles=len(scan.faces),
        problems=(*scan.problems, *_misfits(frame, scan.file), *problems),
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Laid:
    """A scan laid into the boat, what was kept of it, and where the picked points come to lie."""

    frame: Frame
    cloud: Cloud
    spots: Spots
    low: Floats
    high: Floats


def _laid(model: Model, scan: Scan, picked: Picked, ties: Ties, *, spacing: float) -> _Laid:
    """Return the scan laid by its picked points; twice, since marks lie behind the surface that was picked."""
    frame = lay_scan(picked.names, picked.places, ties, file=scan.file)
    _check_same_boat(frame, picked, ties, scan.file)
    for _ in range(ROUNDS):
        low, high = _box(model, frame.to_boat(picked.places))
        cloud = cloud_of(scan, frame, low=low, high=high, spacing=spacing)
        if len(cloud.points) < LEAST_POINTS:
            raise DesignError([
                Problem(code="scan-elsewhere", file=scan.file, found="a scan that does not lie where the cockpit is",
                        wanted="Look whether the picked points carry the right names and the distance the right unit."),
            ])  # fmt: skip
        spots = snapped(model, frame.to_boat(picked.places), picked.names, cloud)
        frame = lay_scan(picked.names, frame.to_scan(spots.places), ties, file=scan.file)
    return _Laid(frame=frame, cloud=cloud, spots=spots, low=low, high=high)


def _check_same_boat(frame: Frame, picked: Picked, ties: Ties, file: str) -> None:
    """Raise where half of the known points come to lie nowhere near where they are known to be."""
    names = [name for name in picked.names if name in ties.known]
    if not names:
        return
    laid = frame.to_boat(picked.places[[picked.names.index(name) for name in names]])
    off = np.linalg.norm(laid - np.array([ties.known[name] for name in names]), axis=1)
    if float(np.median(off)) > ANOTHER:
        raise DesignError([
            Problem(code="scan-of-another", file=file,
                    found=f"a scan on which half of the picked points lie {100 * float(np.median(off)):.0f} cm or more "
                          "from where the design has them",
                    wanted="Look whether it is this cockpit, and whether the picked points carry the right names."),
        ])  # fmt: skip


def _check_names(picked: Picked, distances: Sequence[Distance], hold: Sequence[str] | None, scan: Scan) -> None:
    asked = [("--distance", name) for one in distances for name in (one.a, one.b)]
    asked += [("--hold", name) for name in hold or ()]
    wrong = [
        Problem(code="not-picked", file=scan.file, key=key, found=f'"{name}"', wanted=nearest(name, picked.names))
        for key, name in asked
        if name not in picked.names
    ]
    if wrong:
        raise DesignError(wrong)


def _known(model: Model, picked: Picked, hold: Sequence[str] | None, scan: Scan) -> tuple[dict[str, Floats], float]:
    """Return the picked marks that lay the scan, and how well their places are taken to be known [m]."""
    design = model.design
    typed = [name for name in picked.names if not isinstance(design.marks.get(name, "survey"), str)]
    held = [name for name in picked.names if name in design.survey.held]
    chosen = list(hold) if hold else held if len(held) >= 3 else typed
    lost = [name for name in chosen if name not in design.marks]
    if lost:
        raise DesignError([
            Problem(code="unknown-mark", file=scan.file, key="--hold", found=f'"{name}"',
                    wanted=nearest(name, design.marks)) for name in lost
        ])  # fmt: skip
    return {name: model.marks.at(name) for name in chosen}, HELD_SD if hold or len(held) >= 3 else ROUGH_SD


def _box(model: Model, picks: Floats) -> tuple[Floats, Floats]:
    """Return the corners of what is kept: the cockpit and all that was picked, with some room round them."""
    cockpit = model.design.cockpit
    side = max(cockpit.port.seat_outer, cockpit.starboard.seat_outer)
    top = max(cockpit.port.coaming_top, cockpit.starboard.coaming_top)
    low = np.minimum(picks.min(axis=0), [0.0, -side, 0.0]) - MARGIN
    high = np.maximum(picks.max(axis=0), [cockpit.length, side, top]) + MARGIN
    return low, high


def _marks(
    model: Model, frame: Frame, spots: Spots, picked: Picked, *, pick_sd: float, file: str
) -> tuple[Marks, tuple[bool, ...], list[Problem]]:
    rows = [k for k, name in enumerate(picked.names) if name in model.design.marks]
    names = tuple(picked.names[k] for k in rows)
    places = spots.places[rows]
    covariance = frame.carried(places)
    for k, row in enumerate(rows):
        own = slice(3 * k, 3 * k + 3)
        covariance[own, own] += pick_sd**2 * np.eye(3)
        if spots.on[row]:
            normal = spots.near.normals[row]
            covariance[own, own] -= (1 - SURFACE_SD**2) * pick_sd**2 * np.outer(normal, normal)
    on = tuple(bool(one) for one in spots.on[rows])
    return Marks(names=names, xyz=places, covariance=covariance), on, _unsnapped(picked.names, spots, rows, file)


def _unsnapped(names: Sequence[str], spots: Spots, rows: Sequence[int], file: str) -> list[Problem]:
    return [
        Problem(code="mark-off-scan", severity="warning", file=file, key=names[row],
                found=f"too little surface there (nearest {1000 * float(spots.near.distance[row]):.0f} mm off)",
                wanted="It stays where it was picked. Tape it, or pick it again, if it matters.")
        for row in rows
        if not spots.on[row]
    ]  # fmt: skip


def _misfits(frame: Frame, file: str) -> list[Problem]:
    return [
        Problem(code="scan-misfit", severity="warning", file=file, key=one.name,
                found=f"{1000 * abs(one.off):.0f} mm off what other points say" if one.off else "a direction off",
                wanted="Pick the point again, or measure again; the scan was laid with it all the same.")
        for one in frame.misfits
    ]  # fmt: skip


def _differences(model: Model, marks: Marks, cloud: Cloud, known: dict[str, Floats]) -> tuple[Difference, ...]:
    found = []
    for name in marks.names:
        spread = marks.joint([name]) + model.marks.joint([name])
        if not isinstance(model.design.marks[name], str):
            spread = spread + (HELD_SD if name in known else ROUGH_SD) ** 2 * np.eye(3)
        gap = marks.at(name) - model.marks.at(name)
        off = float(np.linalg.norm(gap))
        sd = float(np.sqrt(gap @ spread @ gap) / max(off, 1e-12))
        far = float(gap @ np.linalg.solve(spread, gap)) ** 0.5
        found.append(Difference(name=name, against="mark", off=off, sd=sd, named=far > OFF and off > LEAST))
    for reading in survey_of(model.source).entries:
        if (
            isinstance(reading, Tape)
            and not reading.via
            and not reading.slack
            and set(reading.marks) <= set(marks.names)
        ):
            found.append(_taped(reading, marks, model))
    tree = cKDTree(cloud.points)
    rest = [name for name in model.marks.names if name not in marks.names]
    for name in rest:
        off = float(tree.query(model.marks.at(name))[0])
        if off < SNAP * 3:
            sd = float(np.hypot(model.marks.largest_sd()[model.marks.index(name)], cloud.spacing))
            found.append(Difference(name=name, against="surface", off=off, sd=sd, named=off > OFF * sd))
    return tuple(found)


def _taped(reading: Tape, marks: Marks, model: Model) -> Difference:
    run = marks.at(reading.b) - marks.at(reading.a)
    length = float(np.linalg.norm(run))
    slope = np.concatenate([-run, run]) / length
    survey = model.design.survey
    own = reading.sigma or float(np.hypot(survey.tape_sd, survey.tape_sd_share * reading.length))
    sd = float(np.sqrt(slope @ marks.joint([reading.a, reading.b]) @ slope + own**2))
    off = length - reading.length
    return Difference(name=describe(reading), against="tape", off=off, sd=sd, named=abs(off) > max(OFF * sd, LEAST))


def _solid(rigging: Rigging, cloud: Cloud, low: Floats, high: Floats, cell: float) -> Manifold:
    hull = next(s for s in rigging.rig(BARE).scene.surfaces if s.name == "hull")
    return solid_from(cloud, low=low, high=high, cell=cell, model=hull)
