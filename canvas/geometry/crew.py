"""Build the crew as closed bodies of rounded limbs, from their own measures.

Computes: one body a person who has a place, sitting or standing; where the middle of a sitting head is.
Units: metres, radians, kilograms, boat frame.
Source: shares of stature from R. L. Huston, Principles of Biomechanics (CRC Press 2009), standing and sitting
    dimensions, men, 50th percentile; breadths and chin from R. Drillis and R. Contini (1966) as in D. A. Winter,
    Biomechanics and Motor Control of Human Movement, figure 4.1, from memory; girths scale with the root of mass over
    stature squared.
Limits: bare bodies in one posture each, without clothing; those on a seat face inboard, others forward.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

import numpy as np
from manifold3d import Manifold

from canvas.design.names import NameProblem
from canvas.design.schema.boat import Crew
from canvas.design.schema.design import Design
from canvas.geometry.closed import surface_of
from canvas.geometry.marks import Locate
from canvas.geometry.scene import Place
from canvas.geometry.surface import Floats, Surface

SITTING = 0.927 / 1.759  # sitting height over stature (Huston)
SHOULDER, UPPER_LEG, LOWER_LEG = 1.444 / 1.759, 0.605 / 1.759, 0.553 / 1.759  # Huston
UPPER_ARM, LOWER_ARM = 0.361 / 1.759, 0.483 / 1.759  # Huston; the lower arm with its hand
CHIN, HALF_SHOULDERS, HALF_HIPS = 0.870, 0.129, 0.0955  # Drillis and Contini
TORSO, THIGH, ARM, HEAD, NECK = 0.062, 0.043, 0.026, 0.046, 0.034  # radii over stature; chosen: 63 kg fill 1.67 m
COMMON_BUILD = 22.5  # mass over stature squared for which these radii are [kg/m2]
BUTTOCK = 0.070  # from the back of the seat to the hip, over stature
INBOARD = 0.30  # farther than this off the centreline, one who sits faces inboard [m]
SHORTEST, TALLEST = 0.9, 2.3  # stature [m]


def sitting_height(crew: Crew) -> float:
    """Return the height of the crown above the seat [m], by the published share of stature where not given."""
    return crew.sitting_height or SITTING * crew.stature


def sitting_head(design: Design) -> float:
    """Return the height of the middle of a sitting head above the seat, the crew's mean [m]."""
    middles = [sitting_height(crew) - (1 - CHIN) / 2 * crew.stature for crew in design.crew]
    return sum(middles) / len(middles)


def crew_surfaces(design: Design, *, at: Locate, places: tuple[Place, ...]) -> tuple[Surface, ...]:
    """Return a body for everyone who has a place, in the order of the file.

    Parameters
    ----------
    design : Design
    at : callable
        From spot to point.
    places : tuple of Place
        Those at one place sit or stand side by side.
    """
    by_name = {place.name: place for place in places}
    crowd = Counter(crew.at for crew in design.crew if isinstance(crew.at, str))
    busy = sum(_middle(by_name[crew.at])[1] for crew in design.crew if crew.at in by_name)
    seen: Counter[str] = Counter()
    surfaces = []
    for crew in design.crew:
        if crew.at is None:
            continue
        if isinstance(crew.at, str) and crew.at in by_name:
            share = (seen[crew.at] + 0.5) / crowd[crew.at]
            where = _stand_in(by_name[crew.at], share=share, side=-1.0 if busy > 0 else 1.0)
            seen[crew.at] += 1
        else:
            where = at(crew.at)
        surfaces.append(surface_of(body(crew, where=where), name=f"crew {crew.name}", kind="crew"))
    return tuple(surfaces)


def body(crew: Crew, *, where: Floats) -> Manifold:
    """Return one person.

    Parameters
    ----------
    crew : Crew
    where : (3,) ndarray
        On the seat below the hips, or between the feet [m].
    """
    sits = crew.posture == "sitting"
    inboard = sits and abs(where[1]) > INBOARD
    forward = np.array([0.0, -np.sign(where[1]), 0.0] if inboard else [-1.0, 0.0, 0.0])
    right = np.cross(forward, [0.0, 0.0, 1.0])
    limbs = _sitting(crew, knees_up_to=where[2]) if sits else _standing(crew)
    axes = np.array([forward, right, [0.0, 0.0, 1.0]])
    whole = Manifold()
    for limb in limbs:
        balls = [where + joint @ axes + radius * _BALL for joint, radius in limb]
        whole = whole + Manifold.hull_points(np.vstack(balls))
    return whole


Limb = list[tuple[Floats, float]]  # joints, each with its radius: forward, to the right, up


def _sitting(crew: Crew, *, knees_up_to: float) -> list[Limb]:
    """Return the limbs of one who sits; feet stay above the sole where the seat is above it."""
    tall, girth = crew.stature, _girth(crew)
    thigh = THIGH * tall * girth
    crown = sitting_height(crew)
    knee = (UPPER_LEG - BUTTOCK) * tall
    foot = 2 * thigh - LOWER_LEG * tall
    if knees_up_to > 2 * thigh:
        foot = max(foot, -knees_up_to)
    limbs = _upper_body(tall, girth, crown=crown, shoulder=crown - (1 - SHOULDER) * tall, hip=0.0)
    shoulder = crown - (1 - SHOULDER) * tall
    for sign in (-1.0, 1.0):
        side = sign * HALF_HIPS / 2 * tall
        limbs.append([(np.array([0.0, side, thigh]), thigh), (np.array([knee, side, thigh]), thigh * 0.85)])
        calf = 0.75 * thigh
        limbs.append([(np.array([knee, side, thigh]), calf), (np.array([knee, side, foot + 0.6 * calf]), 0.6 * calf)])
        arm = sign * (HALF_SHOULDERS + 0.3 * ARM) * tall
        elbow = np.array([0.25 * UPPER_ARM * tall, arm, shoulder - 0.97 * UPPER_ARM * tall])
        hand = np.array([elbow[0] + 0.8 * LOWER_ARM * tall, 0.7 * arm, max(elbow[2] - 0.02 * tall, 2.2 * thigh)])
        limbs += _arm(np.array([0.0, arm, shoulder - ARM * tall]), elbow, hand, radius=ARM * tall * girth)
    return limbs


def _standing(crew: Crew) -> list[Limb]:
    tall, girth = crew.stature, _girth(crew)
    thigh, shoulder = THIGH * tall * girth, SHOULDER * tall
    hip = tall - sitting_height(crew)
    limbs = _upper_body(tall, girth, crown=tall, shoulder=shoulder, hip=hip)
    knee = LOWER_LEG * tall - thigh
    for sign in (-1.0, 1.0):
        side = sign * HALF_HIPS / 2 * tall
        calf = 0.82 * thigh
        limbs.append([(np.array([0.0, side, hip + thigh]), thigh), (np.array([0.0, side, knee]), 0.9 * thigh)])
        limbs.append([(np.array([0.0, side, knee]), calf), (np.array([0.0, side, 0.6 * calf]), 0.6 * calf)])
        arm = sign * (HALF_SHOULDERS + 0.3 * ARM) * tall
        elbow = np.array([0.0, arm, shoulder - UPPER_ARM * tall])
        hand = elbow + np.array([0.6 * LOWER_ARM * tall, -0.2 * arm, 0.3 * LOWER_ARM * tall])
        limbs += _arm(np.array([0.0, arm, shoulder - ARM * tall]), elbow, hand, radius=ARM * tall * girth)
    return limbs


def _upper_body(tall: float, girth: float, *, crown: float, shoulder: float, hip: float) -> list[Limb]:
    torso, head, chin = TORSO * tall * girth, HEAD * tall, crown - (1 - CHIN) * tall
    trunk = [
        (np.array([0.0, sign * (half * tall - 0.6 * torso), z]), torso)
        for half, z in ((HALF_HIPS, hip + torso), (HALF_SHOULDERS, shoulder - torso))
        for sign in (-1.0, 1.0)
    ]
    up = np.array([0.0, 0.0, 1.0])
    neck = [(up * (shoulder - torso), NECK * tall), (up * (chin + head), NECK * tall)]
    return [trunk, neck, [(up * (chin + head), head), (up * (crown - head), head)]]


def _arm(shoulder: Floats, elbow: Floats, hand: Floats, *, radius: float) -> list[Limb]:
    return [[(shoulder, radius), (elbow, 0.9 * radius)], [(elbow, 0.9 * radius), (hand, 0.7 * radius)]]


def _girth(crew: Crew) -> float:
    if crew.mass is None:
        return 1.0
    return float(np.sqrt(crew.mass / crew.stature**2 / COMMON_BUILD))


def _stand_in(place: Place, *, share: float, side: float) -> Floats:
    """Return the spot of one of several at a place, spread fore and aft; on one side of a place in two parts."""
    points = place.points
    middle = _middle(place)
    if np.linalg.norm(points - middle, axis=1).min() > 0.1:  # two seats: nobody sits between them
        points = points[side * (points[:, 1] - middle[1]) > 0]
        middle = points.mean(axis=0)
    first, last = points[:, 0].min(), points[:, 0].max()
    return np.array([first + share * (last - first), middle[1], middle[2]])


def _middle(place: Place) -> Floats:
    middle: Floats = place.points.mean(axis=0)
    return middle


def _ball() -> Floats:
    ring = np.arange(8) * np.pi / 4
    flat = np.c_[np.cos(ring), np.sin(ring), np.zeros(8)]
    high = np.c_[np.cos(ring) * np.sqrt(0.5), np.sin(ring) * np.sqrt(0.5), np.full(8, np.sqrt(0.5))]
    return np.vstack([flat, high, high * [1, 1, -1], [[0, 0, 1], [0, 0, -1]]])


_BALL = _ball()


def crew_problems(design: Design) -> Iterator[NameProblem]:
    """Yield bodies that cannot be."""
    for index, crew in enumerate(design.crew):
        if not SHORTEST <= crew.stature <= TALLEST:
            yield NameProblem(
                path=("crew", index, "stature"), code="wrong-value", found=f"{crew.stature:.2f} m",
                wanted=f"Write a stature from {SHORTEST} to {TALLEST} m.",
            )  # fmt: skip
        if crew.sitting_height is not None and not 0.4 < crew.sitting_height / crew.stature < 0.65:
            yield NameProblem(
                path=("crew", index, "sitting_height"), code="wrong-value", found=f"{crew.sitting_height:.2f} m",
                wanted=f"From seat to crown: about {SITTING * crew.stature:.2f} m for this stature.",
            )  # fmt: skip
