"""Name the reading most likely wrong, and say what it probably was.

Computes: the critical value that gives one false alarm in a hundred surveys; the readings past it, worst first; what
    each would have to be; errors nobody would see.
Units: metres.
Source: W. Baarda, A Testing Procedure for Use in Geodetic Networks, 1968 (standardised residuals); A. J. Pope, 1976
    (the same with the scatter estimated); the critical value is found by drawing residuals of this very survey.
Limits: more than three wrong readings at once hide each other; a wrong reading with small redundancy moves the mark
    instead of showing.
Departs: Baarda tests each reading at a fixed chance; here the chance is counted over the survey.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from canvas.survey.marks import Floats, Marks
from canvas.survey.readings import Reading, describe
from canvas.survey.slips import probable_slip

DRAWS = 16_000
BATCH = 2_000
CHECKED = 0.3  # redundancy below which an error would hardly be seen
MOST = 6  # suspects named in one survey
SEEN = 1e-6  # redundancy below which a row has no residual of its own
PAIRS_AMONG = 40  # rows among which the worst pair is looked for


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """One reading that does not agree with the others.

    Attributes
    ----------
    reading : Reading
    name : str
        For people.
    found : float
        [m] As read.
    probable : float
        [m] What the other readings say it is.
    probable_sd : float
        [m]
    standardised : float
        Size of its residual in its own standard deviations, those named before it left out.
    critical : float
        What that is compared with.
    slip : str or None
        What may have happened, such as ``off by 100 mm``; None where nothing known fits.
    """

    reading: Reading
    name: str
    found: float
    probable: float
    probable_sd: float
    standardised: float
    critical: float
    slip: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Unseen:
    """One reading in which an error would hardly show.

    Attributes
    ----------
    reading : Reading
    name : str
        For people.
    redundancy : float
        Share of an error that shows.
    least_seen : float or None
        [m] Smallest error that is found four times in five; None where none is.
    """

    reading: Reading
    name: str
    redundancy: float
    least_seen: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """What the residuals of a survey say about its readings.

    Attributes
    ----------
    suspects : tuple of Suspect
        Worst first.
    unseen : tuple of Unseen
        Least redundancy first.
    critical : float
        Largest standardised residual expected in all but the asked share of surveys without a wrong reading.
    scatter : float or None
        Root mean square of residual over sigma per degree of freedom, the suspects left out; None without redundancy.
    """

    suspects: tuple[Suspect, ...]
    unseen: tuple[Unseen, ...]
    critical: float
    scatter: float | None


def judge(marks: Marks, *, alarm: float = 0.01, sigma_known: bool = True) -> Judgement:
    """Return the readings that are probably wrong and those in which an error would not be seen.

    Parameters
    ----------
    marks : Marks
        As adjusted.
    alarm : float
        Share of surveys without a wrong reading in which one is named all the same.
    sigma_known : bool
        Whether the standard deviations stated for the readings are believed; otherwise residuals are compared with the
        scatter of the survey itself.
    """
    rows = np.flatnonzero(marks.active & (np.diag(marks.reliability) > SEEN)) if len(marks.sigma) else np.zeros(0, int)
    reliability = marks.reliability[np.ix_(rows, rows)]
    residual = marks.first_residual[rows] / marks.sigma[rows]
    freedom = marks.degrees_of_freedom
    critical = critical_value(reliability, freedom, alarm=alarm, sigma_known=sigma_known)
    named = _named(reliability, residual, freedom, critical=critical, sigma_known=sigma_known)
    suspects = []
    for k, row in enumerate(named):
        cleared, own = _cleared(reliability, residual, [other for j, other in enumerate(named) if j != k])
        spread = float(np.sqrt(own[row, row]))
        error = -cleared[row] / own[row, row]
        scale = 1.0 if sigma_known else _scatter(cleared, freedom - len(named) + 1)
        suspects.append(
            _suspect(marks, int(rows[row]), error=float(error), sd=1 / spread,
                     standardised=abs(float(cleared[row])) / spread / scale, critical=critical)
        )  # fmt: skip
    left, _ = _cleared(reliability, residual, named)
    rest = freedom - len(named)
    return Judgement(
        suspects=tuple(suspects),
        unseen=_unseen(marks, critical),
        critical=critical,
        scatter=_scatter(left, rest) if rest > 0 else None,
    )


def critical_value(reliability: Floats, freedom: int, *, alarm: float, sigma_known: bool) -> float:
    """Return the standardised residual that the largest of a survey exceeds by chance with probability `alarm`.

    Found from `DRAWS` surveys with the same reliability and normal errors, always the same draws.

    Parameters
    ----------
    reliability : (m, m) ndarray
        As in `canvas.survey.marks.Marks`, of the rows that have a residual.
    freedom : int
    alarm : float
    sigma_known : bool
        False divides each survey by its own scatter.
    """
    if freedom <= 0 or not len(reliability):
        return float("inf")
    values, vectors = np.linalg.eigh(reliability)
    root = (vectors[:, values > 0.5] / np.sqrt(np.diag(reliability))[:, None]).astype(np.float32)
    random = np.random.default_rng(1968)
    parts = []
    for _ in range(DRAWS // BATCH):
        draws = random.standard_normal((BATCH, root.shape[1]), dtype=np.float32)
        largest = np.abs(draws @ root.T).max(axis=1)
        parts.append(largest if sigma_known else largest / np.sqrt((draws**2).sum(axis=1) / root.shape[1]))
    largest = np.concatenate(parts)
    return float(np.quantile(largest, 1 - alarm))


def _scatter(residual: Floats, freedom: int) -> float:
    return float(np.sqrt(np.sum(residual**2) / freedom)) if freedom > 0 else 1.0


def _cleared(reliability: Floats, residual: Floats, left_out: list[int]) -> tuple[Floats, Floats]:
    """Return residuals and reliability once some rows are left out; theirs become zero."""
    if not left_out:
        return residual, reliability
    columns = reliability[:, left_out]
    gain = columns @ np.linalg.pinv(reliability[np.ix_(left_out, left_out)], rcond=1e-9)
    return residual - gain @ residual[left_out], reliability - gain @ columns.T


def _standardised(residual: Floats, reliability: Floats) -> Floats:
    own = np.diag(reliability)
    seen = own > SEEN
    return np.where(seen, np.abs(residual) / np.sqrt(np.where(seen, own, 1.0)), 0.0)


def _named(reliability: Floats, residual: Floats, freedom: int, *, critical: float, sigma_known: bool) -> list[int]:
    """Return the rows to name, worst first: one, else the best pair, else one more at a time."""
    named: list[int] = []
    while len(named) < min(MOST, freedom):
        left, own = _cleared(reliability, residual, named)
        size = _standardised(left, own)
        scale = 1.0 if sigma_known else _scatter(left, freedom - len(named))
        if not len(size) or size.max() <= critical * scale:
            break
        named.append(int(np.argmax(size)))
        if len(named) == 2:
            named = _best_pair(reliability, residual, named)
    return _by_weight(reliability, residual, named)


def _best_pair(reliability: Floats, residual: Floats, found: list[int]) -> list[int]:
    """Return the pair of rows that, left out, lowers the sum of squares most; `found` where none lowers it more."""
    likely = np.argsort(_standardised(residual, reliability))[::-1][:PAIRS_AMONG]
    best, most = found, _gain(reliability, residual, found)
    for pair in combinations(sorted({*likely.tolist(), *found}), 2):
        gain = _gain(reliability, residual, list(pair))
        if gain > most + 1e-9:
            best, most = list(pair), gain
    return best


def _gain(reliability: Floats, residual: Floats, rows: list[int]) -> float:
    """Return by how much the sum of squares falls when `rows` are left out."""
    block = reliability[np.ix_(rows, rows)]
    if np.linalg.eigvalsh(block)[0] < 1e-4:
        return 0.0
    return float(residual[rows] @ np.linalg.solve(block, residual[rows]))


def _by_weight(reliability: Floats, residual: Floats, named: list[int]) -> list[int]:
    """Return the named rows, that whose error explains most first."""
    alone = {}
    for row in named:
        left, own = _cleared(reliability, residual, [other for other in named if other != row])
        alone[row] = float(_standardised(left, own)[row])
    return sorted(named, key=lambda row: -alone[row])


def _suspect(marks: Marks, row: int, *, error: float, sd: float, standardised: float, critical: float) -> Suspect:
    reading = marks.readings[marks.row_reading[row]]
    sigma, found = float(marks.sigma[row]), float(marks.observed[row])
    probable = found - error * sigma
    return Suspect(
        reading=reading,
        name=describe(reading),
        found=found,
        probable=probable,
        probable_sd=sd * sigma,
        standardised=standardised,
        critical=critical,
        slip=probable_slip(reading, found=found, probable=probable, sd=sd * sigma),
    )


def _unseen(marks: Marks, critical: float) -> tuple[Unseen, ...]:
    """Return readings with too little redundancy; a reading with two rows counts by the lesser."""
    least: dict[int, int] = {}
    for row in np.flatnonzero(marks.active).tolist():
        number = int(marks.row_reading[row])
        if number not in least or marks.redundancy[row] < marks.redundancy[least[number]]:
            least[number] = row
    unseen = []
    for number, row in least.items():
        redundancy = float(marks.redundancy[row])
        if redundancy < CHECKED:
            # Baarda's lower bound: critical value plus 0.84, the normal quantile of four in five
            seen = (critical + 0.84) * float(marks.sigma[row]) / np.sqrt(redundancy) if redundancy > SEEN else None
            reading = marks.readings[number]
            unseen.append(
                Unseen(reading=reading, name=describe(reading), redundancy=redundancy,
                       least_seen=None if seen is None or not np.isfinite(seen) else float(seen))
            )  # fmt: skip
    return tuple(sorted(unseen, key=lambda one: one.redundancy))
