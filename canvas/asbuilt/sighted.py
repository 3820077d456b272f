"""Turn what was seen in photographs into views of the targets on the list.

Computes: the views, each camera's first focal length; which photographs show no target of the list, and why.
Units: pixels.
Source: focal lengths from the targets' own squares, see `canvas.asbuilt.camera`.
Limits: photographs of one size are taken to be by one camera.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from canvas.asbuilt.camera import focal_from_squares
from canvas.asbuilt.photographed import Stuck
from canvas.asbuilt.targets import BLURRED, Seen
from canvas.asbuilt.views import Views
from canvas.design.problems import DesignError, Problem
from canvas.geometry.surface import Floats

LEAST_VIEWS = 2
SHORTEST, LONGEST = 0.4, 8.0  # focal lengths over half the longer side of a picture


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sighted:
    """What of the list was seen.

    Attributes
    ----------
    views : Views
    said : mapping of int to str
        Photographs that show no target of the list, and why.
    problems : tuple of Problem
        Targets that are not on the list.
    """

    views: Views
    said: Mapping[int, str]
    problems: tuple[Problem, ...]


def sighted(seen: Sequence[Seen], stuck: Sequence[Stuck]) -> Sighted:
    """Return the views of the targets on the list.

    Parameters
    ----------
    seen : sequence of Seen
        In the order in which the photographs were taken.
    stuck : sequence of Stuck

    Raises
    ------
    DesignError
        When fewer than two photographs show a target of the list.
    """
    row = {one.number: k for k, one in enumerate(stuck)}
    sizes = list(dict.fromkeys((one.width, one.height) for one in seen if len(one.numbers)))
    said: dict[int, str] = {}
    photo, target, camera, corners = [], [], [], []
    for p, one in enumerate(seen):
        known = [k for k, number in enumerate(one.numbers.tolist()) if number in row]
        if not known:
            said[p] = _nothing(one)
        for k in known:
            photo.append(p)
            target.append(row[int(one.numbers[k])])
            camera.append(sizes.index((one.width, one.height)))
            corners.append(one.corners[k])
    if len({*photo}) < LEAST_VIEWS:
        few = Problem(code="no-photos", found=f"{len(seen)} photographs", wanted="Take ten to forty; see the sheet.")
        raise DesignError([photo_not_used(seen[p].file, why) for p, why in said.items()] or [few])
    middle = np.array([((w - 1) / 2, (h - 1) / 2) for w, h in sizes])
    spots = np.array(corners)
    views = Views(photo=np.array(photo), target=np.array(target), camera=np.array(camera), corners=spots,
                  focal=_focal(spots, np.array(camera), middle), middle=middle)  # fmt: skip
    return Sighted(views=views, said=said, problems=_strange(seen, row))


def _focal(spots: Floats, camera: Floats, middle: Floats) -> Floats:
    """Return the first focal length of each camera [px]."""
    focal = np.array([
        focal_from_squares(spots[camera == c], middle=np.tile(middle[c], (int((camera == c).sum()), 1)))
        for c in range(len(middle))
    ])  # fmt: skip
    clipped: Floats = np.clip(focal, SHORTEST * middle.max(axis=1), LONGEST * middle.max(axis=1))
    return clipped


def _strange(seen: Sequence[Seen], row: Mapping[int, int]) -> tuple[Problem, ...]:
    strange = sorted({int(n) for one in seen for n in one.numbers if int(n) not in row})
    if not strange:
        return ()
    wanted = "They were left out; name them in the list of targets."
    found = f"targets {strange} that are not on the list"
    return (Problem(code="unknown-target", severity="warning", found=found, wanted=wanted),)


def photo_not_used(file: str, why: str) -> Problem:
    """Return the warning that names a photograph that is not used."""
    return Problem(
        code="photo-not-used", severity="warning", file=file, found=f"a photograph that {why}",
        wanted="Take it again, still, and so near that a target is a thumb's nail wide on the screen.",
    )  # fmt: skip


def _nothing(one: Seen) -> str:
    if len(one.numbers):
        return "shows only targets that are not on the list"
    return "is blurred: no target can be read" if one.sharpness < BLURRED else "shows no target"
