"""Take photographs of coded targets into a survey: what was seen, what moved, what is blurred, where the marks are.

Computes: marks with their joint covariance, from photographs and the crew's other readings in one adjustment; targets
    that moved, and between which photographs; photographs and readings that do not agree.
Units: metres, boat frame; pixels.
Source: `canvas.asbuilt.bundle`; what does not agree is found by its misfit against the spread of all, worst first, and
    left out before the next is looked for, as in `canvas.survey.suspects`.
Limits: a target seen once, or from one side only, cannot be seen to have moved. Photographs in the order of the list.
"""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy

import numpy as np

from canvas.asbuilt.bundle import Adjustment, Bundle
from canvas.asbuilt.inconsistent import least_consistent
from canvas.asbuilt.photographed import Disagreement, Moved, Photo, Photographed, Stuck
from canvas.asbuilt.placing import Placed, Placing
from canvas.asbuilt.sighted import photo_not_used, sighted
from canvas.asbuilt.targets import Seen
from canvas.asbuilt.views import Sheet, State
from canvas.design.problems import DesignError, Problem
from canvas.geometry.surface import Bools, Floats
from canvas.survey.adjust import adjust
from canvas.survey.datum import Datum, rigid_fit
from canvas.survey.equations import Equations
from canvas.survey.from_design import Survey
from canvas.survey.marks import Marks
from canvas.survey.readings import Side, describe

FIRST_SD = 0.5  # [px]
LEAST_SD = 0.03  # [px]
BAD = 3.0  # times the spread of all, beyond which a target, view or photograph does not agree
LEAST_OFF = 0.3  # [px] less than this is never called wrong
LEAST_READINGS = 3  # that place a mark without a target
SILENT = 1e6  # [m] standard deviation of a reading that is not to count
MOST_LEFT_OUT = 60
APART = "does not agree with the others: blurred by movement, or zoomed"
CRITICAL = 3.5  # standardised residual of a reading that is named


def take_photographs(
    seen: Sequence[Seen], stuck: Sequence[Stuck], *, survey: Survey, size_sd: float = 0.002
) -> Photographed:
    """Return where the marks are by photographs and the crew's readings together.

    Parameters
    ----------
    seen : sequence of Seen
        In the order in which the photographs were taken.
    stuck : sequence of Stuck
    survey : Survey
        Readings and coordinates of the design; `canvas.survey.from_design.survey_of`.
    size_sd : float
        How well the printed size is known, as a share of it.

    Raises
    ------
    DesignError
        When no photograph can be used, or nothing ties them to the boat.
    CouldNot
        When OpenCV is not there.
    """
    work = _Work(seen, stuck, survey, size_sd)
    work.clear_out()
    return work.result()


class _Work:
    """Photographs on the way to marks."""

    def __init__(self, seen: Sequence[Seen], stuck: Sequence[Stuck], survey: Survey, size_sd: float) -> None:
        self.seen, self.stuck, self.survey = seen, list(stuck), survey
        found = sighted(seen, stuck)
        self.views, self.said, self.problems = found.views, dict(found.said), found.problems
        self.moved: list[Moved] = []
        entries = tuple(entry for entry in survey.entries if not isinstance(entry, Side))
        self.names = tuple(dict.fromkeys((*(one.mark for one in self.stuck), *(m for e in entries for m in e.marks))))
        self.entries = entries
        index = {name: k for k, name in enumerate(self.names)}
        self.sheet = Sheet(
            mark=np.array([index[one.mark] for one in self.stuck]), size=np.array([one.size for one in self.stuck]),
            behind=np.array([-one.behind for one in self.stuck]), size_sd=size_sd,
        )  # fmt: skip
        self.held: Bools = np.array([name in survey.datum.held for name in self.names])
        given = {**survey.datum.rough, **survey.datum.held}
        nowhere = (np.nan, np.nan, np.nan)
        self.rough = np.array([given.get(name, nowhere) for name in self.names], dtype=np.float64)
        if self.held.sum() < 3:
            self.held[:] = False
        self._start()

    loose: Bools

    def _start(self) -> None:
        placed = Placing(self.views, self.sheet.size).place()
        for p in np.flatnonzero(~placed.photos).tolist():
            self.said.setdefault(p, "sees too few targets that other photographs see")
        self._keep(placed.photos[self.views.photo] & placed.targets[self.views.target])
        self.state = self._in_the_boat(placed)

    def _keep(self, rows: Bools) -> None:
        self.views = self.views.only(rows)

    def _in_the_boat(self, placed: Placed) -> State:
        """Return the first state, laid on the coordinates that are known."""
        centres = placed.middles - placed.turns[:, :, 2] * -self.sheet.behind[:, None]
        seen = np.unique(self.views.target)
        known = [t for t in seen if np.isfinite(self.rough[self.sheet.mark[t]]).all()]
        target = self.rough[self.sheet.mark[known]]
        if len(known) < 3 or np.linalg.matrix_rank(target - target.mean(axis=0), tol=0.02) < 2:
            raise DesignError([
                Problem(code="photo-not-laid", key="marks",
                        found=f"{len(known)} photographed marks whose coordinates are known",
                        wanted="Put targets on three or more marks with coordinates, not in one line."),
            ])  # fmt: skip
        turn, shift = rigid_fit(centres[known], target, mirrored=False, dimension=3)
        xyz = self.rough.copy()
        xyz[self.sheet.mark[seen]] = centres[seen] @ turn + shift
        xyz[self.held] = self.rough[self.held]
        self.equations = self._equations(xyz)
        photos = len(self.seen)
        cameras = np.zeros((len(self.views.focal), 7))
        cameras[:, 0], cameras[:, 1:3] = self.views.focal, self.views.middle
        poses, shifts = np.tile(np.eye(3), (photos, 1, 1)), np.zeros((photos, 3))
        poses[: len(placed.poses)], shifts[: len(placed.poses)] = placed.poses @ turn, placed.shifts
        return State(
            unknowns=self.equations.complete(self._starts), turns=turn.T @ placed.turns, poses=poses,
            shifts=shifts - np.einsum("pij,j->pi", poses, shift), cameras=cameras, stretch=0.0,
        )  # fmt: skip

    def _equations(self, xyz: Floats) -> Equations:
        """Return the equations of the readings; marks without a target start where the survey alone puts them."""
        lost = [name for name, place in zip(self.names, xyz, strict=True) if not np.isfinite(place).all()]
        touched = {mark for entry in self.entries for mark in entry.marks}
        alone_by = [n for n in lost if sum(n in entry.marks for entry in self.entries) >= LEAST_READINGS]
        usable = [e for e in self.survey.entries if not set(e.marks) & (set(lost) - set(alone_by))]
        if alone_by:
            fixed = {n: tuple(p) for n, p in zip(self.names, xyz, strict=True) if np.isfinite(p).all() and n in touched}
            alone = adjust(
                usable, datum=Datum(held=fixed), sessions=self.survey.sessions,
                precision=self.survey.precision,
            )  # fmt: skip
            for name in alone_by:
                xyz[self.names.index(name)] = alone.at(name)
        self._unseen = [name for name, place in zip(self.names, xyz, strict=True) if not np.isfinite(place).all()]
        xyz[~np.isfinite(xyz)] = 0.0
        self._starts = xyz
        return Equations(
            self.names, self.entries, precision=self.survey.precision, sessions=self.survey.sessions, xyz=xyz
        )

    def adjustment(self) -> Adjustment:
        """Return the equations of what is still counted.

        Marks without a target and with fewer than three readings stay where they are, and their readings say nothing.
        """
        seen = {int(self.sheet.mark[t]) for t in np.unique(self.views.target)}
        index = {name: k for k, name in enumerate(self.names)}
        touching = np.zeros(len(self.names), dtype=np.int64)
        for entry in self.entries:
            touching[[index[mark] for mark in entry.marks]] += 1
        loose = np.array([k not in seen and touching[k] < LEAST_READINGS for k in range(len(self.names))]) & ~self.held
        silent = [any(loose[index[mark]] for mark in entry.marks) for entry in self.equations.readings]
        equations = copy(self.equations)
        equations.sigma = np.where(
            np.array(silent, dtype=bool)[self.equations.row_reading], SILENT, self.equations.sigma
        )
        self.loose = loose
        whole = Adjustment(
            self.views, self.sheet, names=self.names, equations=equations, photos=len(self.seen), held=self.held,
            rough=np.where(loose[:, None], np.nan, self.rough),
        )  # fmt: skip
        whole.hold(loose)
        return whole

    def clear_out(self) -> None:
        """Leave out, worst first, views, photographs and targets that do not agree with the others.

        Photographs left out are tried once more when the targets that moved are known: those may have been their fault.
        """
        everything = self.views
        self._clear()
        again = [p for p in self.said if self.said[p] == APART]
        if again and self.moved:
            gone = [k for k, one in enumerate(self.stuck) if one.number in {moved.number for moved in self.moved}]
            back = np.isin(everything.photo, again) & ~np.isin(everything.target, gone)
            self.views = self.views.with_more(everything.only(back))
            for p in again:
                del self.said[p]
            self._clear()

    def _clear(self) -> None:
        self.pixel_sd = FIRST_SD
        self.state = self.adjustment().settle(self.state, self.pixel_sd)
        for _ in range(MOST_LEFT_OUT):
            misfit = self.adjustment().image(self.state, slopes=False)[0].reshape(-1, 8)
            self.pixel_sd = max(1.4826 * float(np.median(np.abs(misfit))), LEAST_SD)
            square = (misfit**2).mean(axis=1)
            found = least_consistent(
                self.views, square, max(BAD * self.pixel_sd, LEAST_OFF) ** 2, state=self.state, stuck=self.stuck,
                files=[one.file for one in self.seen],
            )  # fmt: skip
            if found is None:
                break
            self._keep(found.keep)
            if found.photo is not None:
                self.said[found.photo] = APART
            if found.moved is not None:
                self.moved.append(found.moved)
            self.state = self.adjustment().settle(self.state, max(self.pixel_sd, 0.1))

    def result(self) -> Photographed:
        """Return the whole, adjusted."""
        whole = self.adjustment()
        bundle = whole.solve(self.state, max(self.pixel_sd, LEAST_SD))
        count = np.bincount(self.views.target, minlength=len(self.stuck))
        seen = {int(self.sheet.mark[t]): int(count[t]) for t in np.flatnonzero(count)}
        rows = [k for k, name in enumerate(self.names) if not self.loose[k] and name not in self._unseen]
        axes = (3 * np.array(rows)[:, None] + np.arange(3)).ravel()
        xyz = bundle.state.unknowns[: 3 * len(self.names)].reshape(-1, 3)
        marks = Marks(
            names=tuple(self.names[k] for k in rows), xyz=xyz[rows], covariance=bundle.covariance[np.ix_(axes, axes)]
        )
        return Photographed(
            marks=marks, views=np.array([seen.get(k, 0) for k in rows]), photos=self._photos(bundle),
            moved=tuple(self.moved), disagreements=self._disagreements(bundle), focal=bundle.state.cameras[:, 0],
            stretch=bundle.state.stretch, pixel_sd=bundle.pixel_sd, problems=self._problems(),
        )  # fmt: skip

    def _photos(self, bundle: Bundle) -> tuple[Photo, ...]:
        square = (bundle.misfit**2).mean(axis=(1, 2))
        photos = []
        for p, one in enumerate(self.seen):
            own = self.views.photo == p
            misfit = float(np.sqrt(square[own].mean())) if own.any() and p not in self.said else None
            photos.append(Photo(file=one.file, targets=len(one.numbers), misfit=misfit, said=self.said.get(p, "")))
        return tuple(photos)

    def _disagreements(self, bundle: Bundle) -> tuple[Disagreement, ...]:
        found = []
        for row in np.argsort(-np.abs(bundle.reading_standardised)).tolist():
            if abs(bundle.reading_standardised[row]) > CRITICAL:
                reading = self.equations.readings[self.equations.row_reading[row]]
                found.append(
                    Disagreement(
                        reading=reading, name=describe(reading), residual=float(bundle.reading_residual[row]),
                        standardised=float(bundle.reading_standardised[row]),
                    )
                )  # fmt: skip
        return tuple(found)

    def _problems(self) -> tuple[Problem, ...]:
        found = [*self.problems, *(photo_not_used(self.seen[p].file, why) for p, why in sorted(self.said.items()))]
        for one in self.moved:
            how = (
                "whose photographs do not agree"
                if one.by is None
                else (f"that moved {1000 * one.by:.0f} mm between {one.before} and {one.after}")
            )
            found.append(
                Problem(code="target-moved", severity="warning", key=f"target {one.number}",
                        found=f'"{one.mark}", {how}',
                        wanted="It was left out; stick it again and photograph it, or tape the mark.")
            )  # fmt: skip
        return tuple(found)
