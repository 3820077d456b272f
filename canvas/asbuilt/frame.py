"""Lay a scan into the boat's axes: its scale, its turn and its place, from what is known of points picked on it.

Computes: seven numbers by weighted least squares from known marks, faces of the boat, taped distances and the direction
    that the scan calls up; their covariance; the statement most likely wrong.
Units: the scan's own in, metres and the boat frame out.
Source: first guess after S. Umeyama, IEEE Trans. PAMI 13 (1991) 376; then Gauss-Newton. Wrong statements by
    standardised residuals as in `canvas.survey.suspects`.
Limits: one scale for the whole scan; a scan that bends along its length (drift) shows as residuals, and is not mended.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal, TypeAlias

import numpy as np
from scipy.spatial.transform import Rotation

from canvas.design.problems import DesignError, Problem
from canvas.geometry.surface import Floats, locked
from canvas.survey.suspects import critical_value

Face: TypeAlias = Literal["centreline", "sole", "bulkhead", "waterline"]

FACE_AXIS = {"bulkhead": 0, "centreline": 1, "sole": 2, "waterline": 2}
FACE_SD = 0.008  # [m] how flat and true a boat's own faces are; no source
LEVEL_SD = float(np.radians(1.0))  # of gravity against the boat's own axes, afloat at rest; no source
STEPS = 60
TURN_STEP = 1e-6
ALARM = 0.01  # share of good scans in which something is called wrong
SAME_COST = 1.0  # two ways of laying the scan that fit this nearly alike are not told apart
SEEN = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Distance:
    """A taped distance between two picked points [m]."""

    a: str
    b: str
    length: float
    sd: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ties:
    """What ties a scan to the boat.

    Attributes
    ----------
    known : mapping of str to (3,) ndarray
        [m] Picked marks whose place is known.
    known_sd : float
        [m] How well, each way.
    on : mapping of str to str
        Faces of the boat that picked points lie on.
    water_z : float
        [m]
    distances : tuple of Distance
    up : (3,) ndarray or None
        Direction that is up while the boat lies at rest, in the scan's axes.
    pick_sd : float
        [m] How well a point is picked on the scan, each way.
    """

    known: Mapping[str, Floats] = field(default_factory=dict)
    known_sd: float = 0.0
    on: Mapping[str, Face] = field(default_factory=dict)
    water_z: float = 0.0
    distances: tuple[Distance, ...] = ()
    up: Floats | None = None
    pick_sd: float = 0.005


@dataclass(frozen=True, slots=True, kw_only=True)
class Misfit:
    """A statement about the scan that does not agree with the others.

    Attributes
    ----------
    name : str
        Such as ``place of winch_port, aft``.
    off : float
        [m] By how much.
    standardised : float
    """

    name: str
    off: float
    standardised: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Frame:
    """How a scan lies in the boat.

    Attributes
    ----------
    scale : float
        [m] Length of one unit of the scan.
    scale_sd : float
        Share of it.
    rotation : (3, 3) ndarray
        ``boat = scale * (rotation @ (scan - middle)) + place``.
    middle, place : (3,) ndarray
        In the scan's unit; [m].
    covariance : (7, 7) ndarray
        Of log scale, turn about the boat's axes [rad], place [m].
    misfits : tuple of Misfit
        Worst first.
    sigma0 : float or None
        Root mean square misfit over what was expected; None without redundancy.
    """

    scale: float
    scale_sd: float
    rotation: Floats
    middle: Floats
    place: Floats
    covariance: Floats
    misfits: tuple[Misfit, ...]
    sigma0: float | None

    def __post_init__(self) -> None:
        for name in ("rotation", "middle", "place", "covariance"):
            object.__setattr__(self, name, locked(getattr(self, name)))

    def to_boat(self, points: Floats) -> Floats:
        """Return points of the scan in the boat's axes, (n, 3) [m]."""
        laid: Floats = self.scale * ((points - self.middle) @ self.rotation.T) + self.place
        return laid

    def to_scan(self, boat: Floats) -> Floats:
        """Return points of the boat in the scan's own unit and axes, (n, 3)."""
        back: Floats = (boat - self.place) @ self.rotation / self.scale + self.middle
        return back

    def carried(self, boat: Floats) -> Floats:
        """Return the joint covariance that the frame gives points of the boat, (3n, 3n) [m2]."""
        arm = boat - self.place
        rows = np.zeros((len(boat), 3, 7))
        rows[:, :, 0] = arm
        for axis in range(3):
            rows[:, :, 1 + axis] = np.cross(np.eye(3)[axis], arm)
        rows[:, :, 4:] = np.eye(3)
        flat = rows.reshape(-1, 7)
        spread: Floats = flat @ self.covariance @ flat.T
        return spread


def lay_scan(names: Sequence[str], places: Floats, ties: Ties, *, file: str = "") -> Frame:
    """Return how a scan lies in the boat.

    Parameters
    ----------
    names : sequence of str
        Picked points.
    places : (n, 3) ndarray
        In the scan's own unit and axes.
    ties : Ties
    file : str
        For complaints.

    Raises
    ------
    DesignError
        When scale, turn or place is not fixed by what is known, or could as well be another.
    """
    rows = _Rows(names, places, ties)
    _check_scale(rows, ties, file)
    found = [_settled(rows, start) for start in _starts(rows)]
    least = min(cost for _, cost in found)
    alike = [one for one in found if one[1] < least + SAME_COST]
    aft = [one for one in alike if np.median(rows.laid(one[0])[:, 0]) > 0]  # a cockpit lies aft of its bulkhead
    best = min(aft or alike, key=lambda one: one[1])
    slopes = rows.slopes(best[0])
    size = np.linalg.norm(slopes, axis=0)
    values = np.linalg.svd(slopes / np.maximum(size, 1e-30), compute_uv=False)
    if len(slopes) < 7 or values[-1] < 1e-4 * values[0]:
        raise _wrong(file, "scan-not-laid", f"{len(names)} points, which leave the scan free to turn or move", PIN)
    for unknowns, _ in aft or alike:
        turn = Rotation.from_matrix(unknowns.rotation.T @ best[0].rotation).magnitude()
        if turn > 0.1:
            raise _wrong(file, "scan-two-ways", "points that fit the boat in two ways", PIN)
    covariance: Floats = np.linalg.inv(slopes.T @ slopes).astype(np.float64)
    reliability = np.eye(len(slopes)) - slopes @ covariance @ slopes.T
    residual = rows.residual(best[0])
    freedom = len(slopes) - 7
    state = best[0]
    return Frame(
        scale=float(np.exp(state.log_scale)), scale_sd=float(np.sqrt(covariance[0, 0])), rotation=state.rotation,
        middle=rows.middle, place=state.place, covariance=covariance,
        misfits=_misfits(rows, residual, reliability, freedom),
        sigma0=float(np.sqrt(residual @ residual / freedom)) if freedom > 0 else None,
    )  # fmt: skip


PIN = (
    "Pick three marks that are not in one line and whose places are known, or points on the centreline, the sole, the "
    "bulkhead and the waterline (column on), and say which way is up (--up)."
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _State:
    log_scale: float
    rotation: Floats
    place: Floats

    def moved(self, step: Floats) -> _State:
        return _State(
            log_scale=self.log_scale + float(step[0]),
            rotation=Rotation.from_rotvec(step[1:4]).as_matrix() @ self.rotation,
            place=self.place + step[4:],
        )


class _Rows:
    """Everything known of the picked points as rows of misfit over its standard deviation."""

    def __init__(self, names: Sequence[str], places: Floats, ties: Ties) -> None:
        index = {name: k for k, name in enumerate(names)}
        self.middle: Floats = places.mean(axis=0)
        self.places: Floats = places - self.middle
        self.known = [index[name] for name in names if name in ties.known]
        self.target = np.array([ties.known[names[k]] for k in self.known]).reshape(-1, 3)
        self.faces = [(index[name], FACE_AXIS[face]) for name, face in ties.on.items() if name in index]
        self.face_at = np.array(
            [ties.water_z if face == "waterline" else 0.0 for n, face in ties.on.items() if n in index]
        )
        self.distances = [(index[one.a], index[one.b]) for one in ties.distances]
        self.lengths = np.array([one.length for one in ties.distances])
        self.up = None if ties.up is None else ties.up / np.linalg.norm(ties.up)
        pick = ties.pick_sd
        self.sigma = np.concatenate([
            np.full(3 * len(self.known), float(np.hypot(pick, ties.known_sd))),
            np.full(len(self.faces), float(np.hypot(pick, FACE_SD))),
            np.hypot(pick * np.sqrt(2), [one.sd for one in ties.distances]),
            np.full(0 if self.up is None else 2, LEVEL_SD),
        ])  # fmt: skip
        self.names = [
            *(f"place of {names[k]}, {way}" for k in self.known for way in ("aft", "to starboard", "up")),
            *(f"{names[k]} on the {ties.on[names[k]]}" for k, _ in self.faces),
            *(f"distance {one.a} to {one.b}" for one in ties.distances),
            *(() if self.up is None else ("up, fore and aft", "up, athwart")),
        ]

    def laid(self, state: _State) -> Floats:
        places: Floats = np.exp(state.log_scale) * (self.places @ state.rotation.T) + state.place
        return places

    def residual(self, state: _State) -> Floats:
        laid = self.laid(state)
        spans = [laid[a] - laid[b] for a, b in self.distances]
        parts = [
            (laid[self.known] - self.target).ravel(),
            np.array([laid[k, axis] for k, axis in self.faces]) - self.face_at,
            np.array([np.linalg.norm(span) for span in spans]) - self.lengths,
        ]
        if self.up is not None:
            lean = state.rotation @ self.up
            # past level the angle itself counts, so that upside down is not as good as upright
            parts.append(
                lean[:2] if lean[2] > 0 else lean[:2] / max(float(np.hypot(*lean[:2])), 1e-9) * (2 + lean[2] ** 2)
            )
        whole: Floats = np.concatenate(parts) / self.sigma
        return whole

    def slopes(self, state: _State) -> Floats:
        columns = []
        for k in range(7):
            step = np.zeros(7)
            step[k] = TURN_STEP
            columns.append((self.residual(state.moved(step)) - self.residual(state.moved(-step))) / (2 * TURN_STEP))
        return np.column_stack(columns)


def _check_scale(rows: _Rows, ties: Ties, file: str) -> None:
    if not ties.distances and len(rows.known) < 2:
        raise _wrong(
            file, "scan-no-scale", "no known distance",
            'Give a taped distance between two picked points (--distance "a b 2.35 m"), or pick two known marks.',
        )  # fmt: skip
    for (a, b), length in zip(rows.distances, rows.lengths, strict=True):
        if not np.linalg.norm(rows.places[a] - rows.places[b]) > 0 or not length > 0:
            raise _wrong(file, "scan-no-scale", "a distance between two points picked at one spot", "Pick them apart.")


def _starts(rows: _Rows) -> list[_State]:
    """Return ways to begin: the best fit of known marks, or all quarter turns where fewer than three are known."""
    ratios = [
        length / np.linalg.norm(rows.places[a] - rows.places[b])
        for (a, b), length in zip(rows.distances, rows.lengths, strict=True)
    ]
    if len(rows.known) >= 3 and np.linalg.matrix_rank(rows.target - rows.target.mean(axis=0), tol=0.02) >= 2:
        here, there = rows.places[rows.known], rows.target
        a, b = here - here.mean(axis=0), there - there.mean(axis=0)
        left, size, right = np.linalg.svd(b.T @ a)
        turn = np.diag([1.0, 1.0, np.sign(np.linalg.det(left @ right))])
        rotation = left @ turn @ right
        scale = float(np.median(ratios)) if ratios else float((size * np.diag(turn)).sum() / (a**2).sum())
        place = there.mean(axis=0) - scale * rotation @ here.mean(axis=0)
        return [_State(log_scale=float(np.log(scale)), rotation=rotation, place=place)]
    if not ratios:
        a, b = rows.known[:2]
        ratios = [np.linalg.norm(rows.target[0] - rows.target[1]) / np.linalg.norm(rows.places[a] - rows.places[b])]
    place = rows.target.mean(axis=0) if len(rows.known) else np.zeros(3)
    return [
        _State(log_scale=float(np.log(np.median(ratios))), rotation=turn.as_matrix(), place=place)
        for turn in Rotation.create_group("O")
    ]


def _settled(rows: _Rows, state: _State) -> tuple[_State, float]:
    """Return the state of least cost near a start, and that cost."""
    damping = 1e-3
    residual = rows.residual(state)
    cost = float(residual @ residual)
    for _ in range(STEPS):
        slopes = rows.slopes(state)
        normal = slopes.T @ slopes
        scale = np.diag(np.diag(normal) + 1e-9 * max(float(np.diag(normal).max()), 1e-30))
        before = cost
        for _ in range(10):
            step: Floats = -np.linalg.solve(normal + damping * scale, slopes.T @ residual).astype(np.float64)
            step[1:4] /= max(1.0, float(np.linalg.norm(step[1:4])))
            step[0] = np.clip(step[0], -1.0, 1.0)
            trial = state.moved(step)
            tried = rows.residual(trial)
            if float(tried @ tried) <= cost:
                state, residual, cost, damping = trial, tried, float(tried @ tried), max(damping / 10, 1e-9)
                break
            damping *= 10
        if before - cost <= 1e-10 * (1 + cost):
            break
    return state, cost


def _misfits(rows: _Rows, residual: Floats, reliability: Floats, freedom: int) -> tuple[Misfit, ...]:
    """Return statements past what chance gives, each in turn left out before the next is looked for."""
    seen = np.flatnonzero(np.diag(reliability) > SEEN)
    limit = critical_value(reliability[np.ix_(seen, seen)], freedom, alarm=ALARM, sigma_known=True)
    found: list[Misfit] = []
    while len(found) < min(6, freedom):
        own = np.diag(reliability)
        size = np.where(own > SEEN, np.abs(residual) / np.sqrt(np.maximum(own, SEEN)), 0.0)
        k = int(np.argmax(size))
        if not len(size) or size[k] <= limit:
            break
        unit = rows.sigma[k] * (1.0 if not rows.names[k].startswith("up,") else 0.0)
        found.append(Misfit(name=rows.names[k], off=float(residual[k] / own[k] * unit), standardised=float(size[k])))
        column = reliability[:, k] / own[k]
        residual = residual - column * residual[k]
        reliability = reliability - np.outer(column, reliability[k])
    return tuple(found)


def _wrong(file: str, code: str, found: str, wanted: str) -> DesignError:
    return DesignError([Problem(code=code, file=file, found=found, wanted=wanted)])
