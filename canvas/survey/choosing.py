"""Drop readings from all that are possible, one at a time, for the least effort that keeps every reading checked.

Computes: a set of rows of least effort in which each keeps its redundancy and each mark its number of readings.
Units: rows in units of their standard deviation; effort in minutes.
Source: redundancy after leaving out one row by the rank-one update of the covariance, as in W. Baarda, S-transforma-
    tions and criterion matrices, 1973; the choice itself is greedy.
Limits: near the best, not proved best; compared with the best of all sets in the tests.
"""

from __future__ import annotations

import numpy as np

from canvas.survey.marks import Bools, Floats, Ints

NEAR_FLOOR = 0.02  # redundancy over its floor at which a reading weighs most
WORST_MARK = (10.0, 1.0, 0.0)  # weights, tried in turn, of the marks' spread against the redundancies in what to drop
SMOOTH = 12  # power in the smooth maximum over marks
AT_ONCE = 0.06  # share of the surplus dropped before all are weighed again
PASSES = 3
MANY = 250  # possible rows beyond which one pass with one weight must do
EVENING = 0.05  # share of the least effort that may be added to even out the marks
GAIN = 0.005  # least gain in the worst variance worth a swap
LITTLE = 1e-9


class Choice:
    """A set of rows, with what each further row would say about it.

    Parameters
    ----------
    rows : (m, u) ndarray
        Slopes of all possible rows over their sigma.
    prior : (u, u) ndarray
        Inverse covariance before any row.
    columns : (k, d) ndarray of int
        Unknowns of each mark that moves.
    """

    def __init__(self, rows: Floats, *, prior: Floats, columns: Ints) -> None:
        covariance = np.linalg.inv(rows.T @ rows + prior)
        self.columns = columns
        self.chosen: Bools = np.ones(len(rows), dtype=np.bool_)
        self.reach = covariance @ rows.T
        self.overlap = rows @ self.reach
        self.spread = np.diag(covariance)[columns].sum(axis=1)

    def copy(self) -> Choice:
        """Return a copy that can be changed by itself."""
        other = object.__new__(Choice)
        other.columns, other.chosen = self.columns, self.chosen.copy()
        other.reach, other.overlap, other.spread = self.reach.copy(), self.overlap.copy(), self.spread.copy()
        return other

    @property
    def redundancy(self) -> Floats:
        """Redundancy of each row, if chosen, shape (m,)."""
        own: Floats = 1 - np.diag(self.overlap)
        return own

    def change(self, row: int, *, take: bool) -> None:
        """Take a row in or leave it out."""
        own = float(self.overlap[row, row])
        share = -1 / (1 + own) if take else 1 / (1 - own)
        reach, overlap = self.reach[:, row].copy(), self.overlap[:, row].copy()
        self.reach += share * np.outer(reach, overlap)
        self.overlap += share * np.outer(overlap, overlap)
        self.spread += share * (reach[self.columns] ** 2).sum(axis=1)
        self.chosen[row] = take

    def worst(self) -> float:
        """Return the smooth maximum of the marks' variances [m2]."""
        return float(np.sum(self.spread**SMOOTH) ** (1 / SMOOTH))

    def worst_without(self, rows: Ints) -> Floats:
        """Return the same once each of `rows` is left out, shape (k,) [m2]."""
        own = self.redundancy[rows, None]
        grown = self.spread + (self.reach[self.columns][:, :, rows] ** 2).sum(axis=1).T / own
        worst: Floats = np.sum(grown**SMOOTH, axis=1) ** (1 / SMOOTH)
        return worst


class Chooser:
    """Find the set of least effort.

    Parameters
    ----------
    start : Choice
        With all rows chosen.
    effort : (m,) ndarray
        [min] Rows of none are in hand already and stay.
    touch : (m, k) ndarray of int
        1 where a row touches a mark that moves.
    least_redundancy : float
    per_mark : int
    """

    def __init__(self, start: Choice, *, effort: Floats, touch: Ints, least_redundancy: float, per_mark: int) -> None:
        self._start = start
        self._effort = effort
        self._touch = touch
        full = start.redundancy
        self._floor = np.where(full >= least_redundancy, least_redundancy, 0.9 * full)
        self._weight = WORST_MARK[0]
        self._enough = np.minimum(per_mark, touch.sum(axis=0))

    def best(self) -> Bools:
        """Return the rows to take, shape (m,)."""
        tried = []
        many = len(self._effort) > MANY
        for self._weight in WORST_MARK[:1] if many else WORST_MARK:
            choice = self._dropped(self._start.copy())
            for _ in range(1 if many else PASSES):
                better = self._exchanged(choice)
                if better is None:
                    break
                choice = better
            tried.append(choice)
        return self._evened(min(tried, key=self._cost)).chosen

    def _cost(self, choice: Choice) -> tuple[float, float]:
        return round(float(self._effort[choice.chosen].sum()), 6), choice.worst()

    def _evened(self, choice: Choice) -> Choice:
        """Swap single rows while the worst mark gains and the effort stays within `EVENING` of what it is."""
        most = float(self._effort[choice.chosen].sum()) * (1 + EVENING)
        gained = True
        while gained:
            gained = False
            for row in np.flatnonzero(~choice.chosen):
                trial = choice.copy()
                trial.change(int(row), take=True)
                room = most - float(self._effort[trial.chosen].sum())
                rows = self._droppable(trial)
                rows = rows[self._effort[rows] >= -room]
                worst = self._worst_without(trial, rows)
                if len(rows) and worst.min() < (1 - GAIN) * choice.worst():
                    trial.change(int(rows[np.argmin(worst)]), take=False)
                    choice, gained = trial, True
        return choice

    def _worst_without(self, choice: Choice, rows: Ints) -> Floats:
        """Return the smooth worst mark once each of `rows` is dropped; infinite where a redundancy falls too low."""
        worst: Floats = np.where(self._scores(choice, rows) > -np.inf, choice.worst_without(rows), np.inf)
        return worst

    def _droppable(self, choice: Choice) -> Ints:
        spare = choice.chosen & (self._touch @ (self._touch[choice.chosen].sum(axis=0) <= self._enough) == 0)
        return np.flatnonzero(spare & (self._effort > 0) & (choice.redundancy > self._floor))

    def _scores(self, choice: Choice, rows: Ints) -> Floats:
        """Return effort saved over harm done for dropping each of `rows`; -inf where a redundancy falls too low."""
        chosen = np.flatnonzero(choice.chosen)
        own = choice.redundancy
        fall = choice.overlap[np.ix_(chosen, rows)] ** 2 / own[rows]
        before = np.maximum(own[chosen] - self._floor[chosen], 0.0)
        after = before[:, None] - fall
        after[np.searchsorted(chosen, rows), np.arange(len(rows))] = 1.0
        possible = after.min(axis=0) >= 0
        harm = np.log((before[:, None] + NEAR_FLOOR) / (np.maximum(after, 0.0) + NEAR_FLOOR))
        harm[np.searchsorted(chosen, rows), np.arange(len(rows))] = 0.0
        worse = np.log(choice.worst_without(rows) / choice.worst())
        total = harm.sum(axis=0) + self._weight * np.maximum(worse, 0.0)
        return np.where(possible, self._effort[rows] / (total + LITTLE), -np.inf)

    def _dropped(self, choice: Choice) -> Choice:
        """Leave out rows until none can be spared."""
        need = choice.reach.shape[0]
        while True:
            rows = self._droppable(choice)
            scores = self._scores(choice, rows) if len(rows) else np.zeros(0)
            if not len(scores) or scores.max() == -np.inf:
                return choice
            surplus = int(choice.chosen.sum()) - 2 * need
            for row in rows[np.argsort(-scores, kind="stable")][: max(1, int(AT_ONCE * surplus))]:
                if row in self._droppable(choice) and self._scores(choice, np.array([row]))[0] > -np.inf:
                    choice.change(int(row), take=False)

    def _exchanged(self, choice: Choice) -> Choice | None:
        """Return a better set by taking in one row and dropping others; None where there is none."""
        best, cost = None, self._cost(choice)
        for row in np.flatnonzero(~choice.chosen):
            trial = choice.copy()
            trial.change(int(row), take=True)
            trial = self._dropped(trial)
            trial_cost = self._cost(trial)
            if (trial_cost[0], trial_cost[1] * (1 + 1e-6)) < cost:
                best, cost = trial, trial_cost
                choice = trial
        return best
