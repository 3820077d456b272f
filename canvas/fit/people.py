"""Give everyone of the crew the measures that checks need: their own where given, published relations elsewhere.

Computes: crown, eyes, shoulders, hips and reach above seat or sole, each with the spread of what was not measured;
    the size of a body in an inflated lifejacket.
Units: metres.
Source: bodies.toml (ANSUR II, 2012): eye from sitting height and the spread of both by its straight-line relations,
    men and women averaged; lengths without a relation by share of stature at the medians.
Limits: bare bodies sitting and standing erect; people slump by 30-60 mm (from memory), which is on the safe side for
    headroom and on the other for look-out. Grip reach is thumb-tip reach less half the chest's depth, since it is
    published from the wall behind the back.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from canvas.design.schema.boat import Crew
from canvas.design.tables import default
from canvas.geometry.crew import sitting_height

MM = 1e-3


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """One of the crew, bare.

    Attributes
    ----------
    name : str
    stature, sitting, eye_standing, eye_sitting, shoulder_standing, hip_standing, knee, reach : float
        Crown over soles; crown over the seat; eyes over soles and over the seat; shoulders and hips over soles; hollow
        of the knee over soles; shoulder to grip [m].
    sitting_sd, eye_sitting_sd, eye_standing_sd : float or None
        Spread of what was not measured; None where it was [m].
    """

    name: str
    stature: float
    sitting: float
    eye_standing: float
    eye_sitting: float
    shoulder_standing: float
    hip_standing: float
    knee: float
    reach: float
    sitting_sd: float | None
    eye_sitting_sd: float | None
    eye_standing_sd: float | None


@cache
def bodies() -> Mapping[str, Any]:
    """Return the table of body measures as published [mm]."""
    text = files("canvas.fit").joinpath("bodies.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def percentile(dimension: str, which: str = "p50") -> float:
    """Return a published percentile of men and women counted alike [m]."""
    return float(bodies()["percentiles"][dimension][which]) * MM


def person_of(crew: Crew) -> Person:
    """Return the measures of one of the crew."""
    sitting = sitting_height(crew)
    _, _, sitting_spread = _relation("sitting_height_from_stature")
    slope, intercept, eye_spread = _relation("eye_from_sitting_height")
    eye_sitting = crew.sitting_eye_height or slope * sitting + intercept
    shoulder = _share("shoulder_height_standing") * crew.stature
    sitting_sd = None if crew.sitting_height else sitting_spread
    eye_sd = None if crew.sitting_eye_height else _root(eye_spread, (sitting_sd or 0.0) * slope)
    return Person(
        name=crew.name,
        stature=crew.stature,
        sitting=sitting,
        eye_standing=crew.eye_height or crew.stature - sitting + eye_sitting,
        eye_sitting=eye_sitting,
        shoulder_standing=shoulder,
        hip_standing=crew.stature - sitting,
        knee=_share("popliteal_height_sitting") * crew.stature,
        reach=crew.reach or (_share("thumbtip_reach") - _share("chest_depth") / 2) * crew.stature,
        sitting_sd=sitting_sd,
        eye_sitting_sd=eye_sd,
        eye_standing_sd=None if crew.eye_height else eye_spread,
    )


def body_width() -> float:
    """Return the width of a body in an inflated lifejacket: the wider of shoulders and chest with the jacket [m]."""
    chest = percentile("chest_depth", "p95") + default("lifejacket_inflated")
    return max(percentile("shoulder_breadth_bideltoid", "p95"), chest)


def _share(dimension: str) -> float:
    return percentile(dimension) / percentile("stature")


def _relation(name: str) -> tuple[float, float, float]:
    """Return slope, intercept [m] and residual standard deviation [m], men and women averaged."""
    both = bodies()["relations"][name]
    rows = [both[group] for group in ("men", "women")]
    slope, intercept, spread = (sum(row[key] for row in rows) / 2 for key in ("slope", "intercept", "residual_sd"))
    return slope, intercept * MM, spread * MM


def _root(one: float, two: float) -> float:
    return float((one**2 + two**2) ** 0.5)
