"""Check the room over everyone's head on each seat and at the helm, sitting and standing, under canvas.

Computes: clear height over the pressed cushion or the sole, at the best spot that has canvas overhead, as wide as a
    head and as long as shoulders are broad.
Units: metres.
Source: common practice for cushion, shoes and the room over the head (canvas/design/tables/defaults.toml).
Limits: straight up; a head leans aside to pass a tube. Spots with open sky over them are not counted.
"""

from __future__ import annotations

import numpy as np

from canvas.design.tables import default, default_entry
from canvas.fit.ask import Ask
from canvas.fit.people import Person, percentile
from canvas.fit.result import CheckResult, Picture, joint_sd, judged, not_applicable
from canvas.fit.spots import Spot, spots_of
from canvas.geometry.surface import Floats, Surface

KIND = "headroom"
FAR = 20.0  # a ray that meets nothing by then has met nothing [m]
WAIST = 0.45  # share of the sitting height from which rays start, above wheel and tiller
RING = 8  # points round a head


def examine(ask: Ask) -> list[CheckResult]:
    """Return headroom for everyone on every seat and at the helm."""
    return [one(ask, person, spot) for spot in spots_of(ask.design) for person in ask.people]


def clear_heights(ask: Ask, spot: Spot, person: Person) -> tuple[Floats, Floats, list[Surface | None]]:
    """Return for each point of a spot the clear height over it, where it ends, and at which surface.

    Parameters
    ----------
    ask : Ask
    spot : Spot
        With a line of k points.
    person : Person
        From whose waist upwards is looked.

    Returns
    -------
    heights : (k,) ndarray
        Over the pressed cushion or the sole; infinite under open sky [m].
    ends : (k, 3) ndarray
        What is met first over the head [m].
    met : list of Surface or None
    """
    tracer, surfaces = ask.overhead
    owner = np.repeat(np.arange(len(surfaces)), [len(surface.faces) for surface in surfaces])
    radius = percentile("head_length", "p95") / 2
    turn = 2 * np.pi * np.arange(RING) / RING
    head = np.vstack([[0.0, 0.0, 0.0], np.c_[radius * np.cos(turn), radius * np.sin(turn), np.zeros(RING)]])
    cushion = 0.0 if spot.stands else spot.foot()
    start = cushion + (WAIST * person.sitting if not spot.stands else person.hip_standing + WAIST * person.sitting)
    origins = (spot.line[:, None] + head + [0.0, 0.0, start]).reshape(-1, 3)
    face, distance = tracer.first_hit(origins, np.tile([0.0, 0.0, 1.0], (len(origins), 1)))
    distance = np.where(distance > FAR, np.inf, distance).reshape(len(spot.line), -1)
    lowest = np.argmin(distance, axis=1)
    rows = np.arange(len(lowest))
    heights = distance[rows, lowest] + start - cushion
    at = origins.reshape(len(lowest), -1, 3)[rows, lowest]
    ends = at + np.where(np.isfinite(heights), distance[rows, lowest], 0.0)[:, None] * [0.0, 0.0, 1.0]
    hit = face.reshape(len(lowest), -1)[rows, lowest]
    met = [surfaces[int(owner[one])] if one >= 0 and np.isfinite(h) else None
           for one, h in zip(hit, heights, strict=True)]  # fmt: skip
    return heights, ends, met


def one(ask: Ask, person: Person, spot: Spot) -> CheckResult:
    """Return the headroom of one person at one spot.

    Parameters
    ----------
    ask : Ask
    person : Person
    spot : Spot
    """
    name = f"headroom, {person.name} {spot.name}"
    heights, ends, met = clear_heights(ask, spot, person)
    up = np.tile([0.0, 0.0, 1.0], (len(spot.line), 1))
    covered = ask.by_night.cloth.occluded(spot.line + spot.foot() * up, up)
    if not covered.any():
        return not_applicable(name, kind=KIND, unit="m", why="No canvas overhead.")
    sits = _worst_along(heights, spot)
    best = int(np.argmax(np.where(covered, sits, -np.inf)))
    room = default("headroom_over_head")
    limit = room + (person.stature + default("shoes") if spot.stands else person.sitting)
    span = _window(spot, best)
    lowest = span[int(np.argmin(heights[span]))]
    surface = met[lowest]
    cloth_sd = ask.sureness.sd(surface, ends[lowest], np.array([0.0, 0.0, 1.0])) if surface is not None else None
    enough = float(np.mean(sits >= limit))
    return judged(
        name, kind=KIND, value=float(sits[best]), unit="m", limit=limit,
        sd=joint_sd([cloth_sd, None if spot.stands else person.sitting_sd]),
        note=(
            f"At the best place under canvas, under the {surface.name if surface else 'sky'}; "
            f"{100 * covered.mean():.0f} % is under canvas and {100 * enough:.0f} % has room."
        ),
        source=default_entry("headroom_over_head").source,
        picture=Picture(
            points=ends[lowest], lines=(np.array([spot.line[lowest], ends[lowest]]),),
            surfaces=(surface.name,) if surface else (),
        ),
    )  # fmt: skip


def _window(spot: Spot, middle: int) -> list[int]:
    """Return the points of a spot within half a shoulder's breadth of one of them."""
    half = percentile("shoulder_breadth_bideltoid") / 2
    away = np.linalg.norm(spot.line - spot.line[middle], axis=1)
    return [int(k) for k in np.flatnonzero(away <= half)]


def _worst_along(heights: Floats, spot: Spot) -> Floats:
    """Return for each point the least height within a shoulder's breadth along the seat."""
    return np.array([heights[_window(spot, k)].min() for k in range(len(heights))])
