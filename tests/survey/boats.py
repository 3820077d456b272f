"""Invent cockpits, plan their survey, and take the readings with errors."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from canvas.survey.datum import Datum, axes_datum
from canvas.survey.plan import plan_readings, possible_readings
from canvas.survey.readings import Height, Precision, Reading, Tape, standard_deviation

PRECISION = Precision()


@dataclass(frozen=True)
class Boat:
    """True places, the datum they are true in, and the planned readings with their true values."""

    places: dict[str, tuple[float, float, float]]
    datum: Datum
    readings: tuple[Reading, ...]

    @property
    def xyz(self):
        return np.array(list(self.places.values()))


def cockpit(seed, *, marks=14):
    """Return places of marks in a cockpit, port not the mirror of starboard, three of them the datum."""
    random = np.random.default_rng(seed)
    places = {
        "bulkhead_foot": (0.0, 0.0, 0.0),
        "sole_aft": (float(random.uniform(1.7, 2.3)), 0.0, 0.0),
        "sole_stbd": (float(random.uniform(0.2, 1.2)), float(random.uniform(0.5, 0.9)), 0.0),
    }
    for k in range(marks - 3):
        side = -1 if k % 2 else 1
        low, high = ([-0.3, 0.3, 0.3], [3.2, 1.5, 0.9]) if k % 4 < 2 else ([-0.4, 0.0, 1.0], [3.0, 1.3, 2.0])
        x, y, z = random.uniform(low, high)
        places[f"mark_{k}"] = (float(x), float(side * y), float(z))
    return places


@cache
def planned(seed, *, marks=14, session="level"):
    """Return an invented boat with its measuring plan."""
    places = cockpit(seed, marks=marks)
    datum = axes_datum(origin="bulkhead_foot", centreline="sole_aft", level="sole_stbd", level_side="starboard")
    possible = possible_readings(places, session=session)
    plan = plan_readings(possible, places, datum=datum, precision=PRECISION)
    return Boat(places=places, datum=datum, readings=plan.readings)


def taken(boat, random, *, heel=0.0, trim=0.0, blunders=()):
    """Return the readings of a boat with errors drawn from their standard deviations.

    `heel` and `trim` lean the levelling session; `blunders` are (reading number, error in metres).
    """
    errors = dict(blunders)
    lean = np.array([-np.sin(trim), -np.sin(heel)])
    up = np.array([*lean, np.sqrt(1 - lean @ lean)])
    readings = []
    for number, reading in enumerate(boat.readings):
        error = random.normal(scale=standard_deviation(reading, precision=PRECISION)) + errors.get(number, 0.0)
        if isinstance(reading, Tape):
            length = np.linalg.norm(np.subtract(boat.places[reading.a], boat.places[reading.b]))
            readings.append(replace(reading, length=float(length + error)))
        elif isinstance(reading, Height):
            height = up @ np.array(boat.places[reading.mark]) + 0.4
            readings.append(replace(reading, height=float(height + error)))
    return readings


def started(boat):
    """Return the datum with the true places as rough ones, to spare the search of a first shape."""
    return Datum(conditions=boat.datum.conditions, sides=boat.datum.sides, rough=boat.places)


def tapes_between(places, random=None, *, sigma=0.003):
    """Return tapes between any two places, exact or with errors drawn."""
    names = list(places)
    tapes = []
    for k, a in enumerate(names):
        for b in names[:k]:
            error = random.normal(scale=sigma) if random is not None else 0.0
            length = float(np.linalg.norm(np.subtract(places[a], places[b])) + error)
            tapes.append(Tape(a=a, b=b, length=length, sigma=sigma))
    return tapes


def five_hundred():
    """Return a boat with 466 tapes and 34 heights."""
    places = cockpit(11, marks=34)
    random = np.random.default_rng(11)
    tapes = tapes_between(places, random)
    chosen = [tapes[k] for k in random.choice(len(tapes), 466, replace=False)]
    heights = [
        Height(mark=name, height=place[2] + random.normal(scale=0.003), session="one") for name, place in places.items()
    ]
    return Boat(places=places, datum=planned(11, marks=6).datum, readings=(*chosen, *heights))
