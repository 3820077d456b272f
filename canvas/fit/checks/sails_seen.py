"""Check that masthead and luffs are seen from the helm.

Computes: share of each luff, and whether the masthead, is seen past boat and canvas from the best of the helm's eyes:
    sitting, standing, leaned to either side, and sitting on either coaming beside it.
Units: shares 0..1; a count of eye positions.
Source: project rule for the limit (canvas/design/tables/defaults.toml).
Limits: by dry day, windows clear; the sails themselves hide nothing; how far a helm leans is common
    practice, no source.
"""

from __future__ import annotations

import numpy as np

from canvas.design.tables import default, default_entry
from canvas.fit.ask import Ask
from canvas.fit.result import CheckResult, Picture, judged, not_applicable
from canvas.fit.spots import helm_spots
from canvas.geometry.cockpit import sides
from canvas.geometry.sails import sail_corners
from canvas.geometry.surface import Bools, Floats

KIND = "sails seen"
LEANS = 0.35  # to either side [m]
ALONG = 24  # points along a luff


def examine(ask: Ask) -> list[CheckResult]:
    """Return what is seen of masthead and luffs."""
    sails = [sail for sail in ask.design.sail if sail.state == "sheeted"
             and (sail.sets is None or ask.set_name in sail.sets)]  # fmt: skip
    names = ["masthead seen from the helm", *(f"luff seen from the helm, {sail.name}" for sail in sails)]
    if not ask.under_way:
        return [not_applicable(name, kind=KIND, unit="share", why="At anchor no sail is set.") for name in names]
    eyes = _eyes(ask)
    mast = ask.design.spars.mast
    results = [_masthead(ask, names[0], eyes, np.array([[mast.x, 0.0, mast.top + 0.05]]))]
    at = ask.rigging.model.at
    for name, sail in zip(names[1:], sails, strict=True):
        tack, _, _, head = sail_corners(np.array([at(spot) for spot in sail.corners]))
        share = (np.arange(ALONG) + 0.5) / ALONG
        results.append(_luff(ask, name, eyes, tack + share[:, None] * (head - tack)))
    return results


def _eyes(ask: Ask) -> Floats:
    """Return all eye positions of everyone at the helm, by person: (persons, positions, 3)."""
    plan = np.array([[0.0, 0.0, 0.0], [0.0, -LEANS, 0.0], [0.0, LEANS, 0.0]])
    spots = helm_spots(ask.design)
    x = float(spots[0].middle[0])
    rails = []
    for side, sign, _ in sides(ask.design):
        y = sign * (side.seat_outer + side.coaming_width / 2)
        rails.append(np.array([np.clip(x, side.coaming_from, side.coaming_to), y, side.coaming_top]))
    up = np.array([0.0, 0.0, 1.0])
    return np.array(
        [
            np.vstack([*(spot.eyes(one) + plan for spot in spots), *(rail + one.eye_sitting * up for rail in rails)])
            for one in ask.people
        ]
    )


def _seen(ask: Ask, eyes: Floats, targets: Floats) -> Bools:
    """Return whether each target is seen from each eye position, (..., n)."""
    flat = eyes.reshape(-1, 3)
    origins = np.repeat(flat, len(targets), axis=0)
    ways = np.tile(targets, (len(flat), 1)) - origins
    sight = ask.by_day
    away = (eyes - eyes[:, :1]).reshape(-1, 3) + np.array([0.0, 0.0, 1e-6])
    starts = flat - away
    _, distance = ask.by_night.cloth.first_hit(starts, away)
    shut = np.repeat(distance < np.linalg.norm(away, axis=1), len(targets))  # no head gets there through cloth
    hidden = shut | _before(ask, origins, ways) | sight.cloth.occluded(origins, ways)
    return np.asarray(~hidden.reshape(*eyes.shape[:-1], len(targets)))


def _before(ask: Ask, origins: Floats, ways: Floats) -> Bools:
    """Return whether the boat is met well before the target: mast and stay stand beside the luff they carry."""
    _, distance = ask.by_day.boat.first_hit(origins, ways)
    return np.asarray(distance < np.linalg.norm(ways, axis=1) - 0.5)


def _masthead(ask: Ask, name: str, eyes: Floats, target: Floats) -> CheckResult:
    count = _seen(ask, eyes, target)[..., 0].sum(axis=1)
    least = int(np.argmin(count))
    return judged(
        name, kind=KIND, value=float(count[least]), unit="count", limit=1.0,
        note=f"Of {eyes.shape[1]} positions of the eyes, for {ask.people[least].name}.",
        source="project rule: from one position at least", picture=Picture(points=np.vstack([target, eyes[least]])),
    )  # fmt: skip


def _luff(ask: Ask, name: str, eyes: Floats, points: Floats) -> CheckResult:
    share = _seen(ask, eyes, points).mean(axis=2)
    best = share.max(axis=1)
    least = int(np.argmin(best))
    eye = eyes[least, int(np.argmax(share[least]))]
    return judged(
        name, kind=KIND, value=float(best[least]), unit="share", limit=default("luff_seen"),
        note=f"From the best position of the eyes of {ask.people[least].name}.",
        source=default_entry("luff_seen").source, picture=Picture(points=eye, lines=(points,)),
    )  # fmt: skip
