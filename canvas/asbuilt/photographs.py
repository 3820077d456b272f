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
from dataclasses import dataclass

import numpy as np

from canvas.asbuilt.bundle import Adjustment, Bundle, Sheet, State, Views
from canvas.asbuilt.camera import focal_from_squares
from canvas.asbuilt.placing import Placed, Placing, pose_by_views
from canvas.asbuilt.targets import BLURRED, Seen
from canvas.design.problems import DesignError, Problem
from canvas.geometry.surface import Bools, Floats, Ints, locked
from canvas.survey.adjust import adjust
from canvas.survey.datum import Datum, rigid_fit
from canvas.survey.equations import Equations
from canvas.survey.from_design import Survey
from canvas.survey.marks import Marks
from canvas.survey.readings import Reading, Side, describe

FIRST_SD = 0.5  # [px]
LEAST_SD = 0.03  # [px]
BAD = 3.0  # times the spread of all, beyond which a target, view or photograph does not agree
LEAST_OFF = 0.3  # [px] less than this is never called wrong
LEAST_VIEWS = 2
LEAST_READINGS = 3  # that place a mark without a target
SILENT = 1e6  # [m] standard deviation of a reading that is not to count
FAR_OFF = 1.5  # [px] more than a corner is ever misread by
MOST_LEFT_OUT = 60
APART = "does not agree with the others: blurred by movement, or zoomed"
TOLD = 0.15  # what is left of the misfits when a target's move is told rightly
CRITICAL = 3.5  # standardised residual of a reading that is named


@dataclass(frozen=True, slots=True, kw_only=True)
class Stuck:
    """One printed target and where it is stuck.

    Attributes
    ----------
    number : int
        Printed beside it.
    mark : str
        The mark under its middle; a name of its own where it only ties photographs together.
    size : float
        Of the black square as it should be printed [m].
    behind : float
        How far behind the paper the mark lies [m], such as half the diameter of the tube it is stuck on.
    """

    number: int
    mark: str
    size: float = 0.08
    behind: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """A target that moved while photographs were taken, or whose views do not agree.

    Attributes
    ----------
    number : int
    mark : str
    by : float or None
        [m]
    before, after : str or None
        The photographs between which it moved.
    """

    number: int
    mark: str
    by: float | None
    before: str | None
    after: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Photo:
    """One photograph.

    Attributes
    ----------
    file : str
    targets : int
        Known ones seen in it.
    misfit : float or None
        Root mean square [px]; None where it was not used.
    said : str
        Why it was not used; empty where it was.
    """

    file: str
    targets: int
    misfit: float | None
    said: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Disagreement:
    """A reading that does not agree with photographs and other readings [m]."""

    reading: Reading
    name: str
    residual: float
    standardised: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Photographed:
    """What photographs say of a boat.

    Attributes
    ----------
    marks : Marks
        Of targets and readings, with their joint covariance.
    views : (n,) ndarray of int
        Photographs that each mark's target is seen in.
    photos : tuple of Photo
    moved : tuple of Moved
    disagreements : tuple of Disagreement
    focal : (cameras,) ndarray
        [px]
    stretch, stretch_sd : float
        Printed size over what was asked, less one; how well it was known beforehand.
    pixel_sd : float
        Of one coordinate of a corner [px].
    problems : tuple of Problem
    """

    marks: Marks
    views: Floats
    photos: tuple[Photo, ...]
    moved: tuple[Moved, ...]
    disagreements: tuple[Disagreement, ...]
    focal: Floats
    stretch: float
    pixel_sd: float
    problems: tuple[Problem, ...]

    def __post_init__(self) -> None:
        object.__setattr__(self, "focal", locked(self.focal))
        object.__setattr__(self, "views", locked(self.views))


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
        self.said: dict[int, str] = {}
        self.moved: list[Moved] = []
        self.problems: list[Problem] = []
        row = {one.number: k for k, one in enumerate(self.stuck)}
        sizes = list(dict.fromkeys((one.width, one.height) for one in seen if len(one.numbers)))
        photo, target, camera, corners = [], [], [], []
        for p, one in enumerate(seen):
            known = [k for k, number in enumerate(one.numbers.tolist()) if number in row]
            if not known:
                self.said[p] = _nothing(one)
            for k in known:
                photo.append(p)
                target.append(row[int(one.numbers[k])])
                camera.append(sizes.index((one.width, one.height)))
                corners.append(one.corners[k])
        strange = sorted({int(n) for one in seen for n in one.numbers if int(n) not in row})
        if strange:
            self.problems.append(_note("unknown-target", f"targets {strange} that are not on the list",
                                       "They were left out; name them in the list of targets."))  # fmt: skip
        if len({*photo}) < LEAST_VIEWS:
            raise DesignError(
                [self._photo_problem(p, why) for p, why in self.said.items()]
                or [
                    Problem(
                        code="no-photos", found=f"{len(seen)} photographs", wanted="Take ten to forty; see the sheet."
                    )
                ]
            )
        middle = np.array([((w - 1) / 2, (h - 1) / 2) for w, h in sizes])
        rows = np.array(camera)
        spots = np.array(corners)
        focal = np.array([
            focal_from_squares(spots[rows == c], middle=np.tile(middle[c], (int((rows == c).sum()), 1)))
            for c in range(len(sizes))
        ])  # fmt: skip
        focal = np.clip(focal, 0.4 * middle.max(axis=1), 8.0 * middle.max(axis=1))
        self.views = Views(photo=np.array(photo), target=np.array(target), camera=rows, corners=spots, focal=focal,
                           middle=middle)  # fmt: skip
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
            if not self._leave_out(square, max(BAD * self.pixel_sd, LEAST_OFF) ** 2):
                break
            self.state = self.adjustment().settle(self.state, max(self.pixel_sd, 0.1))

    def _leave_out(self, square: Floats, limit: float) -> bool:
        """Leave out what disagrees most; return whether anything did."""
        views = self.views
        photo = np.array([  # half of its views: a few moved targets are not its fault
            np.median(square[views.photo == p]) if (views.photo == p).any() else 0.0 for p in range(len(self.seen))
        ])  # fmt: skip
        target = np.bincount(views.target, square) / np.maximum(np.bincount(views.target), 1)
        if max(photo.max(), target.max()) <= limit:
            row = int(np.argmax(square))
            if square[row] <= 4 * limit:
                return False
            self._keep(np.arange(len(square)) != row)
            return True
        if photo.max() > limit:
            p = int(np.argmax(photo))
            self.said[p] = APART
            self._keep(views.photo != p)
            return True
        t = int(np.argmax(target))
        rows = np.flatnonzero(views.target == t)
        rest = rows[np.argsort(square[rows])[: max(len(rows) - max(1, len(rows) // 5), 1)]]
        told, fewest = self._told(t, rows)
        moved = told.by is not None and (fewest > 1 or self._at_an_end(rows, square))
        if not moved and len(rows) >= 4 and square[rest].mean() <= limit:  # one bad view of a target that stood still
            self._keep(np.arange(len(square)) != rows[np.argmax(square[rows])])
            return True
        self.moved.append(told)
        self._keep(views.target != t)
        return True

    def _at_an_end(self, rows: Ints, square: Floats) -> bool:
        """Return whether the view that fits worst is a target's first or last and far off: it moved then."""
        order = rows[np.argsort(self.views.photo[rows], kind="stable")]
        worst = rows[np.argmax(square[rows])]
        return worst in (order[0], order[-1]) and bool(square[worst] > FAR_OFF**2)

    def _told(self, target: int, rows: Ints) -> tuple[Moved, int]:
        """Return how a target moved, and the fewest views on one side of it.

        That split of its photographs is taken that explains its misfits best.
        """
        views, one = self.views, self.stuck[target]
        order = np.asarray(rows)[np.argsort(views.photo[rows], kind="stable")].astype(np.int64)
        state = self.state

        def pose(part: Ints) -> tuple[Floats, float]:
            found = pose_by_views(
                views, part, size=one.size * (1 + state.stretch), poses=state.poses,
                shifts=state.shifts, cameras=state.cameras,
            )  # fmt: skip
            return found.middle, found.square_sum

        whole = pose(order)[1]
        best, split = np.inf, 0
        for k in range(1, len(order)):
            total = pose(order[:k])[1] + pose(order[k:])[1]
            if total < best:
                best, split = total, k
        if not split or best > TOLD * whole:
            return Moved(number=one.number, mark=one.mark, by=None, before=None, after=None), 0
        by = float(np.linalg.norm(pose(order[:split])[0] - pose(order[split:])[0]))
        files = [self.seen[int(views.photo[order[k]])].file for k in (split - 1, split)]
        told = Moved(number=one.number, mark=one.mark, by=by, before=files[0], after=files[1])
        return told, min(split, len(order) - split)

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

    def _photo_problem(self, p: int, why: str) -> Problem:
        return Problem(
            code="photo-not-used", severity="warning", file=self.seen[p].file, found=f"a photograph that {why}",
            wanted="Take it again, still, and so near that a target is a thumb's nail wide on the screen.",
        )  # fmt: skip

    def _problems(self) -> tuple[Problem, ...]:
        found = [*self.problems, *(self._photo_problem(p, why) for p, why in sorted(self.said.items()))]
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


def _nothing(one: Seen) -> str:
    if len(one.numbers):
        return "shows only targets that are not on the list"
    return "is blurred: no target can be read" if one.sharpness < BLURRED else "shows no target"


def _note(code: str, found: str, wanted: str) -> Problem:
    return Problem(code=code, severity="warning", found=found, wanted=wanted)
